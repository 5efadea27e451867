from django.urls import path

from brewhygiene.reports import month_views, views

app_name = "reports"
urlpatterns = [
    path("turnarounds/<int:pk>/record.pdf", views.record, name="record"),
    path("vessels/<int:pk>/labels.pdf", views.labels, name="labels"),
    path("labels.pdf", views.all_labels, name="all_labels"),
    path("months/<str:month>.pdf", month_views.month, name="month"),
]
