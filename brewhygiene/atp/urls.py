from django.urls import URLPattern

app_name = "atp"
urlpatterns: list[URLPattern] = []
