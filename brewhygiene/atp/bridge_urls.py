"""Addresses of bridge studies."""

from django.urls import path

from brewhygiene.atp import bridge_views

_ONE = "set-up/bridges/<int:pk>/"

urlpatterns = [
    path("set-up/bridges/", bridge_views.bridges, name="bridges"),
    path("set-up/bridges/open/", bridge_views.open_bridge, name="open_bridge"),
    path(_ONE, bridge_views.bridge, name="bridge"),
    path(f"{_ONE}pair/", bridge_views.add_pair, name="add_bridge_pair"),
    path(f"{_ONE}paste/", bridge_views.paste_pairs, name="paste_bridge_pairs"),
    path(
        f"{_ONE}pairs/<int:pair_pk>/leave-out/",
        bridge_views.leave_out_pair,
        name="leave_out_bridge_pair",
    ),
    path(
        f"{_ONE}pairs/<int:pair_pk>/take-in/",
        bridge_views.take_in_pair,
        name="take_in_bridge_pair",
    ),
    path(f"{_ONE}limits/<int:limits_pk>/", bridge_views.propose, name="propose_bridged_limits"),
    path(f"{_ONE}approve/", bridge_views.approve, name="approve_bridge"),
    path(f"{_ONE}retire/", bridge_views.retire, name="retire_bridge"),
]
