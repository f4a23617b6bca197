"""Bodies of requests: read whole or not at all, unpacked within limits; moments that can be."""

from __future__ import annotations

import zlib
from datetime import UTC, datetime, timedelta

from django.http import HttpRequest
from django.utils import timezone

from labcases.api.views.problems import Problem
from labcases.core.forms import MINUTES_OF_SKEW, OLDEST

BLOCK = 1 << 18
GZIP = 16 + zlib.MAX_WBITS
CUT = "The body ends too early: the connection was cut. Nothing was kept; send this part again."


def whole(request: HttpRequest, *, most: int) -> bytes:
    """The whole body, unpacked; never more than ``most`` bytes. Raises Problem when it is cut off or too large."""
    packing = request.headers.get("Content-Encoding", "identity").strip().lower()
    if packing not in ("identity", "gzip"):
        raise Problem("media-type", f"A part is packed with gzip or not at all, not with {packing[:20]}.")
    announced = request.META.get("CONTENT_LENGTH") or ""
    if not announced.isdecimal():
        raise Problem("no-length", "Send Content-Length, so that a cut connection is noticed.")
    if int(announced) > most:
        raise Problem("too-large", f"A part holds {most >> 20} MiB at most. Cut it into several.")
    return _unpacked(request, int(announced), most) if packing == "gzip" else _plain(request, int(announced))


def _plain(request: HttpRequest, announced: int) -> bytes:
    data = bytearray()
    while len(data) < announced and (block := request.read(min(BLOCK, announced - len(data)))):
        data += block
    if len(data) < announced:
        raise Problem("unreadable", CUT)
    return bytes(data)


def _unpacked(request: HttpRequest, announced: int, most: int) -> bytes:
    engine, data, came = zlib.decompressobj(GZIP), bytearray(), 0
    while came < announced and (block := request.read(min(BLOCK, announced - came))):
        came += len(block)
        try:
            data += engine.decompress(block, most + 1 - len(data))
        except zlib.error:
            raise Problem("unreadable", "This is no gzip. Nothing was kept.") from None
        if len(data) > most:
            raise Problem("too-large", f"A part holds {most >> 20} MiB at most when it is unpacked.")
    if came < announced or not engine.eof:
        raise Problem("unreadable", CUT)
    if engine.unused_data:
        raise Problem("unreadable", "Something stands behind the end of the gzip. Nothing was kept.")
    return bytes(data)


def moment(said: datetime | None) -> datetime:
    """The moment that was said, in UTC, or now. Raises Problem for one in the future or before there were disks."""
    now = timezone.now()
    if said is None:
        return now
    try:
        when = said.astimezone(UTC)
    except (OverflowError, ValueError):
        when = datetime.min.replace(tzinfo=UTC)
    if when.year < OLDEST or when > now + timedelta(minutes=MINUTES_OF_SKEW):
        what = "This moment lies in the future, or too far back. Set the computer's clock right."
        raise Problem("invalid", what, errors=[{"where": "moment", "what": what}])
    return when
