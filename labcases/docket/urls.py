"""Addresses of the room: the six places, the page of a case, finding."""

from __future__ import annotations

from django.urls import path

from labcases.docket import views
from labcases.docket.sheet import views as sheet

app_name = "docket"
urlpatterns = [
    path("", views.home, name="home"),
    path("find/", views.find, name="find"),
    path("bench/sheet/", sheet.sheet, name="sheet"),
    path("cases/<str:code>/", views.case, name="case"),
    *(path(f"{name}/", views.place, {"place": name}, name=name) for name in views.PLACES),
]
