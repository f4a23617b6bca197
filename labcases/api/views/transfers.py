"""What comes in parts: files of spans, and lists of files. Both go the same way: parts, what is there, finish."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest
from ninja import Path, Query, Router, Status

from labcases.api import actions, queries
from labcases.api.actions.transfers import KINDS
from labcases.api.models import Transfer, TransferPart
from labcases.api.views import bodies, schemas
from labcases.api.views.ground import WRONG, allowed, bad_rows, invalid, item_of, said_of
from labcases.api.views.problems import Problem
from labcases.bench.files.columns import CHECK_WORDS
from labcases.bench.files.models import FileList
from labcases.core import text

router = Router()
PartNumber = Path(..., ge=1, le=actions.MOST_PARTS)  # type: ignore[type-arg]
BEFORE = "bytes before this part, unpacked"
Offset = Query(None, ge=0, le=schemas.LARGEST, description=BEFORE)  # type: ignore[type-arg]
PART_WRONG = WRONG | {411, 507}
What = Transfer.What
CODES = {words: code for code, words in CHECK_WORDS.items()}
UNNAMED = "sent by a bench computer"


SPAN_COLUMNS = (
    "Its columns: first; one of sectors (a length), last, end (the one behind the last); state (read, doubtful, "
    "unreadable, skipped, left_out, unreached; without it everything is read); delay (milliseconds)."
)


def _body(of: str, what: str, more: str = "") -> dict[str, Any]:
    """The body of a part, for the document."""
    said = f"A piece of the {of}, cut anywhere; may be packed with Content-Encoding: gzip."
    said = f"{said} {more}".strip()
    content = {kind: {"schema": {"type": "string", "format": "binary"}} for kind in KINDS[what]}
    return {"requestBody": {"required": True, "description": said, "content": content}}


def _take(request: HttpRequest, what: str, code: str, key: UUID, number: int, offset: int | None) -> Any:
    computer, item, kind = allowed(request, what), item_of(code), request.content_type
    if kind not in KINDS[what]:
        raise Problem("media-type", f"This comes as {' or '.join(KINDS[what])}, not as {kind or 'nothing named'}.")
    data = bodies.whole(request, most=actions.MOST_PART)
    about: dict[str, Any] = {"what": what, "number": number, "kind": kind, "offset": offset}
    part, new = actions.take_part(computer=computer, item=item, key=key, data=data, **about)
    return Status(201 if new else 200, _of_part(part))


def _of_part(part: TransferPart) -> dict[str, Any]:
    return {"part": part.number, "bytes": part.size, "sha256": part.digest}


def _transfer(request: HttpRequest, what: str, code: str, key: UUID) -> Transfer:
    computer, item = allowed(request, what), item_of(code)
    rows = Transfer.objects.select_related("upload", "file_list", "computer")
    found = rows.filter(computer=computer, key=key, item=item, what=what).first()
    if found is None:
        raise Http404(f"Nothing was sent of {said_of(item)} under the key {key}.")
    found.item = item
    return found


def _there(transfer: Transfer) -> dict[str, Any]:
    parts = [_of_part(part) for part in transfer.parts.all()]
    there = {part["part"] for part in parts}
    first = next(number for number in range(1, len(there) + 2) if number not in there)
    whole = sum(int(part["bytes"]) for part in parts)
    return {"item": said_of(transfer.item), "parts": parts, "bytes": whole, "next_part": first}


# --- spans that were read


@router.put(
    "items/{code}/coverage/{uuid:key}/parts/{int:number}",
    response={200: schemas.PartKept, 201: schemas.PartKept, PART_WRONG: schemas.Problem},
    operation_id="send_part",
    tags=["coverage"],
    openapi_extra=_body("file of spans", What.COVERAGE, SPAN_COLUMNS),
)
def send_part(
    request: HttpRequest, code: str, key: UUID, number: int = PartNumber, offset: int | None = Offset
) -> Any:  # fmt: skip
    """Send a part of a file of spans under a key of your own, in any order. The same part again (200) does no harm."""
    return _take(request, What.COVERAGE, code, key, number, offset)


@router.get(
    "items/{code}/coverage/{uuid:key}",
    response={200: schemas.Parts, WRONG: schemas.Problem},
    operation_id="what_is_there",
    tags=["coverage"],
)
def what_is_there(request: HttpRequest, code: str, key: UUID) -> Any:
    """Which parts are there already, to go on after a connection was cut."""
    transfer = _transfer(request, What.COVERAGE, code, key)
    return _there(transfer) | {"upload": transfer.upload.number if transfer.upload else None}


@router.post(
    "items/{code}/coverage/{uuid:key}",
    response={200: schemas.Uploaded, 201: schemas.Uploaded, WRONG: schemas.Problem},
    operation_id="finish_coverage",
    tags=["coverage"],
)
def finish_coverage(request: HttpRequest, code: str, key: UUID, sent: schemas.Finish) -> Any:
    """All parts are there: lay their spans over what is known, all or none. Sent twice (200) it is one upload."""
    transfer = _transfer(request, What.COVERAGE, code, key)
    about: dict[str, Any] = {"name": text.one_line(sent.name) or UNNAMED, "head": sent.head}
    about |= {"pass_number": sent.pass_number, "verb": sent.verb, "because": text.many_lines(sent.because)}
    if sent.verb == "withdraw" and not about["because"]:
        raise invalid("body.sent.because", "Say why these sectors are taken back.")
    happened = bodies.moment(sent.happened)
    made, new = actions.finish_coverage(
        transfer=transfer, parts=sent.parts, sha256=sent.sha256, unit=sent.unit, about=about, happened=happened
    )
    said = {"item": said_of(transfer.item), "upload": made.number, "spans": made.rows, "notes": made.notes}
    said["worked_out"] = queries.is_worked_out(transfer.item)
    return Status(201 if new else 200, said)


# --- files that were found


@router.put(
    "items/{code}/files/{uuid:key}/parts/{int:number}",
    response={200: schemas.PartKept, 201: schemas.PartKept, PART_WRONG: schemas.Problem},
    operation_id="send_part_of_list",
    tags=["files"],
    openapi_extra=_body("list of files", What.FILES, "A line a file; its columns are named when it is finished."),
)
def send_part_of_list(
    request: HttpRequest, code: str, key: UUID, number: int = PartNumber, offset: int | None = Offset
) -> Any:  # fmt: skip
    """Send a part of a list of files under a key of your own, in any order. The same part again (200) does no harm."""
    return _take(request, What.FILES, code, key, number, offset)


@router.get(
    "items/{code}/files/{uuid:key}",
    response={200: schemas.FileParts, WRONG: schemas.Problem},
    operation_id="what_is_there_of_list",
    tags=["files"],
)
def what_is_there_of_list(request: HttpRequest, code: str, key: UUID) -> Any:
    """Which parts are there already, to go on after a cut; and where the list stands once it was finished."""
    transfer = _transfer(request, What.FILES, code, key)
    return _there(transfer) | {"file_list": _of_list(transfer.file_list) if transfer.file_list else None}


@router.post(
    "items/{code}/files/{uuid:key}",
    response={200: schemas.Listed, 201: schemas.Listed, 202: schemas.Listed, WRONG: schemas.Problem},
    operation_id="finish_list",
    tags=["files"],
)
def finish_list(request: HttpRequest, code: str, key: UUID, sent: schemas.FinishFiles) -> Any:
    """All parts are there: keep the list, all of its rows or none.

    A short one is read at once (201), a long one within a minute (202: ask what is there). Sent twice (200) it is one.
    """
    transfer = _transfer(request, What.FILES, code, key)
    about: dict[str, Any] = {"name": text.one_line(sent.name) or UNNAMED, "happened": bodies.moment(sent.happened)}
    made, new = actions.finish_files(transfer=transfer, parts=sent.parts, sha256=sent.sha256, how=_how(sent), **about)
    if made.state == FileList.State.REFUSED:
        return bad_rows(made.trouble)
    said = _of_list(made) | {"item": said_of(transfer.item)}
    return Status((202 if made.going else 201) if new else 200, said)


def _how(sent: schemas.FinishFiles) -> dict[str, Any]:
    """What the columns and words mean, as a list keeps it."""
    columns = {str(field): header for field, header in sent.columns.items()}
    checks = {text.one_line(word): CODES[meaning] for word, meaning in sent.checks.items()}
    said = {name: getattr(sent, name) for name in ("separator", "letters", "extent", "unit", "base")}
    return {"columns": columns, "checks": checks, **said}


def _of_list(found: FileList) -> dict[str, Any]:
    state = "withdrawn" if hasattr(found, "withdrawal") else found.state
    counts = {"files": found.rows, "folders": found.folders, "done": found.done}
    return {"number": found.number, "state": state, **counts, "notes": found.notes, "trouble": found.trouble}
