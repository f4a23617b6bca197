"""A case, its items and what the customer told: the docket that travels with a thing through the lab.

What can never be false: a case has an owner and somebody to reach; an item belongs to one case under one number; its
stage follows the one before it; money is whole minor units; what was signed names the terms that were signed.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.http import QueryDict
from django.urls import reverse
from django.utils import timezone

from labcases.cases import words
from labcases.cases.pads.models import ReservedCode  # noqa: F401 known to the room through here
from labcases.cases.readings.models import Reading  # noqa: F401 known to the room through here
from labcases.cases.records.models import OldRecord  # noqa: F401 known to the room through here
from labcases.cases.scans.models import SignedPaper  # noqa: F401 known to the room through here
from labcases.cases.secrecy.models import CaseKey, CaseSecret, SecretsKey  # noqa: F401 known to the room through here
from labcases.cases.stages import ENDED, Stage, least_advanced
from labcases.core import codes
from labcases.core.models import Line, Prose, ShownManager
from labcases.custody.models import SPINNING, Medium, MediumKind, Thing
from labcases.lab.models import Entry, TermsVersion
from labcases.people.models import Party


class CaseQuerySet(models.QuerySet["Case"]):
    def still_open(self) -> CaseQuerySet:
        return self.filter(closed=None)

    def unfinished(self) -> CaseQuerySet:
        """Taken in, but the rest of the intake is still to come."""
        return self.still_open().filter(intake_finished=None)

    def with_people(self) -> CaseQuerySet:
        return self.select_related("thing", "owner", "bearer", "payer")

    def for_lists(self) -> CaseQuerySet:
        """Everything a row of a list prints, so that no row asks again."""
        return self.with_people().prefetch_related("items__thing__place", "items__thing__staff", "items__thing__party")


class Case(Entry):
    """One job for one owner: one or many items that came together."""

    class Way(models.TextChoices):
        COUNTER = "counter", "over the counter"
        POST = "post", "by post"
        WAIT = "wait", "while you wait"

    class Urgency(models.TextChoices):
        NORMAL = "normal", "normal"
        URGENT = "urgent", "urgent"
        EMERGENCY = "emergency", "emergency"

    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="case")
    owner = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="cases_owned")
    bearer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="cases_brought")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="cases_paid")
    way = Line(personal=False, max_length=10, choices=Way.choices, default=Way.COUNTER)
    urgency = Line(personal=False, max_length=10, choices=Urgency.choices, default=Urgency.NORMAL)
    promised = models.DateField(null=True, blank=True)
    letterhead = models.BooleanField(default=True, help_text="papers carry the lab's name")
    engineers = models.ManyToManyField(settings.AUTH_USER_MODEL, blank=True, related_name="cases_worked")
    reference = Line(personal=False, max_length=100, blank=True, help_text="the bearer's or payer's own number")

    stories = models.JSONField(default=list, blank=True)
    story = Prose(personal=True, blank=True)
    story_when = Line(personal=False, max_length=100, blank=True)
    tried = models.JSONField(default=list, blank=True)
    powered_since = Line(personal=False, max_length=3, blank=True, choices=list(words.YES_NO_UNKNOWN.items()))
    wanted_about = Line(personal=True, max_length=200, blank=True, help_text="about how much there is")
    partial_is_worth = Line(personal=False, max_length=3, blank=True, choices=list(words.YES_NO_UNKNOWN.items()))

    terms = models.ForeignKey(TermsVersion, null=True, blank=True, on_delete=models.PROTECT)
    terms_signed = models.DateTimeField(null=True, blank=True)
    signed_by = Line(personal=True, max_length=300, blank=True)
    signed_how = Line(personal=False, max_length=20, blank=True)
    signature = Line(personal=True, max_length=64, blank=True, help_text="digest of the drawn signature in the vault")
    may_examine = models.BooleanField(default=False)
    may_open = models.BooleanField(default=False, help_text="opening for inspection in clean air is allowed")
    may_keep_dead = models.BooleanField(default=False, help_text="the lab may keep what cannot be used again")
    spending_limit = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="minor units; agreed at the counter"
    )
    currency = Line(personal=False, max_length=3)

    disputed = models.BooleanField(default=False)
    legal_hold = models.BooleanField(default=False)
    stop_words = Prose(personal=True, blank=True, help_text="who disputes it, or which order holds it")
    intake_finished = models.DateTimeField(null=True, blank=True)
    closed = models.DateTimeField(null=True, blank=True)

    objects = ShownManager.from_queryset(CaseQuerySet)()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["closed", "promised"], name="case_open_by_promise")]
        constraints = [
            models.CheckConstraint(
                condition=Q(terms_signed=None) | Q(terms__isnull=False) & ~Q(signed_by=""),
                name="signed_terms_name_version_and_signer",
                violation_error_message="Signed terms name their version and who signed.",
            )
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    @property
    def code(self) -> str:
        """The folded code, as the ledger and addresses know the case."""
        return self.thing.code

    def get_absolute_url(self) -> str:
        return reverse("docket:case", args=[self.thing.printed_code])

    @property
    def stage(self) -> Stage:
        """The least advanced open stage of its items (prefetch ``items`` in lists)."""
        return least_advanced([Stage(item.stage) for item in self.items.all()] or [Stage.EXPECTED])

    def open_items(self) -> list[Item]:
        return [item for item in self.items.all() if item.stage not in ENDED]


class ItemQuerySet(models.QuerySet["Item"]):
    def still_open(self) -> ItemQuerySet:
        return self.exclude(stage__in=ENDED)

    def with_context(self) -> ItemQuerySet:
        """Everything a row about an item prints."""
        return self.select_related(
            "case__thing", "case__owner", "thing__place", "thing__staff", "thing__party", "family"
        )


class Item(Medium, Entry):
    """A patient: one medium the customer brought. Each item has its own stage."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="items")
    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="item")
    number = models.PositiveIntegerField()
    stage = Line(personal=False, max_length=20, choices=[(s, s) for s in Stage], default=Stage.RECEIVED)
    slot = Line(personal=False, max_length=40, blank=True, help_text="its place in an array")
    recording = Line(personal=False, max_length=20, blank=True, choices=list(words.RECORDINGS.items()))
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="chips", help_text="what it was taken off"
    )
    marks = models.JSONField(default=list, blank=True)
    behaviours = models.JSONField(default=list, blank=True)
    label_codes = Line(personal=False, blank=True)
    note = Prose(personal=True, blank=True)

    objects = ShownManager.from_queryset(ItemQuerySet)()

    class Meta:
        ordering = ["case_id", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["case", "number"],
                name="item_number_once_per_case",
                violation_error_message="An item of this number is in the case already.",
            ),
            models.CheckConstraint(
                condition=Q(parent=None) | ~Q(parent=models.F("pk")),
                name="chip_was_taken_off_another",
                violation_error_message="A chip was taken off another item than itself.",
            ),
            models.CheckConstraint(
                condition=Q(stage__in=[s.value for s in Stage]),
                name="item_stage_is_known",
                violation_error_message="An item is at one of the stages of its way.",
            ),
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.case.thing.printed_code])}#item-{self.number}"

    @property
    def parent_code(self) -> str:
        """The printed code of what a chip was taken off, read from its own; empty for all others."""
        own = codes.parse(self.thing.code)
        return codes.printed(codes.with_check(own.parent)) if self.parent_id else ""

    @property
    def from_medium(self) -> frozenset[str]:
        """What was not on the label and was read from the medium itself (prefetch ``readings`` in lists)."""
        return frozenset(name for reading in self.readings.all() for name in reading.filled)

    @property
    def spinning(self) -> bool:
        return MediumKind(self.kind) in SPINNING

    @property
    def nature(self) -> frozenset[str]:
        """What its kind alone does not say: shingled, helium. What was noted of it stands above its family."""
        family, noted = self.family, self.recording
        shingled = noted == "shingled" or bool(family and family.shingled and not noted)
        helium = self.kind == MediumKind.HELIUM or bool(family and family.helium and self.spinning)
        return frozenset(name for name, so in (("shingled", shingled), ("helium", helium)) if so)

    @property
    def no_power_because(self) -> list[str]:
        return words.reasons_for_no_power(
            spinning=self.spinning or self.kind == MediumKind.NAS,  # there are disks in the box
            marks=self.marks,
            behaviours=self.behaviours,
            stories=self.case.stories,
            tried=self.case.tried,
        )


class StageStamp(Entry):
    """A stage that an item reached: the dated stamps of the rail."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="stamps")
    stage = Line(personal=False, max_length=20, choices=[(s, s) for s in Stage])
    because = Prose(personal=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.stage} {self.happened:%Y-%m-%d}"


class Accessory(Entry):
    """What came along: cable, power supply, caddy, enclosure, box. It is counted, and comes back."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="accessories")
    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="accessory")
    words = Line(personal=False, max_length=200)
    count = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(count__gte=1), name="accessory_counts_one", violation_error_message="Count at least one."
            )
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.words}" if self.count > 1 else self.words


class Wanted(models.Model):
    """One line of what the customer wants, in their order."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="wanted")
    number = models.PositiveSmallIntegerField()
    what = Line(personal=True)
    urgent = models.BooleanField(default=False)

    class Meta:
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["case", "number"],
                name="wanted_number_once_per_case",
                violation_error_message="Each wanted line has a number of its own.",
            )
        ]

    def __str__(self) -> str:
        return self.what


class Lock(models.Model):
    """A lock on an item: which kind, and whether the customer knows the secret. The secret itself never stands here."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="locks")
    kind = Line(personal=False, max_length=20, choices=list(words.LOCKS.items()))
    customer_knows = Line(personal=False, max_length=3, blank=True, choices=list(words.YES_NO_UNKNOWN.items()))

    def __str__(self) -> str:
        return self.get_kind_display()


class Enquiry(Entry):
    """Somebody asked, nothing was received: advice and a price range, or a refusal with its reason."""

    class State(models.TextChoices):
        OPEN = "open", "waiting"
        CASE = "case", "became a case"
        ENDED = "ended", "ended"
        REFUSED = "refused", "refused"

    name = Line(personal=True, max_length=300)
    reach = Line(personal=True, blank=True, help_text="phone or e-mail, as told")
    kind = Line(personal=False, max_length=20, choices=MediumKind.choices, blank=True)
    asked = Prose(personal=True, blank=True)
    advice = Prose(personal=False, blank=True)
    price_from = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    price_to = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    currency = Line(personal=False, max_length=3, blank=True, help_text="of the price range")
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.OPEN)
    reason = Prose(personal=True, blank=True)
    case = models.ForeignKey(Case, null=True, blank=True, on_delete=models.PROTECT, related_name="enquiries")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(price_from=None) | Q(price_to=None) | Q(price_to__gte=models.F("price_from")),
                name="enquiry_price_range",
                violation_error_message="The upper price is not below the lower one.",
            ),
            models.CheckConstraint(
                condition=Q(price_from=None, price_to=None) | ~Q(currency=""),
                name="enquiry_price_names_its_currency",
                violation_error_message="A price range names its currency.",
            ),
            models.CheckConstraint(
                condition=~Q(state="refused") | ~Q(reason=""),
                name="refusal_has_reason",
                violation_error_message="Say why it is refused.",
            ),
            models.CheckConstraint(
                condition=~Q(state="case") | Q(case__isnull=False),
                name="enquiry_that_became_a_case_names_it",
                violation_error_message="An enquiry that became a case names the case.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("cases:enquiry", args=[self.pk])


class DraftQuerySet(models.QuerySet["Draft"]):
    def waiting(self) -> DraftQuerySet:
        """Typed, and not taken in yet."""
        return self.filter(case=None)

    def keep(self, *, key: UUID, person: Any, typed: str, version: int) -> int | None:
        """Keep what is typed now over the version that this person saw; gives the new version.

        None when a colleague was faster (or the draft has become a case): nothing of theirs is written over.
        """
        if version == 0:
            _, fresh = self.get_or_create(key=key, defaults={"person": person, "typed": typed})
            return 1 if fresh else None
        mine = self.waiting().filter(key=key, version=version)
        now = {"person": person, "typed": typed, "version": version + 1, "changed": timezone.now()}
        return version + 1 if mine.update(**now) else None

    def became(self, *, key: UUID, person: Any, case: Case) -> bool:
        """Tie the draft to its case and forget what was typed; False when it was tied to another before."""
        self.get_or_create(key=key, defaults={"person": person, "typed": ""})
        return bool(self.waiting().filter(key=key).update(case=case, typed="", person=person, changed=timezone.now()))


class Draft(models.Model):
    """An intake as it is being typed: kept on the server, finished by anyone at the counter. Holds no secret.

    It becomes a case once; the row stays behind, emptied, so that a second clerk in the same draft is told.
    """

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", help_text="who changed it last"
    )
    key = models.UUIDField(unique=True)
    case = models.OneToOneField(Case, null=True, blank=True, on_delete=models.PROTECT, related_name="draft")
    typed = Prose(personal=True, help_text="the form, url-encoded")
    version = models.PositiveIntegerField(default=1)
    started = models.DateTimeField(auto_now_add=True)
    changed = models.DateTimeField(auto_now=True)

    objects = DraftQuerySet.as_manager()

    class Meta:
        ordering = ["-changed"]

    def __str__(self) -> str:
        return f"draft of {self.started:%d %b %H:%M}"

    def as_typed(self) -> QueryDict:
        """The form as it was sent."""
        return QueryDict(self.typed, mutable=True)
