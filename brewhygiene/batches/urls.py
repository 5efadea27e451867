from django.urls import path

from brewhygiene.batches.brews import views as brew_views
from brewhygiene.batches.corrections import views as correction_views
from brewhygiene.batches.corrections.movements import views as moved_views
from brewhygiene.batches.corrections.shipments import views as shipment_views
from brewhygiene.batches.crops import views as crop_views
from brewhygiene.batches.decisions import views as decision_views
from brewhygiene.batches.dry_hops import views as dry_hop_views
from brewhygiene.batches.dumps import views as dump_views
from brewhygiene.batches.finding import views as finding_views
from brewhygiene.batches.lots import views as lot_views
from brewhygiene.batches.pages import views
from brewhygiene.batches.recall import views as recall_views
from brewhygiene.batches.transfers import views as transfer_views

app_name = "batches"
urlpatterns = [
    path("find/", finding_views.find, name="find"),
    path("batches/", views.batches, name="batches"),
    path("batches/record/", brew_views.record, name="record"),
    path("batches/<int:pk>/", views.batch, name="batch"),
    path(
        "batches/<int:pk>/correct/",
        correction_views.correct,
        {"kind": "batch"},
        name="correct_batch",
    ),
    path("batches/<int:pk>/hold/", decision_views.hold_batch, name="hold_batch"),
    path("crops/", views.crops, name="crops"),
    path("crops/bought/", crop_views.bought, name="bought"),
    path("crops/<int:pk>/", views.crop, name="crop"),
    path("crops/<int:pk>/hold/", decision_views.hold_crop, name="hold_crop"),
    path("crops/<int:pk>/plate/", crop_views.plate, name="crop_plate"),
    path("packaged-lots/", views.lots, name="lots"),
    path("packaged-lots/<int:pk>/", views.lot, name="lot"),
    path(
        "packaged-lots/<int:pk>/correct/",
        correction_views.correct,
        {"kind": "lot"},
        name="correct_lot",
    ),
    path("packaged-lots/<int:pk>/ship/", lot_views.ship, name="ship"),
    path("packaged-lots/<int:pk>/drill/", recall_views.begin, name="begin_drill"),
    path("shipments/<int:pk>/correct/", shipment_views.correct, name="correct_shipment"),
    path("recall-drills/<int:pk>/", recall_views.drill, name="drill"),
    path("vessels/<int:pk>/pitch/", brew_views.pitch, name="pitch"),
    path("vessels/<int:pk>/transfer/", transfer_views.transfer, name="transfer"),
    path("vessels/<int:pk>/dry-hop/", dry_hop_views.dry_hop, name="dry_hop"),
    path("vessels/<int:pk>/crop/", crop_views.crop, name="crop_yeast"),
    path("vessels/<int:pk>/package/", lot_views.package, name="package"),
    path("vessels/<int:pk>/dump/", dump_views.dump, name="dump"),
    path("movements/<int:pk>/correct/", moved_views.correct, name="correct_movement"),
    path("plates/<int:pk>/trace/", views.trace, name="trace"),
    path("set-up/trace/", decision_views.trace_rule, name="trace_rule"),
    path("holds/<int:pk>/", decision_views.decide, name="decide"),
]
