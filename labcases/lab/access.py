"""The mark every view carries: which right it needs. A view without the mark fails a test."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any

from labcases.lab.roles import Right

if TYPE_CHECKING:
    from django.http import HttpRequest
    from django_htmx.middleware import HtmxDetails

    from labcases.lab.models import Actor, Profile, Staff

    class StaffRequest(HttpRequest):
        """A request that got past the door: ``user`` is one of the staff, ``actor`` the same in the fitting role."""

        user: Staff
        actor: Actor
        lab: Profile
        htmx: HtmxDetails

else:
    StaffRequest = object  # only a name for type checkers: at run time it is whatever the server made


def needs(right: Right, *, to_press: Right | None = None) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Let in those who hold ``right``; ``request.actor`` is then the person in the fitting role.

    With ``to_press`` the page may be seen with ``right`` but only sent with ``to_press``.
    Raises NotAllowed (a page with status 403) for everybody else.
    """

    def mark(view: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(view)
        def guarded(request: Any, *args: Any, **kwargs: Any) -> Any:
            wanted = to_press if to_press and request.method == "POST" else right
            request.actor = request.user.acting(wanted)
            return view(request, *args, **kwargs)

        guarded.right = right  # type: ignore[attr-defined]
        guarded.to_press = to_press or right  # type: ignore[attr-defined]
        return guarded

    return mark
