"""Printing: a paper is set once, its bytes are kept, and asking again gives the same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from labcases.core import vault
from labcases.core.refused import Refused
from labcases.lab.models import Actor
from labcases.paper import papers
from labcases.paper.models import Paper
from labcases.paper.render import Attached

if TYPE_CHECKING:
    from django.db.models import Model


class PaperDamaged(Refused):
    """The stored copy is not there, or no longer what was printed."""

    status = 500


def freeze(
    *,
    key: str,
    kind: str,
    template: str,
    context: dict[str, Any],
    title: str,
    language: str,
    size: str,
    code: str,
    by: Actor,
    issued: datetime,
    thing: Model | None = None,
    case_code: str = "",
    attachments: Sequence[Attached] = (),
) -> Paper:
    """Print a paper and keep it; with a ``key`` that was printed before, give that paper and set nothing.

    Call it outside a transaction: setting type takes a tenth of a second, and the bytes are on the disk before
    the row says so. Of two presses at once one row wins; both get it. Raises what ``papers.render`` raises.
    """
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    data = papers.render(
        template,
        context,
        title=title,
        language=language,
        size=size,
        code=code,
        issued=issued,
        attachments=attachments,
    )
    values = {
        "kind": kind,
        "code": code,
        "title": title,
        "language": language,
        "size": size,
        "sha256": vault.put(data),
        "template_version": papers.template_version(template),
        "thing": thing,
        "case_code": case_code,
        **Paper.stamp(by, issued),
    }
    paper, _ = Paper.objects.get_or_create(key=key, defaults=values)
    return paper


def reprint(paper: Paper) -> bytes:
    """The bytes as they were printed, checked against their digest. Raises PaperDamaged."""
    try:
        return vault.get(paper.sha256)
    except (FileNotFoundError, vault.Damaged) as error:
        raise PaperDamaged(
            f"The stored copy of “{paper}” cannot be shown.",
            why="Its file is missing from the vault." if isinstance(error, FileNotFoundError) else str(error),
            mend="Restore the vault from a backup; the copy is known there by its digest.",
        ) from error
