from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.urls import path

from brewhygiene.turnarounds import step_views, views


def on_traces(name: str) -> Callable[..., HttpResponseBase]:
    """A view of ``trace_views``, which bring NumPy: loaded when one is first asked for."""

    def view(request: HttpRequest, **named: Any) -> HttpResponseBase:
        from brewhygiene.turnarounds import trace_views

        answer: HttpResponseBase = getattr(trace_views, name)(request, **named)
        return answer

    return view


app_name = "turnarounds"
urlpatterns = [
    path("vessels/<int:pk>/empty/", views.empty, name="empty"),
    path("turnarounds/<int:pk>/next-beer/", views.next_beer, name="next_beer"),
    path("turnarounds/<int:pk>/regime/", views.regime, name="regime"),
    path("turnarounds/<int:pk>/opened/", views.opened, name="opened"),
    path("cleans/<int:pk>/", views.clean, name="clean"),
    path("cleans/<int:pk>/cost/", views.cost, name="cost"),
    path("cleans/<int:pk>/stop/", views.stop, name="stop"),
    path("cleans/<int:pk>/finish/", views.finish, name="finish"),
    path("cleans/<int:pk>/steps/<int:step_pk>/", step_views.step, name="step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/safety/", step_views.safety, name="safety"),
    path("cleans/<int:pk>/steps/<int:step_pk>/start/", step_views.start, name="start_step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/read/", step_views.read, name="read"),
    path("cleans/<int:pk>/steps/<int:step_pk>/end/", step_views.end, name="end_step"),
    path("cleans/<int:pk>/steps/<int:step_pk>/leave-out/", step_views.leave_out, name="leave_out"),
    path("cleans/<int:pk>/traces/", on_traces("traces"), name="traces"),
    path("traces/<int:pk>/", on_traces("trace"), name="trace"),
    path("traces/<int:pk>/columns/", on_traces("columns"), name="trace_columns"),
    path("traces/<int:pk>/steps/", on_traces("place"), name="place_trace"),
    path("traces/<int:pk>/write/", on_traces("write"), name="write_trace"),
    path("traces/<int:pk>/file/", on_traces("file"), name="trace_file"),
    path("deviations/<int:pk>/decide/", step_views.dispose, name="dispose"),
    path("readings/<int:pk>/correct/", step_views.correct_reading, name="correct_reading"),
]
