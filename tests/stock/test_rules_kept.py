"""Rules as the lab keeps them: versions, families of their own, back to the beginning, and what judges by them."""

from __future__ import annotations

import html

import pytest
from django.urls import reverse

from labcases.core.refused import NotAllowed
from labcases.lab.roles import Role
from labcases.stock import actions
from labcases.stock.models import LabelCode, RuleSet
from labcases.stock.queries.ruling import DEFAULTS, rules_for
from labcases.stock.rules import RULES, Comparator, Level, PartKind, Rule, RuleError

BOARD = PartKind.CONTROLLER_BOARD
ONE = [Rule("board_number", Level.MUST, Comparator.PREFIX, 5, limit=2)]
OTHER = [Rule("main_chip")]


def keep(make, noon, rules, *, family=None, seen=0, by=None):
    return actions.keep_rules(
        part=BOARD, family=family, rules=rules, seen=seen, by=by or make.everyone(), happened=noon
    )


def test_a_new_lab_judges_by_the_rules_every_lab_begins_with(db):
    assert rules_for(BOARD, None).rules == RULES[BOARD]
    assert rules_for(BOARD, None).name == DEFAULTS


def test_the_newest_version_counts_and_the_others_stay(make, noon):
    keep(make, noon, ONE)
    keep(make, noon, OTHER, seen=1)
    assert rules_for(BOARD, None).rules == tuple(OTHER)
    assert rules_for(BOARD, None).name == "controller board, version 2"
    assert RuleSet.objects.get(version=1).as_rules == tuple(ONE)


def test_a_family_has_its_own_and_the_others_do_not(make, noon):
    minnow, tern = make.family("Minnow"), make.family("Tern")
    keep(make, noon, ONE, family=minnow)
    assert rules_for(BOARD, minnow).rules == tuple(ONE)
    assert rules_for(BOARD, tern).rules == RULES[BOARD]
    assert rules_for(BOARD, None).rules == RULES[BOARD]


def test_a_family_back_to_the_beginning_takes_what_counts_for_every_part(make, noon):
    minnow = make.family("Minnow")
    keep(make, noon, ONE, family=minnow)
    keep(make, noon, OTHER)
    keep(make, noon, None, family=minnow, seen=1)
    assert rules_for(BOARD, minnow).rules == tuple(OTHER)
    keep(make, noon, None, seen=1)
    assert rules_for(BOARD, minnow).rules == RULES[BOARD]


def test_who_was_slower_is_told(make, noon):
    keep(make, noon, ONE)
    with pytest.raises(actions.Changed, match="were changed after this page was opened"):
        keep(make, noon, OTHER, seen=0)


def test_only_a_manager_changes_them(make, noon):
    with pytest.raises(NotAllowed):
        keep(make, noon, ONE, by=make.actor(Role.ENGINEER))


@pytest.mark.parametrize("rules", [[], [*ONE, *ONE]])
def test_rules_that_cannot_be_meant_are_refused(make, noon, rules):
    with pytest.raises(RuleError, match=r"\.$"):
        keep(make, noon, rules)
    assert not RuleSet.objects.exists()


def test_an_assignment_is_judged_by_them_and_keeps_their_name(make, noon):
    part, item = make.part("controller board", board_number="PB-1"), make.item(board_number="PB-2")
    with pytest.raises(actions.NotAMatch):
        actions.assign_donor(part=part, patient=item, by=make.everyone(), happened=noon)
    keep(make, noon, ONE)
    made = actions.assign_donor(part=part, patient=item, by=make.everyone(), happened=noon)
    assert made.verdict["rules"] == "controller board, version 1"


def test_a_code_on_a_label_is_compared_by_some_of_its_characters(make, noon):
    actions.keep_label_code(name="head code", stands="top line", by=make.everyone(), happened=noon)
    rule = Rule("code:HEAD CODE", Level.MUST, Comparator.PREFIX, 5, limit=1, start=2)
    keep(make, noon, [rule])
    part = make.part("controller board", codes={"HEAD CODE": "4K7"})
    item = make.item()
    item.codes = {"HEAD CODE": "9K1"}
    assert actions.judge(part, item).grade == "fits"
    item.codes = {"HEAD CODE": "9X1"}
    assert actions.judge(part, item).grade == "no"


# --- the page -------------------------------------------------------------------------------------------------------


def address(family=None):
    return reverse("stock:rules-of", args=["controller board"]) + (f"?family={family.pk}" if family else "")


def rows(*lines, seen=0, **more):
    sent = {"seen": seen, "rows": len(lines), **more}
    names = ("attribute", "level", "comparator", "weight", "limit", "start")
    return sent | {
        f"{n}-{name}": value for n, line in enumerate(lines) for name, value in zip(names, line, strict=False)
    }


def test_the_page_begins_with_the_rules_that_count(client_as):
    form = client_as().get(address()).context["form"]
    assert form["0-attribute"].value() == "board_number"
    assert form.count == len(RULES[BOARD]) + 3


def test_the_page_keeps_a_version(client_as):
    client = client_as()
    sent = rows(
        ("board_number", "must", "same prefix", "5", "2", ""), ("", "must", "equal", ""), because="Letters vary."
    )
    assert client.post(address(), sent).status_code == 303
    assert rules_for(BOARD, None).rules == tuple(ONE)
    page = client.get(address()).content.decode()
    assert "Version 1" in page
    assert "Letters vary." in page


def test_every_default_goes_through_the_page_unchanged(client_as):
    client = client_as()
    for kind in PartKind:
        place = reverse("stock:rules-of", args=[kind.value])
        form = client.get(place).context["form"]
        sent = {
            form[name].html_name: "" if form[name].value() is None else form[name].value()
            for name in form.fields
            if name != "once"
        }
        assert client.post(place, sent | {"happened": ""}).status_code == 303
        assert rules_for(kind, None).rules == RULES[kind]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (("board_number", "must", "within days", "1", "3"), "compares made, not board_number"),
        (("board_number", "must", "same prefix", "1", ""), "needs its limit"),
        (("board_number", "must", "equal", "0", ""), "must be a number from above 0"),
        (("colour", "must", "equal", "1", ""), "Select a valid choice"),
        (("", "must", "equal", "1", ""), "At least one rule is needed"),
    ],
)
def test_what_cannot_be_meant_is_a_sentence_and_keeps_what_was_typed(client_as, line, sentence):
    answer = client_as().post(address(), rows(line, because="As typed."))
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    assert sentence in page
    assert "As typed." in page
    assert not RuleSet.objects.exists()


def test_the_lab_gives_up_its_own(make, noon, client_as):
    keep(make, noon, ONE)
    client = client_as()
    back = reverse("stock:rules-back", args=["controller board"])
    assert client.get(back).status_code == 200
    assert client.post(back, {"seen": 1, "because": "Too narrow."}).status_code == 303
    assert rules_for(BOARD, None).rules == RULES[BOARD]


def test_a_family_begins_with_the_rules_of_the_part(make, noon, client_as):
    minnow = make.family("Minnow")
    keep(make, noon, ONE)
    form = client_as().get(address(minnow)).context["form"]
    assert (form["0-attribute"].value(), form["seen"].value()) == ("board_number", 0)


@pytest.mark.parametrize("wrong", ["/stockroom/rules/elbow/", "/stockroom/rules/motor/?family=x"])
def test_what_is_no_part_or_family_is_said(client_as, wrong):
    assert client_as().get(wrong).status_code == 404


def test_a_label_code_is_named_once(client_as):
    client, place = client_as(), reverse("stock:add-label-code")
    assert client.post(place, {"name": "Head code", "stands": "top line"}).status_code == 303
    assert LabelCode.objects.get().name == "HEAD CODE"
    assert client.post(place, {"name": "HEAD CODE"}).status_code == 422
    page = client.get(reverse("stock:rules")).content.decode()
    assert "HEAD CODE" in page
    assert ("code:HEAD CODE", "Label code HEAD CODE") in client.get(address()).context["form"].fields[
        "0-attribute"
    ].choices


def test_an_engineer_reads_them_and_changes_nothing(client_as):
    client = client_as(Role.ENGINEER)
    assert "Keep these rules" not in client.get(address()).content.decode()
    assert client.post(address(), rows(("main_chip", "must", "equal", "1"))).status_code == 403


def test_a_label_code_is_said_again_and_put_out_of_use(make, noon, client_as):
    code = actions.keep_label_code(name="head code", stands="top line", by=make.everyone(), happened=noon)
    client, address = client_as(), reverse("stock:keep-label-code", args=[code.pk])
    assert address in client.get(reverse("stock:rules")).content.decode()
    assert client.get(address).status_code == 200
    assert client.post(address, {"stands": "second line"}).status_code == 303
    code.refresh_from_db()
    assert (code.name, code.stands, code.in_use) == ("HEAD CODE", "second line", False)
    assert "out of use" in client.get(reverse("stock:rules")).content.decode()
    offered = client.get(reverse("stock:rules-of", args=["head stack"])).content.decode()
    assert "code:HEAD CODE" not in offered
    assert client_as(Role.ENGINEER).get(address).status_code == 403
