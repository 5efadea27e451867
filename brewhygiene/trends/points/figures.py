"""A point's control charts as figures: readings, EWMA, CUSUM, moving ranges."""

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from brewhygiene.atp.models.readings import Verdict
from brewhygiene.atp.phases.series import Reading, log_rlu
from brewhygiene.drawing.figure import (
    Axis,
    Band,
    Figure,
    Ink,
    Line,
    Mark,
    Moment,
    Panel,
    Table,
)
from brewhygiene.quantities.style import digits
from brewhygiene.trends.charting import PhaseChart
from brewhygiene.trends.points.events import Event, Names, marked, short_words
from brewhygiene.trends.points.marks import (
    Drawn,
    Window,
    address_of,
    cusum_marks,
    ewma_marks,
    limit_lines,
    range_marks,
    reading_marks,
    rlu_words,
    signal_dots,
)
from brewhygiene.trends.words import day_words

RLU_TICKS = tuple(
    (log_rlu(rlu), digits(rlu, ",").replace(",", " "))
    for rlu in (0, 1, 3, 10, 30, 100, 300, 1_000, 3_000, 10_000, 100_000, 1_000_000)
)
TABLE_ROWS = 200
NOT_CHARTED = "not charted: retest or re-sanitise"
OTHER_MOMENT = "not charted: other sampling moment"
# A little below 0 RLU, so that a dot there is whole.
FOOT = -0.07


def point_figure(
    charts: Sequence[PhaseChart],
    *,
    title: str,
    names: Names,
    events: Sequence[Event] = (),
    window: Window,
) -> Figure | None:
    """Readings with their limits, EWMA, CUSUM and moving ranges; ``None`` without a reading."""
    zone = timezone.get_current_timezone()
    drawn = [Drawn(chart, window, zone) for chart in charts]
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
            marks=[*reading_marks(drawn, names), *moments],
            title="Readings",
            height=2.2,
        )
    ]
    judged = [one for one in drawn if one.chart.judged is not None]
    if judged:
        averages = ewma_marks(judged)
        panels += [
            Panel(
                x=times,
                y=Axis(title="RLU, log scale", ticks=_ewma_ticks(averages)),
                marks=[*averages, *bare],
                title="Moving average (EWMA)",
            ),
            Panel(
                x=times,
                y=Axis(title="sigmas"),
                marks=[*cusum_marks(judged), *bare],
                title="Cumulative sum (CUSUM)",
            ),
            Panel(
                x=times,
                y=Axis(title="in log10(RLU+1)", low=0),
                marks=range_marks(judged),
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


def _event_ink(event: Event) -> Ink:
    return "ink" if event.kind in ("work", "anew", "baseline", "moment", "scale") else "soft"


def _ticks(drawn: Sequence[Drawn], names: Names) -> tuple[tuple[float, str], ...]:
    """Ticks of RLU as far as anything reaches."""
    used = {r.limits_id for one in drawn for r in one.readings if r.limits_id is not None}
    top = max(
        [
            1.0,
            *(value for one in drawn for value in one.logs),
            *(log_rlu(names.limits[pk][1]) for pk in used),
            *(log_rlu(one.rlu) for each in drawn for one in each.beside),
        ]
    )
    return tuple(tick for tick in RLU_TICKS if tick[0] <= top + 0.5)


_FINE_TICKS = tuple(
    (log_rlu(rlu), digits(rlu, ",").replace(",", " "))
    for rlu in (0, 1, 2, 3, 5, 10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 100_000)
)


def _ewma_ticks(marks: Sequence[Mark]) -> tuple[tuple[float, str], ...]:
    """Ticks of RLU between the ends of what is drawn, which are much nearer to each other."""
    values = [y for mark in marks if isinstance(mark, Line) for y in mark.y if y is not None]
    low, high = min(values, default=0.0), max(values, default=1.0)
    return tuple(tick for tick in _FINE_TICKS if low - 0.02 <= tick[0] <= high + 0.02)


def _says(drawn: Sequence[Drawn]) -> str:
    readings = [reading for one in drawn for reading in one.readings]
    if not readings:
        return "Only retests and readings after a re-sanitise so far."
    readings.sort(key=lambda reading: reading.taken_at)
    over = sum(reading.verdict == Verdict.ACTION for reading in readings)
    words = (
        f"{len(readings)} readings from {day_words(readings[0].taken_at, drawn[0].zone)} to "
        f"{day_words(readings[-1].taken_at, drawn[0].zone)}, {over} over the action limit."
    )
    phases = sum(bool(one.readings) for one in drawn)
    if phases > 1:
        words += f" {phases} phases, each with its own baseline."
    return words


def _reading_cells(reading: Reading, one: Drawn, names: Names) -> list[str]:
    return [
        day_words(reading.taken_at, one.zone),
        str(reading.rlu),
        reading.verdict,
        one.phase.scale.meter,
        names.test_lots.get(reading.test_lot_id, ""),
    ]


def _table(drawn: Sequence[Drawn], names: Names) -> Table:
    rows: list[tuple[datetime, list[str], str]] = []
    for one in drawn:
        judged = one.chart.judged
        for place, reading in enumerate(one.readings, start=one.low):
            cells = _reading_cells(reading, one, names)
            if judged is None:
                cells += ["", "", "", "no limits yet"]
            elif place < judged.judged_from:
                aside = place in judged.limits.set_aside
                cells += ["", "", "", "baseline, excluded" if aside else "baseline"]
            else:
                i = place - judged.judged_from
                log = judged.limits.centre + judged.ewma.average[i] * judged.limits.sigma
                on = [s.words for s in judged.signals if s.found <= place <= s.last]
                cells += [
                    f"{digits(judged.z[place], '+.1f')}",
                    rlu_words(log),
                    f"{digits(judged.cusum.high[i], '.1f')}",
                    " · ".join(on) or "steady",
                ]
            rows.append((reading.taken_at, cells, address_of(reading)))
        for reading in one.beside:
            why = OTHER_MOMENT if reading.is_first else NOT_CHARTED
            cells = [*_reading_cells(reading, one, names), "", "", "", why]
            rows.append((reading.taken_at, cells, address_of(reading)))
    rows.sort(key=lambda row: row[0], reverse=True)
    rows = rows[:TABLE_ROWS]
    return Table(
        headings=(
            "Taken",
            "RLU",
            "Verdict",
            "Meter",
            "Lot of ATP tests",
            "From the centre, sigmas",
            "Moving average, RLU",
            "Upper CUSUM, sigmas",
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
    drawn = [one for one in (Drawn(chart, window, zone) for chart in charts) if one.readings]
    if not drawn:
        return None
    marks: list[Mark] = []
    for one in drawn:
        marks.extend(mark for mark in limit_lines(one) if not isinstance(mark, Band))
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
        marks.extend(signal_dots(one))
    marks.extend(_begins(drawn))
    rows = [
        (day_words(reading.taken_at, zone), str(reading.rlu), reading.verdict, address_of(reading))
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


def _begins(drawn: Sequence[Drawn]) -> list[Moment]:
    """Where another scale or phase begins, in a word or two."""
    first = min(drawn, key=lambda one: one.first)
    found: dict[tuple[datetime, str], None] = {}
    for one in drawn:
        if one is not first:
            begin = one.phase.begin
            words = (
                one.phase.scale.meter
                if begin.kind == "first"
                else short_words(begin.words, begin.kind)
            )
            found[max(begin.at, first.first), words] = None
    return [Moment(at, words, ink="ink") for at, words in found]
