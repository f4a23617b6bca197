"""Log-in and log-out, and the pages on which a manager keeps the lab: profile, terms, staff."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import login, logout
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from labcases.core import vault
from labcases.core.views import HELD, bound, press, see_other, show
from labcases.lab import actions
from labcases.lab.access import StaffRequest, needs
from labcases.lab.forms import LogInForm, ProfileForm, StaffForm, TermsForm
from labcases.lab.models import Profile, Staff, TermsVersion
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@login_not_required
@sensitive_post_parameters("password")
@GET_OR_POST
def log_in(request: HttpRequest) -> HttpResponse:
    """Log in, and go on where the log-in was asked for."""
    onward = request.POST.get("next") or request.GET.get("next") or ""
    form = LogInForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        login(request, form.person)
        safe = url_has_allowed_host_and_scheme(onward, {request.get_host()}, require_https=request.is_secure())
        return see_other(request, onward if safe else resolve_url("docket:home"))
    return show(request, "lab/log_in.html", {"form": form, "next": onward, "held": HELD in request.session})


@login_not_required
@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("lab:log-in")


@require_GET
@needs(Right.LOOK)
def lab(request: StaffRequest) -> HttpResponse:
    """Everything about the lab on one page."""
    context = {"staff": Staff.objects.prefetch_related("held_roles"), "terms": TermsVersion.objects.all()}
    return show(request, "lab/lab.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def profile(request: StaffRequest) -> HttpResponse:
    form = bound(request, ProfileForm, initial=ProfileForm.initial_of(Profile.current()))

    def act(said: dict[str, Any]) -> str:
        logo, rate = said.pop("logo"), said.pop("tax_rate")
        said.pop("once")
        if logo:
            logo.seek(0)
            said |= {"logo": logo.read(), "logo_type": logo.image.get_format_mimetype()}
        actions.change_profile(by=request.actor, happened=timezone.now(), tax_rate=round(rate * 100), **said)
        return reverse("lab:lab")

    return press(request, form, "change-profile", act) or show(request, "lab/profile.html", {"form": form})


@require_GET
@needs(Right.LOOK)
def logo(request: StaffRequest) -> HttpResponse:
    """The lab's logo, for its own pages."""
    known = Profile.current()
    if not known.logo:
        raise Http404("The lab has no logo.")
    return HttpResponse(vault.get(known.logo), content_type=known.logo_type)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def terms(request: StaffRequest) -> HttpResponse:
    """Publish new terms, starting from those in force."""
    now = TermsVersion.objects.first()
    start = {"text": now.text if now else "", "version": f"{timezone.localdate():%d %B %Y}"}
    form = bound(request, TermsForm, initial=start)

    def act(said: dict[str, Any]) -> str:
        actions.publish_terms(version=said["version"], text=said["text"], by=request.actor, happened=timezone.now())
        return reverse("lab:lab") + "#terms"

    return press(request, form, "publish-terms", act) or show(request, "lab/terms.html", {"form": form, "now": now})


@sensitive_post_parameters("password")
@GET_OR_POST
@needs(Right.KEEP_LAB)
def hire(request: StaffRequest) -> HttpResponse:
    form = bound(request, StaffForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("name", "login", "password", "roles")}
        actions.hire(by=request.actor, happened=timezone.now(), **about)
        return reverse("lab:lab") + "#staff"

    return press(request, form, "hire", act) or show(request, "lab/staff.html", {"form": form})


@sensitive_post_parameters("password")
@GET_OR_POST
@needs(Right.KEEP_LAB)
def staff(request: StaffRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Staff.objects.prefetch_related("held_roles"), pk=pk)
    start = {"name": person.name, "login": person.login, "roles": person.roles, "is_active": person.is_active}
    form = bound(request, StaffForm, person=person, initial=start)

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        actions.change_staff(person=person, by=request.actor, happened=timezone.now(), **said)
        return reverse("lab:lab") + "#staff"

    return press(request, form, "change-staff", act) or show(
        request, "lab/staff.html", {"form": form, "person": person}
    )
