"""Addresses of the samples and results; the set-up of meters has its own."""

from django.urls import path

from brewhygiene.atp import cause_views, views

urlpatterns = [
    path("turnarounds/<int:pk>/samples/", views.samples, name="samples"),
    path("turnarounds/<int:pk>/samples/<int:point_pk>/", views.sample, name="sample"),
    path("turnarounds/<int:pk>/cause/", cause_views.cause, name="cause"),
    path("results/<int:pk>/", views.result, name="result"),
    path("results/<int:pk>/correct/", views.correct_result, name="correct_result"),
    path("p/<str:code>/", views.point, name="point"),
]
