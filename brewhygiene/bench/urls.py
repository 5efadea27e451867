"""Addresses of the bench: an index, and one a calculator."""

from django.urls import path

from brewhygiene.bench import views

app_name = "bench"
urlpatterns = [
    path("", views.index, name="index"),
    path("<slug:slug>/", views.calculator, name="calculator"),
]
