from django.urls import URLPattern

app_name = "regimes"
urlpatterns: list[URLPattern] = []
