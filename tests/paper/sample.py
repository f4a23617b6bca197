"""An invented intake form, as rich as a real one."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from io import BytesIO
from types import SimpleNamespace
from typing import Any

from PIL import Image, ImageDraw

ISSUED = datetime(2026, 11, 25, 9, 42, tzinfo=UTC)
CODE = "26-00417-D"
LAB = SimpleNamespace(
    name="Quayside Media Lab",
    address="4 Chandlers Row\nPort Ellery QX1 2ZZ",
    phone="+44 1632 960 117",
    email="counter@quayside.example",
    tax_number="XX 000 0000 00",
    logo="",
    time_zone="Europe/Prague",
)
WHO = [
    ("Owner", "Marsh Lane Choir"),
    ("Brought by", "T. Arkwell"),
    ("Phone", "+44 1632 960 232"),
    ("E-mail", "choir@marsh-lane.example"),
    ("Reached by", "phone, then e-mail"),
    ("Return address", ""),
]
ITEMS = [
    {
        "code": "26-00417-P1-K",
        "kind": "2.5″ disk, SATA",
        "model": "Pelorus PL500-24",
        "serial": "PLW0O1I5S8B2",
        "capacity": "500 GB (976,773,168 sectors)",
        "state": "dented corner, label whole, seals whole",
        "accessories": "USB cable, caddy",
    },
    {"code": "26-00417-P2-I", "kind": "SD card", "capacity": "64 GB", "state": "worn contacts"},
]


@dataclass(frozen=True)
class Stamp:
    word: str
    at: datetime | None = None


@dataclass
class Sample:
    """What ``papers.render`` is called with; ``photos`` and ``table`` may be added."""

    context: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        story = (
            "Fell from a music stand while running. Slow afterwards, then not seen at all. A nephew ran a repair "
            "program over night; powered since for about two hours."
        )
        stamps = [Stamp("received", ISSUED), Stamp("examined"), Stamp("quoted"), Stamp("authorised")]
        self.context = {"lab": LAB, "who": WHO, "items": ITEMS, "story": story, "stamps": stamps} | self.context

    @property
    def call(self) -> dict[str, Any]:
        return {
            "template": "sample.html",
            "context": self.context,
            "title": "Intake form and receipt",
            "language": "en-GB",
            "size": "A4",
            "code": CODE,
            "issued": ISSUED,
        }


def photograph(seed: int, size: tuple[int, int] = (1600, 1200)) -> bytes:
    """A JPEG with the grain of a real picture."""
    picture = Image.effect_noise(size, 60).convert("RGB")
    pen = ImageDraw.Draw(picture)
    for step in range(12):
        pen.ellipse(
            [100 * step, 60 * step, 100 * step + 400 + seed, 60 * step + 300], outline=(40, 40 + 15 * step, 90), width=9
        )
    out = BytesIO()
    picture.save(out, "JPEG", quality=88)
    return out.getvalue()
