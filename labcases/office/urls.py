"""Addresses of the room, under /office/."""

from __future__ import annotations

from django.urls import path

from labcases.office import views

app_name = "office"
urlpatterns = [
    path("quotes/", views.quotes, name="quotes"),
    path("<str:code>/quote/", views.quote, name="quote"),
    path("<str:code>/within-limit/", views.within_limit, name="within-limit"),
    path("<str:code>/answer/", views.answer, name="answer"),
    path("<str:code>/payment/", views.payment, name="payment"),
    path("<str:code>/settle/", views.settle, name="settle"),
]
