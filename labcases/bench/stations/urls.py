"""Addresses of stations and equipment."""

from __future__ import annotations

from django.urls import path

from labcases.bench.stations import views

urlpatterns = [
    path("stations/", views.stations, name="stations"),
    path("stations/running/", views.running, name="running"),
    path("stations/power-cut/", views.power_cut, name="power-cut"),
    path("stations/sessions/<int:pk>/end/", views.end, name="end-session"),
    path("stations/sessions/<int:pk>/watch/", views.watch, name="watch-session"),
    path("equipment/", views.equipments, name="equipments"),
    path("equipment/new/", views.keep_equipment, name="keep-equipment"),
    path("<str:code>/port/", views.begin, name="begin-session"),
]
