"""The state of the installation."""

from django.urls import path

from brewhygiene.health import views

app_name = "health"
urlpatterns = [
    path("health/", views.health, name="health"),
    path("healthz", views.healthz, name="healthz"),
]
