"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Bench(AppConfig):
    name = "labcases.bench"

    def ready(self) -> None:
        from labcases.bench import queries
        from labcases.bench.dumps.queries import dumps_of, dumps_of_family
        from labcases.bench.files import tasks as files
        from labcases.bench.protocols.queries import section as bench_order
        from labcases.bench.reading import queries as reading
        from labcases.bench.reading import tasks
        from labcases.bench.records import queries as records
        from labcases.bench.stations import queries as stations
        from labcases.cases import facts
        from labcases.core import sections

        facts.provide("bench", queries.facts)
        sections.add_front(
            "bench",
            "stations",
            title="Stations",
            order=20,
            template="bench/_front_stations.html",
            context=stations.front,
        )
        sections.add_front(
            "bench",
            "records",
            title="The lab's own",
            order=90,
            template="bench/_front_records.html",
            context=records.front,
        )
        facts.provide("reading", reading.facts)
        tasks.put_on_the_timetable()
        files.put_on_the_timetable()
        sections.add(
            "findings",
            title="Findings",
            order=30,
            template="bench/_section_findings.html",
            context=queries.findings_of,
        )
        sections.add("order", title="Bench order", order=32, template="bench/_section_order.html", context=bench_order)
        sections.add("dumps", title="Dumps", order=35, template="bench/_section_dumps.html", context=dumps_of)
        sections.add_card(
            "family",
            "dumps",
            title="Dumps",
            order=40,
            template="bench/_card_dumps.html",
            context=dumps_of_family,
        )
        sections.add(
            "reading",
            title="Reading",
            order=50,
            template="bench/_section_reading.html",
            context=reading.section_of,
        )
        sections.add(
            "recovered",
            title="Recovered",
            order=60,
            template="bench/_section_recovered.html",
            context=queries.recovered_of,
        )
