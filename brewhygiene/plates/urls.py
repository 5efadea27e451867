from django.urls import path

from brewhygiene.plates import views
from brewhygiene.plates.closing import views as closing_views
from brewhygiene.plates.corrections import views as correction_views

app_name = "plates"
urlpatterns = [
    path("plates/", views.due, name="due"),
    path("turnarounds/<int:pk>/plates/send/", views.send, name="send"),
    path("plates/<int:pk>/", views.plate, name="plate"),
    path("plates/<int:pk>/read/", views.read, name="read"),
    path("plates/<int:pk>/correct/", correction_views.correct, name="correct"),
    path("plates/<int:pk>/close/", closing_views.resolve, name="resolve"),
]
