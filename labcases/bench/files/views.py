"""The pages of lists of files."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRefresh

from labcases.bench.files import actions, forms, queries
from labcases.bench.files.models import FileList, FileSample, WantedFiles
from labcases.bench.files.paths import shown
from labcases.bench.files.source import ListError, Source
from labcases.bench.reading.forms.verbs import BecauseForm
from labcases.bench.reading.queries import read_of
from labcases.bench.reading.views.common import GET_OR_POST, address, page
from labcases.cases.queries import item_for
from labcases.core import vault
from labcases.core.actions import remember
from labcases.core.forms import LabForm
from labcases.core.queries import remembered
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

WAITING = "lists-of-files"  # of the session: digest to name
MOST_WAITING = 10
AT_ONCE = 8 << 20  # bytes of a list that is read while its sender waits; a longer one is the worker's
PURPOSE = "files"
TOTALS_HEAD = ["kind", "files", "whole", "partial", "not read", "not known", "bytes whole or partial"]
MOST_EXTENTS = 200


@require_GET
@needs(Right.LOOK)
def files(request: StaffRequest, code: str) -> HttpResponseBase:
    """What was found on an item: totals by kind and state, the wanted list answered, samples, the lists."""
    item = item_for(request.user, code)
    found = queries.found_of([item]).get(item.pk)
    if request.GET.get("format") == "csv":
        kinds = found.kinds if found else {}
        rows = ([kind, c.total, c.files[1], c.files[2], c.files[3], c.files[0], c.bytes] for kind, c in kinds.items())
        return csv_file(f"files-{item}", TOTALS_HEAD, rows)
    lists = FileList.objects.filter(item=item).select_related("by", "withdrawal", "item__thing").order_by("-number")
    behind = FileList.objects.behind().filter(item=item).exists()
    return show(request, "bench/files.html", page(item, "Files found", found=found, lists=lists, behind=behind))


# --- a list comes in


@GET_OR_POST
@needs(Right.EXAMINE)
def add_files(request: StaffRequest, code: str) -> HttpResponse:
    """The list."""
    item = item_for(request.user, code)
    form = bound(request, forms.ListFileForm)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        digest = vault.put(file.read())
        try:
            Source(vault.path(digest), file.name or "")
        except ListError as wrong:
            form.add_error("file", str(wrong))
        else:
            waiting = {**request.session.get(WAITING, {}), digest: (file.name or "list")[:200]}
            request.session[WAITING] = dict(list(waiting.items())[-MOST_WAITING:])
            return see_other(request, address("read-files", item, digest))
    lead = "The bytes are kept as they come, with their digest; the columns are asked next."
    return show(request, "verb.html", page(item, "Add a list of files", form=form, lead=lead, button="Upload the list"))


@GET_OR_POST
@needs(Right.EXAMINE)
def read_files(request: StaffRequest, code: str, digest: str) -> HttpResponse:
    """Which column is which, what its words mean; then it is read, here when it is short, by the worker when not."""
    item = item_for(request.user, code)
    name = request.session.get(WAITING, {}).get(digest)
    if name is None or not vault.path(digest).exists():
        raise Http404("This list was not uploaded in this session, or is no longer here. Upload it again.")
    file = vault.path(digest)
    try:
        source = Source(file, name, request.POST.get("letters") or None)  # type: ignore[arg-type] # checked by the form
        source = source if source.headers else Source(file, name)
        known = {"remembered": remembered(PURPOSE, source.headers), "earlier": forms.earlier_how(item, source)}
        form = bound(request, forms.ReadListForm, read=read_of(item), source=source, **known)
    except (ListError, LookupError) as wrong:
        raise Http404(f"This list cannot be read. {wrong}") from None

    def act(said: dict[str, Any]) -> FileList:
        remember(PURPOSE, source.headers, form.mapping())
        how = form.how() | {"headers": source.headers}
        about = {"file": digest, "size": file.stat().st_size, "name": name, "how": how}
        return actions.receive(item=item, by=request.actor, happened=said["happened"], **about)

    if done := press(request, form, f"read-files {item.pk}", act):
        if file.stat().st_size <= AT_ONCE:
            for pk in FileList.objects.filter(item=item, file=digest, state="waiting").values_list("pk", flat=True):
                actions.read_list(pk)
        return done
    context = page(item, "Add a list of files", form=form, source=source, name=name, size=file.stat().st_size)
    context["first_rows"] = [
        [shown(cell.encode("utf-8", "surrogatepass"), 80) for cell in row] for row in form.rows[:6]
    ]
    return show(request, "bench/files_columns.html", context)


def list_for(request: StaffRequest, code: str, number: int) -> FileList:
    item = item_for(request.user, code)
    rows = FileList.objects.select_related("by", "withdrawal__by", "current", "item__thing", "item__case__thing")
    return get_object_or_404(rows, item=item, number=number)


def kept_for(request: StaffRequest, code: str, number: int) -> FileList:
    """A list that holds files and their states; 404 with a sentence otherwise."""
    found = list_for(request, code, number)
    if found.state != FileList.State.KEPT or found.current is None:
        raise Http404(f"List {number} holds no files yet.")
    return found


# --- a list is looked into


@require_GET
@needs(Right.LOOK)
def file_list(request: StaffRequest, code: str, number: int) -> HttpResponseBase:
    """A folder of a list and what lies in it; or what is sought under it, by kind, state and path."""
    found = list_for(request, code, number)
    item = found.item
    if found.state != FileList.State.KEPT or found.current is None:
        if request.htmx and not found.going:
            return HttpResponseClientRefresh()
        template = "bench/_files_going.html" if request.htmx else "bench/files_waiting.html"
        return show(request, template, page(item, f"List {number} of files", found=found))
    sift = forms.SiftForm(request.GET)
    asked = sift.cleaned_data if sift.is_valid() else {}
    with queries.open_list(found) as listed:
        sought = queries.Sought(asked.get("folder") or 0, *(asked.get(key, "") for key in ("kind", "state", "q")))
        seen = queries.browsed(found, listed, sought)
        if sought.folder >= seen.tree.size:
            raise Http404("There is no such folder in this list.")
        if request.GET.get("format") == "csv":
            return csv_file(f"files-{item}-{number}", queries.EXPORT_HEAD, list(seen.exported()))
        pages = Paginator(seen.chosen, queries.PAGE)
        here = pages.get_page(request.GET.get("page"))
        context = page(
            item, f"List {number} of files", found=found, seen=seen, here=seen.here(), way=seen.way(), page=here,
            folders=seen.folders(), files=seen.files(here.object_list), sift=sift, taken=seen.taken(), sought=sought,
            tick=forms.TickForm(), behind=FileList.objects.behind().filter(pk=found.pk).exists(),
        )  # fmt: skip
        return show(request, "bench/files_list.html", context)


@require_GET
@needs(Right.LOOK)
def one_file(request: StaffRequest, code: str, number: int, row: int) -> HttpResponse:
    """One file: its path in full, where it lies, what was said of it."""
    found = kept_for(request, code, number)
    with queries.open_list(found) as listed:
        if row >= listed.rows:
            raise Http404("There is no such file in this list.")
        line = listed.lines([row])[0]
        file = queries.browsed(found, listed, queries.Sought()).files([row])[0]
    extents = list(zip(line["firsts"], line["lengths"], strict=True))
    samples = FileSample.objects.filter(list=found, row=row).select_related("by")
    context = page(
        found.item, "A file", found=found, file=file, path=shown(line["path"]), created=line["created"],
        extents=extents[:MOST_EXTENTS], more=max(len(extents) - MOST_EXTENTS, 0), samples=samples,
    )  # fmt: skip
    return show(request, "bench/files_one.html", context)


@require_GET
@needs(Right.EXAMINE)
def original(request: StaffRequest, code: str, number: int) -> FileResponse:
    """The bytes as they came."""
    found = list_for(request, code, number)
    response = FileResponse(
        vault.path(found.file).open("rb"), as_attachment=True, filename=found.name or f"list-{number}",
        content_type="application/octet-stream",
    )  # fmt: skip
    response["X-Content-Type-Options"] = "nosniff"
    return response


# --- verbs on a list


@GET_OR_POST
@needs(Right.EXAMINE)
def withdraw(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Take a list back as a whole."""
    found = list_for(request, code, number)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("because", "happened")}
        actions.withdraw_list(found=found, by=request.actor, **about)
        return address("files", found.item)

    if done := press(request, form, f"withdraw-files {found.pk}", act):
        return done
    lead = f"{found.name or 'It'} is taken back as a whole. Its bytes stay; its files count no more."
    return show(request, "verb.html", page(found.item, f"Withdraw list {number}", form=form, lead=lead, danger=True))


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def judge_anew(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Work out the states of its files from the newest coverage."""
    found = kept_for(request, code, number)
    form = bound(request, LabForm)
    if done := press(request, form, f"judge-files {found.pk}", lambda said: found):
        actions.derive(found, anew=True)
        return done
    lead = "Every file is held against the newest coverage again. The same coverage gives the same states."
    return show(request, "verb.html", page(found.item, "Judge the files anew", form=form, lead=lead))


@require_POST
@needs(Right.EXAMINE)
def take(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Tick folders and files that the customer takes, or leaves."""
    found = kept_for(request, code, number)
    form = bound(request, forms.TickForm)

    def act(said: dict[str, Any]) -> str:
        about = {"folders": said["folder"], "rows": said["row"], "taken": said["taken"] == "yes"}
        actions.take(found=found, by=request.actor, happened=timezone.now(), **about)
        return _back(request, said["back"], found)

    if done := press(request, form, f"take-files {found.pk}", act):
        return done
    return show(request, "verb.html", page(found.item, "Tick what the customer takes", form=form, button="Tick them"))


def _back(request: StaffRequest, said: str, found: FileList) -> str:
    own = found.get_absolute_url()
    safe = url_has_allowed_host_and_scheme(said, allowed_hosts=None) and said.startswith(f"{own}?")
    return said if safe else own


@GET_OR_POST
@needs(Right.EXAMINE)
def tie(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Say which files a wanted line asks for."""
    found = kept_for(request, code, number)
    folder, name = _folder(request, found)
    initial = {"by": "pattern" if request.GET.get("q") else "folder", "pattern": request.GET.get("q", "")[:200]}
    form = bound(request, forms.TieForm, item=found.item, folder=folder, folder_name=name, initial=initial)

    def act(said: dict[str, Any]) -> str:
        actions.tie_wanted(found=found, by=request.actor, **form.tie())
        return address("files", found.item)

    if done := press(request, form, f"tie-files {found.pk}", act):
        if found.rows <= 500_000:
            actions.derive(found)
        return done
    return show(request, "verb.html", page(found.item, "Tie files to a wanted line", form=form, button="Tie them"))


def _folder(request: StaffRequest, found: FileList) -> tuple[int, str]:
    said = request.GET.get("folder", "")
    folder = int(said) if said.isascii() and said.isdigit() and len(said) < 10 else 0
    with queries.open_list(found) as listed:
        tree, _ = listed.tree()
    if folder >= tree.size:
        raise Http404("There is no such folder in this list.")
    return folder, shown(tree.path(folder), 250)


@GET_OR_POST
@needs(Right.EXAMINE)
def drop_tie(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """Take a tie to a wanted line out again."""
    item = item_for(request.user, code)
    rows = WantedFiles.objects.select_related("list__item__thing", "list__item__case__thing", "wanted")
    found = get_object_or_404(rows, list__item=item, pk=pk)
    form = bound(request, LabForm)

    def act(said: dict[str, Any]) -> str:
        actions.drop_tie(tie=found, by=request.actor, happened=timezone.now())
        return address("files", item)

    if done := press(request, form, f"drop-files {pk}", act):
        if found.list.rows <= 500_000:
            actions.derive(found.list)
        return done
    lead = f"{found.name} no longer answers “{found.wanted.what}”. The files stay in the list."
    return show(request, "verb.html", page(item, "Take the tie out", form=form, lead=lead))


@GET_OR_POST
@needs(Right.EXAMINE)
def note_sample(request: StaffRequest, code: str, number: int, row: int) -> HttpResponse:
    """Note that a file was opened, or could not be."""
    found = kept_for(request, code, number)
    with queries.open_list(found) as listed:
        if row >= listed.rows:
            raise Http404("There is no such file in this list.")
        path = shown(listed.lines([row])[0]["path"], 200)
    form = bound(request, forms.SampleForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("outcome", "words", "happened")}
        actions.note_sample(found=found, row=row, by=request.actor, **about)
        return address("one-file", found.item, number, row)

    if done := press(request, form, f"sample {found.pk} {row}", act):
        return done
    context = page(found.item, "Note a sample", form=form, lead=f"{path}. A file name is not a file.")
    return show(request, "verb.html", context | {"cautions": ["Open samples from the clone, never on the patient."]})
