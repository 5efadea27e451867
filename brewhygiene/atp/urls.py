"""Addresses of the meters: samples on the floor, and set-up."""

from brewhygiene.atp import bridge_urls, sample_urls, setup_urls

app_name = "atp"
urlpatterns = [*sample_urls.urlpatterns, *setup_urls.urlpatterns, *bridge_urls.urlpatterns]
