"""Old records come in from tables: made known when the room starts."""

from __future__ import annotations

from labcases.cases.records import actions, queries
from labcases.cases.records.fields import fields
from labcases.custody.models import MediumKind
from labcases.imports import kinds
from labcases.lab.roles import Right


def register() -> None:
    words = {kind.label: kind.value for kind in MediumKind} | {kind.value: kind.value for kind in MediumKind}
    kinds.add(
        kinds.Kind(
            key="records", title="Old records", unit="record", place="Counter", right=Right.KEEP_LAB,
            lead="Closed cases of former books, one row a medium; rows with one old number are one case. Each case "
            "gets a code here and keeps its old number. A customer whose phone or e-mail is known is not doubled.",
            fields=fields(words), shown_at="people:search", key_words="This number with this serial",
            judge=queries.judge, write=actions.write, used=queries.used, clear=actions.clear,
        )
    )  # fmt: skip
