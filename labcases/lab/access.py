"""The mark every view carries: which right it needs. A view without the mark fails a test."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from labcases.lab.roles import Right


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
