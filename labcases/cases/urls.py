"""Addresses of the room: the counter, and what is done to a case and its items there."""

from __future__ import annotations

from django.urls import path

from labcases.cases.pads import views as pads
from labcases.cases.readings import views as readings
from labcases.cases.scans import views as scans
from labcases.cases.secrecy import views as secrecy
from labcases.cases.views import day, intake, items, label, post, printing, stops, take_in

app_name = "cases"
urlpatterns = [
    # taking in
    path("counter/take-in/", take_in.take_in, name="take-in"),
    path("counter/drafts/<uuid:key>/", take_in.draft, name="draft"),
    path("counter/drafts/<uuid:key>/read/", readings.read_medium, name="read-medium"),
    path("counter/drafts/<uuid:key>/drop/", take_in.drop_draft, name="drop-draft"),
    path("cases/<str:code>/intake/", intake.complete_intake, name="complete-intake"),
    path("counter/today/", day.today, name="today"),
    # paper pads
    path("counter/pads/", pads.pads, name="pads"),
    path("counter/pads/<int:pad>/", pads.pad, name="pad"),
    path("counter/pads/<str:code>/void/", pads.void_sheet, name="void-sheet"),
    # asked, refused, posted
    path("counter/enquiries/", post.enquiries, name="enquiries"),
    path("counter/enquiries/new/", post.enquire, name="enquire"),
    path("counter/enquiries/<int:pk>/", post.enquiry, name="enquiry"),
    path("counter/enquiries/<int:pk>/end/", post.end_enquiry, name="end-enquiry"),
    path("counter/enquiries/<int:pk>/refuse/", post.refuse_enquiry, name="refuse-enquiry"),
    path("counter/refuse/", post.refuse, name="refuse"),
    path("counter/expect/", post.expect, name="expect"),
    path("counter/parcel/", post.parcel, name="parcel"),
    path("counter/parcel/unknown/", post.unknown_sender, name="unknown-sender"),
    path("cases/<str:code>/packing-slip/", post.packing_slip, name="packing-slip"),
    path("cases/<str:code>/arrive/", post.arrive, name="arrive"),
    path("cases/<str:code>/whose/", post.whose, name="whose"),
    path("cases/<str:code>/items/<int:number>/never-came/", post.never_came, name="never-came"),
    # putting right, and ending
    path("cases/<str:code>/items/<int:number>/", items.edit_item, name="edit-item"),
    path("cases/<str:code>/items/<int:number>/label/", label.label, name="label"),
    path("cases/<str:code>/items/<int:number>/end/", items.end_item, name="end-item"),
    path("cases/<str:code>/stop/", stops.stop, name="stop"),
    path("cases/<str:code>/stop/dispute/", stops.dispute, name="dispute"),
    path("cases/<str:code>/stop/settle-dispute/", stops.settle_dispute, name="settle-dispute"),
    path("cases/<str:code>/stop/hold/", stops.hold, name="hold"),
    path("cases/<str:code>/stop/end-hold/", stops.end_hold, name="end-hold"),
    # secrets
    path("cases/<str:code>/secrets/new/", secrecy.put_secret, name="put-secret"),
    path("cases/<str:code>/secrets/<int:pk>/", secrecy.show_secret, name="show-secret"),
    path("cases/<str:code>/secrets/<int:pk>/erase/", secrecy.erase_secret, name="erase-secret"),
    path("cases/<str:code>/take-on/", secrecy.take_on, name="take-on"),
    # papers
    path("cases/<str:code>/signed/", scans.signed_papers, name="signed-papers"),
    path("cases/<str:code>/signed/<int:pk>/", scans.signed_paper_file, name="signed-paper-file"),
    path("cases/<str:code>/signed/<int:pk>/withdraw/", scans.withdraw_paper, name="withdraw-paper"),
    path("cases/<str:code>/receipt/", printing.receipt, name="receipt"),
    path("cases/<str:code>/labels/", printing.labels, name="labels"),
]
