"""Addresses of the room."""

from __future__ import annotations

from django.urls import path

from labcases.ops import views

app_name = "ops"
urlpatterns = [path("set-up/<str:token>/", views.set_up, name="set-up")]
