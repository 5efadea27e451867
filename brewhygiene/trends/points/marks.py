"""The marks of a point's control charts: readings, limits, signals, sums, ranges."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, tzinfo

from django.urls import reverse

from brewhygiene.atp.phases.series import Reading, log_rlu
from brewhygiene.drawing.figure import Band, Dots, Level, Line, Mark
from brewhygiene.quantities.style import digits
from brewhygiene.science.control.individuals import moving_ranges
from brewhygiene.trends.charting import PhaseChart
from brewhygiene.trends.points.events import Names
from brewhygiene.trends.words import day_words


@dataclasses.dataclass(frozen=True)
class Window:
    """Which readings are drawn: those taken from ``since`` on, or all."""

    since: datetime | None = None

    def contains(self, moment: datetime) -> bool:
        return self.since is None or moment >= self.since


def rlu_of(log: float) -> float:
    """RLU of a value of log10(RLU+1); a limit below 0 RLU is 0."""
    return max(0.0, 10.0**log - 1)


def rlu_words(log: float | None) -> str:
    """RLU as a person reads it, as 3.2 or 140."""
    if log is None:
        return ""
    rlu = rlu_of(log)
    return f"{digits(rlu, '.1f')}" if rlu < 10 else f"{rlu:.0f}"


def address_of(reading: Reading) -> str:
    return reverse("atp:reading", args=[reading.result_id])


class Drawn:
    """One phase's part of what is drawn: places ``low`` on are within the window."""

    def __init__(self, chart: PhaseChart, window: Window, zone: tzinfo) -> None:
        self.zone = zone
        self.chart = chart
        self.phase = chart.phase
        readings = chart.phase.readings
        self.low = next(
            (i for i, reading in enumerate(readings) if window.contains(reading.taken_at)),
            len(readings),
        )
        self.readings = readings[self.low :]
        self.beside = [one for one in chart.phase.beside if window.contains(one.taken_at)]
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


def _reading_words(reading: Reading, log: float, bridged: bool, zone: tzinfo) -> str:
    words = f"{day_words(reading.taken_at, zone)}: {reading.rlu} RLU, {reading.verdict}"
    if bridged:
        words += f" (as {rlu_words(log)} RLU on the present scale)"
    if reading.suspected_slip:
        words += ", a slip is suspected"
    return words


def reading_marks(drawn: Sequence[Drawn], names: Names) -> list[Mark]:
    marks: list[Mark] = []
    for one in drawn:
        marks.extend(limit_lines(one))
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
                    _reading_words(reading, log, other, one.zone)
                    for reading, log, other in zip(one.readings, one.logs, bridged, strict=True)
                ],
                links=[address_of(reading) for reading in one.readings],
            )
        )
        if one.beside:
            marks.append(
                Dots(
                    [reading.taken_at for reading in one.beside],
                    [log_rlu(reading.rlu) for reading in one.beside],
                    name="retest, re-sanitise or other moment",
                    ink="soft",
                    shape="ring",
                    size=8,
                    words=[
                        _reading_words(reading, 0, False, one.zone) + ", not charted"
                        for reading in one.beside
                    ],
                    links=[address_of(reading) for reading in one.beside],
                )
            )
        marks.extend(signal_dots(one))
    return marks


def limit_lines(one: Drawn) -> list[Mark]:
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
                name="baseline",
                ink="sky",
            )
        )
    marks.append(Line(ends, [limits.centre] * 2, name="centre", ink="blue", width=1.25))
    marks.append(Line(ends, [limits.upper] * 2, name="control limits", ink="blue", dash="dot"))
    if limits.lower > 0:
        marks.append(Line(ends, [limits.lower] * 2, name="control limits", ink="blue", dash="dot"))
    return marks


def _verdict_lines(drawn: Sequence[Drawn], names: Names) -> list[Mark]:
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
        Line(x, alert, name="alert level", ink="purple", dash="dash", width=1.75),
        Line(x, action, name="action limit", ink="vermilion", width=1.75),
    ]


def signal_dots(one: Drawn) -> list[Mark]:
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
        (True, "rise signal", "vermilion", "up"),
        (False, "fall signal", "teal", "down"),
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
                        f"{day_words(one.phase.readings[i].taken_at, one.zone)}: "
                        f"{' · '.join(found[up, i])}"
                        for i in places
                    ],
                    links=[address_of(one.phase.readings[i]) for i in places],
                )
            )
    return marks


def ewma_marks(judged: Sequence[Drawn]) -> list[Mark]:
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
                    dash="dot",
                )
            )
        marks.append(Line(ends, [centre] * 2, name="centre", ink="blue", width=1.25))
        marks.append(Line(x, values, name="moving average", ink="ink"))
    return marks


def cusum_marks(judged: Sequence[Drawn]) -> list[Mark]:
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
        marks.append(Line(x, high, name="upper CUSUM", ink="vermilion"))
        marks.append(Line(x, low, name="lower CUSUM", ink="teal"))
    return [*marks, Level(decision, "control limit", ink="blue"), Level(-decision, "", ink="blue")]


def range_marks(judged: Sequence[Drawn]) -> list[Mark]:
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
            Line([x[0], x[-1]], [upper] * 2, name="control limits", ink="blue", dash="dot")
        )
    return marks
