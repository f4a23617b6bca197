"""Addresses of the room, under /bench/."""

from __future__ import annotations

from django.urls import path, re_path

from labcases.bench import views
from labcases.bench.dumps import views as dumps
from labcases.bench.evidence import views as evidence
from labcases.bench.files import urls as files
from labcases.bench.identity import views as identity
from labcases.bench.presence import views as presence
from labcases.bench.protocols import urls as protocols
from labcases.bench.reading import urls as reading
from labcases.bench.records import urls as records
from labcases.bench.stations import urls as stations
from labcases.bench.technical import views as technical

app_name = "bench"
urlpatterns = [
    *protocols.urlpatterns,
    *stations.urlpatterns,
    *records.urlpatterns,
    path("<str:code>/here/", presence.here, name="here"),
    path("dumps/<int:pk>/", dumps.dump, name="dump"),
    re_path(r"^dumps/(?P<pk>\d+)/(?P<which>first|second)/$", dumps.dump_file, name="dump-file"),
    path("families/<int:pk>/dump/", dumps.keep_family_dump, name="keep-family-dump"),
    path("<str:code>/dump/", dumps.keep_dump, name="keep-dump"),
    path("<str:code>/identify/", identity.identify, name="identify"),
    path("<str:code>/identify/answer/", identity.answer_identity, name="answer-identity"),
    path("<str:code>/identify/<int:pk>/", identity.reading, name="reading"),
    *files.urlpatterns,
    *reading.urlpatterns,
    path("<str:code>/wrong-item/", identity.lift_wrong_item, name="lift-wrong-item"),
    path("<str:code>/chip/", identity.remove_chip, name="remove-chip"),
    path("<str:code>/examine/", views.examine, name="examine"),
    path("<str:code>/examine/<int:pk>/photos/", evidence.evidence, name="evidence"),
    path("<str:code>/technical-report/", technical.technical_report, name="technical-report"),
    path("<str:code>/start/", views.start_work, name="start-work"),
    path("<str:code>/step/", views.note_step, name="note-step"),
    path("<str:code>/result/", views.record_result, name="record-result"),
    path("<str:code>/ready/", views.make_ready, name="make-ready"),
    path("<str:code>/back/", views.send_back, name="send-back"),
]
