"""Every address, by place."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("labcases.docket.urls")),
    path("", include("labcases.lab.urls")),
    path("", include("labcases.cases.urls")),
    path("people/", include("labcases.people.urls")),
    path("imports/", include("labcases.imports.urls")),
    path("custody/", include("labcases.custody.urls")),
    path("updates/", include("labcases.updates.urls")),
    path("stockroom/", include("labcases.stock.urls")),
    path("bench/", include("labcases.bench.urls")),
    path("office/", include("labcases.office.urls")),
    path("handover/", include("labcases.handover.urls")),
    path("papers/", include("labcases.paper.urls")),
    path("", include("labcases.api.urls")),
    path("", include("labcases.ops.urls")),
    path("", include("labcases.demo.urls")),
]
