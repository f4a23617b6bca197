"""Addresses of the room."""

from __future__ import annotations

from django.urls import path

from labcases.people import views
from labcases.people.merging import views as merging

app_name = "people"
urlpatterns = [
    path("search/", views.search, name="search"),
    path("<int:pk>/", views.party, name="party"),
    path("<int:pk>/edit/", views.edit, name="edit"),
    path("<int:pk>/merge/", merging.merge, name="merge"),
    path("<int:pk>/part/", merging.part, name="part"),
]
