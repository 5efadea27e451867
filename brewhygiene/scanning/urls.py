"""Addresses of scanning."""

from django.urls import path

from brewhygiene.scanning import views

app_name = "scanning"
urlpatterns = [
    path("scan/", views.scan, name="scan"),
    path("scan/read/", views.read, name="read"),
    path("scan/product/", views.remember, name="remember"),
]
