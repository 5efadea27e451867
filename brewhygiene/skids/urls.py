from django.urls import path

from brewhygiene.skids import views
from brewhygiene.skids.gear import views as gear_views
from brewhygiene.skids.solutions import views as solution_views

app_name = "skids"
urlpatterns = [
    path("skids/", views.skids, name="skids"),
    path("skids/add/", gear_views.add_skid, name="add"),
    path("skids/<int:pk>/", views.skid, name="skid"),
    path("skids/<int:pk>/edit/", gear_views.edit_skid, name="edit"),
    path("skids/<int:pk>/rinse/", solution_views.rinse_skid, name="rinse_skid"),
    path("skids/<int:pk>/tanks/add/", gear_views.add_tank, name="add_tank"),
    path("solution-tanks/<int:pk>/", views.tank, name="tank"),
    path("solution-tanks/<int:pk>/edit/", gear_views.edit_tank, name="edit_tank"),
    path("solution-tanks/<int:pk>/make-up/", solution_views.make_up, name="make_up"),
    path("solution-tanks/<int:pk>/rinse/", solution_views.rinse_tank, name="rinse_tank"),
    path("solutions/<int:pk>/", views.solution, name="solution"),
    path("solutions/<int:pk>/check/", solution_views.check, name="check"),
    path("solutions/<int:pk>/top-up/", solution_views.top_up, name="top_up"),
    path("solutions/<int:pk>/dump/", solution_views.dump, name="dump"),
]
