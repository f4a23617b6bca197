"""Writing to customers, noting what was said, wordings, and the list of messages."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labcases.cases.models import Case
from labcases.cases.papers import print_packing_slip
from labcases.cases.queries import case_for
from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper
from labcases.updates import actions, queries, tasks
from labcases.updates.forms import (
    ChooseWording,
    MessageFilter,
    NewWordingForm,
    NoteForm,
    TestMailForm,
    WordingForm,
    WriteForm,
)
from labcases.updates.mailto import mailto
from labcases.updates.models import Message
from labcases.updates.wordings import GAPS

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
ROWS = 50
SLIP_WORDING = "expected"  # what the mail with a packing slip says unless it is written anew


# --- writing: choose and write, read, send ----------------------------------------------------------------------


@GET_OR_POST
@needs(Right.TELL)
def write(request: StaffRequest, code: str) -> HttpResponse:
    """Write a mail, begun from a wording (``?wording=``) or from an earlier mail (``?again=``). POST sends it."""
    case = case_for(request.user, code)
    choice = queries.wordings_for(case)
    draft = _draft(request, case, choice)
    form = bound(request, WriteForm, initial=draft.__dict__)

    def act(said: dict[str, Any]) -> Message:
        about = {name: said[name] for name in ("to", "subject", "body", "wording")}
        return actions.send_update(case=case, by=request.actor, happened=timezone.now(), **about)

    return press(request, form, "send-update", act) or _writing(request, case, form, choice)


@GET_OR_POST
@needs(Right.TELL)
def read(request: StaffRequest, code: str) -> HttpResponse:
    """The mail as it will go out, to be read once more; the form again when something is wrong with it."""
    case = case_for(request.user, code)
    form = bound(request, WriteForm)
    if not form.is_bound:
        return redirect("updates:write", case.thing.printed_code)
    if not form.is_valid():
        return _writing(request, case, form, queries.wordings_for(case))
    said = form.cleaned_data
    by_hand = mailto(said["to"], subject=said["subject"], body=said["body"])
    context = {"case": case, "form": form, "said": said, "from_whom": tasks.sender(), "by_hand": by_hand}
    return show(request, "updates/read.html", {**context, "hindrance": tasks.hindrance(), "place": "Office"})


@GET_OR_POST
@needs(Right.TELL)
def change(request: StaffRequest, code: str) -> HttpResponse:
    """Back from reading to writing, with everything as it was typed."""
    case = case_for(request.user, code)
    typed = bound(request, WriteForm)
    if not typed.is_bound:
        return redirect("updates:write", case.thing.printed_code)
    return _writing(request, case, WriteForm(initial=dict(typed.data.items())), queries.wordings_for(case))


def _draft(request: StaffRequest, case: Case, choice: list[queries.Words]) -> queries.Draft:
    again = request.GET.get("again", "")
    if again.isdecimal() and len(again) < 19 and (earlier := case.messages.filter(pk=again, channel="email").first()):
        return queries.Draft(earlier.wording, earlier.with_whom, earlier.subject, earlier.body)
    return queries.draft(case, choice, request.GET.get("wording"), request.user)


def _writing(request: StaffRequest, case: Case, form: WriteForm, choice: list[queries.Words]) -> HttpResponse:
    chosen = form["wording"].value() or ""
    context = {
        "case": case,
        "form": form,
        "choose": ChooseWording({"wording": chosen}, choice=choice, auto_id="choose-%s"),
        "addresses": queries.addresses(case),
        "hindrance": tasks.hindrance(),
        "place": "Office",
    }
    return show(request, "updates/write.html", context)


@GET_OR_POST
@needs(Right.TELL)
def send_slip(request: StaffRequest, code: str) -> HttpResponse:
    """The packing slip as the case stands now, with its advice as the mail's text. It is printed before it is sent."""
    case = case_for(request.user, code)
    start = queries.draft(case, queries.wordings_for(case), SLIP_WORDING, request.user)
    form = bound(request, WriteForm, initial=start.__dict__)
    slip = _slip(request, case, form) if request.method == "POST" and form.is_valid() else None

    def act(said: dict[str, Any]) -> Message:
        about = {name: said[name] for name in ("to", "subject", "body")}
        about |= {"wording": SLIP_WORDING, "attached": slip}
        return actions.send_update(case=case, by=request.actor, happened=timezone.now(), **about)

    done = press(request, form, "send-slip", act) if slip else None
    context = {"case": case, "form": form, "addresses": queries.addresses(case), "hindrance": tasks.hindrance()}
    return done or show(request, "updates/send_slip.html", {**context, "place": "Counter"})


def _slip(request: StaffRequest, case: Case, form: WriteForm) -> Paper | None:
    """Printed outside the transaction that sends it; None, with the reason on the form, when it cannot be."""
    try:
        return print_packing_slip(case, by=request.user.acting(Right.TAKE_IN), size=request.lab.paper_size)
    except Refused as refused:
        form.add_refusal(refused)
        return None


# --- what was said otherwise ------------------------------------------------------------------------------------


@GET_OR_POST
@needs(Right.TELL)
def note(request: StaffRequest, code: str) -> HttpResponse:
    """Note a call, a chat, a letter or a talk."""
    case = case_for(request.user, code)
    start = {"with_whom": queries.reader(case).name}
    form = bound(request, NoteForm, choice=queries.wordings_for(case), initial=start)

    def act(said: dict[str, Any]) -> Message:
        said.pop("once")
        return actions.note_call(case=case, by=request.actor, **said)

    page = {"title": "Note what was said", "button": "Note it", "about": case, "about_words": str(case.owner)}
    done = press(request, form, "note-call", act)
    return done or show(request, "verb.html", {**page, "form": form, "case": case, "place": "Office"})


# --- messages that are there ------------------------------------------------------------------------------------


def _message(pk: int) -> Message:
    return get_object_or_404(queries.outbox(), pk=pk)


@require_GET
@needs(Right.LOOK)
def message(request: StaffRequest, pk: int) -> HttpResponse:
    """One message in full, and how its sending went."""
    return show(request, "updates/message.html", {"message": _message(pk), "place": "Office"})


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.TELL)
def try_again(request: StaffRequest, pk: int) -> HttpResponse:
    """Send a mail that failed or waits, now."""
    found = _message(pk)
    if request.method == "POST":
        actions.try_again(message=found, by=request.actor, happened=timezone.now())
    return see_other(request, reverse("updates:message", args=[pk]))


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.TELL)
def leave_unsent(request: StaffRequest, pk: int) -> HttpResponse:
    """Take a mail that has not gone out of the outbox."""
    found = _message(pk)
    if request.method == "POST":
        actions.leave_unsent(message=found, by=request.actor, happened=timezone.now())
    return see_other(request, reverse("updates:message", args=[pk]))


@require_GET
@needs(Right.LOOK)
def messages(request: StaffRequest) -> HttpResponseBase:
    """Every message, newest first; ``?state=waiting`` is the outbox."""
    form = MessageFilter(request.GET)
    listed = form.narrow(queries.outbox())
    if request.GET.get("format") == "csv":
        head = ["case", "owner", "happened", "how", "from them", "with whom", "subject", "state", "sent", "by", "error"]
        rows = (
            (m.case, m.case.owner, m.happened, m.get_channel_display(), "yes" if m.incoming else "no", m.with_whom,
             m.subject, m.get_state_display(), m.sent, m.by, m.error)
            for m in listed.iterator()
        )  # fmt: skip
        return csv_file("messages", head, rows)
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    context = {"filter": form, "page": page, "hindrance": tasks.hindrance(), "place": "Office"}
    return show(request, "updates/messages.html", context)


# --- wordings and the test mail ---------------------------------------------------------------------------------


@require_GET
@needs(Right.LOOK)
def wordings(request: StaffRequest) -> HttpResponse:
    """Every wording there is."""
    return show(request, "updates/wordings.html", {"wordings": queries.all_wordings(), "place": "Office"})


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_LAB)
def wording(request: StaffRequest, key: str, language: str) -> HttpResponse:
    """Read a wording; a manager changes it."""
    words = queries.wording(key, language)
    form = bound(request, WordingForm, initial=words.__dict__)

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        said |= {"key": key, "language": language}
        actions.save_wording(by=request.actor, happened=timezone.now(), **said)
        return reverse("updates:wordings")

    context = {"form": form, "words": words, "gaps": GAPS.values(), "place": "Office"}
    return press(request, form, "save-wording", act) or show(request, "updates/wording.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def new_wording(request: StaffRequest) -> HttpResponse:
    """A wording of the lab's own, or one of the defaults in another language."""
    form = bound(request, NewWordingForm, choice=queries.all_wordings())

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        actions.save_wording(key=said.pop("stands_for"), by=request.actor, happened=timezone.now(), **said)
        return reverse("updates:wordings")

    context = {"form": form, "words": None, "gaps": GAPS.values(), "place": "Office"}
    return press(request, form, "new-wording", act) or show(request, "updates/wording.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_LAB)
def drop_wording(request: StaffRequest, key: str, language: str) -> HttpResponse:
    """Take the lab's own words away; a default counts again."""
    words = queries.wording(key, language)
    if request.method == "POST" and words.own:
        actions.drop_wording(wording=words.own, by=request.actor, happened=timezone.now())
    return see_other(request, reverse("updates:wordings"))


@GET_OR_POST
@needs(Right.KEEP_LAB)
def test_mail(request: StaffRequest) -> HttpResponse:
    """Send a mail now, to see whether the settings work. Outside ``press``: nothing is sent inside a transaction."""
    form = bound(request, TestMailForm, initial={"to": request.lab.email})
    sent = ""
    if form.is_bound and form.is_valid():
        try:
            sent = actions.send_test(by=request.actor, to=form.cleaned_data["to"])
        except Refused as refused:
            form.add_refusal(refused)
    context = {"form": form, "sent": sent, "from_whom": tasks.sender(), "place": "Office"}
    return show(request, "updates/test_mail.html", context)
