"""A point's control charts as figures: readings, EWMA, CUSUM, moving ranges."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, tzinfo

from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.models import Verdict
from brewhygiene.atp.series import Reading, log_rlu
from brewhygiene.drawing.figure import (
    Axis,
    Band,
    Dots,
    Figure,
    Level,
    Line,
    Mark,
    Moment,
    Panel,
    Table,
)
from brewhygiene.science.control.individuals import moving_ranges
from brewhygiene.trends.charting import PhaseChart
from brewhygiene.trends.point_events import Event, Names, marked

RLU_TICKS = tuple(
    (log_rlu(rlu), f"{rlu:,}".replace(",", " "))
    for rlu in (0, 1, 3, 10, 30, 100, 300, 1_000, 3_000, 10_000, 100_000, 1_000_000)
)
TABLE_ROWS = 200
# A little below 0 RLU, so that a dot there is whole.
FOOT = -0.07


@dataclasses.dataclass(frozen=True)
class Window:
    """Which readings are drawn: those taken from ``since`` on, or all."""

    since: datetime | None = None

    def holds(self, moment: datetime) -> bool:
        return self.since is None or moment >= self.since


def rlu_of(log: float) -> float:
    """RLU of a value of log10(RLU+1); a limit below 0 RLU is 0."""
    return max(0.0, 10.0**log - 1)


def rlu_words(log: float | None) -> str:
    """RLU as a person reads it, as 3.2 or 140."""
    if log is None:
        return ""
    rlu = rlu_of(log)
    return f"{rlu:.1f}" if rlu < 10 else f"{rlu:.0f}"


def _day(moment: datetime, zone: tzinfo) -> str:
    local = moment.astimezone(zone)
    return f"{local.day} {local:%b %Y}"


def _address(reading: Reading) -> str:
    return reverse("atp:result", args=[reading.result_id])


def point_figure(
    charts: Sequence[PhaseChart],
    *,
    title: str,
    names: Names,
    events: Sequence[Event] = (),
    window: Window = Window(),
) -> Figure | None:
    """Readings with their limits, EWMA, CUSUM and moving ranges; ``None`` where nothing is read."""
    zone = timezone.get_current_timezone()
    drawn = [_Drawn(chart, window, zone) for chart in charts]
    drawn = [one for one in drawn if one.readings or one.beside]
    if not drawn:
        return None
    times = Axis(kind="time")
    moments = [
        Moment(event.at, event.short, ink=_event_ink(event))
        for event in marked(events, since=window.since or min(one.first for one in drawn))
    ]
    bare = [Moment(moment.x, "", ink=moment.ink) for moment in moments]
    panels = [
        Panel(
            x=times,
            y=Axis(title="RLU, log scale", ticks=_ticks(drawn, names), low=FOOT),
            marks=[*_reading_marks(drawn, names), *moments],
            title="Readings",
            height=2.2,
        )
    ]
    judged = [one for one in drawn if one.chart.judged is not None]
    if judged:
        panels += [
            Panel(
                x=times,
                y=Axis(title="RLU, log scale", ticks=_ticks(drawn, names, spread=False)),
                marks=[*_ewma_marks(judged), *bare],
                title="Moving average (EWMA)",
            ),
            Panel(
                x=times,
                y=Axis(title="sigmas"),
                marks=[*_cusum_marks(judged), *bare],
                title="Cumulative sum (CUSUM)",
            ),
            Panel(
                x=times,
                y=Axis(title="in log10(RLU+1)", low=0),
                marks=_range_marks(judged),
                title="Moving range",
                height=0.8,
            ),
        ]
    return Figure(
        name="chart",
        caption=title,
        says=_says(drawn),
        panels=panels,
        table=_table(drawn, names),
        height_px=300 + 140 * (len(panels) - 1),
    )


class _Drawn:
    """One phase's part of what is drawn: places ``low`` on are within the window."""

    def __init__(self, chart: PhaseChart, window: Window, zone: tzinfo) -> None:
        self.zone = zone
        self.chart = chart
        self.phase = chart.phase
        readings = chart.phase.readings
        self.low = next(
            (i for i, reading in enumerate(readings) if window.holds(reading.taken_at)),
            len(readings),
        )
        self.readings = readings[self.low :]
        self.beside = [one for one in chart.phase.beside if window.holds(one.taken_at)]
        self.x = [reading.taken_at for reading in self.readings]
        self.logs = chart.phase.logs[self.low :]

    @property
    def first(self) -> datetime:
        return min([*self.x[:1], *(one.taken_at for one in self.beside[:1])])

    @property
    def judged_low(self) -> int:
        """The first drawn place of EWMA and CUSUM, counted from where judging began."""
        assert self.chart.judged is not None
        return max(0, self.low - self.chart.judged.judged_from)

    @property
    def judged_x(self) -> list[datetime]:
        assert self.chart.judged is not None
        first = max(self.low, self.chart.judged.judged_from)
        return [reading.taken_at for reading in self.phase.readings[first:]]


def _event_ink(event: Event) -> str:
    return "ink" if event.kind in ("work", "anew", "baseline", "scale") else "soft"


def _ticks(
    drawn: Sequence[_Drawn], names: Names, *, spread: bool = True
) -> tuple[tuple[float, str], ...]:
    """Ticks of RLU as far as anything reaches."""
    top = max((value for one in drawn for value in one.logs), default=1.0)
    if spread:
        used = {r.limits_id for one in drawn for r in one.readings if r.limits_id is not None}
        top = max([top, *(log_rlu(names.limits[pk][1]) for pk in used)])
        beside = [log_rlu(one.rlu) for each in drawn for one in each.beside]
        top = max([top, *beside])
    ticks = RLU_TICKS if spread else _FINE_TICKS
    return tuple(tick for tick in ticks if tick[0] <= top + 0.5)


_FINE_TICKS = tuple(
    (log_rlu(rlu), f"{rlu:,}".replace(",", " "))
    for rlu in (0, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 100_000)
)


def _told(reading: Reading, log: float, bridged: bool, zone: tzinfo) -> str:
    words = f"{_day(reading.taken_at, zone)}: {reading.rlu} RLU, {reading.verdict}"
    if bridged:
        words += f" (as {rlu_words(log)} RLU on the present scale)"
    if reading.suspected_slip:
        words += ", a slip was suspected"
    return words


def _reading_marks(drawn: Sequence[_Drawn], names: Names) -> list[Mark]:
    marks: list[Mark] = []
    for one in drawn:
        marks.extend(_limit_lines(one))
    marks.extend(_verdict_lines(drawn, names))
    for one in drawn:
        marks.append(Line(one.x, list(one.logs), ink="soft", width=1))
        bridged = [reading.scale != one.phase.scale.key for reading in one.readings]
        marks.append(
            Dots(
                one.x,
                list(one.logs),
                name="first reading after a clean",
                ink="ink",
                size=6,
                words=[
                    _told(reading, log, other, one.zone)
                    for reading, log, other in zip(one.readings, one.logs, bridged, strict=True)
                ],
                links=[_address(reading) for reading in one.readings],
            )
        )
        if one.beside:
            marks.append(
                Dots(
                    [reading.taken_at for reading in one.beside],
                    [log_rlu(reading.rlu) for reading in one.beside],
                    name="retest, or after a re-sanitise",
                    ink="soft",
                    shape="ring",
                    size=8,
                    words=[
                        _told(reading, 0, False, one.zone) + ", not charted"
                        for reading in one.beside
                    ],
                    links=[_address(reading) for reading in one.beside],
                )
            )
        marks.extend(_signal_dots(one))
    return marks


def _limit_lines(one: _Drawn) -> list[Mark]:
    judged = one.chart.judged
    if judged is None or not one.x:
        return []
    limits = judged.limits
    ends = [one.x[0], one.x[-1]]
    marks: list[Mark] = []
    made = [t for i, t in enumerate(one.x, start=one.low) if i < judged.judged_from]
    if len(made) > 1:
        marks.append(
            Band(
                [made[0], made[-1]],
                [max(0.0, limits.lower)] * 2,
                [limits.upper] * 2,
                name="baseline that set the limits",
                ink="sky",
            )
        )
    marks.append(Line(ends, [limits.centre] * 2, name="centre", ink="blue", width=1.25))
    marks.append(Line(ends, [limits.upper] * 2, name="control limits", ink="blue", dash="dash"))
    if limits.lower > 0:
        marks.append(Line(ends, [limits.lower] * 2, name="control limits", ink="blue", dash="dash"))
    return marks


def _verdict_lines(drawn: Sequence[_Drawn], names: Names) -> list[Mark]:
    """Alert level and action limit as they were when each reading was judged."""
    x: list[datetime] = []
    alert: list[float | None] = []
    action: list[float | None] = []
    before: tuple[int, int] | None = None
    pairs = sorted(
        ((r.taken_at, r.limits_id) for one in drawn for r in one.readings),
        key=lambda pair: pair[0],
    )
    for moment, pk in pairs:
        now = names.limits[pk] if pk is not None else None
        if x and now != before:
            # Each set is a line of its own.
            x.append(moment)
            alert.append(None)
            action.append(None)
        x.append(moment)
        alert.append(log_rlu(now[0]) if now else None)
        action.append(log_rlu(now[1]) if now else None)
        before = now
    if all(value is None for value in action):
        return []
    return [
        Line(x, alert, name="alert level", ink="purple", dash="dot", width=1.5),
        Line(x, action, name="action limit", ink="vermilion", dash="dot", width=1.5),
    ]


def _signal_dots(one: _Drawn) -> list[Mark]:
    judged = one.chart.judged
    if judged is None:
        return []
    found: dict[tuple[bool, int], list[str]] = {}
    for signal in judged.signals:
        if signal.direction == "none":
            continue
        found.setdefault((signal.direction == "up", signal.found), []).append(signal.words)
    marks: list[Mark] = []
    for up, name, ink, shape in (
        (True, "signal: readings rise", "vermilion", "up"),
        (False, "signal: readings fall", "teal", "down"),
    ):
        places = [at for side, at in found if side is up and at >= one.low]
        if places:
            marks.append(
                Dots(
                    [one.phase.readings[i].taken_at for i in places],
                    [one.phase.logs[i] for i in places],
                    name=name,
                    ink=ink,  # type: ignore[arg-type]
                    shape=shape,  # type: ignore[arg-type]
                    size=12,
                    words=[
                        f"{_day(one.phase.readings[i].taken_at, one.zone)}: "
                        f"{'; '.join(found[up, i])}"
                        for i in places
                    ],
                    links=[_address(one.phase.readings[i]) for i in places],
                )
            )
    return marks


def _ewma_marks(judged: Sequence[_Drawn]) -> list[Mark]:
    marks: list[Mark] = []
    for one in judged:
        phase = one.chart.judged
        assert phase is not None
        x = one.judged_x
        if not x:
            continue
        centre, sigma = phase.limits.centre, phase.limits.sigma
        values = [centre + z * sigma for z in phase.ewma.average[one.judged_low :]]
        ends = [x[0], x[-1]]
        for limit in (phase.ewma.upper[0], phase.ewma.lower[0]):
            marks.append(
                Line(
                    ends,
                    [centre + limit * sigma] * 2,
                    name="control limits",
                    ink="blue",
                    dash="dash",
                )
            )
        marks.append(Line(ends, [centre] * 2, name="centre", ink="blue", width=1.25))
        marks.append(Line(x, values, name="moving average", ink="ink"))
    return marks


def _cusum_marks(judged: Sequence[_Drawn]) -> list[Mark]:
    marks: list[Mark] = []
    decision = 5.0
    for one in judged:
        phase = one.chart.judged
        assert phase is not None
        decision = phase.design.decision
        x = one.judged_x
        if not x:
            continue
        high = list(phase.cusum.high[one.judged_low :])
        low = [-value for value in phase.cusum.low[one.judged_low :]]
        marks.append(Line(x, high, name="sum of what is too high", ink="vermilion"))
        marks.append(Line(x, low, name="sum of what is low", ink="teal"))
    return [*marks, Level(decision, "limit", ink="blue"), Level(-decision, "", ink="blue")]


def _range_marks(judged: Sequence[_Drawn]) -> list[Mark]:
    marks: list[Mark] = []
    for one in judged:
        phase = one.chart.judged
        assert phase is not None
        ranges = moving_ranges(one.phase.logs)[max(0, one.low - 1) :]
        x = one.x[len(one.x) - len(ranges) :]
        if not ranges:
            continue
        marks.append(Line(x, list(ranges), name="moving range", ink="ink", width=1.25))
        upper = phase.limits.moving_range_upper
        marks.append(
            Line([x[0], x[-1]], [upper] * 2, name="control limits", ink="blue", dash="dash")
        )
    return marks


def _says(drawn: Sequence[_Drawn]) -> str:
    readings = [reading for one in drawn for reading in one.readings]
    if not readings:
        return "Only retests and samples after a re-sanitise so far."
    readings.sort(key=lambda reading: reading.taken_at)
    over = sum(reading.verdict == Verdict.ACTION for reading in readings)
    words = (
        f"{len(readings)} readings from {_day(readings[0].taken_at, drawn[0].zone)} to "
        f"{_day(readings[-1].taken_at, drawn[0].zone)}; {over} over the action limit."
    )
    phases = sum(bool(one.readings) for one in drawn)
    if phases > 1:
        words += f" {phases} phases, each judged by its own baseline and joined by no line."
    return words


def _table(drawn: Sequence[_Drawn], names: Names) -> Table:
    rows: list[tuple[datetime, list[str], str]] = []
    for one in drawn:
        judged = one.chart.judged
        for place, reading in enumerate(one.readings, start=one.low):
            cells = [
                _day(reading.taken_at, one.zone),
                str(reading.rlu),
                reading.verdict,
                one.phase.scale.meter,
                names.stick_lots.get(reading.stick_lot_id, ""),
            ]
            if judged is None:
                cells += ["", "", "", "no limits yet"]
            elif place < judged.judged_from:
                aside = place in judged.limits.set_aside
                cells += ["", "", "", "baseline, set aside" if aside else "baseline"]
            else:
                i = place - judged.judged_from
                log = judged.limits.centre + judged.ewma.average[i] * judged.limits.sigma
                on = [s.words for s in judged.signals if s.found <= place <= s.last]
                cells += [
                    f"{judged.z[place]:+.1f}",
                    rlu_words(log),
                    f"{judged.cusum.high[i]:.1f}",
                    "; ".join(on) or "steady",
                ]
            rows.append((reading.taken_at, cells, _address(reading)))
        for reading in one.beside:
            cells = [
                _day(reading.taken_at, one.zone),
                str(reading.rlu),
                reading.verdict,
                one.phase.scale.meter,
                names.stick_lots.get(reading.stick_lot_id, ""),
                *("", "", ""),
                "beside: retest or re-sanitise",
            ]
            rows.append((reading.taken_at, cells, _address(reading)))
    rows.sort(key=lambda row: row[0], reverse=True)
    rows = rows[:TABLE_ROWS]
    return Table(
        headings=(
            "Taken",
            "RLU",
            "Verdict",
            "Meter",
            "Stick lot",
            "Off the centre, sigmas",
            "Moving average, RLU",
            "Sum of too high, sigmas",
            "Chart",
        ),
        rows=[cells for _, cells, _ in rows],
        links=[link for *_, link in rows],
    )


def small_figure(
    charts: Sequence[PhaseChart], *, number: int, title: str, window: Window
) -> Figure | None:
    """One point's readings, average and limits in little, for the page of its vessel."""
    zone = timezone.get_current_timezone()
    drawn = [one for one in (_Drawn(chart, window, zone) for chart in charts) if one.readings]
    if not drawn:
        return None
    marks: list[Mark] = []
    for one in drawn:
        marks.extend(mark for mark in _limit_lines(one) if not isinstance(mark, Band))
        marks.append(Line(one.x, list(one.logs), name="readings", ink="soft", width=1))
        if one.chart.judged is not None and one.judged_x:
            limits = one.chart.judged.limits
            average = one.chart.judged.ewma.average[one.judged_low :]
            marks.append(
                Line(
                    one.judged_x,
                    [limits.centre + z * limits.sigma for z in average],
                    name="moving average",
                    ink="ink",
                    width=2.25,
                )
            )
        marks.extend(_signal_dots(one))
    rows = [
        (_day(reading.taken_at, zone), str(reading.rlu), reading.verdict, _address(reading))
        for one in drawn
        for reading in one.readings[-12:]
    ][-12:]
    return Figure(
        name=f"point-{number}",
        caption=title,
        says=_says(drawn),
        panels=[
            Panel(
                x=Axis(kind="time"),
                y=Axis(
                    title="RLU, log scale",
                    ticks=tuple(
                        tick
                        for tick in RLU_TICKS
                        if tick[0] <= max(max(one.logs) for one in drawn) + 0.5
                    ),
                    low=FOOT,
                ),
                marks=marks,
            )
        ],
        table=Table(
            headings=("Taken", "RLU", "Verdict"),
            rows=[row[:3] for row in reversed(rows)],
            links=[row[3] for row in reversed(rows)],
        ),
        height_px=190,
    )
