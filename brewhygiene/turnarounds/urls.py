from django.urls import URLPattern

app_name = "turnarounds"
urlpatterns: list[URLPattern] = []
