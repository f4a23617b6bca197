"""Addresses of the room: the interface under /api/, and the page of its tokens in The lab."""

from __future__ import annotations

from django.urls import path, re_path

from labcases.api.views import door, pages

app_name = "api"
urlpatterns = [
    path("api/", pages.interface, name="interface"),
    path("api/openapi.json", door.openapi, name="openapi"),
    re_path(r"^api/v1/(?P<rest>[\s\S]*)\Z", door.door, name="door"),  # line ends in it, too
    path("lab/computers/", pages.computers, name="computers"),
    path("lab/computers/new/", pages.admit, name="admit"),
    path("lab/computers/<int:pk>/revoke/", pages.revoke, name="revoke"),
]
