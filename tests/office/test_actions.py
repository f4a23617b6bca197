"""The verbs of the office: quotes and their answers, payments, and what only a manager may put aside."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from labcases.bench.actions import send_back, start_work
from labcases.cases.intake import Signed
from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role
from labcases.office import actions
from labcases.office.models import Quote, Settlement
from labcases.office.queries import balance_of

LINES = [("Copying", 10_000), ("Donor part", 2_500)]


def quoted(make, noon, case=None, **about) -> Quote:
    about = {"lines": LINES} | about
    return actions.send_quote(case=case or make.examined(), by=make.everyone(), happened=noon, **about)


def accepted(make, noon, **about) -> Quote:
    quote = quoted(make, noon, **about)
    return actions.accept_quote(quote=quote, who="Orrin Vale", how="by phone", by=make.everyone(), happened=noon)


def stages(case) -> set[str]:
    return set(Item.objects.filter(case=case).values_list("stage", flat=True))


def test_a_quote_adds_up_and_holds_for_fourteen_days(make, noon):
    quote = quoted(make, noon, tax_rate=2_000)
    assert (quote.net, quote.tax, quote.total) == (12_500, 2_500, 15_000)
    assert quote.valid_until == date(2026, 3, 16)
    assert stages(quote.case) == {Stage.QUOTED}


@pytest.mark.parametrize(
    ("net", "rate", "tax"),
    [(50, 500, 3), (49, 500, 2), (150, 1_700, 26), (1, 5_000, 1), (12_345, 0, 0), (333, 1_950, 65)],
)
def test_tax_is_rounded_half_up_to_the_minor_unit(make, noon, net, rate, tax):
    """2.5 is 3, 2.45 is 2, 25.5 is 26, 0.5 is 1, 64.935 is 65: reckoned by hand."""
    quote = quoted(make, noon, lines=[("Work", net)], tax_rate=rate)
    assert (quote.tax, quote.total) == (tax, net + tax)


def test_a_new_quote_supersedes_the_one_that_stands(make, noon):
    case = make.examined()
    first = quoted(make, noon, case)
    second = quoted(make, noon, case, lines=[("Less", 5_000)])
    first.refresh_from_db()
    assert first.state == Quote.State.SUPERSEDED
    assert (second.state, second.number) == (Quote.State.SENT, 2)
    with pytest.raises(actions.QuoteNotOpen, match="superseded"):
        actions.accept_quote(quote=first, who="Orrin Vale", how="by phone", by=make.everyone(), happened=noon)
    assert stages(case) == {Stage.QUOTED}


def test_the_database_refuses_a_second_standing_quote(make, noon):
    quote = quoted(make, noon)
    copy = Quote.objects.get(pk=quote.pk)
    copy.pk, copy.number, copy._state.adding = None, 2, True
    with pytest.raises(IntegrityError), transaction.atomic():
        copy.save()


def test_nothing_is_quoted_that_was_not_examined(make, noon):
    with pytest.raises(actions.NothingToQuote):
        quoted(make, noon, make.case())
    assert not Quote.objects.exists()


def test_only_a_manager_quotes(make, noon):
    case = make.examined()
    for role in (Role.COUNTER, Role.ENGINEER, Role.AUDITOR):
        with pytest.raises(NotAllowed):
            actions.send_quote(case=case, lines=LINES, by=make.actor(role), happened=noon)


def test_a_yes_is_authority_and_says_who_gave_it_and_how(make, noon):
    quote = accepted(make, noon)
    assert (quote.state, quote.answer_by, quote.answered) == (Quote.State.ACCEPTED, "Orrin Vale", noon)
    assert stages(quote.case) == {Stage.AUTHORISED}
    event = Event.objects.get(kind="quote-accepted")
    assert EventText.objects.get(sequence=event.sequence, field="authority").text == "Orrin Vale, by phone"
    (known,) = facts_for(quote.case.items.all()).values()
    assert known.authorised


def test_a_quote_is_answered_once(make, noon):
    quote = accepted(make, noon)
    for verb in (actions.accept_quote, actions.decline_quote):
        with pytest.raises(actions.QuoteNotOpen, match="accepted"):
            verb(quote=quote, who="Wren Halloway", how="by mail", by=make.everyone(), happened=noon)
    quote.refresh_from_db()
    assert quote.answer_by == "Orrin Vale"
    assert Event.objects.filter(kind__in=["quote-accepted", "quote-declined"]).count() == 1


def test_a_no_declines_the_items_and_leaves_nothing_to_pay(make, noon):
    quote = quoted(make, noon)
    actions.decline_quote(quote=quote, who="Orrin Vale", how="too dear", by=make.everyone(), happened=noon)
    assert stages(quote.case) == {Stage.DECLINED}
    assert balance_of(quote.case) == 0


def test_a_price_within_the_limit_needs_no_further_question(make, noon):
    case = make.examined(signed=Signed(signed_by="Orrin Vale", spending_limit=6_000))
    quote = actions.authorise_within_limit(
        case=case, lines=[("Work", 5_000)], tax_rate=2_000, by=make.everyone(), happened=noon
    )
    assert (quote.total, quote.state) == (6_000, Quote.State.ACCEPTED)
    assert quote.answer_how == "spending limit signed at the counter"
    assert stages(case) == {Stage.AUTHORISED}


@pytest.mark.parametrize(
    ("limit", "net", "tax_rate"), [(6_000, 6_001, 0), (6_000, 5_001, 2_000), (None, 1, 0)], ids=["net", "tax", "none"]
)
def test_a_price_over_the_limit_is_refused_and_leaves_no_quote(make, noon, limit, net, tax_rate):
    case = make.examined(signed=Signed(signed_by="Orrin Vale", spending_limit=limit))
    with pytest.raises(actions.OverTheLimit), transaction.atomic():
        actions.authorise_within_limit(
            case=case, lines=[("Work", net)], tax_rate=tax_rate, by=make.everyone(), happened=noon
        )
    assert not Quote.objects.exists()
    assert stages(case) == {Stage.EXAMINED}


def test_the_balance_is_what_was_agreed_less_what_was_paid(make, noon):
    quote = accepted(make, noon)
    case, by = quote.case, make.everyone()
    assert balance_of(case) == 12_500
    actions.take_payment(case=case, amount=5_000, method="cash", by=by, happened=noon)
    assert balance_of(case) == 7_500
    assert not facts_for(case.items.all())[case.items.get().pk].money_settled
    actions.take_payment(case=case, amount=8_000, method="card", by=by, happened=noon)
    assert balance_of(case) == -500
    actions.take_payment(case=case, amount=-500, method="cash", by=by, happened=noon)
    assert balance_of(case) == 0
    assert facts_for(case.items.all())[case.items.get().pk].money_settled


def test_an_unanswered_quote_is_no_debt(make, noon):
    assert balance_of(quoted(make, noon).case) == 0


def test_only_a_manager_waives_or_puts_on_account(make, noon):
    case = accepted(make, noon).case
    for role in (Role.COUNTER, Role.ENGINEER, Role.AUDITOR):
        with pytest.raises(NotAllowed):
            actions.settle(case=case, how="waived", because="x", by=make.actor(role), happened=noon)
    actions.settle(case=case, how="waived", because="our fault", by=make.actor(Role.MANAGER), happened=noon)
    assert balance_of(case) == 0
    assert Settlement.objects.get().amount == 12_500


def test_there_is_nothing_to_settle_where_nothing_is_owed(make, noon):
    with pytest.raises(actions.NothingToSettle):
        actions.settle(case=make.case(), how="waived", because="x", by=make.everyone(), happened=noon)


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.AUDITOR])
def test_payments_are_for_the_counter_and_the_manager(make, noon, role):
    with pytest.raises(NotAllowed):
        actions.take_payment(case=make.case(), amount=1, method="cash", by=make.actor(role), happened=noon)


def test_a_case_that_is_quoted_again_is_no_longer_authorised(make, noon):
    """Work that goes back to examination is quoted anew; the earlier yes was to another price."""
    case, by = accepted(make, noon).case, make.everyone()
    item = case.items.get()
    start_work(item=item, by=by, happened=noon)
    send_back(item=item, because="platter scored", by=by, happened=noon)
    quoted(make, noon, case, lines=[("More", 90_000)])
    assert not facts_for([item])[item.pk].authorised
    assert balance_of(case) == 0
