"""What every page of reading shares."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from labcases.bench.reading.actions import derive
from labcases.bench.reading.queries import Read
from labcases.cases.models import Item
from labcases.core.forms import LabForm
from labcases.core.views import press
from labcases.lab.access import StaffRequest

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


def code_of(item: Item) -> str:
    return item.thing.printed_code


def address(name: str, item: Item, *more: Any) -> str:
    return reverse(f"bench:{name}", args=[code_of(item), *more])


def page(item: Item, title: str, **context: Any) -> dict[str, Any]:
    """The context of a verb's page, and of those that show."""
    about = {"about": item, "about_words": item.medium_words, "item": item, "place": "Bench"}
    return {"title": title, **about, **context}


def press_and_derive(
    request: StaffRequest, form: LabForm, verb: str, item: Item, act: Callable[[dict[str, Any]], Any]
) -> HttpResponse | None:
    """Press; and when something was done, work the coverage out anew, outside the transaction of the press."""
    done = press(request, form, f"{verb} {item.pk}", act)
    if done is not None:
        derive(item)
    return done


def unsized(read: Read) -> str:
    """What to say where nobody knows how many sectors the item has; empty when it is known."""
    if read.item.sectors:
        return ""
    return "Nobody has noted how many sectors it has. Read who it is, or correct the intake; then spans can be checked."
