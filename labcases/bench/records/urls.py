"""Addresses of the lab's own records."""

from __future__ import annotations

from django.urls import path

from labcases.bench.records import views

urlpatterns = [
    path("equipment/<int:pk>/", views.equipment, name="equipment"),
    path("equipment/<int:pk>/log/", views.log, name="log-equipment"),
    path("competence/", views.competences, name="competences"),
    path("competence/new/", views.note_competence, name="note-competence"),
    path("competence/<int:pk>/end/", views.end_competence, name="end-competence"),
    path("went-wrong/", views.mishaps, name="mishaps"),
    path("went-wrong/new/", views.note_mishap, name="note-mishap"),
    path("went-wrong/<int:pk>/", views.mishap, name="mishap"),
]
