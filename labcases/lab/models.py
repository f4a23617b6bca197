"""Staff and their roles, the lab's profile and terms, places, and the worker's timetable."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models, transaction
from django.db.models import Q

from labcases.core import codes
from labcases.core.models import Line, Prose, now
from labcases.core.refused import NotAllowed
from labcases.lab.roles import PEOPLE, Right, Role, rights_of, role_for


class StaffManager(BaseUserManager["Staff"]):
    @transaction.atomic
    def create_user(self, *, login: str, name: str, password: str, roles: Iterable[Role | str]) -> Staff:
        """A person who can log in, with at least one role."""
        person = Staff(login=login.strip().casefold(), name=name)
        person.set_password(password)
        person.save()
        StaffRole.objects.bulk_create([StaffRole(staff=person, role=Role(role)) for role in dict.fromkeys(roles)])
        return person

    def get_by_natural_key(self, username: str | None) -> Staff:
        return self.get(login=(username or "").strip().casefold())


class Staff(AbstractBaseUser):
    """Somebody who works here. Staff are never deleted, since the ledger speaks of them: they are made inactive."""

    ref = models.UUIDField(
        default=uuid.uuid4, unique=True, editable=False, help_text="how the ledger calls this person"
    )
    login = Line(personal=True, max_length=150, unique=True)
    name = Line(personal=True, max_length=200)
    is_active = models.BooleanField(default=True)
    joined = models.DateTimeField(default=now)

    USERNAME_FIELD = "login"
    REQUIRED_FIELDS = ["name"]
    objects = StaffManager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(login="") & ~Q(name=""),
                name="staff_has_login_and_name",
                violation_error_message="A member of staff has a log-in and a name.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def roles(self) -> tuple[Role, ...]:
        """The roles held, in the order of ``lab.roles`` (one query, then remembered)."""
        if not hasattr(self, "_roles"):
            held = {row.role for row in self.held_roles.all()}
            self._roles = tuple(role for role in PEOPLE if role in held)
        return self._roles

    @property
    def badge(self) -> str:
        """The code on this person's badge, folded. It says who somebody is; it proves nothing."""
        return codes.with_check(codes.stock_body("B", self.pk))

    @property
    def rights(self) -> frozenset[Right]:
        return rights_of(self.roles)

    def acting(self, right: Right) -> Actor:
        """This person in the role that lets them use ``right``. Raises NotAllowed."""
        role = role_for(right, self.roles) if self.is_active else None
        if role is None:
            raise NotAllowed(
                f"Your roles do not let you {right.value}.",
                why=f"You are logged in as {self.name}: {', '.join(self.roles) or 'no role'}.",
                mend="Ask a colleague who may, or a manager to give you the role.",
            )
        return Actor(self, role)


class StaffRole(models.Model):
    staff = models.ForeignKey(Staff, on_delete=models.CASCADE, related_name="held_roles")
    role = Line(personal=False, max_length=20, choices=[(role, role) for role in PEOPLE])

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["staff", "role"],
                name="staff_role_once",
                violation_error_message="This person holds the role already.",
            )
        ]

    def __str__(self) -> str:
        return self.role


@dataclass(frozen=True)
class Actor:
    """A person in a role: the *by* of every record. The worker acts with no person."""

    staff: Staff | None
    role: Role

    @classmethod
    def worker(cls) -> Actor:
        return cls(None, Role.WORKER)

    @property
    def ref(self) -> str:
        return str(self.staff.ref) if self.staff else ""

    @property
    def name(self) -> str:
        return self.staff.name if self.staff else "Labcases"

    def may(self, right: Right) -> bool:
        return self.staff is None or right in self.staff.rights

    def must(self, right: Right) -> None:
        """Raises NotAllowed unless this person may."""
        if self.staff is not None:
            self.staff.acting(right)


class Entry(models.Model):
    """Base of everything recorded: by whom in which role, when it happened, when it was entered."""

    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    role = Line(personal=False, max_length=20)
    happened = models.DateTimeField()
    entered = models.DateTimeField(default=now, editable=False)

    class Meta:
        abstract = True

    @staticmethod
    def stamp(by: Actor, happened: Any) -> dict[str, Any]:
        """The four fields, for ``create(**Entry.stamp(by, happened), …)``."""
        return {"by": by.staff, "role": by.role, "happened": happened}


class Profile(models.Model):
    """Who the lab is: heads every paper and every message. There is one row."""

    name = Line(personal=False, max_length=200)
    address = Prose(personal=False, blank=True)
    phone = Line(personal=False, max_length=60, blank=True)
    email = models.EmailField(blank=True)
    tax_number = Line(personal=False, max_length=60, blank=True)
    country = Line(personal=False, max_length=2, default="GB", help_text="ISO 3166-1, two letters: reads phone numbers")
    currency = Line(personal=False, max_length=3, default="EUR", help_text="ISO 4217")
    tax_rate = models.PositiveIntegerField(default=0, help_text="basis points: 2000 is 20 %")
    time_zone = Line(personal=False, max_length=64, default="UTC", help_text="name in the IANA database")
    paper_size = Line(personal=False, max_length=10, default="A4", choices=[("A4", "A4"), ("Letter", "Letter")])
    keep_days = models.PositiveSmallIntegerField(default=14, help_text="days a clone is kept after handover")
    logo = Line(personal=False, max_length=64, blank=True, help_text="digest of the picture in the vault")
    logo_type = Line(personal=False, max_length=20, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_profile", violation_error_message="A lab has one profile."
            )
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Profile:
        """The lab's profile; a nameless one before set-up."""
        return cls.objects.filter(pk=1).first() or cls(pk=1, name="This lab")


class TermsVersion(models.Model):
    """The terms a customer signs. A version is never edited; a new one replaces it for new cases."""

    version = Line(personal=False, max_length=60, unique=True)
    text = Prose(personal=False)
    digest = Line(personal=False, max_length=64, help_text="SHA-256 of the text, hex")
    since = models.DateTimeField()

    class Meta:
        ordering = ["-since", "-pk"]
        get_latest_by = ["since", "pk"]

    def __str__(self) -> str:
        return self.version


class Place(models.Model):
    """Somewhere a thing can be: counter, shelf, bench, safe. Its code can be scanned."""

    class Kind(models.TextChoices):
        COUNTER = "counter", "counter"
        SHELF = "shelf", "shelf"
        BENCH = "bench", "bench"
        SAFE = "safe", "safe"
        CLEAN_BENCH = "clean bench", "clean bench"
        OTHER = "other", "other place"

    ref = models.UUIDField(default=uuid.uuid4, unique=True, editable=False, help_text="how the ledger calls this place")
    code = Line(personal=False, max_length=20, unique=True)
    name = Line(personal=False, max_length=100, unique=True)
    kind = Line(personal=False, max_length=20, choices=Kind.choices, default=Kind.SHELF)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class JobRun(models.Model):
    """A line of the timetable in the database: when it is due, and who holds it."""

    name = Line(personal=False, max_length=100, unique=True)
    due = models.DateTimeField()
    held_until = models.DateTimeField(null=True)
    last_ended = models.DateTimeField(null=True)
    last_error = Prose(personal=False, blank=True)

    def __str__(self) -> str:
        return self.name


class FailedLogIn(models.Model):
    """A wrong password, kept for a quarter of an hour to slow down guessing."""

    login = Line(personal=True, max_length=150)
    address = Line(personal=True, max_length=60)
    at = models.DateTimeField(default=now)

    class Meta:
        indexes = [models.Index(fields=["login", "at"], name="failed_login_at")]

    def __str__(self) -> str:
        return f"{self.login} {self.at}"
