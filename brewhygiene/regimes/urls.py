"""Addresses of agents and regimes; all under the set-up's own."""

from django.urls import path

from brewhygiene.regimes import views
from brewhygiene.regimes.agents import views as agent_views
from brewhygiene.regimes.conductivity import views as calibration_views
from brewhygiene.regimes.materials import views as material_views

app_name = "regimes"
urlpatterns = [
    path("agents/", agent_views.agents, name="agents"),
    path("agents/add/", agent_views.add, name="add_agent"),
    path("agents/<int:pk>/", agent_views.edit, name="agent"),
    path("agents/<int:pk>/calibration/", calibration_views.calibration, name="calibration"),
    path(
        "agents/<int:pk>/calibration/retire/",
        calibration_views.retire_calibration,
        name="retire_calibration",
    ),
    path("agents/labels/", material_views.labels, name="labels"),
    path("agents/labels/add/", material_views.add_label, name="add_label"),
    path("agents/labels/<int:pk>/file/", material_views.label_file, name="label_file"),
    path("agents/labels/<int:pk>/end/", material_views.withdraw_label, name="end_label"),
    path(
        "regimes/versions/<int:pk>/vessels/<int:vessel_pk>/limits/",
        material_views.sign_limits,
        name="sign_limits",
    ),
    path("regimes/", views.regimes, name="regimes"),
    path("regimes/add/", views.add, name="add_regime"),
    path("regimes/starting/", views.add_starting, name="add_starting_regimes"),
    path("regimes/<int:pk>/", views.regime, name="regime"),
    path("regimes/<int:pk>/edit/", views.edit, name="edit_regime"),
    path("regimes/<int:pk>/shipped/", views.shipped, name="shipped_regime"),
    path("regimes/<int:pk>/copy/", views.copy, name="copy_regime"),
    path("regimes/<int:pk>/retire/", views.set_active, {"active": False}, name="retire_regime"),
    path(
        "regimes/<int:pk>/reinstate/", views.set_active, {"active": True}, name="reinstate_regime"
    ),
]
