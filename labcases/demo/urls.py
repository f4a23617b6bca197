"""Addresses of the room; a real lab has none of them."""

from __future__ import annotations

from django.conf import settings
from django.urls import URLPattern, path

from labcases.demo import views

app_name = "demo"
pages = [
    path("demo/mailbox/", views.mailbox, name="mailbox"),
    path("demo/mailbox/<int:pk>/", views.mail, name="mail"),
]
urlpatterns: list[URLPattern] = pages if settings.DEMO else []
