"""Storage pools: the list, one with its images, and their verbs."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.cases.queries import case_for
from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock.forms.verbs import BecauseForm
from labcases.stock.pools import actions, papers, queries
from labcases.stock.pools.forms import EraseForm, PoolForm, SizeForm
from labcases.stock.pools.models import Pool, PoolImage
from labcases.stock.views.common import GET_OR_POST, page_number, page_of, said_of, sorted_by
from labcases.stock.wiping.forms import CertificateForm

COLUMNS = {"name": "name", "capacity": "capacity", "reserved": "reserved", "where": "where"}
IMAGES = {"item": "item__thing__code", "size": "size", "since": "happened", "ended": "ended"}


@require_GET
@needs(Right.LOOK)
def pools(request: StaffRequest) -> HttpResponseBase:
    """Every storage pool."""
    listed = sorted_by(request, Pool.objects.all(), COLUMNS, "name")
    if request.GET.get("format") == "csv":
        head = ["pool", "where", "capacity bytes", "reserved bytes", "free bytes", "in use"]
        rows = ((p.name, p.where, p.capacity, p.reserved, p.free, p.in_use) for p in listed.iterator())
        return csv_file("pools", head, rows)
    context = {"page": page_number(request, listed), "sort": "name", "place": "Stockroom"}
    return show(request, "stock/pools.html", context)


@require_GET
@needs(Right.LOOK)
def pool(request: StaffRequest, pk: int) -> HttpResponseBase:
    """One pool and every image that lies or lay on it."""
    found = queries.pool_for(pk)
    listed = sorted_by(request, PoolImage.objects.with_context().filter(pool=found), IMAGES, "-since")
    if request.GET.get("format") == "csv":
        head = ["patient", "case", "bytes", "since", "by", "state", "ended"]
        rows = ((i.item, i.item.case, i.size, i.happened, i.by, i.standing, i.ended) for i in listed.iterator())
        return csv_file("images", head, rows)
    context = {"pool": found, "page": page_number(request, listed), "sort": "-since", "place": "Stockroom"}
    return show(request, "stock/pool.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def add_pool(request: StaffRequest) -> HttpResponse:
    form = bound(request, PoolForm)

    def act(said: dict[str, Any]) -> Pool:
        return actions.keep_pool(by=request.actor, happened=timezone.now(), **form.told())

    context = page_of("Add a storage pool", form, None, "", back=reverse("stock:pools"))
    return press(request, form, "add-pool", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def change_pool(request: StaffRequest, pk: int) -> HttpResponse:
    found = queries.pool_for(pk)
    start = {name: getattr(found, name) for name in ("name", "where", "in_use", "note")}
    form = bound(request, PoolForm, pool=found, initial=start | {"capacity": f"{found.capacity} bytes"})

    def act(said: dict[str, Any]) -> Pool:
        return actions.keep_pool(pool=found, by=request.actor, happened=timezone.now(), **form.told())

    context = page_of("Change the pool", form, found, found.where, button="Keep the changes")
    return press(request, form, "change-pool", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def resize_image(request: StaffRequest, pk: int) -> HttpResponse:
    found = queries.image_for(pk)
    form = bound(request, SizeForm, initial={"size": f"{found.size} bytes"})

    def act(said: dict[str, Any]) -> PoolImage:
        return actions.resize_image(image=found, by=request.actor, **said_of(said, "size", "because", "happened"))

    lead = f"{found.pool.free:,} bytes are free on {found.pool}."
    context = page_of("Change the room", form, found, "", lead=lead, button="Reserve as much")
    return press(request, form, "resize-image", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def release_image(request: StaffRequest, pk: int) -> HttpResponse:
    found = queries.image_for(pk)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> PoolImage:
        return actions.release_image(image=found, by=request.actor, **said_of(said, "because", "happened"))

    lead = "Only when nothing was written there. An image that was written is erased by destroying its key."
    context = page_of("Release the room", form, found, "", lead=lead)
    return press(request, form, "release-image", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def erase_images(request: StaffRequest, code: str) -> HttpResponse:
    """Destroy the key of a case's images."""
    case = case_for(request.user, code)
    form = bound(request, EraseForm)

    def act(said: dict[str, Any]) -> PoolImage:
        about = said_of(said, "encrypted_with", "seen_how", "because", "happened")
        return actions.erase_images(case=case, by=request.actor, **about)[0]

    listed = PoolImage.objects.with_context().open().filter(item__case=case)
    cautions = [f"{image}: {image.size:,} bytes." for image in listed]
    cautions.append("Older backups of this database still hold the sealed key, until they are gone as well.")
    context = page_of("Erase the images", form, case, case.owner.name, cautions=cautions, danger=True)
    return press(request, form, "erase-images", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_STOCK)
def certificate(request: StaffRequest, pk: int) -> HttpResponse:
    """Print the certificate of an erased image. Setting takes its time: no transaction."""
    found = queries.image_for(pk)
    form = bound(request, CertificateForm)
    if request.method == "POST" and form.is_valid():
        told = {name: str(value) for name, value in form.cleaned_data.items() if name != "once"}
        try:
            paper = papers.print_certificate(found, told=told, by=request.actor, issued=timezone.now())
        except Refused as refused:
            form.add_refusal(refused)
        else:
            return see_other(request, paper.get_absolute_url())
    context = page_of("Print its certificate", form, found, "")
    return show(request, "verb.html", context)
