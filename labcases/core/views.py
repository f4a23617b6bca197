"""What every view is made of: page or fragment, a form that is bound to what was typed, a press that counts once."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar
from urllib.parse import urlsplit

from django.apps import apps
from django.contrib import messages
from django.db import IntegrityError
from django.db.models import BaseConstraint, Model, UniqueConstraint
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict, StreamingHttpResponse
from django.shortcuts import render
from django.template.response import TemplateResponse
from django.utils.cache import patch_vary_headers
from django.utils.http import content_disposition_header
from django_htmx.http import HttpResponseClientRedirect, HttpResponseLocation

from labcases.core import actions, lists, workbook
from labcases.core.forms import LabForm
from labcases.core.refused import Refused

F = TypeVar("F", bound=LabForm)
HELD = "typed-before-log-in"
WHOLE = "#docket"  # what comes back fresh around a form that stood in place


def see_other(request: HttpRequest, address: str) -> HttpResponse:
    """After a POST: go and look (303), or tell htmx to.

    A form that stands in place of a section (``X-In-Place``: the path of the page around it) has that page come back
    fresh where it is, when it leads there anyway.
    """
    if request.headers.get("X-In-Place") == urlsplit(address).path and getattr(request, "htmx", False):
        return HttpResponseLocation(urlsplit(address).path, target=WHOLE, select=WHOLE, swap="outerHTML")
    if getattr(request, "htmx", False) and not request.htmx.boosted:  # type: ignore[attr-defined]
        return HttpResponseClientRedirect(address)
    response = HttpResponseRedirect(address)
    response.status_code = 303
    return response


def page_or_fragment(
    request: HttpRequest, page: str, fragment: str, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """The whole page, or only the part that htmx asked for: one address serves both."""
    hx = request.htmx  # type: ignore[attr-defined]
    small = bool(hx) and not hx.boosted and not hx.history_restore_request
    response = TemplateResponse(request, fragment if small else page, context, status=status)
    patch_vary_headers(response, ["HX-Request", "HX-Boosted", "HX-History-Restore-Request"])
    return response


def show(request: HttpRequest, page: str, context: dict[str, Any]) -> HttpResponse:
    """A page with or without a form; 422 when the form in it has something to say."""
    form = context.get("form")
    wrong = isinstance(form, LabForm) and form.is_bound and bool(form.errors)
    return TemplateResponse(request, page, context, status=422 if wrong else 200)


def bound(request: HttpRequest, form_class: type[F], **kwargs: Any) -> F:
    """The form filled with what was sent now, or with what was sent just before the log-in was lost.

    In the second case nothing is done yet: the form comes back filled in, and the person sends it again.
    """
    if request.method == "POST":
        return form_class(request.POST, request.FILES, **kwargs)
    held = request.session.get(HELD)
    if held and held.get("path") == request.path:
        del request.session[HELD]
        messages.warning(request, "Nothing is recorded yet: here is what you typed before the log-in. Send it again.")
        return form_class(QueryDict(held["body"]), **kwargs)
    return form_class(**kwargs)


def press(request: HttpRequest, form: LabForm, verb: str, act: Callable[[dict[str, Any]], Any]) -> HttpResponse | None:
    """Do what the form asks, once, and send the person on; None when the form must be shown.

    ``act`` gets the cleaned data and returns an address or an object with ``get_absolute_url``.
    A refusal becomes sentences on top of the form.
    """
    if request.method != "POST":
        return None
    content = actions.fingerprint(request.POST, leave_out=form.unhashed)
    if not form.is_valid():
        # Of two presses the first may have made the very thing that the second one's checks now stumble over.
        made_before = actions.result_of(key=form.key, person=request.user, verb=verb, content=content)
        return see_other(request, made_before) if made_before else None

    def run() -> str:
        made = act(form.cleaned_data)
        return made if isinstance(made, str) else str(made.get_absolute_url())

    try:
        address = actions.once(key=form.key, person=request.user, verb=verb, content=content, act=run)
    except Refused as refused:
        form.add_refusal(refused)
        return None
    except IntegrityError as said:
        form.add_refusal(Refused("This cannot be recorded as it stands.", why=_constraint_words(said)))
        return None
    return see_other(request, address)


def _constraint_words(said: IntegrityError) -> str:
    """The sentence of the rule that spoke: PostgreSQL names every rule, SQLite names the columns of a unique one."""
    for model in apps.get_models():
        for constraint in model._meta.constraints:
            if re.search(rf"\b{constraint.name}\b", str(said)) or _columns(model, constraint) == str(said):
                return str(constraint.get_violation_error_message())
    return "Something it names was changed by someone else in the meantime. Reload the page and look again."


def _columns(model: type[Model], constraint: BaseConstraint) -> str:
    """How SQLite says that a unique rule was broken."""
    column = {field.name: field.attname for field in model._meta.concrete_fields}
    fields = constraint.fields if isinstance(constraint, UniqueConstraint) else ()
    columns = (f"{model._meta.db_table}.{column[name]}" for name in fields)
    return f"UNIQUE constraint failed: {', '.join(columns)}"


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> StreamingHttpResponse:
    """A list as a CSV file, streamed."""
    response = StreamingHttpResponse(lists.csv_lines(head, rows), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = content_disposition_header(True, f"{name}.csv") or "attachment"
    return response


def xlsx_file(name: str, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> FileResponse:
    """A list as a workbook, written to disk first and sent from there."""
    out = tempfile.TemporaryFile()  # noqa: SIM115 the response closes it
    workbook.write(out, head, rows)
    out.seek(0)
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return FileResponse(out, as_attachment=True, filename=f"{name}.xlsx", content_type=kind)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page's own key had expired. What was typed is still in the browser: going back shows it."""
    return render(request, "403_csrf.html", {"reason": reason}, status=403)
