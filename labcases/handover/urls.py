"""Addresses of the room, under /handover/."""

from __future__ import annotations

from django.urls import path

from labcases.handover import views
from labcases.handover.parcels import views as parcels

app_name = "handover"
urlpatterns = [
    path("while-you-wait/", views.while_you_wait, name="while-you-wait"),
    path("<str:code>/", views.hand_over, name="hand-over"),
    path("<str:code>/receipt/", views.receipt, name="receipt"),
    path("<str:code>/report/", views.report, name="report"),
    path("<str:code>/parcel/<int:number>/", parcels.arrived, name="parcel"),
]
