"""Destinations and delivery media: the state they are in, whose data they hold, what they serve."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import ExpressionWrapper, F, Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.urls import reverse

from labcases.cases.models import Case, Item
from labcases.cases.scans.judging import PDF
from labcases.cases.stages import ENDED, Stage
from labcases.core.models import Line, Prose, ShownManager
from labcases.custody.models import Medium, Thing
from labcases.lab.models import Entry
from labcases.people.models import Party
from labcases.stock import fitting
from labcases.stock.models.standing import key_of, serving


class DestinationQuerySet(models.QuerySet["Destination"]):
    def assignable_to(self, case: Case) -> DestinationQuerySet:
        """Clean ones, and those that hold this same case's data already; a customer's own needs consent."""
        usable = Q(state__in=Destination.CLEAN) | Q(state__in=Destination.ITS_OWN, held_for=case)
        return self.filter(usable).exclude(owned_by__isnull=False, consent="").exclude(healthy=False)

    def with_context(self) -> DestinationQuerySet:
        """Everything a row about a medium prints."""
        return self.select_related("thing__place", "thing__staff", "thing__party", "held_for__thing", "family")

    def with_bytes(self) -> Any:
        """``capacity``: its bytes, to sort and narrow by."""
        size = ExpressionWrapper(F("sectors") * F("sector_bytes"), output_field=models.BigIntegerField())
        return self.annotate(capacity=size)

    def with_serving(self) -> Any:
        """``serves``: the folded code of the patient it serves now, or None."""
        return self.annotate(serves=serving(DestinationAssignment, "destination"))

    def serving_nobody_here(self) -> DestinationQuerySet:
        """Those whose patient has left: to be released, and then wiped."""
        left = Q(assignments__ended=None, assignments__item__stage__in=[*ENDED, Stage.HANDED_OVER])
        return self.filter(left, state=Destination.State.ASSIGNED)

    def waiting_for_a_wipe(self) -> DestinationQuerySet:
        """The lab's own that hold a case's data, serve nobody, and are not being wiped."""
        S = Destination.State
        return self.filter(
            state__in=[S.HOLDS_DATA, S.KEPT, S.NOT_VERIFIED, S.RETIRED], held_for__isnull=False, owned_by=None
        )


class Destination(Medium, Entry):
    """A medium that receives: the clone of a patient, a working copy, or the recovered files that go out."""

    class Use(models.TextChoices):
        CLONE = "clone", "destination"
        DELIVERY = "delivery", "delivery medium"

    class State(models.TextChoices):  # the words of ``stock.fitting.State``, which judges by them
        SEALED = "new and sealed", "new and sealed"
        WIPED = "wiped and verified", "wiped and verified"
        ASSIGNED = "assigned", "assigned"
        HOLDS_DATA = "holds customer data", "holds customer data"
        KEPT = "kept", "kept"
        WIPING = "being wiped", "being wiped"
        NOT_VERIFIED = "wiped, not verified", "wiped, not verified"
        RETIRED = "retired", "retired"
        GONE = "handed out", "handed out"

    CLEAN = (State.SEALED, State.WIPED)
    ITS_OWN = (State.HOLDS_DATA, State.KEPT, State.NOT_VERIFIED)  # the same case may use it again

    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="destination")
    use = Line(personal=False, max_length=10, choices=Use.choices, default=Use.CLONE)
    state = Line(personal=False, max_length=30, choices=State.choices, default=State.SEALED)
    held_for = models.ForeignKey(Case, null=True, blank=True, on_delete=models.PROTECT, related_name="destinations")
    owned_by = models.ForeignKey(
        Party, null=True, blank=True, on_delete=models.PROTECT, help_text="a customer's own medium"
    )
    written = models.BooleanField(default=False, help_text="data of its case lies on it, until a wipe is verified")
    model_key = key_of("model", indexed=True)
    healthy = models.BooleanField(null=True, blank=True, help_text="its last health check; unknown when never checked")
    content = Prose(personal=True, blank=True, help_text="what lies on a customer's own, as they say")
    consent = Prose(personal=True, blank=True, help_text="the owner's written consent to write on it")
    consent_by = Line(personal=True, max_length=200, blank=True, help_text="who signed it")
    consent_paper = Line(personal=False, max_length=200, blank=True, help_text="which signed paper, and where it is")
    cost = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    currency = Line(personal=False, max_length=3)
    note = Prose(personal=False, blank=True)

    objects = ShownManager.from_queryset(DestinationQuerySet)()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["use", "state"], name="destination_by_state")]
        constraints = [
            models.CheckConstraint(
                condition=Q(held_for=None, written=False, state__in=["new and sealed", "wiped and verified"])
                | Q(held_for__isnull=False, state__in=["assigned", "handed out"])
                | Q(held_for__isnull=False, written=True, state__in=["holds customer data", "kept"])
                | Q(state__in=["retired", "being wiped", "wiped, not verified"]),
                name="destination_held_for_a_case_iff_in_its_service",
                violation_error_message="A medium that serves a case names it; a clean one names none.",
            ),
            models.CheckConstraint(
                condition=Q(sectors__gte=1, sector_bytes__gte=1),
                name="destination_has_a_size",
                violation_error_message="Say how many sectors it has, and how large a sector is.",
            ),
            models.CheckConstraint(
                condition=Q(owned_by=None) | Q(held_for__isnull=False),
                name="destination_of_a_customer_serves_its_case",
                violation_error_message="A customer's own medium belongs to a case, and serves that case only.",
            ),
            models.CheckConstraint(
                condition=Q(owned_by=None) | ~Q(state__in=["being wiped", "wiped, not verified", "wiped and verified"]),
                name="destination_of_a_customer_is_never_wiped",
                violation_error_message="A customer's own medium is never wiped here.",
            ),
            models.CheckConstraint(
                condition=~Q(healthy=False, state__in=["new and sealed", "wiped and verified"]),
                name="destination_that_failed_is_not_free",
                violation_error_message="What failed its health check is retired, and serves nobody.",
            ),
            models.CheckConstraint(
                condition=Q(held_for__isnull=False) | Q(written=False),
                name="destination_with_data_names_whose",
                violation_error_message="A medium with data on it names the case.",
            ),
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return reverse("stock:destination", args=[self.thing.printed_code])

    @property
    def holds(self) -> str:
        """Whose data is on it, as a sentence, until its wipe is verified; empty when it is clean."""
        if self.held_for is None:
            return "Its last wipe is not verified." if self.state == Destination.State.NOT_VERIFIED else ""
        if self.owned_by_id:
            return f"The customer's own, of case {self.held_for}. It is never wiped here."
        return _HOLDS.get(self.state, "Holds data of case {}; no wipe is on record.").format(self.held_for)

    def room(self) -> fitting.Room:
        """What fitting judges by."""
        return fitting.Room(
            key=self.pk,
            sectors=self.sectors,
            sector_bytes=self.sector_bytes or 512,
            state=fitting.State(self.state),
            held_for=self.held_for.thing.printed_code if self.held_for else None,
            owned_by=self.held_for.thing.printed_code if self.held_for and self.owned_by_id else None,
            consent=bool(self.consent),
            healthy=self.healthy,
        )


_HOLDS = {
    Destination.State.ASSIGNED: "In the service of case {}.",
    Destination.State.KEPT: "Kept with data of case {}; no wipe is on record.",
    Destination.State.WIPING: "Being wiped; until that is verified it counts as holding data of case {}.",
    Destination.State.NOT_VERIFIED: "Held data of case {}; its wipe is not verified.",
    Destination.State.GONE: "Handed out with data of case {}.",
}


class ConsentPaper(Entry):
    """A scan of the paper on which the owner of a medium consents to have it written on: the file as it came."""

    destination = models.ForeignKey(Destination, on_delete=models.PROTECT, related_name="consent_papers")
    kind = Line(personal=False, max_length=10, help_text="PDF, JPEG, PNG or WebP, by content")
    size = models.PositiveIntegerField(help_text="bytes")
    original = Line(personal=True, max_length=64, help_text="digest of the file as it came")
    shown = Line(personal=True, max_length=64, blank=True, help_text="digest of the picture to look at")
    thumb = Line(personal=True, max_length=64, blank=True, help_text="digest of the small picture")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["destination", "original"],
                name="consent_paper_once",
                violation_error_message="This very file is with the medium already.",
            ),
            models.CheckConstraint(
                condition=Q(Exact(Length("original"), 64)),
                name="consent_paper_has_its_digest",
                violation_error_message="A signed paper names its file by 64 hexadecimal digits.",
            ),
        ]

    def __str__(self) -> str:
        return f"signed consent for {self.destination}"

    def get_absolute_url(self) -> str:
        return reverse("stock:consent-paper", args=[self.pk])

    @property
    def is_pdf(self) -> bool:
        return str(self.kind) == PDF


class DestinationAssignment(Entry):
    """A destination (or delivery medium) that serves a patient."""

    destination = models.ForeignKey(Destination, on_delete=models.PROTECT, related_name="assignments")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="destination_assignments")
    fit = models.JSONField(help_text="sectors and bytes of both when it was assigned, and what was warned of")
    ended = models.DateTimeField(null=True, blank=True)
    because = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["destination"],
                condition=Q(ended=None),
                name="destination_serves_one_patient",
                violation_error_message="This medium already serves a patient.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.destination} for {self.item}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.item.case.thing.printed_code])}#parts"
