"""Problem answers after RFC 9457: what is wrong, in words, with a type that says which kind of wrong."""

from __future__ import annotations

from typing import Any

from django.http import JsonResponse

KIND = "application/problem+json"
# Its name in ``type``, its title, and when it comes. The documentation lists them.
PROBLEMS: dict[str, tuple[int, str, str]] = {
    "unreadable": (400, "This cannot be read", "the body is no JSON, is packed wrongly, or ends too early"),
    "no-token": (401, "A token is needed", "no token, a wrong one, or one that was revoked"),
    "not-in-scope": (403, "This token may not do that", "the token was made for other things"),
    "not-found": (404, "There is no such thing", "no such address, item, transfer or plan"),
    "method": (405, "This address does not do that", "the address knows other methods, named in Allow"),
    "refused": (409, "This cannot be done now", "what stands already, or the bench order, says no; detail says why"),
    "no-length": (411, "The length is needed", "a part came without Content-Length"),
    "too-large": (413, "This is too large", "a body or a part above the limit"),
    "media-type": (415, "This is of another media type", "a body of a media type that the address does not take"),
    "invalid": (422, "Something in it is not valid", "a field or a row; errors says which"),
    "too-many-tries": (429, "Too many wrong tokens", "wait for as long as Retry-After says"),
    "no-room": (507, "There is no room for this", "the lab's disk is nearly full; a manager makes room"),
    "fault": (500, "Something went wrong here", "a fault of the program; it is logged"),
}


class Problem(Exception):
    """Stop with a problem answer."""

    def __init__(self, name: str, detail: str, **more: Any) -> None:
        super().__init__(detail)
        self.name, self.detail, self.more = name, detail, more


def answer(name: str, detail: str, *, headers: dict[str, str] | None = None, **more: Any) -> JsonResponse:
    """The answer; ``more`` are further members, such as ``errors``."""
    status, title, _ = PROBLEMS[name]
    said = {"type": f"/api/#problem-{name}", "title": title, "status": status, "detail": detail, **more}
    response = JsonResponse(said, status=status, content_type=KIND)
    for header, value in (headers or {}).items():
        response[header] = value
    return response
