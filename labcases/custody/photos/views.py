"""Photos of a thing or a draft: adding, showing, comparing, putting right. Files are served here and nowhere else."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from labcases.core import codes, vault
from labcases.core.refused import Refused
from labcases.core.text import one_line
from labcases.core.views import bound, press, see_other, show
from labcases.custody.models import Photo, Thing
from labcases.custody.photos import actions, darkroom, queries
from labcases.custody.photos.forms import WithdrawForm, WordsForm
from labcases.custody.photos.pictures import MOST_BYTES, NotAPicture
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Actor
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
NOTHING_SENT = "No photo was chosen. Choose one or several, or take one with the camera."
TOO_MANY_BYTES = f"It is larger than {MOST_BYTES // 1_000_000} MB. Send it smaller."


class ComeAgain(Refused):
    """The darkroom's line is full: the page sends the photo again by itself."""

    status = 503


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.PHOTOGRAPH)
def thing_photos(request: StaffRequest, code: str) -> HttpResponse:
    """Every photo of one thing; photos are sent here, one by one with scripts or several at once without."""
    thing = _thing(code)
    if request.method == "POST":
        return _sent(request, thing, back=request.path)
    return show(request, "custody/photos.html", {"thing": thing, "photos": queries.photos_of(thing)})


@GET_OR_POST
@needs(Right.PHOTOGRAPH)
def draft_photos(request: StaffRequest, key: UUID) -> HttpResponse:
    """Photos of an intake that is still being typed."""
    back = f"{reverse('cases:take-in')}?draft={key}"
    if request.method == "POST":
        return _sent(request, key, back=back)
    context = {"draft": key, "photos": queries.photos_of(key), "back": back}
    return show(request, "custody/photos.html", context)


@require_POST
@needs(Right.PHOTOGRAPH)
def batch_done(request: StaffRequest, batch: UUID) -> HttpResponse:
    """All photos of one go have come: the ledger records them now."""
    actions.close_batch(batch=batch)
    return HttpResponse(status=204)


# --- taking in --------------------------------------------------------------------------------------------------------


def _sent(request: StaffRequest, to: Thing | UUID, *, back: str) -> HttpResponse:
    files = request.FILES.getlist("photos")
    too_large = getattr(request, "too_large", [])
    if request.htmx:
        return _one(request, to, files, too_large)
    batch, kept = uuid4(), 0
    for name in too_large:
        messages.error(request, f"{name}: {TOO_MANY_BYTES}")
    for file in files:
        try:
            _take_in(file, to, request.actor, batch, _shows(request))
            kept += 1
        except (NotAPicture, Refused) as problem:
            messages.error(request, f"{file.name}: {_words(problem)}")
    actions.close_batch(batch=batch)
    if kept:
        messages.success(request, f"{kept} photo{'s' * (kept != 1)} kept.")
    elif not files and not too_large:
        messages.warning(request, NOTHING_SENT)
    return see_other(request, back)


def _one(request: StaffRequest, to: Thing | UUID, files: list[UploadedFile], too_large: list[str]) -> HttpResponse:
    """One file sent by the page's script: its small picture comes back, or a sentence."""
    if len(files) != 1:
        return _said(request, TOO_MANY_BYTES if too_large else NOTHING_SENT, 422)
    try:
        photo = _take_in(files[0], to, request.actor, _batch(request), _shows(request))
    except NotAPicture as problem:
        return _said(request, str(problem), 422)
    except Refused as refused:
        return _said(request, _words(refused), refused.status)
    return render(request, "custody/_photo.html", {"photo": photo})


def _take_in(file: UploadedFile, to: Thing | UUID, by: Actor, batch: UUID, words: str) -> Photo:
    """Raises NotAPicture or Refused. The name that was sent is not kept and decides nothing."""
    if (file.size or 0) > MOST_BYTES:
        raise NotAPicture(TOO_MANY_BYTES)
    data = file.read()
    try:
        taken = darkroom.develop(data)
    except darkroom.Busy:
        raise ComeAgain("Other photos are being taken in just now.", mend="Send this one again in a moment.") from None
    kept = actions.keep(taken, data)
    return actions.add_photos(kept=[kept], to=to, by=by, happened=timezone.now(), batch=batch, words=words)[0]


def _batch(request: HttpRequest) -> UUID:
    try:
        return UUID(request.POST.get("batch", ""))
    except ValueError:
        return uuid4()


def _shows(request: HttpRequest) -> str:
    """What the page that sends photos says they show (``?shows=``): the closed parcel, the opened one."""
    return one_line(request.GET.get("shows", ""))[:200]


def _words(problem: Exception) -> str:
    return " ".join(problem.sentences()) if isinstance(problem, Refused) else str(problem)


def _said(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    return render(request, "custody/_photo_refused.html", {"sentence": sentence}, status=status)


# --- showing ----------------------------------------------------------------------------------------------------------


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.PHOTOGRAPH)
def photo(request: StaffRequest, pk: int) -> HttpResponse:
    """One photo large, with what is known of it; its words and its thing are put right here."""
    found = queries.photo_for(request.user, pk)
    things = queries.things_of_its_case(found.thing)
    start = {"words": found.words, "thing": found.thing_id}
    form = bound(request, WordsForm, things=things, initial=start)

    def act(said: dict[str, Any]) -> str:
        now = timezone.now()
        actions.say_what_it_shows(photo=found, words=said["words"], by=request.actor, happened=now)
        if said.get("thing") and said["thing"] != found.thing:
            actions.put_with(photo=found, thing=said["thing"], by=request.actor, happened=now)
        return found.get_absolute_url()

    if done := press(request, form, f"photo {pk}", act):
        messages.success(request, "What it shows is kept.")
        return done
    beside = queries.beside(found)
    camera = queries.said_of_camera_time(found)
    context = {
        "photo": found,
        "form": form,
        "beside": beside,
        "camera": camera,
        "withdraw": WithdrawForm(auto_id="withdraw_%s"),
    }
    return show(request, "custody/photo.html", context)


@require_POST
@needs(Right.PHOTOGRAPH)
def withdraw(request: StaffRequest, pk: int) -> HttpResponse:
    """It was a mistake; it is not shown any more."""
    found = queries.photo_for(request.user, pk)
    form = bound(request, WithdrawForm)

    def act(said: dict[str, Any]) -> str:
        actions.withdraw(photo=found, because=said["because"], by=request.actor, happened=timezone.now())
        return _home(found)

    if done := press(request, form, f"withdraw photo {pk}", act):
        messages.success(request, "The photo is withdrawn.")
        return done
    context = {"title": "Withdraw a photo", "photo": found, "form": form, "back": _home(found), "place": "Custody"}
    return show(request, "custody/photo_withdraw.html", context)


def _home(photo: Photo) -> str:
    if photo.thing:
        return reverse("custody:thing-photos", args=[photo.thing.printed_code])
    return reverse("custody:draft-photos", args=[photo.draft])


@require_safe
@needs(Right.LOOK)
def photo_file(request: StaffRequest, pk: int, which: str) -> HttpResponse:
    """The copy that is shown, large or small. The browser keeps it for itself and asks each time whether it may."""
    found = queries.photo_for(request.user, pk)
    digest = {"shown": found.shown, "thumb": found.thumb}[which]
    response = get_conditional_response(request, etag=quote_etag(digest)) or HttpResponse(_stored(digest))
    name = f"{found.thing or 'photo'}-{found.pk}-{which}.jpg"
    about = {
        "Content-Type": "image/jpeg",
        "Content-Disposition": f'inline; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Cache-Control": "private, no-cache",
        "ETag": quote_etag(digest),
    }
    for header, value in about.items():
        response.headers[header] = value
    return response


def _stored(digest: str) -> bytes:
    try:
        return vault.get(digest)
    except (FileNotFoundError, vault.Damaged):
        raise Http404("The stored file of this photo is missing or was changed on the disk.") from None


@require_GET
@needs(Right.LOOK)
def compare(request: StaffRequest) -> HttpResponse:
    """Two photos side by side: ``?left=`` and ``?right=`` are photos, ``?with=`` the code of another thing."""
    left = queries.photo_for(request.user, _number(request.GET.get("left")))
    right = queries.photo_for(request.user, _number(request.GET["right"])) if request.GET.get("right") else None
    typed = request.GET.get("with", "").strip()
    beside = Thing.objects.filter(code=codes.fold(typed)).first() if typed else None
    context = queries.side_by_side(left, right, beside)
    unknown = typed if typed and beside is None else ""
    return show(request, "custody/compare.html", {**context, "typed": typed, "unknown": unknown})


def _number(text: str | None) -> int:
    if not (text or "").isdecimal() or len(text or "") > 15:
        raise Http404("Say which photo: ?left= and ?right= are numbers of photos.")
    return int(text or 0)


def _thing(code: str) -> Thing:
    found = Thing.objects.with_whereabouts().filter(code=codes.fold(code)).first()
    if found is None:
        raise Http404(f"Nothing carries the code {code}.")
    return found
