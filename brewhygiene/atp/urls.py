"""Addresses of samples and readings, meters, limits, baselines and bridges."""

from django.urls import path

from brewhygiene.atp.baselines import views as baseline_views
from brewhygiene.atp.bridges import views as bridge_views
from brewhygiene.atp.causes import views as cause_views
from brewhygiene.atp.limits import views as limit_views
from brewhygiene.atp.meters import setup_views
from brewhygiene.atp.meters import views as meter_views
from brewhygiene.atp.readings import views as reading_views
from brewhygiene.atp.recovery import views as recovery_views

_ONE = "set-up/bridges/<int:pk>/"

app_name = "atp"
urlpatterns = [
    path("turnarounds/<int:pk>/samples/", reading_views.samples, name="samples"),
    path("turnarounds/<int:pk>/samples/<int:point_pk>/", reading_views.sample, name="sample"),
    path("turnarounds/<int:pk>/cause/", cause_views.cause, name="cause"),
    path("atp-readings/<int:pk>/", reading_views.result, name="reading"),
    path("atp-readings/<int:pk>/correct/", reading_views.correct_result, name="correct_reading"),
    path("p/<str:code>/", reading_views.point, name="point"),
    path("meters/", meter_views.meters, name="meters"),
    path("meters/<int:pk>/check/", meter_views.check, name="check"),
    path("meters/<int:pk>/check/<int:check_pk>/", meter_views.checked, name="checked"),
    path("set-up/meters/", setup_views.meters, name="setup_meters"),
    path("set-up/meters/add/", setup_views.edit_meter, name="setup_add_meter"),
    path("set-up/meters/<int:pk>/", setup_views.edit_meter, name="setup_meter"),
    path("set-up/atp-tests/", setup_views.atp_tests, name="setup_atp_tests"),
    path("set-up/atp-tests/add/", setup_views.edit_atp_test, name="setup_add_atp_test"),
    path("set-up/atp-tests/<int:pk>/", setup_views.edit_atp_test, name="setup_atp_test"),
    path("set-up/atp-tests/lots/add/", setup_views.edit_test_lot, name="setup_add_test_lot"),
    path("set-up/atp-tests/lots/<int:pk>/", setup_views.edit_test_lot, name="setup_test_lot"),
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
        "set-up/limits/baselines/<int:pk>/include/<int:result_pk>/",
        baseline_views.include,
        name="baseline_include",
    ),
    path(
        "set-up/limits/baselines/<int:pk>/propose/",
        baseline_views.propose,
        name="baseline_propose",
    ),
    path("set-up/limits/propose/", limit_views.propose, name="setup_propose_limits"),
    path("set-up/limits/<int:pk>/approve/", limit_views.approve, name="setup_approve_limits"),
    path("set-up/limits/<int:pk>/retire/", limit_views.retire, name="setup_retire_limits"),
    path("set-up/recovery/", recovery_views.recovery_studies, name="recovery_studies"),
    path("set-up/recovery/add/", recovery_views.add_study, name="add_recovery_study"),
    path(
        "set-up/recovery/<int:pk>/retire/",
        recovery_views.retire_study,
        name="retire_recovery_study",
    ),
    path("set-up/bridges/", bridge_views.bridges, name="bridges"),
    path("set-up/bridges/open/", bridge_views.open_bridge, name="open_bridge"),
    path(_ONE, bridge_views.bridge, name="bridge"),
    path(f"{_ONE}pair/", bridge_views.add_pair, name="add_bridge_pair"),
    path(f"{_ONE}paste/", bridge_views.paste_pairs, name="paste_bridge_pairs"),
    path(
        f"{_ONE}pairs/<int:pair_pk>/exclude/",
        bridge_views.exclude_pair,
        name="exclude_bridge_pair",
    ),
    path(
        f"{_ONE}pairs/<int:pair_pk>/include/",
        bridge_views.include_pair,
        name="include_bridge_pair",
    ),
    path(f"{_ONE}limits/<int:limits_pk>/", bridge_views.propose, name="propose_bridged_limits"),
    path(f"{_ONE}approve/", bridge_views.approve, name="approve_bridge"),
    path(f"{_ONE}retire/", bridge_views.retire, name="retire_bridge"),
]
