"""What is sent and answered, field by field; the OpenAPI document is drawn from here."""

from __future__ import annotations

from typing import Annotated, Literal

from ninja import Schema
from pydantic import AwareDatetime, ConfigDict, Field

LARGEST = 2**63 - 1
Sectors = Annotated[int, Field(ge=0, le=LARGEST, strict=True)]
PassNumber = Annotated[int, Field(ge=1, le=999, strict=True, alias="pass", description="counts from 1")]
Head = Annotated[int | None, Field(ge=0, le=999, strict=True, description="counts from 0; none: all heads")]
Moment = Annotated[
    AwareDatetime | None,
    Field(description="RFC 3339, with its offset; now unless said", examples=["2026-03-02T14:05:00Z"]),
]


class Sent(Schema):
    model_config = ConfigDict(extra="forbid", populate_by_name=True)


class Step(Sent):
    """A step that was taken on a patient."""

    what: str = Field(min_length=1, max_length=2000, examples=["Service area saved, whole."])
    method: str = Field("", max_length=2000)
    change: str = Field("", max_length=2000, description="an unavoidable change to the patient, and why it was made")
    copied: bool = Field(False, strict=True, description="this step made the clone")
    happened: Moment = None


class StepKept(Schema):
    item: str
    step: int
    happened: str


class Reading(Sent):
    """At this moment so much had been read, counted from the beginning of the pass."""

    at: AwareDatetime
    sectors: Sectors
    pass_number: PassNumber = 1
    head: Head = None
    wanted_bytes: Sectors = 0


class Readings(Sent):
    readings: list[Reading] = Field(min_length=1, max_length=10_000)
    anew: bool = Field(False, strict=True, description="counting began again: a smaller count is no mistake")


class ReadingsKept(Schema):
    item: str
    kept: int
    notes: list[str]


class PartKept(Schema):
    part: int
    bytes: int
    sha256: str


class Parts(Schema):
    """What is there of a transfer: a sender that was cut off goes on behind it."""

    item: str
    parts: list[PartKept]
    bytes: int
    next_part: int
    upload: int | None = Field(description="number of the upload it became")


class Finish(Sent):
    """All parts are sent."""

    parts: int = Field(ge=1, le=10_000, strict=True)
    sha256: str = Field("", pattern="^([0-9a-f]{64})?$", description="of all parts one behind the other, unpacked")
    name: str = Field("", max_length=200, examples=["pass 2, head 3"])
    pass_number: PassNumber = 1
    head: Head = None
    unit: Literal["sectors", "bytes"] = "sectors"
    verb: Literal["overlay", "withdraw"] = Field("overlay", description="withdraw takes back what is known")
    because: str = Field("", max_length=2000, description="why it is taken back")
    happened: Moment = None


class Uploaded(Schema):
    item: str
    upload: int
    spans: int
    notes: list[str] = Field(description="what was put right by rule")
    worked_out: bool = Field(description="whether the coverage shows it already; of a large upload within a minute")


FieldOfFile = Literal["path", "size", "modified", "created", "extents", "check"]
CheckResult = Literal["whole", "damaged", "lost", "not known"]
Header = Annotated[str, Field(max_length=200)]


class FinishFiles(Sent):
    """All parts of a list are sent."""

    parts: int = Field(ge=1, le=10_000, strict=True)
    sha256: str = Field("", pattern="^([0-9a-f]{64})?$", description="of all parts one behind the other, unpacked")
    name: str = Field("", max_length=200, examples=["second partition.csv"])
    columns: dict[FieldOfFile, Header] = Field(
        default_factory=dict, examples=[{"path": "Full name", "extents": "Runs"}],
        description="which header holds path, size (bytes), modified, created, extents (pairs of numbers, such as "
        "2048+16; 4096+8) and check; the usual headers are known without it",
    )  # fmt: skip
    separator: Literal["/", "\\"] = Field("/", description="sets folders apart")
    letters: Literal["", "cp1252", "utf-16"] = Field("", description="of a CSV that is not UTF-8")
    extent: Literal["sectors", "last", "end"] = Field(
        "sectors", description="the second number of an extent: a length, the last one, or the one behind the last"
    )
    unit: Literal["sectors", "bytes"] = Field("sectors", description="what extents are counted in")
    base: Sectors = Field(0, description="the sector of the medium from which extents are counted")
    checks: dict[Header, CheckResult] = Field(
        default_factory=dict, max_length=100, examples=[{"4": "whole"}],
        description="what words of the column check mean; common ones are known",
    )  # fmt: skip
    happened: Moment = Field(None, description="when the list was made; now unless said")


class ListSaid(Schema):
    """Where a list stands."""

    number: int = Field(description="its number on the item")
    state: Literal["waiting", "reading", "kept", "refused", "withdrawn"]
    done: int = Field(description="files read so far, while it is being read")
    files: int
    folders: int
    notes: list[str] = Field(description="what was put right by rule")
    trouble: str = Field(description="why it was refused, with the row at fault")


class Listed(ListSaid):
    item: str


class FileParts(Schema):
    """What is there of a list that comes in parts, and of the list when it was finished."""

    item: str
    parts: list[PartKept]
    bytes: int
    next_part: int
    file_list: ListSaid | None = Field(description="the list it became, once it was finished")


class PlanSpan(Schema):
    order: int
    first: int
    sectors: int
    direction: str
    heads: str
    step: int
    part: str
    name: str
    why: str


class Plan(Schema):
    item: str
    plan: int
    made: str
    sectors: int
    spans: list[PlanSpan]


class Computer(Schema):
    name: str
    scopes: list[str]


class Wrong(Schema):
    where: str
    what: str


class Problem(Schema):
    """RFC 9457."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[Wrong] | None = None
