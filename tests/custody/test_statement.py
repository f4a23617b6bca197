"""The custody statement and the program that checks it: good ones hold, and each kind of tampering is said in words."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labcases.core.refused import NotAllowed
from labcases.custody import chain, papers, queries
from labcases.custody.actions import move
from labcases.custody.models import EventText, Head, KeptHead
from labcases.custody.verifier import check_statement
from labcases.custody.verifier.check_statement import FAILS, HOLDS, Unreadable, check, read
from labcases.lab.models import Place
from labcases.lab.roles import Role
from labcases.paper.actions import reprint
from labcases.paper.models import Paper

PROGRAM = Path(check_statement.__file__)
Said = dict[str, Any]


@pytest.fixture
def case(make, noon):
    """A case whose patient was moved about, between others of which nothing may be said."""
    make.case()
    made = make.case(items=2, accessories=[("cable", 1)])
    thing, by = made.items.first().thing, make.everyone()
    for name in ("Shelf A1", "Bench 2", "Shelf B7"):
        move(thing=thing, to=make.place(name=name), by=by, happened=noon, because=f"to {name}")
    make.case()
    return made


def stated(case) -> Said:
    events = queries.events_of_case(case.code)
    head = Head.objects.get().as_signed()
    data = papers.statement(case.thing, events, queries.texts_of(events), head, issued=timezone.now())
    return read(data)


@pytest.fixture
def good(case) -> Said:
    return stated(case)


def failures(said: Said, **more: Any) -> list[str]:
    return [sentence for verdict, sentence in check(said, **more) if verdict == FAILS]


def held(said: Said, **more: Any) -> list[str]:
    return [sentence for verdict, sentence in check(said, **more) if verdict == HOLDS]


def body_of(event: Said) -> Said:
    return json.loads(event["body"])


def moved(said: Said) -> list[int]:
    """Places in the statement of the movements."""
    return [n for n, event in enumerate(said["events"]) if body_of(event)["kind"] == "moved"]


# --- good -------------------------------------------------------------------------------------------------------------


def test_a_statement_holds_and_says_what_it_proved(good):
    assert failures(good, key=good["head"]["key"]) == []
    words = " ".join(held(good, key=good["head"]["key"]))
    assert "signature" in words
    assert f"Every event: {len(good['events'])}" in words
    assert "The key is the one you named" in words
    assert "each step begins where the last one ended" in words


def test_a_statement_is_of_one_case_and_of_all_its_own_things(good, case):
    codes = {item.thing.code for item in case.items.all()}
    assert codes <= {body_of(event)["thing"] for event in good["events"]}
    assert {body_of(event)["case"] for event in good["events"]} <= {case.code, None}
    assert len(moved(good)) == 3


def test_an_erased_name_is_said_to_be_erased_and_the_rest_holds(case):
    EventText.objects.filter(field="by").delete()
    said = stated(case)
    assert failures(said) == []
    assert any("was erased" in sentence for _, sentence in check(said))


def test_a_newer_head_has_grown_from_the_statements(good, make, client):
    make.case()
    newer = client.get(reverse("custody:public-key") + f"?format=json&since={good['head']['size']}").json()
    assert failures(good, newer=newer) == []
    assert any("has grown from" in sentence for sentence in held(good, newer=newer))


def test_a_statement_costs_the_same_queries_however_many_events(case, make, noon):
    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            stated(case)
        return len(ran)

    few = cost()
    for _ in range(20):
        move(thing=case.items.first().thing, to=make.place(), by=make.everyone(), happened=noon)
    assert cost() == few


# --- bad --------------------------------------------------------------------------------------------------------------


def change_a_name(said: Said) -> None:
    said["events"][1]["texts"]["by"]["text"] = "Somebody Else"


def change_a_salt(said: Said) -> None:
    said["events"][1]["texts"]["by"]["salt"] = "00" * 32


def add_a_text(said: Said) -> None:
    said["events"][1]["texts"]["authority"] = {"salt": "00" * 32, "text": "the owner, by phone"}


def change_a_body(said: Said) -> None:
    event = said["events"][1]
    event["body"] = event["body"].replace("manager", "auditor").replace("counter", "auditor")


def reuse_a_proof(said: Said) -> None:
    said["events"][1]["proof"] = said["events"][0]["proof"]


def cut_a_proof(said: Said) -> None:
    said["events"][1]["proof"].pop()


def renumber(said: Said) -> None:
    said["events"][1]["sequence"] += 1


def swap(said: Said) -> None:
    said["events"][0], said["events"][1] = said["events"][1], said["events"][0]


def repeat(said: Said) -> None:
    said["events"].insert(1, deepcopy(said["events"][0]))


def leave_a_movement_out(said: Said) -> None:
    del said["events"][moved(said)[1]]


def forge_the_head(said: Said) -> None:
    said["head"]["root"] = chain.root([event["body"].encode() for event in said["events"]]).hex()


def change_the_size(said: Said) -> None:
    said["head"]["size"] += 1


def leave_the_root_out(said: Said) -> None:
    del said["head"]["root"]


def claim_another_case(said: Said) -> None:
    said["case"] = "26" + said["case"][2:][::-1]


def no_events(said: Said) -> None:
    said["events"] = []


def nonsense(said: Said) -> None:
    said["events"][1] = "nothing"


def name_twice(said: Said) -> None:
    event = said["events"][1]
    event["body"] = event["body"].replace('{"by"', '{"kind":"wiped","by"', 1)


@pytest.mark.parametrize(
    ("tamper", "named"),
    [
        (change_a_name, "the text “by” (Somebody Else) is not the one that was recorded"),
        (change_a_salt, "is not the one that was recorded"),
        (add_a_text, "the text “authority”"),
        (change_a_body, "not in the ledger whose head was signed"),
        (reuse_a_proof, "its proof is of another"),
        (cut_a_proof, "not in the ledger"),
        (renumber, "its entry is numbered"),
        (swap, "in the order of the ledger"),
        (repeat, "once each"),
        (leave_a_movement_out, "a change of hands between events"),
        (forge_the_head, "signature under the head"),
        (change_the_size, "signature under the head"),
        (leave_the_root_out, "names no size and root"),
        (claim_another_case, "it is of another case"),
        (no_events, "holds no event"),
        (nonsense, "in place 2 is no event that can be read"),
        (name_twice, "is no event that can be read"),
    ],
)
def test_a_tampered_statement_does_not_hold_and_the_words_say_why(good, tamper: Callable[[Said], None], named: str):
    tamper(good)
    assert any(named in sentence for sentence in failures(good)), failures(good)


def paths(value: Any, *before: Any) -> list[tuple[Any, ...]]:
    """Every way into nested records and lists."""
    members = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [one for name, inner in members for one in ((*before, name), *paths(inner, *before, name))]


def put(said: Said, path: tuple[Any, ...], value: Any) -> Said:
    changed = deepcopy(said)
    inner: Any = changed
    for name in path[:-1]:
        inner = inner[name]
    inner[path[-1]] = value
    return changed


@pytest.mark.parametrize("value", [None, 0, -1, 2**80, True, "x", [], ["x"], {"x": 1}], ids=repr)
def test_whatever_stands_in_place_of_a_value_is_noticed_and_breaks_nothing(good, value):
    """All but what is only said and not proved: when it was made, and how the case's code is printed."""
    good["events"] = good["events"][:2]
    free = {("made",), ("printed",), ("form",), ("events",), ("head",)}
    unnoticed = [path for path in paths(good) if path not in free and not failures(put(good, path, value))]
    assert unnoticed == []


@pytest.mark.parametrize("body", ["[]", "{}", '{"sequence":1}', '{"sequence":"1","case":null}', "1", "null", "\ud800"])
def test_a_body_of_any_other_form_is_said_and_breaks_nothing(good, body):
    assert failures(put(good, ("events", 0, "body"), body))


@pytest.mark.parametrize("newer", [{"head": []}, {"head": {}}, {"head": None, "growth": 1}, {"head": {"size": "x"}}])
def test_a_newer_head_of_any_other_form_is_said_and_breaks_nothing(good, newer):
    assert failures(good, newer=newer)


def test_an_event_of_another_case_does_not_belong_whatever_its_proof(good, make):
    other = stated(make.case())
    mine = stated_again(good)
    stranger = other["events"][0]
    mine["events"].append(stranger)
    mine["head"] = other["head"]
    assert any(f"Event {stranger['sequence']}: it is of another case" in one for one in failures(mine))


def stated_again(said: Said) -> Said:
    return read(json.dumps(said).encode())


def test_another_key_than_the_one_you_know_is_said(good):
    assert any("not the one you named" in sentence for sentence in failures(good, key="00" * 32))


def test_a_newer_head_of_another_past_is_found(good, client, make):
    make.case()
    newer = client.get(reverse("custody:public-key") + f"?format=json&since={good['head']['size']}").json()
    wrong = [
        {**newer, "growth": newer["growth"][:-1]},
        {"head": newer["head"]},
        {},
        {**newer, "head": {**newer["head"], "root": "00" * 32}},
    ]
    assert all(failures(good, newer=one) for one in wrong)


@pytest.mark.parametrize(
    "data", [b"", b"{}", b"[]", b"%PDF-1.7 nothing", b'{"form":"custody statement v1"}', b"\xff", b"[" * 100_000]
)
def test_what_is_no_statement_is_refused_in_words(data):
    with pytest.raises(Unreadable, match=r"[.]|JSON"):
        read(data)


def test_the_programs_hashes_are_the_ledgers():
    leaves = [b"event %d" % n for n in range(21)]
    for i in range(21):
        proof = chain.inclusion_proof(leaves, i)
        assert check_statement.is_included(chain.leaf_hash(leaves[i]), i, 21, proof, chain.root(leaves))
        assert not check_statement.is_included(chain.leaf_hash(leaves[i]), (i + 1) % 21, 21, proof, chain.root(leaves))
    for m in range(1, 22):
        proof, roots = chain.consistency_proof(leaves, m), (chain.root(leaves[:m]), chain.root(leaves))
        assert check_statement.has_grown(m, 21, *roots, proof)
        assert not check_statement.has_grown(m, 21, roots[1], roots[0], [*proof, roots[0]])
    salt = b"s" * 32
    assert check_statement.commitment(salt, "by", "re\u0301seau") == chain.commitment(salt, "by", "r\u00e9seau")


# --- the paper and the program ----------------------------------------------------------------------------------------


@pytest.fixture
def printed(case, make) -> Paper:
    return papers.print_statement(case.thing, by=make.actor(Role.COUNTER), issued=timezone.now())


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """As a stranger runs it: this one file, outside the project."""
    words = [sys.executable, "-I", str(PROGRAM), *map(str, arguments)]
    return subprocess.run(words, capture_output=True, text=True, check=False)


def test_the_pdf_carries_its_statement_and_the_program_says_that_it_holds(printed, tmp_path):
    pdf = tmp_path / "statement.pdf"
    pdf.write_bytes(reprint(printed))
    ran = run(pdf)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "Everything that was checked holds." in ran.stdout
    assert "Shelf B7" in ran.stdout


def test_the_program_runs_on_the_standard_library_alone(good, tmp_path):
    file = tmp_path / "statement.json"
    file.write_text(json.dumps(good))
    words = [sys.executable, "-I", "-S", str(PROGRAM), str(file)]
    ran = subprocess.run(words, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    assert "“cryptography” is not installed" in ran.stdout


def test_the_program_says_no_and_its_exit_code_too(good, tmp_path):
    change_a_name(good)
    file = tmp_path / "statement.json"
    file.write_text(json.dumps(good))
    ran = run(file)
    assert ran.returncode == 1
    assert "This statement DOES NOT HOLD." in ran.stdout
    assert run(tmp_path / "missing.pdf").returncode == 2


@pytest.mark.skipif(shutil.which("pdfdetach") is None, reason="no pdfdetach on this machine")
def test_another_program_takes_the_same_statement_out_of_the_pdf(printed, tmp_path):
    """pdfdetach of poppler-utils, and qpdf's check of the file's structure where it is installed."""
    pdf, out = tmp_path / "statement.pdf", tmp_path / "out.json"
    pdf.write_bytes(reprint(printed))
    subprocess.run(["pdfdetach", "-save", "1", "-o", str(out), str(pdf)], check=True)
    assert json.loads(out.read_bytes()) == read(pdf.read_bytes())
    if shutil.which("qpdf"):
        assert subprocess.run(["qpdf", "--check", str(pdf)], capture_output=True, check=False).returncode == 0


def test_two_statements_in_one_pdf_are_refused(printed):
    pdf = reprint(printed)
    with pytest.raises(Unreadable, match="more than one"):
        read(pdf + pdf)


def test_while_nothing_more_happens_it_is_the_same_paper(printed, case, make, noon):
    by = make.actor(Role.COUNTER)
    assert papers.print_statement(case.thing, by=by, issued=noon) == printed
    make.case()
    assert papers.print_statement(case.thing, by=by, issued=noon) == printed
    move(thing=case.items.first().thing, to=make.place(kind=Place.Kind.BENCH), by=make.everyone(), happened=noon)
    assert papers.print_statement(case.thing, by=by, issued=noon) != printed


def test_an_erased_text_is_not_printed_again(printed, case, make, noon):
    EventText.objects.filter(field="by").delete()
    again = papers.print_statement(case.thing, by=make.actor(Role.COUNTER), issued=noon)
    assert again != printed
    assert all("by" not in event["texts"] for event in read(reprint(again))["events"])


def test_the_head_on_a_paper_is_kept_for_ever(printed):
    kept = KeptHead.objects.get(because="custody statement")
    assert read(reprint(printed))["head"] == kept.as_signed().as_record()


def test_the_docket_prints_it(case, client_as):
    client = client_as(Role.COUNTER)
    url = reverse("custody:statement", args=[str(case)])
    assert url in client.get(case.get_absolute_url()).content.decode()
    answer = client.post(url)
    assert (answer.status_code, answer.url) == (303, Paper.objects.get(kind="custody-statement").get_absolute_url())


def test_an_auditor_prints_none(case, make, client_as):
    with pytest.raises(NotAllowed):
        papers.print_statement(case.thing, by=make.actor(Role.AUDITOR), issued=timezone.now())
    assert client_as(Role.AUDITOR).post(reverse("custody:statement", args=[str(case)])).status_code == 403


def test_what_is_no_case_has_no_statement(case, client_as):
    for code in (str(case.items.first()), "nothing"):
        assert client_as(Role.COUNTER).post(reverse("custody:statement", args=[code])).status_code == 404


def test_anybody_downloads_the_program(client, db):
    answer = client.get(reverse("custody:verifier"))
    assert answer.content == PROGRAM.read_bytes()
    assert "check_statement.py" in answer["Content-Disposition"]
    assert reverse("custody:verifier") == "/custody/check-statement.py"
