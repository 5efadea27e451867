from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.urls import path

from brewhygiene.turnarounds import views
from brewhygiene.turnarounds.afterwards import views as afterwards_views
from brewhygiene.turnarounds.circuits import views as circuit_views
from brewhygiene.turnarounds.entry import views as entry_views
from brewhygiene.turnarounds.observations import views as observation_views
from brewhygiene.turnarounds.steps import views as step_views
from brewhygiene.turnarounds.steps.flow import views as flow_views


def on_logger_files(name: str) -> Callable[..., HttpResponseBase]:
    """A view of ``logger.views``, which brings NumPy: loaded when one is first asked for."""

    def view(request: HttpRequest, **named: Any) -> HttpResponseBase:
        from brewhygiene.turnarounds.logger import views as logger_views

        answer: HttpResponseBase = getattr(logger_views, name)(request, **named)
        return answer

    return view


app_name = "turnarounds"
urlpatterns = [
    path("vessels/<int:pk>/empty/", views.empty, name="empty"),
    path("turnarounds/<int:pk>/next-beer/", views.next_beer, name="next_beer"),
    path("turnarounds/<int:pk>/regime/", views.regime, name="regime"),
    path("turnarounds/<int:pk>/clean-done/", afterwards_views.enter_clean, name="enter_clean"),
    path("turnarounds/<int:pk>/opened/", views.opened, name="opened"),
    path("turnarounds/<int:pk>/permit/", entry_views.permit, name="permit"),
    path("entries/<int:pk>/", entry_views.entry, name="entry"),
    path("cleans/<int:pk>/", views.clean, name="clean"),
    path("cleans/<int:pk>/cost/", views.cost, name="cost"),
    path("cleans/<int:pk>/skid/", circuit_views.change_gear, name="change_gear"),
    path("cleans/<int:pk>/stop/", views.stop, name="stop"),
    path("cleans/<int:pk>/finish/", views.finish, name="finish"),
    path("cleans/<int:pk>/now/", step_views.current_step, name="current_step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/", step_views.step, name="step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/ahead/", step_views.ahead, name="ahead"),
    path("cleans/<int:pk>/steps/<int:step_pk>/safety/", step_views.safety, name="safety"),
    path("cleans/<int:pk>/steps/<int:step_pk>/start/", step_views.start, name="start_step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/read/", step_views.read, name="read"),
    path(
        "cleans/<int:pk>/steps/<int:step_pk>/flow-lost/",
        flow_views.flow,
        {"act": "lost"},
        name="flow_lost",
    ),
    path(
        "cleans/<int:pk>/steps/<int:step_pk>/flow-back/",
        flow_views.flow,
        {"act": "back"},
        name="flow_back",
    ),
    path("cleans/<int:pk>/steps/<int:step_pk>/end/", step_views.end, name="end_step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/state/", step_views.state, name="state_step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/leave-out/", step_views.leave_out, name="leave_out"),
    path("cleans/<int:pk>/logger-files/", on_logger_files("logger_files"), name="logger_files"),
    path("logger-files/<int:pk>/", on_logger_files("logger_file"), name="logger_file"),
    path("logger-files/<int:pk>/columns/", on_logger_files("columns"), name="logger_file_columns"),
    path("logger-files/<int:pk>/steps/", on_logger_files("place"), name="place_logger_file"),
    path("logger-files/<int:pk>/write/", on_logger_files("write"), name="write_logger_file"),
    path("logger-files/<int:pk>/file/", on_logger_files("file"), name="logger_file_download"),
    path("step-photos/<int:pk>/", observation_views.step_photo, name="step_photo"),
    path("deviations/<int:pk>/decide/", step_views.dispose, name="dispose"),
    path("readings/<int:pk>/correct/", step_views.correct_reading, name="correct_reading"),
]
