"""The control charts of a point and of a vessel, and the form that starts a new phase."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.phases.actions import begin_phase
from brewhygiene.atp.phases.series import PointSeries, series_of, series_of_vessel
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.drawing.figure import Figure
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.science.control.judging import BASELINE, USUAL, Design
from brewhygiene.science.control.rules import RULE_SETS, RuleSet
from brewhygiene.science.control.run_length import false_alarm_chance
from brewhygiene.trends.charting import PhaseChart, charts_of
from brewhygiene.trends.points.events import agent_lots_of, events_of, load_names
from brewhygiene.trends.points.figures import point_figure, small_figure
from brewhygiene.trends.points.forms import NewPhaseForm
from brewhygiene.trends.points.marks import Window, rlu_words
from brewhygiene.trends.signals.causes import POINT, SOURCE, VESSEL
from brewhygiene.trends.signals.standing import standings
from brewhygiene.trends.signals.suspects import SuspectWords, compare, suspect_words
from brewhygiene.trends.signals.words import SignalWords, rising_now, signals_of

# So many of the latest readings are drawn until all are asked for.
DRAWN = 120
PAST_SIGNALS = 10
EVENTS_SHOWN = 12
FALSE_ALARM_CLEANS = 50


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
    now: list[SignalWords]
    rising: bool

    @property
    def words(self) -> str:
        """In a few words."""
        if self.chart is None:
            return "no readings"
        if self.chart.judged is None:
            return "no limits yet"
        if self.rising:
            return "getting worse"
        if any(one.direction == "up" for one in self.now):
            return "one reading is high"
        if self.now:
            return "readings fall" if self.falling else "unusual variation"
        return "steady" if self.chart.judged.judged else "limits just set"

    @property
    def falling(self) -> bool:
        """Whether the first signal is a fall and none is a rise."""
        directions = [one.direction for one in self.now]
        return directions[:1] == ["down"] and "up" not in directions

    @property
    def code(self) -> str:
        """Of the shape beside the words."""
        if self.chart is None or self.chart.judged is None:
            return "unjudged"
        if any(one.direction == "up" for one in self.now):
            return "alert"
        return "explain" if self.now else "clear"

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
        now=[one for one in signals_of(chart) if one.on],
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
    signals = [one for chart in reversed(charts) for one in signals_of(chart)]
    suspect = _suspect_of(series) if summary.rising else None
    context = {
        "room": "trends",
        "point": found,
        "vessel": found.vessel,
        "figure": point_figure(
            charts, title="Control chart", names=names, events=events, window=window
        ),
        "charts": charts,
        "summary": summary,
        "past": [one for one in signals if one not in summary.now][:PAST_SIGNALS],
        "past_count": len([one for one in signals if one not in summary.now]),
        "suspect": suspect,
        "causes": suspect.causes if suspect else POINT,
        "causes_source": SOURCE,
        "events": list(reversed(events))[:EVENTS_SHOWN],
        "events_count": len(events),
        "readings_count": len(readings),
        "drawn_count": DRAWN,
        "cut": window.since is not None,
        "rules": rules,
        "rule_sets": list(RULE_SETS.values()),
        "false_alarm_percent": _false_alarm_percent(summary, rules),
        "false_alarm_cleans": FALSE_ALARM_CLEANS,
    }
    return render(request, "trends/points/point.html", context)


def _false_alarm_percent(summary: Summary, rules: RuleSet) -> float | None:
    """The chance, in %, of a false signal of getting worse within the next 50 cleans."""
    if summary.chart is None or summary.chart.judged is None:
        return None
    design: Design = summary.chart.judged.design
    chance = false_alarm_chance(
        readings=FALSE_ALARM_CLEANS,
        baseline=max(5, summary.chart.judged.limits.used),
        rules=design.rules,
    )
    return 100 * chance


def _suspect_of(series: PointSeries) -> SuspectWords | None:
    """What the readings of the whole brewery say of a point that gets worse."""
    rows = standings(timezone.now())
    ours = next((row for row in rows if row.point_id == series.point.pk and row.evidence > 1), None)
    if ours is None:
        return None
    compared = compare(rows, until=max(ours.last_result.taken_at, timezone.now()))
    suspect = compared.behind(ours)
    return suspect_words(suspect) if suspect else None


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
        "work": found.part_work.select_related("point", "recorded_by")[:EVENTS_SHOWN],
        "cut": cut,
        "drawn_count": DRAWN,
    }
    return render(request, "trends/points/vessel.html", context)


@never_cache
@permission_needed("approve_limits")
def new_phase(request: Request, pk: int) -> HttpResponse:
    """Start a new phase of a point's chart, with a reason."""
    found = get_object_or_404(SamplingPoint.objects.select_related("vessel"), pk=pk)
    series = series_of(point=found)
    scales = {phase.scale.key: phase.scale for phase in reversed(series.phases)}
    form = NewPhaseForm(sent(request), scales=scales, initial=_initial(series, request))

    def act(by: Actor) -> ChartPhase:
        given, scale = form.cleaned_data, form.chosen_scale()
        return begin_phase(
            by=by,
            point=found,
            meter=Meter.objects.get(pk=scale.meter_id),
            atp_test=AtpTest.objects.get(pk=scale.atp_test_id),
            begins_at=given["begins_at"],
            baseline_until=given["baseline_until"],
            reason=given["reason"],
        )

    if submitted(request, form, act, said=f"New phase of {found} started."):
        return redirect("trends:point", found.pk)
    return page(
        request,
        "trends/points/new_phase.html",
        form=form,
        room="trends",
        point=found,
        vessel=found.vessel,
        has_readings=bool(scales),
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
