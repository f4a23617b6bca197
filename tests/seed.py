"""One plain row in any table, each field filled by its kind: for tests of the database itself, past every verb."""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from django.db import models

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)

# Values that a rule of the database asks for. A model in place of a value stands for its row.
FITTING: dict[str, dict[str, Any]] = {
    "lab.profile": {"pk": 1},
    "custody.head": {"pk": 1},
    "custody.custodyrules": {"pk": 1},
    "custody.photo": {"thing": "custody.Thing"},
    "cases.secretskey": {"pk": 1},
    "cases.signedpaper": {"original": "0" * 64, "terms_digest": "0" * 64},
    "cases.casekey": {"wrapped": b"x"},
    "cases.casesecret": {"sealed": b"x"},
    "cases.reading": {"item": "cases.Item"},
    "cases.reservedcode": {"void_because": ""},
    "bench.derivation": {"total_sectors": 6},
    "bench.logline": {"particles": 1},
    "bench.filelist": {"listed": "", "tree": ""},
    "bench.wantedfiles": {"pattern": "jpg"},
    "bench.dump": {"item": "cases.Item", "outcome": "whole", "size": 1},
    "paper.paper": {"sha256": "0" * 64},
    "office.quote": {"total": 2},
    "stock.destination": {"sectors": 1, "sector_bytes": 512},
    "stock.healthcheck": {"passed": True},
    "stock.wipe": {"verified": ""},
    "stock.consentpaper": {"original": "0" * 64},
    "stock.poolimage": {"end": ""},
    "stock.takeline": {"thing": "custody.Thing", "expected_at": "lab.Place", "outcome": "expected"},
}
KINDS = {
    models.DateTimeField: NOON,
    models.DateField: NOON.date(),
    models.JSONField: [],
    models.BinaryField: b"x",
    models.BooleanField: True,
}


class Seed:
    """Rows of the models of ``apps`` (today's, or those of an earlier state) in the database ``using``."""

    def __init__(self, apps: Any, *, using: str = "default", fitting: Mapping[str, dict[str, Any]] = FITTING) -> None:
        self.apps, self.using, self.fitting = apps, using, fitting
        self.made: dict[str, Any] = {}
        self.numbers = itertools.count(2)

    def of(self, model: Any) -> Any:
        """The one row of a model, made with all it hangs on when there is none yet."""
        label = model._meta.label_lower
        if label not in self.made:
            values = {f.name: self._value(f) for f in model._meta.local_concrete_fields if _must(f)}
            self.made[label] = self._rows(model).create(**values | self._known(model))
        return self.made[label]

    def another(self, model: Any, **changes: Any) -> Any:
        """A second row like the first, but for what may only be there once."""
        first = self.of(model)
        fields = [field for field in model._meta.local_concrete_fields if not field.primary_key]
        same = [field for field in fields if field.name not in changes]
        values = {field.name: self._once(field) if field.unique else getattr(first, field.name) for field in same}
        return self._rows(model).create(**values | changes)

    def change(self, model: Any, **changes: Any) -> None:
        """Change the row in the database only, past every verb and every save."""
        row = self.of(model)
        models.QuerySet(model, using=self.using).filter(pk=row.pk).update(**changes)
        row.refresh_from_db(from_queryset=self._rows(model))

    def _rows(self, model: Any) -> Any:
        return model._base_manager.using(self.using)

    def _known(self, model: Any) -> dict[str, Any]:
        names = {"pk", *(field.name for field in model._meta.local_concrete_fields)}
        known = self.fitting.get(model._meta.label_lower, {})
        return {name: self._row_or(value) for name, value in known.items() if name in names}

    def _row_or(self, value: Any) -> Any:
        return self.of(self.apps.get_model(value)) if isinstance(value, str) and value.count(".") == 1 else value

    def _value(self, field: Any) -> Any:
        if field.is_relation:
            return self.of(self.apps.get_model(field.related_model._meta.label))
        if field.choices:
            return field.choices[0][0]
        if isinstance(field, models.UUIDField):
            return uuid.UUID(int=1)
        found = [value for kind, value in KINDS.items() if isinstance(field, kind)]
        return found[0] if found else 1 if isinstance(field, models.IntegerField) else "x"

    def _once(self, field: Any) -> Any:
        if field.is_relation:
            return self.another(self.apps.get_model(field.related_model._meta.label))
        if isinstance(field, models.UUIDField):
            return uuid.UUID(int=next(self.numbers))
        return next(self.numbers) if isinstance(field, models.IntegerField) else f"x{next(self.numbers)}"


def _must(field: Any) -> bool:
    return not (field.null or field.has_default() or isinstance(field, models.AutoField))
