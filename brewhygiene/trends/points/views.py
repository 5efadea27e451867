"""The control charts of a point and of a vessel, and the form that begins one anew."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.phases.actions import begin_phase
from brewhygiene.atp.phases.series import PointSeries, series_of, series_of_vessel
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.drawing.figure import Figure
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.science.control.judging import BASELINE, USUAL, Design
from brewhygiene.science.control.rules import RULE_SETS, RuleSet
from brewhygiene.science.control.run_length import false_alarm_chance
from brewhygiene.trends.charting import PhaseChart, charts_of
from brewhygiene.trends.points.events import agent_lots_of, events_of, load_names
from brewhygiene.trends.points.figures import point_figure, small_figure
from brewhygiene.trends.points.forms import RephaseForm
from brewhygiene.trends.points.marks import Window, rlu_words
from brewhygiene.trends.signals.causes import POINT, SOURCE, VESSEL
from brewhygiene.trends.signals.standing import standings
from brewhygiene.trends.signals.suspects import compare, told
from brewhygiene.trends.signals.words import ToldSignal, rising_now, told_signals

# So many of the latest readings are drawn until all are asked for.
DRAWN = 120
PAST_SIGNALS = 10
EVENTS_TOLD = 12
LUCK_OVER = 50


def _window(readings: Sequence[Any], request: Request) -> Window:
    if "all" in request.GET or len(readings) <= DRAWN:
        return Window()
    return Window(since=readings[-DRAWN].taken_at)


def _rule_set(request: Request) -> RuleSet:
    return RULE_SETS.get(request.GET.get("rules", ""), RULE_SETS["three_sigma"])


@dataclasses.dataclass(frozen=True)
class Summary:
    """How a point's present chart stands, for its page and its vessel's."""

    chart: PhaseChart | None
    now: list[ToldSignal]
    rising: bool

    @property
    def words(self) -> str:
        """In a few words."""
        if self.chart is None:
            return "never read"
        if self.chart.judged is None:
            return "no limits yet"
        if self.rising:
            return "getting worse"
        if any(one.direction == "up" for one in self.now):
            return "one reading is high"
        if self.now:
            return "readings fall" if self.now[0].direction == "down" else "readings vary oddly"
        return "steady" if self.chart.judged.judged else "limits just set"

    @property
    def limits_words(self) -> str:
        """Centre and upper limit in RLU."""
        if self.chart is None or self.chart.judged is None:
            return ""
        limits = self.chart.judged.limits
        return (
            f"centre {rlu_words(limits.centre)} RLU, upper control limit "
            f"{rlu_words(limits.upper)} RLU"
        )


def summary_of(charts: Sequence[PhaseChart]) -> Summary:
    """The present chart's summary."""
    chart = charts[-1] if charts else None
    if chart is None or chart.judged is None:
        return Summary(chart, [], False)
    last = len(chart.phase.readings) - 1
    return Summary(
        chart=chart,
        now=[one for one in told_signals(chart) if one.on],
        rising=any(rising_now(signal, last=last) for signal in chart.judged.signals),
    )


def point(request: Request, pk: int) -> HttpResponse:
    """A point's control charts. For anyone to look at."""
    found = get_object_or_404(SamplingPoint.objects.select_related("vessel"), pk=pk)
    rules = _rule_set(request)
    series = series_of(point=found)
    charts = charts_of(series, design=dataclasses.replace(USUAL, rules=rules.rules))
    readings = series.readings
    names = load_names(
        [*readings, *(reading for phase in series.phases for reading in phase.beside)]
    )
    events = sorted(
        [*events_of(series, names), *agent_lots_of(found.vessel)], key=lambda event: event.at
    )
    window = _window(readings, request)
    summary = summary_of(charts)
    signals = [one for chart in reversed(charts) for one in told_signals(chart)]
    suspect = _suspect_of(series) if summary.rising else None
    context = {
        "room": "trends",
        "point": found,
        "vessel": found.vessel,
        "figure": point_figure(
            charts, title=f"Control charts of {found}", names=names, events=events, window=window
        ),
        "charts": charts,
        "summary": summary,
        "past": [one for one in signals if one not in summary.now][:PAST_SIGNALS],
        "past_count": len([one for one in signals if one not in summary.now]),
        "suspect": suspect,
        "causes": suspect.causes if suspect else POINT,
        "causes_source": SOURCE,
        "events": list(reversed(events))[:EVENTS_TOLD],
        "events_count": len(events),
        "readings_count": len(readings),
        "drawn_count": DRAWN,
        "cut": window.since is not None,
        "rules": rules,
        "rule_sets": list(RULE_SETS.values()),
        "luck": _luck(summary, rules),
        "luck_over": LUCK_OVER,
    }
    return render(request, "trends/points/point.html", context)


def _luck(summary: Summary, rules: RuleSet) -> float | None:
    """The chance, in %, of a false signal of getting worse within the next 50 cleans."""
    if summary.chart is None or summary.chart.judged is None:
        return None
    design: Design = summary.chart.judged.design
    chance = false_alarm_chance(
        readings=LUCK_OVER,
        baseline=max(5, summary.chart.judged.limits.used),
        rules=design.rules,
    )
    return 100 * chance


def _suspect_of(series: PointSeries) -> Any:
    """What the whole house's readings say of a point that gets worse."""
    rows = standings(timezone.now())
    ours = next((row for row in rows if row.point_id == series.point.pk and row.evidence > 1), None)
    if ours is None:
        return None
    compared = compare(rows, until=max(ours.last_result.taken_at, timezone.now()))
    suspect = compared.behind(ours)
    return told(suspect) if suspect else None


@dataclasses.dataclass(frozen=True)
class PointOnVessel:
    """One point's part of its vessel's page."""

    point: SamplingPoint
    summary: Summary
    figure: Figure | None
    readings: int


def vessel(request: Request, pk: int) -> HttpResponse:
    """All points of a vessel in little, the worst first. For anyone to look at."""
    found = get_object_or_404(Vessel, pk=pk)
    shown = []
    cut = False
    for number, series in enumerate(series_of_vessel(found, active_only=True)):
        charts = charts_of(series)
        readings = series.readings
        window = _window(readings, request)
        cut = cut or window.since is not None
        shown.append(
            PointOnVessel(
                point=series.point,
                summary=summary_of(charts),
                figure=small_figure(charts, number=number, title=series.point.name, window=window),
                readings=len(readings),
            )
        )
    rising = [one for one in shown if one.summary.rising]
    context = {
        "room": "trends",
        "vessel": found,
        "points": sorted(shown, key=lambda one: not one.summary.rising),
        "rising": rising,
        "all_rising": len(rising) > 1 and len(rising) == len(shown),
        "causes": VESSEL,
        "causes_source": SOURCE,
        "work": found.part_work.select_related("point", "recorded_by")[:EVENTS_TOLD],
        "cut": cut,
        "drawn_count": DRAWN,
    }
    return render(request, "trends/points/vessel.html", context)


@never_cache
@permission_needed("approve_limits")
def begin_anew(request: Request, pk: int) -> HttpResponse:
    """Begin a point's chart anew, with a reason."""
    found = get_object_or_404(SamplingPoint.objects.select_related("vessel"), pk=pk)
    series = series_of(point=found)
    scales = {phase.scale.key: phase.scale for phase in reversed(series.phases)}
    form = RephaseForm(sent(request), scales=scales, initial=_initial(series, request))
    if request.method == "POST" and form.is_valid():
        given, scale = form.cleaned_data, form.chosen_scale()
        phase = form.attempt(
            lambda: begin_phase(
                by=actor_of(request),
                point=found,
                meter=Meter.objects.get(pk=scale.meter_id),
                atp_test=AtpTest.objects.get(pk=scale.atp_test_id),
                begins_at=given["begins_at"],
                baseline_until=given["baseline_until"],
                reason=given["reason"],
            )
        )
        if phase is not None:
            messages.success(request, f"The chart of {found} begins anew.")
            return redirect("trends:point", found.pk)
    context = {
        "room": "trends",
        "point": found,
        "vessel": found.vessel,
        "form": form,
        "read": bool(scales),
        "baseline": BASELINE,
    }
    return render(
        request, "trends/points/begin_anew.html", context, status=422 if form.is_bound else 200
    )


def _initial(series: PointSeries, request: Request) -> dict[str, Any]:
    """From now on; its baseline as long as 20 readings take here."""
    now = timezone.now()
    readings = series.readings[-BASELINE:]
    span = timedelta(days=90)
    if len(readings) > 1:
        each = (readings[-1].taken_at - readings[0].taken_at) / (len(readings) - 1)
        span = max(timedelta(days=14), each * BASELINE)
    present = series.present
    until: datetime = now + span
    return {
        "scale": f"{present.scale.meter_id}-{present.scale.atp_test_id}" if present else "",
        "begins_at": now,
        "baseline_until": until,
    }
