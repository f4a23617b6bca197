"""Addresses of the bench order and of the lab's protocols."""

from __future__ import annotations

from django.urls import path

from labcases.bench.protocols import views
from labcases.bench.protocols.editor import views as editor

urlpatterns = [
    path("protocols/", views.protocols, name="protocols"),
    path("protocols/<slug:kind>/", views.protocol, name="protocol"),
    path("protocols/<slug:kind>/edit/", editor.edit, name="edit-protocol"),
    path("protocols/<slug:kind>/edit/again/", editor.drop_draft, name="drop-protocol-draft"),
    path("protocols/<slug:kind>/edit/step/", editor.add_step, name="add-protocol-step"),
    path("protocols/<slug:kind>/edit/step/<slug:key>/", editor.edit_step, name="edit-protocol-step"),
    path("protocols/<slug:kind>/edit/step/<slug:key>/up/", editor.step_up, name="protocol-step-up"),
    path("protocols/<slug:kind>/edit/step/<slug:key>/down/", editor.step_down, name="protocol-step-down"),
    path("protocols/<slug:kind>/edit/step/<slug:key>/retire/", editor.retire_step, name="retire-protocol-step"),
    path("liftings/", views.liftings, name="liftings"),
    path("<str:code>/order/", views.order, name="order"),
    path("<str:code>/order/version/", views.move, name="move-protocol"),
    path("<str:code>/order/back/<int:pk>/", views.take_back, name="take-back"),
    path("<str:code>/order/lift/<path:key>/", views.lift, name="lift"),
]
