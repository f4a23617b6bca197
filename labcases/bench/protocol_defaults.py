"""The protocols as they are delivered, one a kind of medium. Common practice of the trade, no source.

A lab changes them in versions of its own; these stay what an item is judged by until it does.

>>> list(DEFAULTS)
['disk', 'helium', 'shingled', 'ssd', 'stick', 'chip', 'array', 'plain']
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace

from labcases.bench import cautions as c
from labcases.bench.protocol import Condition, Grade, Protocol, Step
from labcases.bench.protocol_steps import (
    BOARD,
    COPY,
    COPY_IT,
    DESTINATION,
    FREEZE,
    HEADS,
    IDENTITY,
    INSIDE,
    NEVER_REBUILD,
    NEVER_WRITE,
    NO_HOLD,
    PART,
    PASSES,
    RESULTS,
    RIGHT,
    SAMPLES,
    SERVICE,
    START,
    STRUCTURES,
    WRITE_FIRMWARE,
    YES,
    all_of,
)

KINDS: dict[str, str] = {
    "disk": "spinning disk",
    "helium": "helium-filled disk",
    "shingled": "shingled disk",
    "ssd": "SSD (SATA, M.2, NVMe, soldered)",
    "stick": "stick or card",
    "chip": "bare chip, eMMC or UFS",
    "array": "array and its members",
    "plain": "any other medium",
}
_OF_MEDIUM = {
    "disk35": "disk", "disk25": "disk", "disk18": "disk", "external": "disk", "helium": "helium",
    "ssd": "ssd", "nvme": "ssd", "soldered": "ssd", "stick": "stick", "card": "stick", "onepiece": "stick",
    "flashchip": "chip", "embedded": "chip", "nas": "array", "member": "array",
}  # fmt: skip


def kind_of(medium: str, nature: Set[str] = frozenset()) -> str:
    """Which protocol a medium starts with: by its kind, and by what is known of it besides (shingled, helium).

    A disk that is both goes by the order of helium-filled ones, whose first step cannot be undone.

    >>> kind_of("disk25"), kind_of("external", {"shingled"}), kind_of("disk35", {"shingled", "helium"}), kind_of("tape")
    ('disk', 'shingled', 'helium', 'plain')
    """
    kind = _OF_MEDIUM.get(medium, "plain")
    natures = ("helium", "shingled") if kind == "disk" else ()
    return next((name for name in natures if name in nature), kind)


DISK = (
    NEVER_WRITE, INSIDE, BOARD, IDENTITY, SERVICE, PART, DESTINATION, START, WRITE_FIRMWARE, HEADS, STRUCTURES, PASSES,
    COPY_IT, FREEZE, SAMPLES, RESULTS,
)  # fmt: skip


def _with(steps: tuple[Step, ...], **changed: Step) -> tuple[Step, ...]:
    """The same steps, those named by their key (strokes for hyphens) put in another way."""
    return tuple(changed.get(step.key.replace("-", "_"), step) for step in steps)


def _before(steps: tuple[Step, ...], key: str, new: Step) -> tuple[Step, ...]:
    place = next(n for n, step in enumerate(steps) if step.key == key)
    return (*steps[:place], new, *steps[place:])


HELIUM = _with(
    DISK,
    inside=replace(
        INSIDE,
        what="Decide with the customer whether it is opened: no power before it was inspected inside",
        why="Crashed heads scrape the platters, and once the gas is out it runs for a short while only.",
        cautions=(c.HELIUM, *INSIDE.cautions),
    ),
)
SHINGLED = _with(
    DISK,
    heads=replace(
        HEADS,
        applies=Condition(),
        why="A low sector number is no outer track here, and layouts mislead: say what the order is based on.",
    ),
    service_area=replace(
        SERVICE,
        why="Its second translator lives in the service area: without it what is read cannot be put in its place.",
    ),
)

CLEAN = Step(
    "clean",
    "Open, rinse and dry it as its kind asks, and look for corrosion, before any power",
    "Power across what is wet or burnt eats the contacts, and shorts what still works.",
    applies=all_of("power-forbidden"),
    done=all_of("inspected-inside"),
    stops=(RIGHT, NO_HOLD),
    cautions=(c.WET, c.MAINS, c.STATIC),
    results=("clean and dry", "corrosion removed"),
)
FLASH_BOARD = replace(
    BOARD,
    what="Look the board over, clean it, and check the supply lines for shorts without power",
    why="A shorted supply line takes the controller with it, and often the keys.",
    after=("clean",),
)
FLASH_IDENTITY = replace(IDENTITY, after=("clean", "board"), cautions=(c.STATIC,))
NO_TRIM = Step(
    "housekeeping",
    "Keep it from trimming and tidying: power it only while it is read, behind what lets no write through",
    "A flash controller tidies up by itself: what was deleted is gone for good within minutes of power.",
    Grade.ASK,
    after=("clean", "board"),
    results=("behind a write blocker",),
    reasons=("the chips are read without their controller", "it does not start"),
)
FLASH_PASSES = replace(
    PASSES,
    what="Read it through its controller at low stress: slow, cool, small steps, rests between",
    why="A worn or hot controller drops out, and each start costs.",
    after=("start",),
    cautions=(c.STATIC,),
)
CHIPS = Step(
    "chips",
    "If the controller is dead, take the chips off: each an item of its own, with its reads",
    "Errors are corrected and the mixing undone on the reads; every raw read is kept.",
    Grade.REMIND,
    applies=all_of("controller-suspect"),
    done=all_of("chip-kept"),
    after=("start",),
    stops=(YES,),
    cautions=(c.HEAT, c.STATIC),
    verb="remove-chip",
)
FLASH_START = replace(START, after=("clean", "part", "destination"), cautions=(c.STATIC,))
FLASH_PART = replace(PART, after=("clean", "board", "identity"))
FLASH_COPY = replace(COPY_IT, after=("identity", "housekeeping", "start", "chips", "passes"), cautions=(c.STATIC,))
FLASH = (
    NEVER_WRITE, CLEAN, FLASH_BOARD, FLASH_IDENTITY, NO_TRIM, FLASH_PART, DESTINATION, FLASH_START,
    replace(WRITE_FIRMWARE, after=("start",)), CHIPS, replace(FLASH_PASSES, after=("start",)), FLASH_COPY,
    FREEZE, SAMPLES, RESULTS,
)  # fmt: skip
STICK = _with(
    FLASH,
    housekeeping=replace(NO_TRIM, grade=Grade.REMIND, reasons=()),
    board=replace(FLASH_BOARD, what="Look connector and board over, clean them, and check for shorts without power"),
)

READ_CHIP = Step(
    "reads",
    "Read the chip at least twice, and keep every raw read",
    "Bits flip: only reads laid side by side tell which bits are sure.",
    Grade.ASK,
    done=all_of("chip-read-twice"),
    after=("start",),
    cautions=(c.STATIC,),
    results=("read twice, compared",),
    reasons=("it died after the first read",),
    verb="keep-dump",
)
REBUILD_IMAGE = Step(
    "image",
    "Correct errors, undo the mixing, rebuild the image, on copies of the reads",
    "The reads are the evidence; they stay as they are.",
    Grade.REMIND,
    after=("reads",),
)
CHIP_IDENTITY = replace(FLASH_IDENTITY, after=("clean",), what="Read the chip's own identity, and note its marking")
CHIP = (
    NEVER_WRITE, CLEAN, CHIP_IDENTITY, replace(DESTINATION, after=()),
    replace(FLASH_START, after=("clean", "destination"), cautions=(c.HEAT, c.STATIC)), READ_CHIP,
    REBUILD_IMAGE, replace(FLASH_COPY, after=("identity", "reads", "image"), what="Note the image that was made of it"),
    FREEZE, SAMPLES, RESULTS,
)  # fmt: skip

SLOTS = Step(
    "slots",
    "Label every member with its slot, before any of them is moved",
    "The order cannot be seen on the members afterwards.",
    done=all_of("slot-known"),
    stops=(RIGHT, NO_HOLD),
    results=("every slot labelled", "the order is not known: said so"),
)
STALE = Step(
    "stale",
    "Find out which members are needed, which is failing and which is stale; the failing one is read last",
    "One stale member, taken for a current one, spoils every file.",
    Grade.ASK,
    after=("identity", "start"),
    results=("worked out from the members' own records",),
    reasons=("every member is copied", "it cannot be told before they are copied"),
)
ARRANGE = Step(
    "arrangement",
    "Work out order, stripe, parity and offset, on the copies",
    "Whatever is tried on the members themselves writes them.",
    Grade.ASK,
    done=all_of("array-worked-out"),
    verb="find-array",
    after=(COPY,),
    reasons=("this member only: its array is worked out elsewhere", "it is a mirror"),
)
ARRAY = (
    NEVER_WRITE, NEVER_REBUILD, SLOTS, INSIDE, BOARD, replace(IDENTITY, after=("slots", "inside", "board")), SERVICE,
    PART, DESTINATION, START, STALE, HEADS, replace(PASSES, after=("start",)),
    replace(COPY_IT, after=("identity", "service-area", "start", "stale", "heads", "passes")), ARRANGE,
    FREEZE, replace(SAMPLES, after=(COPY, "freeze", "arrangement")), RESULTS,
)  # fmt: skip

PLAIN = (
    NEVER_WRITE, CLEAN, replace(PART, after=("clean",)), DESTINATION,
    replace(START, after=("clean", "part", "destination"), cautions=(c.NOISE, c.STATIC, c.MAINS)),
    replace(COPY_IT, after=("clean", "start")),
    replace(SAMPLES, after=(COPY,), grade=Grade.REMIND, reasons=()),
    replace(RESULTS, after=(COPY, "samples")),
)  # fmt: skip

DEFAULTS: dict[str, Protocol] = {
    "disk": Protocol("disk", DISK),
    "helium": Protocol("helium", HELIUM),
    "shingled": Protocol("shingled", SHINGLED),
    "ssd": Protocol("ssd", FLASH),
    "stick": Protocol("stick", STICK),
    "chip": Protocol("chip", CHIP),
    "array": Protocol("array", ARRAY),
    "plain": Protocol("plain", PLAIN),
}
