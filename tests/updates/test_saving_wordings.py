from __future__ import annotations

import pytest

from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.updates import queries
from labcases.updates.actions import NotFinished, drop_wording, save_wording
from labcases.updates.models import Wording
from tests.builders import NOON, Make

SAID = {"title": "Holiday", "subject": "{case}: we are closed", "body": "Dear {reader}, back on {day}."}


def test_a_new_wording_can_be_chosen(make: Make) -> None:
    save_wording(by=make.actor(Role.MANAGER), happened=NOON, **SAID)
    assert "holiday" in [words.key for words in queries.wordings_for(make.case())]
    assert Event.objects.filter(kind="lab-changed").exists()


@pytest.mark.parametrize("where", ["subject", "body"])
def test_an_unknown_gap_is_refused_by_its_name_and_nothing_is_kept(make: Make, where: str) -> None:
    with pytest.raises(NotFinished, match=r"\{ownr\}. Did you mean \{owner\}"):
        save_wording(by=make.actor(Role.MANAGER), happened=NOON, **SAID | {where: "Dear {ownr}"})
    assert not Wording.objects.exists()


@pytest.mark.parametrize("title", ["ਛੁੱਟੀ", "!!!", "Received", "Holiday"])
def test_a_title_in_any_alphabet_or_twice_gets_a_key_of_its_own(make: Make, title: str) -> None:
    manager = make.actor(Role.MANAGER)
    first, second = (save_wording(by=manager, happened=NOON, **SAID | {"title": title}) for _ in range(2))
    assert first.key
    assert len({first.key, second.key, "received"}) == 3


def test_a_wording_out_of_use_is_not_offered(make: Make) -> None:
    save_wording(key="received", in_use=False, by=make.actor(Role.MANAGER), happened=NOON, **SAID)
    assert "received" not in [words.key for words in queries.wordings_for(make.case())]


def test_taking_own_words_away_brings_the_default_back(make: Make) -> None:
    manager = make.actor(Role.MANAGER)
    row = save_wording(key="ready", by=manager, happened=NOON, **SAID)
    drop_wording(wording=row, by=manager, happened=NOON)
    assert queries.wording("ready", "en").own is None


@pytest.mark.parametrize("role", [Role.COUNTER, Role.ENGINEER, Role.AUDITOR])
def test_only_a_manager_changes_what_the_lab_says(make: Make, role: Role) -> None:
    with pytest.raises(NotAllowed):
        save_wording(by=make.actor(role), happened=NOON, **SAID)
