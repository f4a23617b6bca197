"""The ledger's vocabulary: every kind of event, and how the day-book says it.

A sentence may name ``{what}`` (the thing in words), ``{to}`` (where it is now) and ``{because}`` (why).
Adding a verb to the app means adding its line here; ``custody.record`` refuses a kind that is not listed.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """One kind of event. ``room`` is the place whose filter shows it; ``moves`` when it changes who has the thing."""

    says: str
    room: str
    moves: bool = False


KINDS: dict[str, Kind] = {
    # counter
    "enquired": Kind("Enquiry taken", "counter"),
    "enquiry-ended": Kind("Enquiry ended: {because}", "counter"),
    "expected": Kind("{what} expected by post", "counter"),
    "parcel-arrived": Kind("Parcel came, {because}", "counter"),
    "arrived-damaged": Kind("{what} damaged on the way: {because}", "counter"),
    "owner-named": Kind("Owner named: {because}", "counter"),
    "received": Kind("{what} received", "counter", moves=True),
    "refused": Kind("Refused at the counter: {because}", "counter"),
    "pad-reserved": Kind("Paper pad reserved: {because}", "counter"),
    "sheet-voided": Kind("Sheet of a paper pad void, {because}", "counter"),
    "intake-finished": Kind("Intake finished", "counter"),
    "intake-changed": Kind("Intake corrected: {because}", "counter"),
    "terms-signed": Kind("Terms signed: {because}", "counter"),
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
    "sealed": Kind("{what} sealed", "custody"),
    "seal-broken": Kind("Seal of {what} broken: {because}", "custody"),
    "moved": Kind("{what} put in {to}", "custody", moves=True),
    "handed-to": Kind("{what} handed to {to}", "custody", moves=True),
    "corrected": Kind("Correction: {because}", "custody"),
    # bench
    "identified": Kind("{what} {because}", "bench"),
    "identity-answered": Kind("Differences of {what} answered: {because}", "bench"),
    "wrong-item": Kind("Stopped, wrong item: {because}", "bench"),
    "chip-removed": Kind("{what} taken off: {because}", "bench", moves=True),
    "dumped": Kind("Dump of {what}: {because}", "bench"),
    "examined": Kind("{what} examined: {because}", "bench"),
    "opened": Kind("{what} opened in clean air: {because}", "bench"),
    "work-started": Kind("Work on {what} started", "bench"),
    "work-noted": Kind("{what}: {because}", "bench"),
    "cloned": Kind("{what} copied: {because}", "bench"),
    "checked": Kind("Result of {what} checked: {because}", "bench"),
    "made-ready": Kind("{what} ready", "bench"),
    "sent-back": Kind("{what} back to examination: {because}", "bench"),
    "ended": Kind("{what}: {because}", "bench"),
    "stop-lifted": Kind("Stop lifted: {because}", "bench"),
    # stockroom
    "stocked": Kind("{what} taken into stock", "stockroom", moves=True),
    "stock-changed": Kind("{what} corrected: {because}", "stockroom"),
    "part-listed": Kind("{what} listed as a part", "stockroom"),
    "part-tested": Kind("{what} tested: {because}", "stockroom"),
    "part-assigned": Kind("{what} assigned: {because}", "stockroom"),
    "part-released": Kind("{what} released: {because}", "stockroom"),
    "part-judged": Kind("{what} after use: {because}", "stockroom"),
    "destination-assigned": Kind("{what} assigned: {because}", "stockroom"),
    "destination-released": Kind("{what} released: {because}", "stockroom"),
    "delivery-assigned": Kind("{what} set aside for delivery", "stockroom"),
    "wiped": Kind("{what} wiped: {because}", "stockroom"),
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
    "report-printed": Kind("Handover report printed: {because}", "counter"),
    "paper-printed": Kind("Printed: {because}", "counter"),
    "closed": Kind("Case closed", "counter"),
    "reopened": Kind("Case opened again: {because}", "counter"),
    # the lab
    "lab-changed": Kind("The lab's settings changed: {because}", "office"),
}
