"""What templates say with marks, codes, moments, sizes and lists, and how a form comes out."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

import pytest
import time_machine
from django import forms
from django.core.paginator import Paginator
from django.template import engines
from django.test import RequestFactory
from django.utils.timezone import override

from labcases.core import codes
from labcases.core.money import Money
from labcases.core.templatetags import ui

NOW = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)


def drawn(source: str, **context) -> str:
    return engines["django"].from_string(source).render(context, context.pop("request", None))


def test_a_mark_has_a_sign_a_word_and_a_class():
    assert drawn('{% mark "near" "41 days apart" %}') == (
        '<span class="mark near"><span aria-hidden="true">≈</span> <span class="word">41 days apart</span></span>'
    )


@pytest.mark.parametrize("state", sorted(ui.MARKS))
def test_no_mark_is_colour_alone(state):
    assert f">{state}<" in ui.mark(state)
    assert f">{state}<" in ui.sign(state)


def test_a_mark_for_a_state_nobody_knows_is_a_mistake_in_the_page():
    with pytest.raises(KeyError):
        ui.mark("greenish")


def test_words_beside_a_mark_are_escaped():
    assert "<b>" not in ui.mark("same", "<b>")


def test_a_code_is_printed_in_groups():
    folded = codes.with_check(codes.case_body(2026, 417))
    assert drawn("{{ code|printed_code }}", code=folded) == codes.printed(folded)


@time_machine.travel(NOW, tick=False)
def test_a_stamp_is_absolute_and_relative_in_the_zone_of_the_lab():
    with override("Europe/Berlin"):
        said = ui.stamp(datetime(2026, 11, 25, 8, 14, tzinfo=UTC))
    assert 'datetime="2026-11-25T09:14:00+01:00"' in said
    assert 'title="Wed 25 Nov 2026, 09:14 CET"' in said
    assert re.sub("<[^>]+>", "", said) == "25 Nov 09:14 3 hours ago"


@time_machine.travel(NOW, tick=False)
def test_a_day_says_how_far_off_it_is():
    assert re.sub("<[^>]+>", "", ui.day(date(2026, 12, 4))) == "4 Dec in 9 days"


@pytest.mark.parametrize(
    "filter_", [ui.stamp, ui.day, ui.short_stamp, ui.full_stamp, ui.gb, ui.size, ui.sectors, ui.money]
)
def test_nothing_is_said_of_what_is_not_there(filter_):
    assert filter_(None) == ""


def test_sizes_stand_decimal_beside_binary():
    assert ui.size(500_107_862_016) == "500.1 GB (465.8 GiB)"
    assert ui.size(512) == "512 bytes"


def test_money_carries_its_currency():
    assert ui.money(Money(123450, "EUR")) == ui.money(123450, "EUR") == "1,234.50 EUR"


def test_a_column_turns_its_order_round_and_keeps_the_filters():
    request = RequestFactory().get("/", {"kind": "disk", "sort": "code", "page": "3"})
    said = drawn('{% sortable "code" "Code" %}{% sortable "in" "Came in" %}', request=request)
    first, second = said.split("</th>")[:2]
    assert 'aria-sort="ascending"' in first
    assert 'href="?kind=disk&amp;sort=-code"' in first
    assert 'aria-sort="none"' in second
    assert 'href="?kind=disk&amp;sort=in"' in second


def test_pages_far_away_are_left_out():
    page = Paginator(range(1000), 10).get_page(50)
    assert list(ui.elided(page)) == [1, "…", 48, 49, 50, 51, 52, "…", 100]


class Slip(forms.Form):
    serial = forms.CharField(label="Serial", help_text="As on the label, not <as you think>.")
    kind = forms.ChoiceField(label="Kind", choices=[("d", "disk"), ("c", "card")], widget=forms.RadioSelect)
    agreed = forms.BooleanField(label="agreed", required=False)
    once = forms.CharField(widget=forms.HiddenInput, required=False)


def test_a_field_is_tied_to_its_label_its_help_and_its_error():
    said = str(Slip({"kind": "d"})["serial"].as_field_group())
    assert '<label for="id_serial">Serial' in said
    assert 'aria-describedby="id_serial_helptext id_serial_error"' in said
    assert 'aria-invalid="true"' in said
    assert 'id="id_serial_helptext"' in said
    assert 'id="id_serial_error"' in said
    assert "&lt;as you think&gt;" in said


def test_choices_stand_in_a_fieldset_with_a_legend():
    said = str(Slip({})["kind"].as_field_group())
    assert '<fieldset class="field' in said
    assert '<legend class="label">Kind' in said
    assert said.count('type="radio"') == 2
    assert 'aria-describedby="id_kind_error"' in said


def test_the_summary_of_errors_leads_into_each_field_and_says_the_rest_on_top():
    form = Slip({"kind": "d"})
    form.add_error(None, "The part was taken at 10:02.")
    form.add_error("once", "This page was sent before.")
    said = str(form)
    assert '<a href="#id_serial">Serial</a>' in said
    assert "The part was taken at 10:02." in said
    assert "This page was sent before." in said
    assert said.count('name="once"') == 1


def test_a_form_without_errors_has_no_summary():
    assert "data-wrongs" not in str(Slip())


@pytest.mark.parametrize(
    ("said", "way"),
    [
        ({"back": "/bench/equipment/", "place": "Bench"}, "/bench/equipment/"),
        ({"place": "Custody"}, "/custody/"),
        ({"place": ""}, "/"),
        ({}, "/"),
    ],
)
def test_a_verb_about_nothing_is_left_to_where_it_came_from_or_to_the_front_page_of_its_place(said, way):
    page = drawn('{% include "verb.html" %}', title="Do it", form=Slip(), request=RequestFactory().get("/x/"), **said)
    assert f'<a class="may" href="{way}">Leave it</a><button class="do">Do it</button>' in page


@pytest.mark.parametrize("name", ["400.html", "500.html"])
def test_the_last_pages_need_neither_request_nor_database(name):
    said = engines["django"].get_template(name).render({})
    assert said.count("<h1") == 1


def test_no_template_holds_a_script_or_a_style_of_its_own():
    sources = [
        path for folder in engines["django"].engine.dirs for path in folder.rglob("*.html") if "paper" not in path.parts
    ]
    assert len(sources) > 20  # a guard that found nothing would pass for ever
    inline = re.compile(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=|hx-on|javascript:", re.IGNORECASE)
    assert {str(path): inline.findall(path.read_text()) for path in sources if inline.search(path.read_text())} == {}
