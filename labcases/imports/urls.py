"""Addresses of the room, under /imports/."""

from __future__ import annotations

from django.urls import path

from labcases.imports import views

app_name = "imports"
urlpatterns = [
    path("new/<slug:kind>/", views.new, name="new"),
    path("<int:pk>/", views.one, name="one"),
    path("<int:pk>/going/", views.going, name="going"),
    path("<int:pk>/columns/", views.columns, name="columns"),
    path("<int:pk>/read-again/", views.read_again, name="read-again"),
    path("<int:pk>/take-in/", views.take_in, name="take-in"),
    path("<int:pk>/leave/", views.leave, name="leave"),
    path("<int:pk>/undo/", views.undo, name="undo"),
    path("<int:pk>/labels/", views.labels, name="labels"),
    path("<int:pk>/refused.csv", views.refused, name="refused"),
]
