"""Say how a clone is divided: from an image file, or from its first sectors piped in."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labcases.media.capacity import words
from labcases.media.errors import NotAPage
from labcases.media.image import MOST_PIPED, as_json, layout_of, layout_of_bytes
from labcases.media.layout import Layout, Part
from labcases.media.volumes import Volume

KINDS = {"gpt": "GPT", "mbr": "MBR", "none": "No partition table"}


class Command(BaseCommand):
    help = (
        "Reads the partition table of a clone from its image and says which file system starts where. Only a few "
        "sectors are read and nothing is written. Never point it at a patient. Exit code 0 when it could be looked at."
    )
    requires_system_checks: list[str] = []  # the database is not asked

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "file", metavar="FILE|-", help="the image of the clone; - reads its first sectors, piped in"
        )
        parser.add_argument("--sector-bytes", type=int, default=512, help="bytes in a logical sector (512)")
        parser.add_argument("--json", action="store_true", help="print the layout as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            layout = _layout(options["file"], options["sector_bytes"])
        except NotAPage as fault:
            raise CommandError(str(fault)) from None
        except OSError as trouble:
            raise CommandError(f"{options['file']} cannot be read: {trouble.strerror or trouble}.") from None
        if options["json"]:
            self.stdout.write(json.dumps(as_json(layout), indent=1))
            return
        for line in lines_of(layout):
            self.stdout.write(line)


def _layout(name: str, sector_bytes: int) -> Layout:
    if name != "-":
        with Path(name).open("rb") as image:
            return layout_of(image, sector_bytes)
    head = sys.stdin.buffer.read(MOST_PIPED + 1)
    return layout_of_bytes(head[:MOST_PIPED], sector_bytes, whole=len(head) <= MOST_PIPED)


def lines_of(layout: Layout) -> Iterable[str]:
    """The layout as text: what was found, a line a partition, and every warning."""
    total = f", {layout.total_sectors:,} sectors in all" if layout.total_sectors else ""
    yield f"{KINDS[layout.kind]} ({layout.status}), sectors of {layout.sector_bytes} bytes{total}"
    for part in layout.parts:
        yield f"  {_said(part, layout.sector_bytes)}"
    if layout.volume:
        yield f"  from sector 0: {_volume(layout.volume)}"
    if layout.others:
        yield "Named by a table that was not used:"
    for part in layout.others:
        yield f"  {_said(part, layout.sector_bytes)}"
    for warning in layout.warnings:
        yield f"! {warning}"


def _said(part: Part, sector_bytes: int) -> str:
    size = words(part.sectors * sector_bytes)
    name = f" “{part.name}”" if part.name else ""
    inside = f"; {_volume(part.volume)}" if part.volume else ""
    return f"{part.number}: sectors {part.first_lba:,} to {part.last_lba:,}, {size}, {part.type_name}{name}{inside}"


def _volume(volume: Volume) -> str:
    cluster = f", clusters of {volume.cluster_bytes:,} bytes" if volume.cluster_bytes else ""
    ident = f", id {volume.volume_id}" if volume.volume_id else ""
    name = f" “{volume.name}”" if volume.name else ""
    size = f", {words(volume.size_bytes)}" if volume.size_bytes else ""
    return f"{volume.kind}{name}{size}{cluster}{ident}{', encrypted' if volume.encrypted else ''}"
