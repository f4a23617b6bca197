"""The cautions that stand beside a step where work can hurt a person or a medium.

Common practice, no source. The app warns; local rules and licensed people decide.
"""

from __future__ import annotations

CLEAN_AIR = "Clean air for every opening: ISO 14644-1 class 5 or better."
GLASS = "Glass platters shatter: eye protection and gloves."
STATIC = "Wrist strap and mat: a discharge kills heads and boards without a trace."
NOISE = "Stop at the first new noise. A head that starts to scrape ruins the platter within seconds."
MAINS = (
    "Mains parts, shorted boards and swollen or punctured cells: isolate, do not charge or puncture. Follow local fire "
    "and waste rules; leave mains and lithium work to licensed people."
)
WET = "Flood and fire media carry contamination: gloves, eye protection, ventilation; follow local rules."
HEAT = "Hot air, solvents and flux: extraction, and your local safety rules."
HELIUM = "A helium-filled disk lets its gas out for good when it is opened: that needs its own authority and price."
UNLAWFUL = (
    "Stolen property, court orders, unlawful content: stop, keep the item safe, and follow local law and counsel."
)

MAINS_KINDS = ("external", "nas", "recorder", "phone")  # what brings a supply of its own, or a lithium cell


def before_looking(*, kind: str, spinning: bool, helium: bool, soiled: bool) -> list[str]:
    """What must be known by whoever takes a medium in hand to examine it.

    >>> before_looking(kind="phone", spinning=False, helium=False, soiled=True) == [STATIC, MAINS, WET]
    True
    """
    applies = (
        (CLEAN_AIR, spinning),
        (GLASS, spinning),
        (HELIUM, helium),
        (STATIC, True),
        (MAINS, kind in MAINS_KINDS or soiled),
        (WET, soiled),
    )
    return [caution for caution, so in applies if so]


ALL = (CLEAN_AIR, GLASS, STATIC, NOISE, MAINS, WET, HEAT, HELIUM, UNLAWFUL)
