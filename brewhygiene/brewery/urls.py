"""The brewery's own settings."""

from django.urls import path

from brewhygiene.brewery import views

app_name = "brewery"
urlpatterns = [
    path("brewery/", views.edit, name="edit"),
    path("prices/", views.prices, name="prices"),
]
