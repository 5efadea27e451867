from django.urls import URLPattern

app_name = "setup"
urlpatterns: list[URLPattern] = []
