"""Addresses of the room."""

from __future__ import annotations

from django.urls import path

from labcases.paper import views

app_name = "paper"
urlpatterns = [path("<int:pk>/", views.show, name="show")]
