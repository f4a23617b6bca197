"""Addresses of the room, under /custody/."""

from __future__ import annotations

from django.urls import path

from labcases.custody import views
from labcases.custody.breaks import views as breaks
from labcases.custody.noting import views as noting
from labcases.custody.photos import views as photos
from labcases.custody.scanning import views as scanning

app_name = "custody"
urlpatterns = [
    path("things/", views.things, name="things"),
    path("things/<str:code>/", views.thing, name="thing"),
    path("things/<str:code>/note/", noting.choose, name="note"),
    path("things/<str:code>/note/<slug:what>/", noting.note, name="note-one"),
    path("events/<int:sequence>/", noting.history, name="event"),
    path("events/<int:sequence>/correct/", noting.correct, name="correct"),
    path("breaks/", breaks.breaks, name="breaks"),
    path("breaks/<int:pk>/", breaks.one_break, name="break"),
    path("things/<str:code>/photos/", photos.thing_photos, name="thing-photos"),
    path("photos/drafts/<uuid:key>/", photos.draft_photos, name="draft-photos"),
    path("photos/batches/<uuid:batch>/", photos.batch_done, name="photos-done"),
    path("photos/compare/", photos.compare, name="compare"),
    path("photos/<int:pk>/", photos.photo, name="photo"),
    path("photos/<int:pk>/withdraw/", photos.withdraw, name="withdraw-photo"),
    path("photos/<int:pk>/shown.jpg", photos.photo_file, {"which": "shown"}, name="photo-shown"),
    path("photos/<int:pk>/thumb.jpg", photos.photo_file, {"which": "thumb"}, name="photo-thumb"),
    path("places/new/", views.add_place, name="add-place"),
    path("places/<str:code>/", views.place, name="place"),
    path("places/<str:code>/change/", views.change_place, name="change-place"),
    path("public-key/", views.public_key, name="public-key"),
    path("check/", views.check, name="check"),
    path("check-statement.py", views.verifier, name="verifier"),
    path("statements/<str:code>/", views.statement, name="statement"),
    path("move/", views.move, name="move"),
    path("scan/", scanning.scan, name="scan"),
    path("handed/<int:pk>/", scanning.asked, name="asked"),
    path("handed/<int:pk>/take/", scanning.take, name="take"),
    path("handed/<int:pk>/refuse/", scanning.refuse, name="refuse"),
    path("handed/<int:pk>/withdraw/", scanning.withdraw, name="withdraw"),
    path("pin/", scanning.pin, name="pin"),
    path("badges/", scanning.badges, name="badges"),
    path("rules/", scanning.rules, name="rules"),
]
