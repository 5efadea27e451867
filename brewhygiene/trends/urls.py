"""Addresses of the charts."""

from django.urls import URLPattern

app_name = "trends"
urlpatterns: list[URLPattern] = []
