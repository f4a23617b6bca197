"""The facts that a bench protocol may speak of, by name and in words, and how they are read off an item's Facts.

A fact is true or not known to be true; nothing in between. Steps of a protocol are facts too, by their own key.

>>> from labcases.cases.facts import Facts
>>> sorted(named(Facts(spinning=True, no_power_because=("it clicks",), inspected_inside=True)))
['inspected-inside', 'power-forbidden', 'spinning']
"""

from __future__ import annotations

from labcases.cases.facts import Facts
from labcases.cases.stages import Stage

FACTS: dict[str, str] = {
    "spinning": "it has platters",
    "shingled": "its tracks overlap (shingled)",
    "helium-filled": "it is filled with helium",
    "power-forbidden": "what was told forbids power before an inspection",
    "may-open": "the customer allows opening it for inspection",
    "examined": "it was examined",
    "inspected-inside": "it was opened and inspected in clean air",
    "identity-read": "it was asked who it is",
    "identity-differs": "what it says differs from intake, unanswered",
    "wrong-item": "it was found to be the wrong item",
    "locked": "a disk password locks it",
    "secret-kept": "a password or key is kept",
    "legal-hold": "the law holds it",
    "disputed": "its ownership is disputed",
    "in-the-lab": "it is in the lab",
    "authorised": "the customer's yes is on file",
    "part-needed": "the findings ask for a part",
    "part-assigned": "a donor part is assigned",
    "destination-assigned": "a destination is assigned",
    "destination-short": "its destinations have less room than it has sectors",
    "destination-foreign": "its destination serves another case",
    "work-started": "the work has started",
    "board-suspect": "board, preamplifier or connector is suspected",
    "heads-suspect": "heads, preamplifier or platters are suspected",
    "firmware-suspect": "firmware or service area is suspected",
    "controller-suspect": "the flash controller is suspected",
    "slot-known": "its slot in the array is noted",
    "array-suspect": "the array's configuration is in question",
    "array-worked-out": "it is on record how the array was put together",
    "heads-mapped": "it is on record which heads hold which sectors",
    "service-area-kept": "its service area or ROM was saved, or it is on record why not",
    "backup-read-twice": "a ROM or module was read twice, both alike",
    "chip-kept": "a read of a chip is kept",
    "chip-read-twice": "a chip was read twice or more",
    "firmware-written": "firmware or ROM was written, on record",
    "clone-noted": "it was copied, on record",
    "result-checked": "its result is on record",
}
_STARTED = (Stage.IN_WORK, Stage.CHECKED, Stage.READY, Stage.HANDED_OVER, Stage.CLOSED)


def named(facts: Facts) -> frozenset[str]:
    """The names of all that is true of an item."""
    true = {
        "spinning": facts.spinning,
        "shingled": "shingled" in facts.nature,
        "helium-filled": "helium" in facts.nature,
        "power-forbidden": bool(facts.no_power_because),
        "may-open": facts.may_open,
        "examined": facts.examined,
        "inspected-inside": facts.inspected_inside,
        "identity-read": facts.identified,
        "identity-differs": bool(facts.differs),
        "wrong-item": facts.wrong_item,
        "locked": facts.locked,
        "secret-kept": facts.secret_kept,
        "legal-hold": facts.legal_hold,
        "disputed": facts.disputed,
        "in-the-lab": facts.in_the_lab,
        "authorised": facts.authorised,
        "part-needed": bool(facts.needs_part),
        "part-assigned": facts.donor_parts > 0,
        "destination-assigned": facts.destinations > 0,
        "work-started": facts.stage in _STARTED,
        "clone-noted": facts.clone_noted,
        "result-checked": facts.result_checked,
    }
    return frozenset(name for name, so in true.items() if so) | facts.bench_known | facts.order_noted


FAULTS = {  # which finding raises which suspicion
    "board-suspect": {"board", "preamplifier", "connector"},
    "heads-suspect": {"heads", "preamplifier", "stuck", "surface"},
    "firmware-suspect": {"service area"},
    "controller-suspect": {"flash controller"},
    "array-suspect": {"array"},
}


def suspicions(faults: list[str]) -> set[str]:
    """What the fault classes of an examination make suspect.

    >>> sorted(suspicions(["preamplifier"]))
    ['board-suspect', 'heads-suspect']
    """
    return {name for name, classes in FAULTS.items() if classes.intersection(faults)}
