from django.urls import path

from brewhygiene.reports import views
from brewhygiene.reports.month import views as month_views

app_name = "reports"
urlpatterns = [
    path("turnarounds/<int:pk>/record.pdf", views.record, name="record"),
    path("vessels/<int:pk>/labels.pdf", views.labels, name="labels"),
    path("labels.pdf", views.all_labels, name="all_labels"),
    path("months/<str:month>.pdf", month_views.month, name="month"),
]
