from django.urls import URLPattern

app_name = "cellar"
urlpatterns: list[URLPattern] = []
