"""What every template may use: marks, codes, moments, sizes, money, and the small logic of places and lists."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django import template
from django.core.paginator import Page
from django.forms import BaseForm
from django.template import Context
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from labcases.core import clock, codes, units
from labcases.core.money import Money

register = template.Library()

# Every word for a state of comparison, and the mark it stands under: class, sign.
_SAME, _NEAR, _UNKNOWN = ("same", "✓"), ("near", "≈"), ("unknown", "?")
_DIFFERS, _NONE = ("differs", "✕"), ("none", "–")
MARKS: dict[str, tuple[str, str]] = {
    "same": _SAME, "whole": _SAME, "yes": _SAME, "done": _SAME,
    "near": _NEAR, "partial": _NEAR,
    "unknown": _UNKNOWN, "not known": _UNKNOWN,
    "different": _DIFFERS, "differs": _DIFFERS, "lost": _DIFFERS, "no": _DIFFERS, "broken": _DIFFERS,
    "not applicable": _NONE, "none": _NONE,
}  # fmt: skip


@register.simple_tag
def mark(state: str, words: str = "") -> SafeString:
    """``{% mark "near" %}`` or ``{% mark row.state "made 41 days apart" %}``: sign, word and colour.

    Without words the state itself is the word. An unknown state is a mistake in the page and raises KeyError.
    """
    kind, sign = MARKS[str(state)]
    return format_html(
        '<span class="mark {}"><span aria-hidden="true">{}</span> <span class="word">{}</span></span>',
        kind, sign, words or state,
    )  # fmt: skip


@register.simple_tag
def sign(state: str) -> SafeString:
    """The mark alone, for a tight column: the word is there for who cannot see the sign."""
    kind, drawn = MARKS[str(state)]
    return format_html(
        '<span class="mark {}" title="{}"><span aria-hidden="true">{}</span><span class="unseen">{}</span></span>',
        kind, state, drawn, state,
    )  # fmt: skip


@register.filter
def printed_code(code: str) -> str:
    """A code in groups, as it stands on labels."""
    return codes.printed(code) if code else ""


@register.filter
def stamp(when: datetime | None) -> str:
    """A moment: short and relative to read, with zone and year in its title. Empty for None."""
    if when is None:
        return ""
    here, now = timezone.localtime(when), timezone.localtime()
    text = f"{clock.short_day(here.date(), now.date())} {here:%H:%M}"
    return _time(here.isoformat(timespec="seconds"), clock.in_full(here), text, clock.ago(here, now))


@register.filter
def day(when: date | datetime | None) -> str:
    """A day: ``4 Dec`` and how far off it is. A moment counts by its day in the lab's zone. Empty for None."""
    if when is None:
        return ""
    here, today = _local_day(when), timezone.localdate()
    return _time(here.isoformat(), clock.long_day(here), clock.short_day(here, today), clock.days_ago(here, today))


@register.filter
def short_stamp(when: datetime | None) -> str:
    """Only ``17 Nov 10:42``, for a rail or a tight column; zone and year in its title. Empty for None."""
    if when is None:
        return ""
    here = timezone.localtime(when)
    text = f"{clock.short_day(here.date(), timezone.localdate())} {here:%H:%M}"
    return _time(here.isoformat(timespec="seconds"), clock.in_full(here), text, "")


@register.filter
def full_stamp(when: datetime | None) -> str:
    """Written out with its zone, as on paper: ``Wed 25 Nov 2026, 12:00 CET``. Empty for None."""
    return clock.in_full(timezone.localtime(when)) if when else ""


@register.filter
def long_day(when: date | datetime | None) -> str:
    """``Wed 25 Nov 2026``. Empty for None."""
    return clock.long_day(_local_day(when)) if when else ""


def _local_day(when: date | datetime) -> date:
    return timezone.localtime(when).date() if isinstance(when, datetime) else when


def _time(machine: str, full: str, text: str, relative: str) -> SafeString:
    after = format_html(' <span class="ago soft small">{}</span>', relative) if relative else SafeString("")
    return format_html('<time datetime="{}" title="{}">{}</time>{}', machine, full, text, after)


@register.filter
def gb(size: int | None) -> str:
    """Bytes with a decimal prefix: ``500.1 GB``. Empty for None."""
    return "" if size is None else units.si(size)


@register.filter
def size(size: int | None) -> str:
    """Decimal beside binary: ``500.1 GB (465.8 GiB)``; below a kibibyte only bytes. Empty for None."""
    if size is None:
        return ""
    return units.si(size) if abs(size) < 1024 else f"{units.si(size)} ({units.binary(size)})"


@register.filter
def sectors(count: int | None) -> str:
    """``976,773,168 sectors``. Empty for None."""
    return "" if count is None else units.counted(count, "sector")


@register.filter
def counted(count: int | None, unit: str) -> str:
    """``{{ items|counted:"item" }}``: ``1 item``, ``2 items``. Empty for None."""
    return "" if count is None else units.counted(count, unit)


@register.filter
def thousands(count: int | None) -> str:
    """A whole number with its thousands marked. Empty for None."""
    return "" if count is None else f"{count:,}"


@register.filter
def money(amount: Money | int | None, currency: str = "") -> str:
    """``1,234.50 EUR`` from Money, or from minor units and a currency: ``{{ minor|money:"EUR" }}``. Empty for None."""
    if amount is None:
        return ""
    return (amount if isinstance(amount, Money) else Money(amount, currency)).words()


@register.filter
def initials(name: str) -> str:
    """``Ines Okonkwo`` is ``I. O.`` in the day-book."""
    return " ".join(f"{part[0]}." for part in str(name).split())


@register.simple_tag(takes_context=True)
def place(context: Context, url_name: str, words: str) -> SafeString:
    """One place of the navigation; underlined when the page lies in it, or says so with ``place``."""
    address = reverse(url_name)
    request = context.get("request")
    path = request.path if request else ""
    current = ""
    if path == address:
        current = "page"
    elif context.get("place") == words or (address != "/" and path.startswith(address)):
        current = "true"
    marked = format_html(' aria-current="{}"', current) if current else SafeString("")
    return format_html('<li><a href="{}"{}>{}</a></li>', address, marked, words)


@register.simple_tag
def front(place: str) -> str:
    """The address of the front page of a place; of the house for what lies in none."""
    return reverse(f"docket:{place.lower() or 'home'}")


@register.simple_tag(takes_context=True)
def sortable(context: Context, key: str, words: str, css: str = "") -> SafeString:
    """The head of a column that can be sorted by the address: ``?sort=key``, then ``?sort=-key``."""
    query = context["request"].GET.copy()
    now = query.get("sort", context.get("sort", ""))
    order = {key: "ascending", f"-{key}": "descending"}.get(now, "none")
    query["sort"] = f"-{key}" if now == key else key
    query.pop("page", None)
    arrow = {"ascending": " ↑", "descending": " ↓"}.get(order, "")
    return format_html(
        '<th scope="col"{} aria-sort="{}" data-short="{}"><a href="?{}">{}<span aria-hidden="true">{}</span></a></th>',
        format_html(' class="{}"', css) if css else "", order, words, query.urlencode(), words, arrow,
    )  # fmt: skip


@register.filter
def elided(page: Page[Any]) -> Iterator[int | str]:
    """The page numbers worth a link; gaps are ``…``."""
    return page.paginator.get_elided_page_range(page.number, on_each_side=2, on_ends=1)


@register.filter
def wrong_fields(form: BaseForm) -> list[dict[str, Any]]:
    """What the summary of errors says: one line an error, with the id of the field it leads to."""
    return [
        {"anchor": field.auto_id, "label": field.label, "error": error}
        for field in form
        if not field.is_hidden
        for error in field.errors
    ]


@register.filter
def top_errors(form: BaseForm) -> list[str]:
    """The errors that belong to no field one can see."""
    hidden = [str(error) for field in form.hidden_fields() for error in field.errors]
    return [*map(str, form.non_field_errors()), *hidden]
