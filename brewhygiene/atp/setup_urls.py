"""Addresses of meters, control checks, sticks and limits."""

from django.urls import path

from brewhygiene.atp import baseline_views, limit_views, meter_views, setup_views

urlpatterns = [
    path("meters/", meter_views.meters, name="meters"),
    path("meters/<int:pk>/check/", meter_views.check, name="check"),
    path("meters/<int:pk>/check/<int:check_pk>/", meter_views.checked, name="checked"),
    path("set-up/meters/", setup_views.meters, name="setup_meters"),
    path("set-up/meters/add/", setup_views.add_meter, name="setup_add_meter"),
    path("set-up/meters/<int:pk>/", setup_views.edit_meter, name="setup_meter"),
    path("set-up/sticks/", setup_views.sticks, name="setup_sticks"),
    path("set-up/sticks/types/add/", setup_views.add_stick_type, name="setup_add_stick_type"),
    path("set-up/sticks/types/<int:pk>/", setup_views.edit_stick_type, name="setup_stick_type"),
    path("set-up/sticks/lots/add/", setup_views.add_stick_lot, name="setup_add_stick_lot"),
    path("set-up/sticks/lots/<int:pk>/", setup_views.edit_stick_lot, name="setup_stick_lot"),
    path("set-up/limits/", limit_views.limits, name="setup_limits"),
    path("set-up/limits/baselines/", baseline_views.baselines, name="baselines"),
    path("set-up/limits/baselines/add/", baseline_views.add, name="add_baseline"),
    path("set-up/limits/baselines/<int:pk>/", baseline_views.baseline, name="baseline"),
    path(
        "set-up/limits/baselines/<int:pk>/exclude/<int:result_pk>/",
        baseline_views.exclude,
        name="baseline_exclude",
    ),
    path(
        "set-up/limits/baselines/<int:pk>/readmit/<int:result_pk>/",
        baseline_views.readmit,
        name="baseline_readmit",
    ),
    path(
        "set-up/limits/baselines/<int:pk>/propose/",
        baseline_views.propose,
        name="baseline_propose",
    ),
    path("set-up/limits/propose/", limit_views.propose, name="setup_propose_limits"),
    path("set-up/limits/<int:pk>/approve/", limit_views.approve, name="setup_approve_limits"),
    path("set-up/limits/<int:pk>/withdraw/", limit_views.withdraw, name="setup_withdraw_limits"),
]
