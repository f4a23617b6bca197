"""Addresses of the room, under /updates/."""

from __future__ import annotations

from django.urls import path

from labcases.updates import views

app_name = "updates"
urlpatterns = [
    path("messages/", views.messages, name="messages"),
    path("messages/<int:pk>/", views.message, name="message"),
    path("messages/<int:pk>/try-again/", views.try_again, name="try-again"),
    path("messages/<int:pk>/leave-unsent/", views.leave_unsent, name="leave-unsent"),
    path("wordings/", views.wordings, name="wordings"),
    path("wordings/new/", views.new_wording, name="new-wording"),
    path("wordings/<slug:key>/<slug:language>/", views.wording, name="wording"),
    path("wordings/<slug:key>/<slug:language>/drop/", views.drop_wording, name="drop-wording"),
    path("test-mail/", views.test_mail, name="test-mail"),
    path("<str:code>/write/", views.write, name="write"),
    path("<str:code>/write/read/", views.read, name="read"),
    path("<str:code>/write/change/", views.change, name="change"),
    path("<str:code>/packing-slip/", views.send_slip, name="send-slip"),
    path("<str:code>/note/", views.note, name="note"),
]
