from django.urls import URLPattern

app_name = "board"
urlpatterns: list[URLPattern] = []
