"""The words of the intake: what can be seen, heard and told about a medium. Common practice of the trade, no source.

Each table maps the value that is stored to the words on the screen and on paper.
"""

from __future__ import annotations

MARKS = {  # seen on the outside
    "dents": "dents",
    "corrosion": "corrosion",
    "burn": "burn marks",
    "liquid": "liquid",
    "connector": "connector broken",
    "seal": "seal broken",
    "screws": "screws marked (opened before)",
    "board": "board missing",
    "label": "label missing",
    "nothing": "nothing seen",
}
BEHAVIOURS = {  # as the customer tells it; nobody powers it to find out
    "dead": "dead",
    "spins": "spins, not seen",
    "clicks": "clicks",
    "beeps": "beeps",
    "grinds": "grinds",
    "slow": "slow",
    "factory name": "seen under a factory name, without serial or with no capacity",
    "wrong capacity": "seen with a wrong capacity",
    "reads errors": "seen, reading errors",
    "hot": "gets hot",
    "normal": "seems normal",
    "not known": "not known",
}
STORIES = {  # what happened to it
    "dropped": "dropped",
    "liquid": "liquid",
    "fire": "fire",
    "surge": "surge",
    "power cut": "power cut",
    "formatted": "formatted",
    "deleted": "deleted",
    "reinstalled": "reinstalled",
    "repartitioned": "repartitioned",
    "ransomware": "ransomware",
    "firmware update": "firmware update",
    "wear": "wear",
    "lost password": "lost password",
    "not known": "not known",
}
TRIED = {  # what was tried since
    "software": "a program was run on it",
    "freezer": "put in a freezer",
    "opened": "opened",
    "other lab": "another lab had it",
    "nothing": "nothing",
    "not known": "not known",
}
LOCKS = {
    "disk password": "disk password",
    "encryption": "full-disk encryption",
    "phone code": "phone code",
    "recovery key": "recovery key needed",
    "account": "account lock",
}
RECORDINGS = {"shingled": "shingled: tracks overlap", "conventional": "tracks side by side"}  # how a disk records
UNKNOWN_SENDER = "Unknown sender"  # holds the owner's place while nobody knows whose a parcel is
YES_NO_UNKNOWN = {"yes": "yes", "no": "no", "": "not known"}

# Told or seen so, a spinning disk gets no power before somebody has looked inside, in clean air.
NO_POWER_STORIES = frozenset({"dropped", "liquid", "fire"})
NO_POWER_BEHAVIOURS = frozenset({"clicks", "grinds"})
NO_POWER_MARKS = frozenset({"screws", "seal", "burn", "liquid"})
NO_POWER_TRIED = frozenset({"opened"})

_SEEN = {
    "screws": "its screws are marked",
    "seal": "its seal is broken",
    "burn": "it shows burn marks",
    "liquid": "liquid was seen on it",
}


def said(values: list[str], table: dict[str, str]) -> str:
    """The words for stored values, joined; unknown values as they are."""
    return ", ".join(table.get(value, value) for value in values)


def reasons_for_no_power(
    *, spinning: bool, marks: list[str], behaviours: list[str], stories: list[str], tried: list[str]
) -> list[str]:
    """Why a medium must not be powered before it was inspected inside; empty when nothing told says so.

    >>> reasons_for_no_power(spinning=True, marks=["dents"], behaviours=["clicks"], stories=["dropped"], tried=[])
    ['it was dropped', 'it clicks']
    """
    if not spinning:
        wet = [f"it went through {s}" for s in stories if s in ("liquid", "fire")]
        return wet + [_SEEN[m] for m in marks if m in ("liquid", "burn")]
    told = {"dropped": "it was dropped", "liquid": "it got wet", "fire": "it was in a fire"}
    reasons = [told[s] for s in stories if s in NO_POWER_STORIES]
    reasons += [f"it {b}" for b in behaviours if b in NO_POWER_BEHAVIOURS]
    reasons += [_SEEN[m] for m in marks if m in NO_POWER_MARKS]
    reasons += ["it was opened before" for t in tried if t in NO_POWER_TRIED]
    return list(dict.fromkeys(reasons))
