"""Addresses of reading, under /bench/."""

from __future__ import annotations

from django.urls import path

from labcases.bench.arrays import views as arrays
from labcases.bench.reading.views import ahead, coverage, places, tables

urlpatterns = [
    path("<str:code>/coverage/", coverage.coverage, name="coverage"),
    path("<str:code>/coverage/by-hand/", coverage.by_hand, name="coverage-by-hand"),
    path("<str:code>/coverage/anew/", coverage.rebuild, name="rebuild-coverage"),
    path("<str:code>/coverage/print/", coverage.print_it, name="print-coverage"),
    path("<str:code>/coverage/<int:number>/", coverage.upload, name="coverage-upload"),
    path("<str:code>/coverage/<int:number>/file/", coverage.upload_file, name="coverage-file"),
    path("<str:code>/coverage/<int:number>/withdraw/", coverage.withdraw, name="withdraw-coverage"),
    path("<str:code>/tables/<str:purpose>/", tables.table, name="table"),
    path("<str:code>/tables/<str:purpose>/<str:digest>/", tables.read_table, name="read-table"),
    path("<str:code>/layout/", places.layout, name="layout"),
    path("<str:code>/areas/", places.areas, name="areas"),
    path("<str:code>/areas/tie/", places.tie_area, name="tie-area"),
    path("<str:code>/areas/<int:pk>/drop/", places.drop_area, name="drop-area"),
    path("<str:code>/heads/", places.heads, name="heads"),
    path("<str:code>/heads/<int:head>/", places.judge_head, name="judge-head"),
    path("<str:code>/plan/", ahead.plans, name="plans"),
    path("<str:code>/plan/<int:number>/", ahead.plan, name="plan"),
    path("<str:code>/array/", arrays.array, name="array"),
    path("<str:code>/array/<int:pk>/check/", arrays.check_array, name="check-array"),
    path("<str:code>/chip-reads/", arrays.chip_reads, name="chip-reads"),
    path("<str:code>/forecast/", ahead.forecast, name="forecast"),
    path("<str:code>/forecast/note/", ahead.note_progress, name="note-progress"),
]
