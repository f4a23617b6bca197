"""By hand: what was read, layouts, heads, areas, plans, progress."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils import timezone

from labcases.bench.plan import STEPS
from labcases.bench.reading import parts as words
from labcases.bench.reading.actions import Ready, prepare, size_of
from labcases.bench.reading.forms.tables import MOST_BYTES, STATES, wanted_field
from labcases.bench.reading.models import CoverageUpload, HeadVerdict
from labcases.bench.reading.queries import Read
from labcases.bench.spans import BadSpan, Span, read_spans
from labcases.bench.spantable import How, read_table
from labcases.cases.models import Item
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.media.errors import NotAPage
from labcases.media.image import MOST_PIPED, as_json, layout_of_bytes

WHOLE, NUMBERS = "whole", "numbers"
SHARE_HELP = "all, 2/5, 40 % or two fifths"
TAKE_BACK = ("take_back", "take back: forget what is known of it")


class BecauseForm(LabForm):
    because = ProseField(label="Why", rows=2, max_length=2000)
    happened = HappenedField()


class WhereForm(LabForm):
    """A part of the medium: a partition or all of it and how much, or sectors by number. Gives ``span``."""

    where = forms.ChoiceField(label="Where")
    share = LineField(label="How much", required=False, max_length=40, initial="all", help_text=SHARE_HELP)
    side = forms.ChoiceField(
        label="Counted from",
        choices=[("beginning", "its beginning"), ("end", "its end")],
        initial="beginning",
        widget=forms.RadioSelect,
    )
    first = CountField(label="First sector", required=False, max_value=2**63 - 1)
    sectors = CountField(label="Number of sectors", required=False, max_value=2**63 - 1)

    def __init__(self, *args: Any, read: Read, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.read = read
        known = [(f"part-{part['number']}", f"partition {words.name_of(part)}") for part in read.parts]
        self.fields["where"].choices = [  # type: ignore[attr-defined] # a choice field
            *known,
            (WHOLE, "the whole medium"),
            (NUMBERS, "sectors by number"),
        ]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if not self.errors:
            try:
                said["span"] = self._span(said)
            except BadSpan as wrong:
                self.add_error(None, str(wrong))
        return said

    def _span(self, said: dict[str, Any]) -> Span | None:
        total = size_of(self.read.item)
        if said["where"] == NUMBERS:
            if said["first"] is None or not said["sectors"]:
                self.add_error("first" if said["first"] is None else "sectors", "Say which sectors.")
                return None
            read_spans([(said["first"], said["sectors"])], total)
            return said["first"], said["sectors"]
        try:
            much = words.share(said["share"] or "all")
        except ValueError as wrong:
            self.add_error("share", str(wrong))
            return None
        known = {f"part-{part['number']}": (part["first_lba"], part["sectors"]) for part in self.read.parts}
        first, sectors = known.get(said["where"], (0, total))
        return words.part_of(first, sectors, much, from_end=said["side"] == "end")

    def in_words(self) -> str:
        """Where, as it was said: "partition 2 · NTFS, 2/5 from its end"."""
        said = self.cleaned_data
        if said["where"] == NUMBERS:
            return f"{said['sectors']:,} sectors from sector {said['first']:,}"
        name = dict(self.fields["where"].choices)[said["where"]]  # type: ignore[attr-defined] # a choice field
        much = said["share"] or "all"
        return str(name) if much in words.ALL else f"{name}, {much} from {said['side']}"


class WindowForm(forms.Form):
    """The sectors to be looked at closer."""

    use_required_attribute = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        number = {"inputmode": "numeric", "class": "code"}
        self.fields["from"] = forms.CharField(label="From sector", required=False, widget=forms.TextInput(number))
        self.fields["to"] = forms.CharField(label="To sector", required=False, widget=forms.TextInput(number))


class HandForm(WhereForm):
    """What was read, entered by hand."""

    state = forms.ChoiceField(label="It is", choices=[*STATES[:5], TAKE_BACK], widget=forms.RadioSelect)
    because = LineField(
        label="Why", required=False, help_text="Needed when sectors are doubted or taken back: a wrong head, a bridge."
    )
    pass_number = CountField(label="Pass", min_value=1, max_value=999, initial=1)
    head = CountField(label="Head", required=False, max_value=99)
    happened = HappenedField(label="Read")

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if said.get("state") in ("doubtful", TAKE_BACK[0]) and not said.get("because"):
            self.add_error("because", "Say why these sectors are doubted or taken back.")
        if said.get("span") and not self.errors:
            said["ready"] = self._ready(said)
        return said

    def _ready(self, said: dict[str, Any]) -> Ready:
        first, sectors = said["span"]
        state = "unreached" if said["state"] == TAKE_BACK[0] else said["state"]
        told = read_table(
            {"first": [str(first)], "sectors": [str(sectors)]}, How(everything=state), total=size_of(self.read.item)
        )
        typed = {"where": self.in_words(), "first": first, "sectors": sectors, "state": said["state"]}
        body = json.dumps(typed, ensure_ascii=False, sort_keys=True).encode()
        return prepare(told, data=body, name=self.in_words(), source=CoverageUpload.Source.HAND)

    @property
    def verb(self) -> str:
        return "withdraw" if self.cleaned_data["state"] == TAKE_BACK[0] else "overlay"


class AreaForm(WhereForm):
    """Where something wanted lies."""

    name = LineField(label="Folder, file or structure", required=False, help_text="Empty: the place in words.")
    happened = HappenedField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["wanted"] = wanted_field(self.read.item)
        self.order_fields(["wanted", "name", "where", "share", "side", "first", "sectors", "happened"])


class LayoutForm(LabForm):
    """How the medium is divided: from the first sectors of its clone, from what read-layout printed, or typed."""

    file = forms.FileField(
        label="File",
        required=False,
        help_text="The first sectors of the clone (34 at least; more shows more), or what read-layout --json printed.",
    )
    typed = ProseField(
        label="Or typed", required=False, rows=4, help_text="A line a partition: number, first sector, sectors, name."
    )
    happened = HappenedField()
    unhashed = frozenset({"file"})

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file and file.size > min(MOST_PIPED, MOST_BYTES):
            raise forms.ValidationError(f"The first {MOST_PIPED >> 20} MiB are enough. Send those.")
        return file

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if self.errors:
            return said
        if bool(said["file"]) == bool(said["typed"]):
            self.add_error("file", "Give the file, or type the partitions: one of both.")
            return said
        try:
            said["layout"] = self._from_file(said["file"]) if said["file"] else self._typed(said["typed"])
        except (BadSpan, NotAPage) as wrong:
            self.add_error("file" if said["file"] else "typed", str(wrong))
        return said

    def _from_file(self, file: Any) -> dict[str, Any]:
        data = file.read()
        found = _json(data) or as_json(layout_of_bytes(data, self.item.sector_bytes or 512, whole=False))
        return {
            "kind": str(found.get("kind", ""))[:10],
            "status": str(found.get("status", ""))[:100],
            "sector_bytes": int(found.get("sector_bytes") or 512),
            "warnings": [str(one)[:300] for one in found.get("warnings", [])][:50],
            "parts": words.from_layout(found, self.item.sectors),
            "source": file.name or "",
        }

    def _typed(self, text: str) -> dict[str, Any]:
        return {
            "kind": "typed",
            "parts": words.typed(text, self.item.sectors),
            "sector_bytes": self.item.sector_bytes or 512,
        }


def _json(data: bytes) -> dict[str, Any] | None:
    if not data.lstrip().startswith(b"{"):
        return None
    try:
        found = json.loads(data)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


class VerdictForm(LabForm):
    """How a head does, as somebody decides it."""

    state = forms.ChoiceField(label="State", choices=HeadVerdict.State.choices, widget=forms.RadioSelect)
    because = LineField(label="Why")
    happened = HappenedField()


class PlanForm(LabForm):
    """What a plan is to be made for."""

    pass_number = CountField(label="Pass", min_value=1, max_value=99, initial=1)
    damage = forms.MultipleChoiceField(
        label="Damage lies toward",
        required=False,
        choices=[("outer", "the outer tracks"), ("inner", "the inner tracks")],
        widget=forms.CheckboxSelectMultiple,
        help_text="What cannot be read is taken for damage by itself.",
    )
    damage_spans = ProseField(
        label="Or here", required=False, rows=2, help_text="A line a span: first sector, number of sectors."
    )
    only_wanted = forms.BooleanField(label="only structures and what is wanted", required=False)
    tried = forms.BooleanField(
        label="leave out what this pass has tried already", required=False, initial=True,
        help_text="The uploads of this pass say what it was.",
    )  # fmt: skip
    steps = LineField(
        label="Steps",
        initial=" ".join(map(str, STEPS)),
        max_length=60,
        help_text="Sectors to go on by when something resists: pass 1, pass 2 and so on.",
    )
    happened = HappenedField()

    def __init__(self, *args: Any, total: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.total = total

    def clean_damage_spans(self) -> Sequence[Span]:
        lines = [line.replace(",", "").split() for line in self.cleaned_data["damage_spans"].splitlines()]
        spans = []
        for row, line in enumerate(lines, 1):
            if not line:
                continue
            if len(line) != 2 or not all(word.isascii() and word.isdigit() and len(word) < 20 for word in line):
                raise forms.ValidationError(f"Line {row}: write the first sector and the number of sectors.")
            spans.append((int(line[0]), int(line[1])))
        try:
            read_spans(spans, self.total)
        except BadSpan as wrong:
            raise forms.ValidationError(str(wrong)) from wrong
        return spans

    def clean_steps(self) -> list[int]:
        found = self.cleaned_data["steps"].replace(",", " ").split()
        steps = [int(word) for word in found if word.isascii() and word.isdigit() and len(word) < 10]
        if len(steps) < len(found) or not steps or not all(0 < step <= 1 << 20 for step in steps):
            raise forms.ValidationError("Write numbers of sectors, the largest first: 2048 128 8 1.")
        return steps


class ProgressForm(LabForm):
    """How much had been read at a moment."""

    pass_number = CountField(label="Pass", min_value=1, max_value=999, initial=1)
    head = CountField(label="Head", required=False, max_value=99, help_text="Empty when all heads are read together.")
    sectors = CountField(label="Sectors read so far", help_text="Since this pass (and head) began.")
    wanted_bytes = CountField(label="Bytes of what is wanted", required=False, help_text="Of those, as far as known.")
    anew = forms.BooleanField(label="counting began anew", required=False)
    happened = HappenedField(label="At")

    def clean_happened(self) -> Any:
        return self.cleaned_data["happened"].replace(microsecond=0) if self.data.get("happened") else timezone.now()
