"""The take-in page as a browser would send it, filled in honestly; tests say what differs."""

from __future__ import annotations

import base64
import io
import uuid
from typing import Any

from PIL import Image, ImageDraw

TAKE_IN = "/counter/take-in/"


def filled(**differs: Any) -> dict[str, Any]:
    """Names with a hyphen are given with two underscores: ``owner__name`` is ``owner-name``."""
    typed = {
        "once": str(uuid.uuid4()),
        "version": "0",
        "outcome": "unfinished",
        "owner-name": "Orrin Vale",
        "owner-phone": "0118 496 0743",
        "brought": "owner",
        "pays": "owner",
        "urgency": "normal",
        "item-TOTAL_FORMS": "1",
        "item-INITIAL_FORMS": "0",
        "item-0-kind": "disk25",
        "terms-allows": ["examine"],
        "terms-how": "",
    }
    return typed | {name.replace("__", "-"): value for name, value in differs.items()}


def items(*many: dict[str, Any]) -> dict[str, Any]:
    """Several items for ``filled``: ``**items({"kind": "ssd"}, {"kind": "stick"})``."""
    rows = {f"item__{n}__{name}": value for n, item in enumerate(many) for name, value in item.items()}
    return {"item__TOTAL_FORMS": str(len(many)), **rows}


def drawn(size: tuple[int, int] = (600, 200), *, ink: bool = True, kind: str = "PNG") -> str:
    """A signature as the page sends it."""
    picture = Image.new("RGB", size, "white")
    if ink:
        ImageDraw.Draw(picture).line([(20, 150), (200, 40), (400, 160)], fill="black", width=5)
    out = io.BytesIO()
    picture.save(out, kind)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode()
