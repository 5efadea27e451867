from django.urls import URLPattern

app_name = "release"
urlpatterns: list[URLPattern] = []
