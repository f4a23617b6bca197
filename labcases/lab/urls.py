"""Addresses of the room: the door, and the lab's own pages."""

from __future__ import annotations

from django.urls import path

from labcases.lab import views

app_name = "lab"
urlpatterns = [
    path("log-in/", views.log_in, name="log-in"),
    path("log-out/", views.log_out, name="log-out"),
    path("lab/", views.lab, name="lab"),
    path("lab/profile/", views.profile, name="profile"),
    path("lab/logo/", views.logo, name="logo"),
    path("lab/terms/", views.terms, name="terms"),
    path("lab/staff/new/", views.hire, name="hire"),
    path("lab/staff/<int:pk>/", views.staff, name="staff"),
]
