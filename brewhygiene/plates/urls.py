from django.urls import URLPattern

app_name = "plates"
urlpatterns: list[URLPattern] = []
