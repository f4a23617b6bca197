"""The steps of the bench order that several kinds of medium share, and what stops them.

Common practice of the trade, no source.
"""

from __future__ import annotations

from labcases.bench import cautions as c
from labcases.bench.protocol import Condition, Grade, Step, Stop

# Keys by which verbs of the bench find their step; a lab may retire the step, and then nothing guards that verb.
IDENTIFY, BEGIN, COPY, RESULT = "identity", "start", "copy", "result"
FIRMWARE, USER_AREA = "firmware", "user-area"


def all_of(*names: str) -> Condition:
    return Condition(all=names)


NO_HOLD = Stop("hold", Condition(none=("legal-hold",)), "The law holds it.", "End the hold first, on record.")
RIGHT = Stop(
    "right-item",
    Condition(none=("wrong-item",)),
    "It is the wrong item: what it says of itself is not what was taken in.",
    "Find the right one, or let a manager lift the stop on the page of its reading.",
    always=True,
)
LEAVE_TO_OPEN = Stop(
    "leave-to-open",
    all_of("may-open"),
    "The customer has not allowed opening it.",
    "Ask for that authority, and note it.",
)
HERE = Stop("here", all_of("in-the-lab"), "The item is not in the lab.", "Receive it first.", always=True)
YES = Stop("yes", all_of("authorised"), "No authority is on file.", "Record the customer's yes first.")
FOREIGN = Stop(
    "foreign",
    Condition(none=("destination-foreign",)),
    "Its destination serves another customer's case.",
    "Assign a medium that is clean or of this case.",
)
ROOM = Stop(
    "room",
    Condition(none=("destination-short",)),
    "Its destinations have less room than it has sectors.",
    "Assign a larger one, or say why this one will do.",
    Grade.ASK,
    reasons=("only what is wanted is read", "the image is compressed", "a second destination follows"),
)
TWICE = Stop(
    "twice-read",
    all_of("backup-read-twice"),
    "No backup is kept that was read twice and came out alike.",
    "Keep a dump, read twice, before anything is written.",
)

INSIDE = Step(
    "inside",
    "Inspect it inside, in clean air, before any power",
    "Crashed heads scrape the platters at every turn.",
    applies=all_of("power-forbidden"),
    done=all_of("inspected-inside"),
    stops=(RIGHT, NO_HOLD, LEAVE_TO_OPEN),
    cautions=(c.CLEAN_AIR, c.GLASS, c.WET),
    verb="examine",
)
BOARD = Step(
    "board",
    "Look the board over, clean it, and check for shorts without power: board, motor, preamplifier",
    "A minute now saves a head stack: a shorted preamplifier also kills a donor board.",
    Grade.ASK,
    stops=(RIGHT, NO_HOLD),
    cautions=(c.STATIC, c.MAINS),
    results=("clean, no short", "cleaned, no short", "short found and removed"),
    reasons=("checked at the examination", "there is no board to reach"),
)
IDENTITY = Step(
    IDENTIFY,
    "Read who it says it is, and compare that with intake",
    "The wrong item is the commonest way to lose a customer's data.",
    Grade.ASK,
    done=all_of("identity-read"),
    after=("inside", "board"),
    stops=(RIGHT,),
    cautions=(c.NOISE,),
    results=("as on the label",),
    reasons=("it does not answer", "only its label could be compared"),
    verb="identify",
)
SERVICE = Step(
    "service-area",
    "Save ROM and critical modules, then the rest of the service area as far as the heads bear it",
    "Without it a later firmware fault is final; reading all of it on weak heads does harm.",
    Grade.ASK,
    done=all_of("service-area-kept"),
    after=("inside", "board", "identity"),
    cautions=(c.NOISE,),
    results=("whole", "partly"),
    reasons=("not worth the stress", "not reachable", "once the donor part is in"),
    verb="keep-dump",
)
PART = Step(
    "part",
    "Assign a donor part",
    "The findings ask for one.",
    Grade.ASK,
    applies=all_of("part-needed"),
    done=all_of("part-assigned"),
    after=("inside", "board", "identity"),
    reasons=("it is tried without first", "the part was the lab's own spare"),
    verb="assign-donor",
)
DESTINATION = Step(
    "destination",
    "Assign a destination",
    "Reading starts only when there is a clean medium to copy to.",
    Grade.ASK,
    done=Condition(any=("destination-assigned", "clone-noted")),
    after=("part",),
    reasons=("it goes onto the storage pool", "it goes straight onto what the customer takes"),
    verb="assign-destination",
)
START = Step(
    BEGIN,
    "Start the work",
    "Authority is on file; from here on it is charged.",
    done=all_of("work-started"),
    after=("inside", "part", "destination"),
    stops=(RIGHT, NO_HOLD, HERE, YES),
    cautions=(c.NOISE, c.STATIC),
    verb="start-work",
)
WRITE_FIRMWARE = Step(
    FIRMWARE,
    "Write firmware or ROM, and note it as a change that could not be avoided",
    "It writes the medium on purpose: with a backup, a reason and an authority, or not at all.",
    Grade.REMIND,
    applies=all_of("firmware-suspect"),
    done=all_of("firmware-written"),
    after=("service-area", "start"),
    stops=(TWICE, YES),
    verb="note-step",
)
HEADS = Step(
    "heads",
    "Find out which heads hold which sectors, if its family allows it",
    "A weak head can be left for last. On shingled and some newer disks a low sector number is no outer track.",
    Grade.REMIND,
    applies=Condition(any=("heads-suspect", "shingled")),
    done=all_of("heads-mapped"),
    after=("start",),
    results=("its family does not tell",),
    verb="map-heads",
)
STRUCTURES = Step(
    "structures",
    "Read the structures of the file system first, through the imager, then what is allocated and wanted",
    "The medium may not last; each sector that is read lands on the clone.",
    Grade.REMIND,
    after=("start",),
    results=("read", "there are none that could be read"),
)
PASSES = Step(
    "passes",
    "First pass quick, skipping what resists, good heads first; later passes in smaller steps, from the other side, "
    "weak heads last",
    "Most data for least stress.",
    Grade.REMIND,
    after=("structures",),
    cautions=(c.NOISE,),
)
COPY_IT = Step(
    COPY,
    "Copy it, and note each step",
    "Copy it sector by sector before anything else, and note what was done as it is done.",
    done=all_of("clone-noted"),
    after=("identity", "service-area", "start", FIRMWARE, "heads", "passes"),
    stops=(RIGHT, NO_HOLD, FOREIGN, ROOM),
    cautions=(c.NOISE,),
    verb="note-step",
)
FREEZE = Step(
    "freeze",
    "Freeze the clone: keep its record of what was read, and its digest",
    "So that what was done can be told from what was read.",
    Grade.ASK,
    after=(COPY,),
    results=("frozen, with its digest",),
    reasons=("the work is done on a second copy", "nothing is changed on the clone"),
)
SAMPLES = Step(
    "samples",
    "Open samples of each wanted kind of file",
    "A file name is not a file.",
    Grade.ASK,
    after=(COPY, "freeze"),
    cautions=(c.UNLAWFUL,),
    results=("samples of each kind opened",),
    reasons=("cannot be opened here: structure checked", "nothing was recovered"),
)
RESULTS = Step(
    RESULT,
    "Record what came of it",
    "Numbers, and an answer to each line of the wanted list.",
    done=all_of("result-checked"),
    after=(COPY, "freeze", "samples"),
    stops=(RIGHT,),
    verb="record-result",
)
NEVER_WRITE = Step(
    USER_AREA,
    "Never write the user area of a patient",
    "What is written over is gone, and the rest can no longer be trusted.",
    never=True,
)
NEVER_REBUILD = Step(
    "rebuild",
    "Never try a rebuild on the members",
    "Order, stripe, parity, offset and stale members are worked out on the copies: a rebuild writes all of them.",
    never=True,
)
