"""Addresses of the room, under /stockroom/."""

from __future__ import annotations

from django.urls import path

from labcases.stock.finding import views as finding
from labcases.stock.imports import views as tables
from labcases.stock.pools import views as pools
from labcases.stock.takes import views as takes
from labcases.stock.views import allocating, assigning, buying, donors, families, labels, media, parts, ruling
from labcases.stock.wiping import views as wiping

app_name = "stock"
urlpatterns = [
    # lists
    path("parts/", donors.parts, name="parts"),
    path("media/", media.destinations, name="destinations"),
    path("families/", families.families, name="families"),
    # donors and their parts
    path("donors/new/", donors.add_donor, name="add-donor"),
    path("donors/<str:code>/", donors.donor, name="donor"),
    path("donors/<str:code>/change/", donors.change_donor, name="change-donor"),
    path("donors/<str:code>/part/", parts.list_part, name="list-part"),
    path("donors/<str:code>/scrap/", parts.scrap_donor, name="scrap-donor"),
    path("parts/<str:code>/", parts.part, name="part"),
    path("parts/<str:code>/change/", parts.change_part, name="change-part"),
    path("parts/<str:code>/strip/", parts.strip_part, name="strip-part"),
    path("parts/<str:code>/end-reservation/", parts.end_reservation, name="end-reservation"),
    path("parts/<str:code>/test/", parts.note_test, name="note-test"),
    path("parts/<str:code>/release/", parts.release_part, name="release-part"),
    path("parts/<str:code>/judge/", parts.judge_part, name="judge-part"),
    # destinations and delivery media
    path("media/new/", media.add_destination, name="add-destination"),
    path("media/<str:code>/", media.destination, name="destination"),
    path("media/<str:code>/change/", media.change_destination, name="change-destination"),
    path("media/<str:code>/release/", media.release_destination, name="release-destination"),
    path("media/<str:code>/consent/", media.note_consent, name="note-consent"),
    path("consents/<int:pk>/", media.consent_paper, name="consent-paper"),
    path("media/<str:code>/health/", wiping.check_health, name="check-health"),
    path("media/<str:code>/wipe/", wiping.wipe, name="wipe"),
    path("media/<str:code>/wipe/begin/", wiping.begin_wipe, name="begin-wipe"),
    path("wipes/", wiping.wipes, name="wipes"),
    path("wipes/<int:pk>/", wiping.a_wipe, name="a-wipe"),
    path("wipes/<int:pk>/end/", wiping.end_wipe, name="end-wipe"),
    path("wipes/<int:pk>/break-off/", wiping.break_off_wipe, name="break-off-wipe"),
    path("wipes/<int:pk>/verify/", wiping.verify_wipe, name="verify-wipe"),
    path("wipes/<int:pk>/certificate/", wiping.certificate, name="wipe-certificate"),
    path("media/<str:code>/retire/", media.retire, name="retire"),
    path("find/", finding.find, name="find"),
    # stocktakes
    path("takes/", takes.takes, name="takes"),
    path("takes/new/", takes.begin_take, name="begin-take"),
    path("takes/<int:pk>/", takes.take, name="take"),
    path("takes/<int:pk>/lines/", takes.take_lines, name="take-lines"),
    path("takes/<int:pk>/sign/", takes.sign_off, name="sign-take"),
    path("takes/<int:pk>/drop/", takes.drop_take, name="drop-take"),
    # storage pools
    path("pools/", pools.pools, name="pools"),
    path("pools/new/", pools.add_pool, name="add-pool"),
    path("pools/<int:pk>/", pools.pool, name="pool"),
    path("pools/<int:pk>/change/", pools.change_pool, name="change-pool"),
    path("images/<int:pk>/room/", pools.resize_image, name="resize-image"),
    path("images/<int:pk>/release/", pools.release_image, name="release-image"),
    path("images/<int:pk>/certificate/", pools.certificate, name="image-certificate"),
    path("images/of/<str:code>/erase/", pools.erase_images, name="erase-images"),
    # families
    path("families/new/", families.add_family, name="add-family"),
    path("families/<int:pk>/", families.family, name="family"),
    path("families/<int:pk>/change/", families.change_family, name="change-family"),
    path("for/<str:code>/family/", families.family_from, name="family-from"),
    # to buy
    path("to-buy/", buying.to_buy, name="to-buy"),
    path("to-buy/list/", buying.purchase_list, name="purchase-list"),
    path("to-buy/<int:pk>/", buying.need, name="need"),
    path("to-buy/<int:pk>/order/", buying.order_need, name="order-need"),
    path("to-buy/<int:pk>/arrived/", buying.receive_need, name="receive-need"),
    path("to-buy/<int:pk>/wrong/", buying.wrong_inside, name="wrong-inside"),
    path("to-buy/<int:pk>/back/", buying.send_back, name="send-back"),
    path("to-buy/orders/<int:pk>/back/", buying.send_earlier_back, name="send-earlier-back"),
    path("to-buy/<int:pk>/drop/", buying.drop_need, name="drop-need"),
    # what must match
    path("rules/", ruling.rules, name="rules"),
    path("rules/codes/new/", ruling.add_label_code, name="add-label-code"),
    path("rules/codes/<int:pk>/", ruling.keep_label_code, name="keep-label-code"),
    path("rules/<str:part>/", ruling.rules_of, name="rules-of"),
    path("rules/<str:part>/back/", ruling.rules_back, name="rules-back"),
    # for a patient
    path("for/<str:code>/", assigning.assign, name="assign"),
    path("for/<str:code>/donor/", assigning.assign_donor, name="assign-donor"),
    path("for/<str:code>/reserve/", assigning.reserve_part, name="reserve-part"),
    path("for/<str:code>/to-buy/", buying.raise_need, name="raise-need"),
    path("who-gets-which/", allocating.who_gets_which, name="who-gets-which"),
    path("for/<str:code>/destination/", assigning.assign_destination, name="assign-destination"),
    # tables in and out
    path("tables/", tables.tables, name="tables"),
    path("tables/<slug:what>.csv", tables.export, {"form": "csv"}, name="export-csv"),
    path("tables/<slug:what>.xlsx", tables.export, {"form": "xlsx"}, name="export-xlsx"),
    # labels
    path("labels/", labels.labels, name="labels"),
]
