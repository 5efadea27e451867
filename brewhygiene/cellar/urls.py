"""Set-up of vessels, their sampling points, beers and hold times; work on their parts."""

from django.urls import include, path

from brewhygiene.cellar.beers import views as beer_views
from brewhygiene.cellar.hold_times import views as hold_time_views
from brewhygiene.cellar.parts import views as part_views
from brewhygiene.cellar.photos import views as photo_views
from brewhygiene.cellar.points import views as point_views
from brewhygiene.cellar.vessels import views

app_name = "cellar"
_setup = [
    path("vessels/", views.vessels, name="vessels"),
    path("vessels/add/", views.vessel_add, name="vessel_add"),
    path("vessels/<int:pk>/", views.vessel, name="vessel"),
    path("vessels/<int:pk>/edit/", views.vessel_edit, name="vessel_edit"),
    path("vessels/<int:pk>/photo/", photo_views.vessel_photo, name="vessel_photo"),
    path("vessels/<int:pk>/photo/set/", views.vessel_photo_set, name="vessel_photo_set"),
    path("vessels/<int:pk>/photo/remove/", views.vessel_photo_remove, name="vessel_photo_remove"),
    path("vessels/<int:pk>/out-of-service/", views.out_of_service, name="out_of_service"),
    path("vessels/<int:pk>/back-in-service/", views.back_in_service, name="back_in_service"),
    path("vessels/<int:pk>/remove/", views.vessel_remove, name="vessel_remove"),
    path("vessels/<int:pk>/points/add/", point_views.point_add, name="point_add"),
    path("vessels/<int:pk>/points/usual/", point_views.point_usual, name="point_usual"),
    path("points/<int:pk>/", point_views.point_edit, name="point_edit"),
    path("points/<int:pk>/retire/", point_views.point_retire, name="point_retire"),
    path("points/<int:pk>/reinstate/", point_views.point_reinstate, name="point_reinstate"),
    path("points/<int:pk>/photo/", photo_views.point_photo, name="point_photo"),
    path("points/<int:pk>/photo/set/", point_views.point_photo_set, name="point_photo_set"),
    path(
        "points/<int:pk>/photo/remove/", point_views.point_photo_remove, name="point_photo_remove"
    ),
    path("beers/", beer_views.beers, name="beers"),
    path("beers/add/", beer_views.beer_add, name="beer_add"),
    path("beers/<int:pk>/", beer_views.beer_edit, name="beer_edit"),
    path("hold-times/", hold_time_views.hold_times, name="hold_times"),
]
urlpatterns = [
    path("vessels/<int:pk>/part-work/", part_views.part_work, name="part_work"),
    path("set-up/", include(_setup)),
]
