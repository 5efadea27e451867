from django.urls import URLPattern

app_name = "brewery"
urlpatterns: list[URLPattern] = []
