"""Addresses of the room, under /bench/."""

from __future__ import annotations

from django.urls import path

from labcases.bench import views

app_name = "bench"
urlpatterns = [
    path("<str:code>/examine/", views.examine, name="examine"),
    path("<str:code>/start/", views.start_work, name="start-work"),
    path("<str:code>/step/", views.note_step, name="note-step"),
    path("<str:code>/result/", views.record_result, name="record-result"),
    path("<str:code>/ready/", views.make_ready, name="make-ready"),
    path("<str:code>/back/", views.send_back, name="send-back"),
]
