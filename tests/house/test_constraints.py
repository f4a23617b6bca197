"""Every rule of the database refuses by itself, whoever writes, and its own sentence is found for it."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction

from labcases.core.views import _constraint_words
from tests.house.test_models import CONSTRAINTS
from tests.seed import NOON, Seed

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]

CHECKS = {c.name: (model, c) for model, c in CONSTRAINTS if isinstance(c, models.CheckConstraint)}
UNIQUE = {c.name: (model, c) for model, c in CONSTRAINTS if isinstance(c, models.UniqueConstraint)}

# What breaks a check: changes to a sound row. A model in place of a value stands for its row.
BREAKS: dict[str, dict[str, Any]] = {
    "parts_count_from_one": {"number": 0},
    "transfer_becomes_what_it_is": {"what": "files", "upload": "bench.CoverageUpload"},
    "staff_has_login_and_name": {"name": ""},
    "one_profile": {"id": 2},
    "paper_says_what_it_is": {"kind": ""},
    "paper_has_its_digest": {"sha256": "0" * 63},
    "paper_size_known": {"size": "A5"},
    "shown_import_is_recorded": {"state": "shown", "event": None},
    "thing_has_one_holder": {"staff": "lab.Staff", "party": "people.Party"},
    "thing_destroyed_is_nowhere": {"gone": True, "place": "lab.Place"},
    "break_is_answered_later": {"event": 5, "answered": 5},
    "one_row_of_custody_rules": {"id": 2},
    "asked_handover_says_when_answered": {"state": "taken"},
    "one_ledger_head": {"id": 2},
    "photo_of_thing_or_draft": {"thing": None},
    "photo_has_pixels": {"width": 0},
    "photo_of_a_draft_is_not_in_the_ledger": {"thing": None, "draft": uuid.UUID(int=3), "event": 5},
    "party_has_a_name": {"name": ""},
    "party_can_be_reached": {"phone": "", "email": "", "address": ""},
    "party_goes_into_another": {"merged_into": "people.Party"},
    "undone_merge_says_why": {"undone": NOON, "undone_because": ""},
    "one_secrets_key": {"id": 2},
    "case_key_is_there_or_erased": {"wrapped": None},
    "secret_is_sealed_or_erased": {"erased": NOON},
    "signed_paper_has_its_digests": {"original": "0" * 63},
    "consent_paper_has_its_digest": {"original": "0" * 63},
    "withdrawn_paper_says_why": {"withdrawn": NOON, "withdrawn_because": ""},
    "signed_terms_name_version_and_signer": {"terms_signed": NOON, "signed_by": "Orrin Vale", "terms": None},
    "chip_was_taken_off_another": {"parent": "cases.Item"},
    "reading_of_item_or_draft": {"item": None},
    "sheet_is_a_case_or_void": {"case": "cases.Case", "void_because": "lost"},
    "lifted_stop_says_why": {"lifted": NOON, "lifted_because": ""},
    "file_list_has_files_iff_kept": {"state": "kept"},
    "refused_file_list_says_why": {"state": "refused", "trouble": ""},
    "file_list_withdrawal_says_why": {"because": ""},
    "wanted_files_by_one_thing": {"folder": 1},
    "item_stage_is_known": {"stage": "elsewhere"},
    "accessory_counts_one": {"count": 0},
    "enquiry_price_range": {"price_from": 200, "price_to": 100},
    "enquiry_price_names_its_currency": {"price_from": 100, "currency": ""},
    "refusal_has_reason": {"state": "refused", "reason": ""},
    "enquiry_that_became_a_case_names_it": {"state": "case", "case": None},
    "only_mail_is_sent": {"channel": "phone", "state": "waiting"},
    "sent_message_says_when": {"state": "sent", "sent": None},
    "paper_goes_with_mail": {"channel": "phone", "state": "noted", "attached": "paper.Paper"},
    "destination_held_for_a_case_iff_in_its_service": {"state": "assigned", "held_for": None},
    "destination_has_a_size": {"sectors": 0},
    "destination_of_a_customer_serves_its_case": {"owned_by": "people.Party", "held_for": None},
    "part_reserved_for_a_patient_until_a_time": {"reserved_for": "cases.Item", "reserved_until": None},
    "ordered_need_says_where": {"ordered": NOON, "supplier": ""},
    "met_need_names_its_part": {"state": "met", "met_by": None},
    "destination_of_a_customer_is_never_wiped": {
        "owned_by": "people.Party",
        "held_for": "cases.Case",
        "state": "being wiped",
    },
    "destination_that_failed_is_not_free": {"healthy": False},
    "destination_with_data_names_whose": {"written": True, "state": "retired"},
    "wipe_that_runs_has_no_end": {"ended": NOON},
    "wipe_ends_after_it_began": {"state": "ended", "ended": NOON - timedelta(days=1)},
    "wipe_is_verified_after_its_end": {"state": "verified", "ended": NOON, "verified_at": NOON},
    "only_a_verified_wipe_counts": {"state": "ended", "ended": NOON, "verified_at": NOON, "verified": "full"},
    "wipe_share_is_of_samples": {"share": 10},
    "stocktake_that_is_over_says_when": {"state": "signed off"},
    "counted_line_says_where_and_when": {"counted": NOON},
    "take_line_was_expected_or_not": {"expected_at": None},
    "pool_holds_what_is_reserved": {"reserved": 2},
    "pool_has_a_capacity": {"capacity": 0},
    "image_has_a_size": {"size": 0},
    "erased_image_says_how": {"end": "erased", "ended": NOON, "encrypted_with": ""},
    "failed_health_check_says_why": {"passed": False, "because": ""},
    "family_size_is_a_capacity": {"gigabytes": 0},
    "coverage_upload_keeps_its_bytes": {"file": ""},
    "sectors_taken_back_say_why": {"verb": "withdraw", "because": ""},
    "withdrawal_says_why": {"because": ""},
    "coverage_counts_add_up": {"read": 2},
    "coverage_follows_its_uploads": {"derived": 1, "version": 0},
    "wanted_area_names_its_line": {"purpose": "wanted", "wanted": None},
    "particle_count_has_its_number": {"what": "count", "particles": None},
    "competence_ends_after_it_began": {"ended": NOON - timedelta(days=1)},
    "closed_mishap_says_why_and_what_was_done": {"closed": NOON, "why": ""},
    "session_ends_after_it_began": {"ended": NOON - timedelta(days=1)},
    "protocol_kind_is_known": {"kind": "elsewhere"},
    "what_was_passed_by_has_its_reason": {"how": "lifted", "because": ""},
    "written_firmware_says_why": {"wrote": "user-area"},
    "dump_of_item_or_family": {"item": None, "family": None},
    "dump_has_its_file_iff_read": {"file": ""},
    "array_check_agrees_on_what_there_is": {"size": 2, "agreeing": 3},
    "no_more_sectors_read_than_there_are": {"sectors_read": 11, "sectors_total": 10},
    "quote_adds_up": {"total": 3},
    "answered_quote_says_who_and_when": {"state": "accepted", "answered": None},
    "payment_is_not_zero": {"amount": 0},
    "settlement_has_reason": {"because": ""},
    "other_collector_has_owners_word": {"collector": "other", "owners_word": ""},
    "collector_is_named": {"collector_name": ""},
    "posted_is_tracked": {"manner": "posted", "tracking": ""},
    "handover_is_signed": {"manner": "collected", "signed_how": ""},
}

# Where a second row like the first is not refused as it stands: what the first is made, or the second differs in.
BEFORE: dict[str, dict[str, Any]] = {
    "one_progress_a_moment_of_a_head": {"head": 1},
    "file_taken_or_left_once": {"row": 1},
    "photo_once_per_draft": {"thing": None, "draft": uuid.UUID(int=3)},
    "quote_number_once_per_case": {"state": "superseded"},
}
APART: dict[str, dict[str, Any]] = {
    "one_standing_quote_per_case": {"number": 99},
    "one_transfer_under_a_key": {"upload": None, "file_list": None},
}
# Where two rules are broken at once: the row that the second names instead, so that only the one in question speaks.
OTHER_ROWS: dict[str, list[tuple[str, str, dict[str, Any]]]] = {
    "port_runs_one_patient": [("item", "cases.Item", {"number": 99})],
    "patient_runs_on_one_port": [("port", "bench.Port", {"name": "another"})],
}


@pytest.fixture
def seed() -> Seed:
    return Seed(apps)


def refused(break_it: Any) -> str:
    """The sentence of the rule that refuses."""
    with pytest.raises(IntegrityError) as said, transaction.atomic():
        break_it()
    return _constraint_words(said.value)


def test_every_check_has_its_breaking() -> None:
    assert len(CHECKS) > 25
    assert len(UNIQUE) > 12
    assert set(BREAKS) == set(CHECKS)


@pytest.mark.parametrize("name", CHECKS)
def test_a_check_refuses(name: str, seed: Seed) -> None:
    model, rule = CHECKS[name]
    seed.of(model)
    changes = {field: seed._row_or(value) for field, value in BREAKS[name].items()}
    assert refused(lambda: seed.change(model, **changes)) == rule.violation_error_message


@pytest.mark.parametrize("name", UNIQUE)
def test_a_second_row_is_refused(name: str, seed: Seed) -> None:
    model, rule = UNIQUE[name]
    seed.of(model)
    if name in BEFORE:
        seed.change(model, **BEFORE[name])
    apart = {field: seed.another(apps.get_model(other), **more) for field, other, more in OTHER_ROWS.get(name, ())}
    assert refused(lambda: seed.another(model, **APART.get(name, {}), **apart)) == rule.violation_error_message
