"""The face of setting up: one page, seen once."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from labcases.core.refused import Refused
from labcases.core.views import bound, see_other, show
from labcases.ops import actions, first_manager
from labcases.ops.forms import FirstManagerForm


@login_not_required
@sensitive_post_parameters("password", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def set_up(request: HttpRequest, token: str) -> HttpResponse:
    """Where the first manager is made; the token in the address is printed where the server is started."""
    if not first_manager.is_right(settings.KEY_DIR, token):
        raise actions.NoSetUp
    form = bound(request, FirstManagerForm)
    if request.method == "POST" and form.is_valid():
        said = {name: form.cleaned_data[name] for name in ("lab", "login", "name", "password")}
        try:
            person = actions.make_first_manager(key_dir=settings.KEY_DIR, token=token, **said)
        except Refused as refused:
            form.add_refusal(refused)
        else:
            login(request, person)
            return see_other(request, resolve_url(settings.LOGIN_REDIRECT_URL))
    return show(request, "ops/set_up.html", {"form": form})
