"""Signing in, changing hands, and the people of the brewery."""

from django.urls import path

from brewhygiene.people.enrolment import views as tablet_views
from brewhygiene.people.signing_in import views
from brewhygiene.people.staff import views as setup_views

app_name = "people"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("switch/", views.switch, name="switch"),
    path("pin/", views.pin, name="pin"),
    path("numbers-and-dates/", views.own_style, name="own_style"),
    path("password/", views.own_password, name="own_password"),
    path("set-up/tablets/", tablet_views.tablet_list, name="tablets"),
    path("set-up/tablets/<int:pk>/", tablet_views.rename, name="tablet"),
    path("set-up/tablets/<int:pk>/retire/", tablet_views.retire, name="retire_tablet"),
    path("set-up/people/", setup_views.people_list, name="list"),
    path("set-up/people/add/", setup_views.add, name="add"),
    path("set-up/people/<int:pk>/", setup_views.edit, name="edit"),
    path("set-up/people/<int:pk>/forget/", setup_views.forget, name="forget"),
    path("set-up/people/<int:pk>/password/", setup_views.password, name="password"),
]
