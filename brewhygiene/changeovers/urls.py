from django.urls import path

from brewhygiene.changeovers import views

app_name = "changeovers"
urlpatterns = [
    path("set-up/changeovers/", views.validations, name="validations"),
    path("set-up/changeovers/add/", views.validate, name="validate"),
    path("set-up/changeovers/<int:pk>/retire/", views.retire, name="retire"),
    path("turnarounds/<int:pk>/allergen-test/", views.record_test, name="test"),
]
