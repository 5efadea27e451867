"""The ledger, for those who see everything."""

from django.urls import path

from brewhygiene.proof import views

app_name = "proof"
urlpatterns = [
    path("", views.entries, name="entries"),
    path("head/", views.head, name="head"),
    path("<int:number>/", views.entry, name="entry"),
    path("record/<int:pk>.json", views.record, name="record"),
]
