"""What a tablet keeps, and the app that it installs."""

from django.urls import path

from brewhygiene.delivery import views

app_name = "delivery"
urlpatterns = [
    path("waiting-here/", views.waiting_here, name="waiting_here"),
    path("waiting-here/set-aside/", views.set_aside, name="set_aside"),
    path("waiting-here/name/", views.stated_name, name="stated_name"),
    path("waiting-here/confirm/", views.confirm_names, name="confirm_names"),
    path("app.webmanifest", views.manifest, name="manifest"),
    path("worker.js", views.worker, name="worker"),
]
