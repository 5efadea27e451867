"""The state of the installation."""

from django.urls import path

from brewhygiene.health import trust, views

app_name = "health"
urlpatterns = [
    path("health/", views.health, name="health"),
    path("healthz", views.healthz, name="healthz"),
    path("trust/", trust.trust, name="trust"),
    path("trust/brewhygiene.crt", trust.authority, name="authority"),
    path("trust/reached", trust.reached, name="reached"),
]
