"""The life of a destination or delivery medium, as data: which state may follow which.

New and sealed counts as wiped. What held a customer's data is free for another case only after its wipe is verified:
being wiped, then wiped but not verified, then wiped and verified. Retired or handed out, it serves nobody again.
``stock.triggers`` makes the database itself refuse everything else.

>>> State.ASSIGNED in FOLLOWS[State.WIPED], State.WIPED in FOLLOWS[State.HOLDS]
(True, False)
>>> sorted(FOLLOWS[State.RETIRED])
[<State.WIPING: 'being wiped'>]
"""

from __future__ import annotations

from labcases.stock.fitting import State

S = State
CLEAN = (S.NEW, S.WIPED)
WRITTEN = (S.HOLDS, S.KEPT)

FOLLOWS: dict[State, frozenset[State]] = {
    S.NEW: frozenset({S.WIPED, S.ASSIGNED, S.WIPING, S.RETIRED}),
    S.WIPED: frozenset({S.ASSIGNED, S.WIPING, S.RETIRED}),
    S.ASSIGNED: frozenset({S.NEW, S.WIPED, S.HOLDS, S.KEPT, S.RETIRED, S.GONE}),  # the first two: released unwritten
    S.HOLDS: frozenset({S.ASSIGNED, S.KEPT, S.WIPING, S.RETIRED, S.GONE}),
    S.KEPT: frozenset({S.ASSIGNED, S.HOLDS, S.WIPING, S.RETIRED, S.GONE}),
    S.WIPING: frozenset({S.NOT_VERIFIED, S.HOLDS, S.KEPT, S.RETIRED}),
    S.NOT_VERIFIED: frozenset({S.WIPED, S.RETIRED, S.WIPING, S.HOLDS, S.KEPT, S.ASSIGNED}),
    S.RETIRED: frozenset({S.WIPING}),
    S.GONE: frozenset(),
}
