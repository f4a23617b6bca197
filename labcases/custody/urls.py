"""Addresses of the room, under /custody/."""

from __future__ import annotations

from django.urls import path

from labcases.custody import views

app_name = "custody"
urlpatterns = [
    path("things/", views.things, name="things"),
    path("things/<str:code>/", views.thing, name="thing"),
    path("places/new/", views.add_place, name="add-place"),
    path("places/<str:code>/", views.place, name="place"),
    path("places/<str:code>/change/", views.change_place, name="change-place"),
    path("move/", views.move, name="move"),
]
