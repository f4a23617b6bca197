"""Addresses of lists of files, under /bench/."""

from __future__ import annotations

from django.urls import path

from labcases.bench.files import views

urlpatterns = [
    path("<str:code>/files/", views.files, name="files"),
    path("<str:code>/files/add/", views.add_files, name="add-files"),
    path("<str:code>/files/read/<str:digest>/", views.read_files, name="read-files"),
    path("<str:code>/files/ties/<int:pk>/drop/", views.drop_tie, name="drop-files-tie"),
    path("<str:code>/files/<int:number>/", views.file_list, name="file-list"),
    path("<str:code>/files/<int:number>/original/", views.original, name="files-original"),
    path("<str:code>/files/<int:number>/withdraw/", views.withdraw, name="withdraw-files"),
    path("<str:code>/files/<int:number>/anew/", views.judge_anew, name="judge-files"),
    path("<str:code>/files/<int:number>/take/", views.take, name="take-files"),
    path("<str:code>/files/<int:number>/tie/", views.tie, name="tie-files"),
    path("<str:code>/files/<int:number>/<int:row>/", views.one_file, name="one-file"),
    path("<str:code>/files/<int:number>/<int:row>/sample/", views.note_sample, name="note-sample"),
]
