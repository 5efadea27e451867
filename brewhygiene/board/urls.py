from django.urls import path

from brewhygiene.board import views
from brewhygiene.board.handovers import views as handover_views

app_name = "board"
urlpatterns = [
    path("", views.board, name="board"),
    path("sample/", views.to_sample, name="to_sample"),
    path("handover/", handover_views.handover, name="handover"),
    path("handover/<int:pk>/read/", handover_views.read, name="read_handover"),
    path("waiting-here/held/", views.held, name="held"),
    path("waiting/", views.waiting, name="waiting"),
    path("vessels/<int:pk>/", views.vessel, name="vessel"),
    path("turnarounds/<int:pk>/", views.turnaround, name="turnaround"),
]
