"""The way from nothing to the first release."""

from django.urls import path

from brewhygiene.setup import views
from brewhygiene.setup.starts.views import starts

app_name = "setup"
urlpatterns = [
    path("first/", views.first, name="first"),
    path("set-up/", views.index, name="index"),
    path("set-up/vessels-as-they-stand/", starts, name="starts"),
    path("set-up/release-rules/", views.release_rules, name="release_rules"),
]
