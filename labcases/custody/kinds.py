"""The ledger's vocabulary: every kind of event, and how the day-book says it.

A sentence may name ``{what}`` (the thing in words), ``{to}`` (where it is now), ``{because}`` (why), ``{seals}`` (their
numbers), and the details its kind asks for (``{station}`` …), which the event commits to as it does to every word.
Adding a verb to the app means adding its line here; ``custody.record`` refuses a kind that is not listed.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """One kind of event. ``room`` is the place whose filter shows it; ``moves`` when it changes who has the thing.

    ``touch`` when the thing itself is worked on, so that it must be in the lab. ``details`` names the words that such
    an event may carry beside the usual ones.
    """

    says: str
    room: str
    moves: bool = False
    touch: bool = False
    details: tuple[str, ...] = ()

    def say(self, **gaps: str) -> str:
        """The sentence with its gaps filled; what is not known leaves no trace.

        >>> KINDS["power-begun"].say(what="disk", station="Bench 2")
        'Disk powered at Bench 2'
        """
        said = self.says.format_map(defaultdict(str, gaps))
        said = re.sub(r"(, port| by| at|,)? +(?=[,:]|$)", "", re.sub(r" {2,}", " ", said)).strip(" :,")
        return said[:1].upper() + said[1:]

    @property
    def of_custody(self) -> bool:
        """A movement, or a touch that matters for whoever asks what was done to the thing itself."""
        return self.moves or self.touch or self.room == "custody"


KINDS: dict[str, Kind] = {
    # counter
    "enquired": Kind("Enquiry taken", "counter"),
    "enquiry-ended": Kind("Enquiry ended: {because}", "counter"),
    "expected": Kind("{what} expected by post", "counter"),
    "parcel-arrived": Kind("Parcel came, {because}", "counter"),
    "arrived-damaged": Kind("{what} damaged on the way: {because}", "counter"),
    "customers-merged": Kind("Two records of one customer made one: {because}", "counter"),
    "customers-parted": Kind("Two records of customers parted again: {because}", "counter"),
    "owner-named": Kind("Owner named: {because}", "counter"),
    "received": Kind("{what} received", "counter", moves=True),
    "refused": Kind("Refused at the counter: {because}", "counter"),
    "pad-reserved": Kind("Paper pad reserved: {because}", "counter"),
    "sheet-voided": Kind("Sheet of a paper pad void, {because}", "counter"),
    "intake-finished": Kind("Intake finished", "counter"),
    "intake-changed": Kind("Intake corrected: {because}", "counter"),
    "terms-signed": Kind("Terms signed: {because}", "counter"),
    "signed-paper-kept": Kind("Scan of the signed paper kept: {because}", "counter"),
    "signed-paper-withdrawn": Kind("Scan of a signed paper withdrawn: {because}", "counter"),
    "ownership-disputed": Kind("Ownership disputed: {because}", "counter"),
    "dispute-settled": Kind("Dispute settled: {because}", "counter"),
    "held-by-law": Kind("Legal hold: {because}", "counter"),
    "hold-ended": Kind("Legal hold ended: {because}", "counter"),
    "labelled": Kind("Labels printed for {what}", "counter"),
    "photographed": Kind("{what} photographed", "counter"),
    "photo-put-right": Kind("Photo now with {what}: {because}", "counter"),
    "photo-withdrawn": Kind("Photo of {what} withdrawn: {because}", "counter"),
    # secrets
    "secret-kept": Kind("Secret kept: {because}", "counter"),
    "secret-viewed": Kind("Secret shown: {because}", "bench"),
    "secret-erased": Kind("Secret erased: {because}", "custody"),
    "taken-on": Kind("Case taken on by {because}", "bench"),
    # custody
    "sealed": Kind("{what} sealed, {seals}", "custody"),
    "seal-broken": Kind("Seal {seals} of {what} broken: {because}", "custody"),
    "moved": Kind("{what} put in {to}", "custody", moves=True),
    "brought-in": Kind("{what} entered from a table, {because}; it is with {to}", "custody", moves=True),
    "taken-back": Kind("{what} taken out of the books again: {because}", "custody"),
    "found": Kind("{what} found in {to}, where nobody had put it on record", "custody", moves=True),
    "handed-to": Kind("{what} handed to {to}", "custody", moves=True, details=("confirmed",)),
    "taken-into-work": Kind("{what} taken into work at {to}", "custody", moves=True),
    "put-back": Kind("{what} put back in {to}", "custody", moves=True),
    "shipped": Kind("{what} sent to {to} by {carrier}", "custody", moves=True, details=("carrier", "tracking")),
    "delivered": Kind("{what} has reached {to}, says {receiver}", "custody", details=("receiver",)),
    "returned": Kind("{what} came back: {because}", "custody", moves=True),
    "destroyed": Kind("{what} destroyed, {method}: {because}", "custody", moves=True, details=("method", "witness")),
    "corrected": Kind("Correction: {because}", "custody"),
    # bench
    "identified": Kind("{what} {because}", "bench"),
    "identity-answered": Kind("Differences of {what} answered: {because}", "bench"),
    "wrong-item": Kind("Stopped, wrong item: {because}", "bench"),
    "chip-removed": Kind("{what} taken off: {because}", "bench", moves=True),
    "dumped": Kind("Dump of {what}: {because}", "bench"),
    "examined": Kind("{what} examined: {because}", "bench"),
    "findings-shown": Kind("Findings on {what} shown by photos: {because}", "bench"),
    "opened": Kind("{what} opened in clean air: {because}", "bench", touch=True, details=("station",)),
    "part-fitted": Kind("{part} fitted to {patient}: {because}", "bench", touch=True, details=("part", "patient")),
    "part-removed": Kind("{part} taken out of {patient}: {because}", "bench", touch=True, details=("part", "patient")),
    "power-begun": Kind("{what} powered at {station}, port {port}", "bench", touch=True, details=("station", "port")),
    "power-ended": Kind("Power session of {what} ended: {because}", "bench", touch=True),
    "read": Kind("{what} read at {station}: {because}", "bench", touch=True, details=("station", "port")),
    "written": Kind("Firmware or ROM of {what} written: {because}", "bench", touch=True, details=("before", "after")),
    "work-started": Kind("Work on {what} started", "bench"),
    "work-noted": Kind("{what}: {because}", "bench"),
    "coverage-kept": Kind("Reading of {what}: {because}", "bench"),
    "coverage-withdrawn": Kind("Reading of {what} taken back: {because}", "bench"),
    "file-list-received": Kind("Files of {what}: {because}", "bench"),
    "file-list-kept": Kind("Files of {what}: {because}", "bench"),
    "file-list-withdrawn": Kind("Files of {what} taken back: {because}", "bench"),
    "files-tied": Kind("Wanted files of {what}: {because}", "bench"),
    "files-taken": Kind("Files of {what}: {because}", "bench"),
    "sample-opened": Kind("Sample of {what}: {because}", "bench"),
    "layout-kept": Kind("Layout of {what}: {because}", "bench"),
    "heads-mapped": Kind("Heads by sector of {what}: {because}", "bench"),
    "head-judged": Kind("{what}, {because}", "bench"),
    "area-tied": Kind("Where wanted things lie on {what}: {because}", "bench"),
    "reading-planned": Kind("Reading of {what} planned: {because}", "bench"),
    "progress-noted": Kind("Progress on {what}: {because}", "bench"),
    "array-found": Kind("Array worked out: {because}", "bench"),
    "array-checked": Kind("Array held against its copies: {because}", "bench"),
    "cloned": Kind("{what} copied: {because}", "bench", touch=True),
    "checked": Kind("Result of {what} checked: {because}", "bench"),
    "made-ready": Kind("{what} ready", "bench"),
    "sent-back": Kind("{what} back to examination: {because}", "bench"),
    "ended": Kind("{what}: {because}", "bench"),
    "equipment-kept": Kind("Equipment: {because}", "bench"),
    "equipment-logged": Kind("Log of equipment: {because}", "bench"),
    "session-ended": Kind("{what} has no power any more, {because}", "bench"),
    "session-watched": Kind("{what} on {because}", "bench"),
    "competence-noted": Kind("Competence: {because}", "bench"),
    "mishap-noted": Kind("Went wrong: {because}", "bench"),
    "mishap-closed": Kind("What went wrong is closed: {because}", "bench"),
    "order-noted": Kind("Bench order of {what}: {because}", "bench"),
    "order-taken-back": Kind("Bench order of {what}, taken back: {because}", "bench"),
    "protocol-moved": Kind("{what} goes by another bench order, {because}", "bench"),
    "protocol-published": Kind("Bench order changed: {because}", "bench"),
    "stop-lifted": Kind("Stop lifted: {because}", "bench"),
    # imports
    "imported": Kind("Table taken in: {because}", "stockroom"),
    "import-labelled": Kind("Labels printed: {because}", "stockroom"),
    "import-undone": Kind("Import undone: {because}", "stockroom"),
    # stockroom
    "stocked": Kind("{what} taken into stock", "stockroom", moves=True),
    "stock-changed": Kind("{what} corrected: {because}", "stockroom"),
    "part-listed": Kind("{what} listed as a part", "stockroom"),
    "part-tested": Kind("{what} tested: {because}", "stockroom"),
    "part-assigned": Kind("{what} assigned: {because}", "stockroom"),
    "rules-changed": Kind("What must match changed: {because}", "stockroom"),
    "part-reserved": Kind("{what} reserved: {because}", "stockroom"),
    "reservation-ended": Kind("Reservation of {what} ended: {because}", "stockroom"),
    "part-stripped": Kind("{what} taken off its donor: {because}", "stockroom", moves=True),
    "donor-scrapped": Kind("{what} scrapped: {because}", "stockroom"),
    "need-raised": Kind("To buy: {because}", "stockroom"),
    "need-ordered": Kind("Ordered: {because}", "stockroom"),
    "need-arrived": Kind("Arrived: {because}", "stockroom"),
    "need-wrong": Kind("Wrong inside: {because}", "stockroom"),
    "need-returned": Kind("Sent back: {because}", "stockroom"),
    "need-dropped": Kind("No longer to buy: {because}", "stockroom"),
    "need-met": Kind("Need met: {because}", "stockroom"),
    "part-released": Kind("{what} released: {because}", "stockroom"),
    "part-judged": Kind("{what} after use: {because}", "stockroom"),
    "destination-assigned": Kind("{what} assigned: {because}", "stockroom"),
    "destination-released": Kind("{what} released: {because}", "stockroom"),
    "delivery-assigned": Kind("{what} set aside for delivery", "stockroom"),
    "wipe-begun": Kind("Wipe of {what} begun: {because}", "stockroom"),
    "wipe-ended": Kind("Wipe of {what} ended: {because}", "stockroom"),
    "wipe-failed": Kind("Wipe of {what} came to nothing: {because}", "stockroom"),
    "wiped": Kind("{what} wiped: {because}", "stockroom"),
    "not-found": Kind("{what} not found: {because}", "stockroom", moves=True),
    "stocktake-begun": Kind("Stocktake begun: {because}", "stockroom"),
    "stocktake-signed": Kind("Stocktake signed off: {because}", "stockroom"),
    "stocktake-dropped": Kind("Stocktake dropped: {because}", "stockroom"),
    "image-placed": Kind("Room for the image of {what} reserved: {because}", "stockroom"),
    "image-resized": Kind("Room for the image of {what} changed: {because}", "stockroom"),
    "image-released": Kind("Room for the image of {what} released: {because}", "stockroom"),
    "image-erased": Kind("Image of {what} erased: {because}", "stockroom"),
    "health-checked": Kind("Health of {what} checked: {because}", "stockroom"),
    "consent-noted": Kind("Consent for {what}: {because}", "stockroom"),
    "retired": Kind("{what} retired: {because}", "stockroom"),
    # office
    "quoted": Kind("Quoted: {because}", "office"),
    "quote-accepted": Kind("Quote accepted: {because}", "office"),
    "quote-declined": Kind("Quote declined: {because}", "office"),
    "paid": Kind("Paid: {because}", "office"),
    "money-settled": Kind("Money settled: {because}", "office"),
    "told": Kind("Customer told: {because}", "office"),
    "heard": Kind("Customer said: {because}", "office"),
    "not-told": Kind("Customer not told: {because}", "office"),
    # handing over
    "handed-over": Kind("{what} handed over", "counter", moves=True),
    "left-with-us": Kind("{what} left with the lab by signature", "counter"),
    "technical-report-printed": Kind("Technical report printed: {because}", "bench"),
    "report-printed": Kind("Handover report printed: {because}", "counter"),
    "paper-printed": Kind("Printed: {because}", "counter"),
    "closed": Kind("Case closed", "counter"),
    # the lab
    "computer-admitted": Kind("Bench computer admitted, {because}", "office"),
    "computer-revoked": Kind("Bench computer revoked, {because}", "office"),
    "lab-changed": Kind("The lab's settings changed: {because}", "office"),
}
