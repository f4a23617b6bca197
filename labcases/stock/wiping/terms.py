"""The words of a wipe, after NIST SP 800-88 Rev. 1: clear, purge, destroy, and the techniques of each.

Clear applies logical techniques to all places that can be addressed; purge makes recovery infeasible also in a
laboratory; destroy ends the medium as well (wording of *clear* from the NIST glossary, of the other two and of the
techniques from memory). The revision is kept with each wipe, since another one may use other words.

>>> belongs("purge", "cryptographic erase"), belongs("clear", "shred")
(True, False)
"""

from __future__ import annotations

STANDARD = "NIST SP 800-88 Rev. 1"
CLEAR = ("overwrite", "reset to factory state")
PURGE = (
    "overwrite by the device's own command",
    "block erase",
    "cryptographic erase",
    "secure erase command",
    "degauss",
)
DESTROY = ("disintegrate", "pulverise", "melt", "incinerate", "shred")
TECHNIQUES: dict[str, tuple[str, ...]] = {"clear": CLEAR, "purge": PURGE, "destroy": DESTROY}
_FLASH = ("ssd", "nvme", "soldered", "stick", "card", "onepiece", "flashchip", "embedded", "phone")
_MAGNETIC = ("disk35", "disk25", "disk18", "helium", "external", "member", "tape", "floppy")
_TYPES = dict.fromkeys(_FLASH, "flash memory") | dict.fromkeys(_MAGNETIC, "magnetic") | {"optical": "optical"}


def belongs(method: str, technique: str) -> bool:
    """Whether a technique is one of this method; one that is not said is."""
    return not technique or technique in TECHNIQUES.get(method, ())


def media_type(kind: str) -> str:
    """What the standard would call a kind of medium.

    >>> media_type("disk35"), media_type("stick"), media_type("drum")
    ('magnetic', 'flash memory', 'other')
    """
    return _TYPES.get(kind, "other")
