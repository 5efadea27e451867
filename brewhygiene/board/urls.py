from django.urls import path

from brewhygiene.board import views

app_name = "board"
urlpatterns = [
    path("", views.board, name="board"),
    path("sample/", views.to_sample, name="to_sample"),
    path("waiting/", views.waiting, name="waiting"),
    path("vessels/<int:pk>/", views.vessel, name="vessel"),
    path("turnarounds/<int:pk>/", views.turnaround, name="turnaround"),
]
