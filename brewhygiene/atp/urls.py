from brewhygiene.atp import sample_urls

app_name = "atp"
urlpatterns = [*sample_urls.urlpatterns]
