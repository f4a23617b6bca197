"""What is stored says of itself whether it is personal, and every rule of the database has a sentence."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.db import connection, models

from labcases.core.models import Line, Prose

MODELS = [model for model in apps.get_models() if model.__module__.startswith("labcases.")]
TEXT = (models.CharField, models.TextField, models.GenericIPAddressField, models.FileField, models.FilePathField)
BYTES_OR_JSON = (models.JSONField, models.BinaryField)

# Whether a field that cannot say so itself is personal, and why.
ELSEWHERE: dict[str, tuple[bool, str]] = {
    "imports.Import.headers": (False, "headers of columns"),
    "imports.Import.mapping": (False, "numbers of columns"),
    "imports.ImportRow.changes": (False, "attributes of media"),
    "imports.ImportRow.before": (False, "attributes of media"),
    "core.ColumnLayout.mapping": (False, "numbers of columns"),
    "api.BenchComputer.scopes": (False, "codes of a closed list"),
    "api.Sent.result": (False, "a code and numbers"),
    "lab.Staff.password": (True, "a hash of what one person knows"),
    "people.PartyMerge.moved": (False, "names of fields, and keys of rows"),
    "people.PartyMerge.filled": (True, "what stood in the fields of a customer"),
    "cases.Case.stories": (False, "codes of a closed list"),
    "cases.Case.tried": (False, "codes of a closed list"),
    **{
        f"cases.Reading.{name}": (False, "what a medium says of itself, compared") for name in ("said", "pairs", "loud")
    },
    **{f"cases.Reading.{name}": (False, "what a medium says of itself, compared") for name in ("notes", "filled")},
    "cases.Reading.answers": (False, "what an engineer answered about a difference, by attribute"),
    "cases.SignedPaper.items": (False, "codes of items, and what kind of medium each is"),
    "cases.Item.marks": (False, "codes of a closed list"),
    "cases.Item.behaviours": (False, "codes of a closed list"),
    "cases.CaseKey.wrapped": (False, "a key, closed"),
    "cases.CaseSecret.sealed": (True, "somebody's password, closed"),
    "cases.Reading.said": (False, "names of a medium, as on its label"),
    "cases.Reading.pairs": (False, "names of a medium, as on its label"),
    "cases.Reading.loud": (False, "sentences of a reader"),
    "bench.ArrayCheck.digests": (False, "hashes of pieces that are not kept"),
    "bench.CoverageUpload.how": (False, "which column was what, and what its words mean"),
    "bench.CoverageUpload.notes": (False, "numbers of rows, and rules"),
    "bench.FileList.how": (False, "which column was what, and what its words mean"),
    "bench.FileList.notes": (False, "numbers of rows, and rules"),
    **{f"bench.FileStates.{name}": (False, "counts of files") for name in ("by_kind", "by_wanted", "kinds_wanted")},
    "bench.HeadMap.heads": (False, "numbers of heads"),
    "bench.HeadMap.notes": (False, "numbers of rows, and rules"),
    "bench.KeptLayout.parts": (True, "names that somebody gave their partitions"),
    "bench.KeptLayout.warnings": (False, "sentences of a reader"),
    "bench.PlanVersion.asked": (False, "numbers of sectors, heads and areas"),
    "bench.PlanVersion.kept_back": (False, "numbers of sectors, by reason"),
    "bench.Examination.parts": (False, "kinds of parts"),
    "bench.Examination.readings": (False, "what was measured on a medium"),
    "bench.Examination.sounds": (False, "codes of a closed list"),
    "bench.ProtocolVersion.steps": (False, "an order of work for a kind of medium, of nobody's"),
    "bench.Examination.faults": (False, "codes of a closed list"),
    "custody.Head.peaks": (False, "hashes"),
    "custody.Thing.line": (False, "opaque ids, moments and numbers of seals"),
    "custody.LedgerCheck.findings": (False, "numbers and names of checks"),
    "custody.Event.body": (False, "opaque ids, and salted commitments to every word and name"),
    "custody.EventText.salt": (True, "opens the commitment to a personal text"),
    "office.Quote.lines": (True, "words that may name the customer's own files"),
    **{
        f"{model}.codes": (False, "codes on the labels of media")
        for model in ("cases.Item", "stock.Donor", "stock.Destination")
    },
    "stock.RuleSet.rules": (False, "what must match"),
    "stock.Need.attributes": (False, "attributes of media"),
    "stock.PartAssignment.verdict": (False, "attributes of media, compared"),
    "stock.DestinationAssignment.fit": (False, "sizes, compared"),
    "stock.PoolImage.fit": (False, "sizes, compared"),
    "handover.Handover.seals": (False, "numbers of seals"),
}


def label(field: Any) -> str:
    return f"{field.model._meta.app_label}.{field.model.__name__}.{field.name}"


FIELDS = [field for model in MODELS for field in model._meta.local_fields if field.model is model]
SPEAKING = [field for field in FIELDS if isinstance(field, TEXT + BYTES_OR_JSON)]
CONSTRAINTS = [(model, constraint) for model in MODELS for constraint in model._meta.constraints]


def test_the_guard_sees_the_models() -> None:
    assert len(MODELS) > 35
    assert len(SPEAKING) > 120
    assert len(CONSTRAINTS) > 35


@pytest.mark.parametrize("field", SPEAKING, ids=label)
def test_a_text_says_whether_it_is_personal(field: Any) -> None:
    if isinstance(field, Line | Prose):
        assert isinstance(field.personal, bool)
    else:  # an e-mail address is always somebody's
        assert isinstance(field, models.EmailField) or label(field) in ELSEWHERE


def test_no_answer_is_given_for_a_field_that_is_gone() -> None:
    assert set(ELSEWHERE) <= {label(field) for field in SPEAKING}


@pytest.mark.parametrize(
    "name",
    [
        "people.Party.name",
        "people.Party.phone",
        "people.Party.address",
        "cases.Case.story",
        "cases.Wanted.what",
        "lab.Staff.name",
        "custody.EventText.text",
    ],
)
def test_what_speaks_of_a_person_is_personal(name: str) -> None:
    assert next(field for field in SPEAKING if label(field) == name).personal


@pytest.mark.parametrize(("model", "constraint"), CONSTRAINTS, ids=[c.name for _, c in CONSTRAINTS])
def test_a_rule_of_the_database_has_a_sentence(model: Any, constraint: Any) -> None:
    sentence = str(constraint.violation_error_message)
    assert sentence != str(models.BaseConstraint.default_violation_error_message)
    assert sentence[0].isupper()
    assert sentence.endswith(".")


def test_no_two_rules_share_a_name() -> None:
    names = [constraint.name for _, constraint in CONSTRAINTS]
    assert len(names) == len(set(names))


@pytest.mark.postgres
@pytest.mark.django_db
def test_every_rule_stands_in_the_database_itself() -> None:
    missing = []
    with connection.cursor() as cursor:
        for model, constraint in CONSTRAINTS:
            there = connection.introspection.get_constraints(cursor, model._meta.db_table)
            kind = "check" if isinstance(constraint, models.CheckConstraint) else "unique"
            missing += [] if there.get(constraint.name, {}).get(kind) else [constraint.name]
    assert missing == []


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model._meta.label)
def test_a_row_says_what_it_is(model: Any) -> None:
    assert model.__str__ is not models.Model.__str__
