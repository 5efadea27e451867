"""The figures of ATP against plates."""

import math
from collections.abc import Sequence

from django.urls import reverse

from brewhygiene.drawing.figure import Axis, Dots, Figure, Line, Mark, Moment, Panel, Table
from brewhygiene.plates.growth import figures
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import percent
from brewhygiene.science.diagnosis.roc import CutOff, Roc
from brewhygiene.trends.plates.pairs import Pair
from brewhygiene.trends.plates.study import Study, cut_words
from brewhygiene.trends.words import day_words

SHARE_TICKS = tuple((tenth / 10, f"{tenth * 10} %") for tenth in range(0, 11, 2))
# More rows or dots than these help nobody; the figures beside them use every pair.
MOST_ROWS = 60
MOST_DOTS = 400
# Fewer plates counted by volume make no picture of their own.
LEAST_COUNTED = 3
RLU_PLACES = (0, 1, 3, 10, 30, 100, 300, 1_000, 3_000, 10_000, 100_000, 1_000_000)


def roc_figure(study: Study, roc: Roc) -> Figure:
    """Every cut-off's catch against its needless alarms, the chosen ones marked."""
    cuts = roc.cut_offs
    marks: list[Mark] = [
        Line((0, 1), (0, 1), name="chance", ink="soft", dash="dot"),
        Line([_alarms(cut) for cut in cuts], [cut.sensitivity for cut in cuts], name="meter"),
    ]
    # The chosen ones first: what the limits did is smaller and lies on top where they meet.
    if study.best is not None:
        marks.append(_chosen(study.best, "Youden cut-off", "blue", "diamond"))
    if study.costed is not None:
        marks.append(_chosen(study.costed.cut_off, "cost cut-off", "orange", "square"))
    for table, shape in zip(study.tables, ("up", "down"), strict=True):
        cells = table.cells
        if cells.so and cells.not_so:
            caught, alarms = cells.hits / cells.so, cells.false_alarms / cells.not_so
            marks.append(
                Dots(
                    (alarms,),
                    (caught,),
                    name=table.title.lower(),
                    ink="purple" if table.name == "alert" else "vermilion",
                    shape=shape,  # type: ignore[arg-type]
                    size=8,
                    words=[
                        f"{table.title}: {percent(caught)} detected, {percent(alarms)} false alarms"
                    ],
                )
            )
    kept = _spread(cuts, {study.best, study.costed.cut_off if study.costed else None})
    area = roc.area
    spread = (
        f"95 % interval {digits(area.interval.low, '.2f')} to {digits(area.interval.high, '.2f')}"
        if area.has_interval
        else "no interval while the two do not overlap"
    )
    return Figure(
        name="roc",
        caption="ROC curve: every cut-off",
        says=(
            f"A positive plate had a higher reading than a negative one in {percent(area.value)} "
            f"of pairs (area {digits(area.value, '.2f')}, {spread}). Chance gives 50 %."
        ),
        panels=[
            Panel(
                x=Axis("False alarms, of negative plates", low=-0.04, high=1.04, ticks=SHARE_TICKS),
                y=Axis("Sensitivity, of positive plates", low=-0.04, high=1.04, ticks=SHARE_TICKS),
                marks=marks,
            )
        ],
        table=Table(
            headings=("Re-clean", "Midpoint", "Detected", "False alarms"),
            rows=[
                (
                    cut_words(cut.at_least),
                    "" if cut.midpoint is None else f"{digits(cut.midpoint, 'g')} RLU",
                    f"{cut.hits} of {cut.positives}",
                    f"{cut.false_alarms} of {cut.negatives}",
                )
                for cut in kept
            ],
        ),
        height_px=420,
    )


def _alarms(cut: CutOff) -> float:
    return cut.false_alarms / cut.negatives


def _chosen(cut: CutOff, name: str, ink: str, shape: str) -> Dots:
    words = (
        f"{name}, {cut_words(cut.at_least)}: {cut.hits} of {cut.positives} detected, "
        f"{cut.false_alarms} of {cut.negatives} false alarms"
    )
    return Dots(
        (_alarms(cut),),
        (cut.sensitivity,),
        name=name,
        ink=ink,  # type: ignore[arg-type]
        shape=shape,  # type: ignore[arg-type]
        size=14,
        words=[words],
    )


def _spread(cuts: Sequence[CutOff], chosen: set[CutOff | None]) -> list[CutOff]:
    """All cut-offs, or so many of them, the chosen ones among them."""
    step = math.ceil(len(cuts) / MOST_ROWS)
    return [cut for i, cut in enumerate(cuts) if i % step == 0 or cut in chosen]


def scatter_figure(study: Study) -> Figure:
    """Each pair: what the meter read, and what grew."""
    pairs = study.pairs[-MOST_DOTS:]
    counted, unit = _counted(pairs)
    x = Axis("RLU", ticks=_rlu_ticks(pairs))
    panels = []
    if counted:
        heights = [math.log10(_value(pair)) for pair in counted]
        panels.append(
            Panel(
                x=x,
                y=Axis(unit, ticks=_count_ticks(counted)),
                marks=[_dots(counted, heights, "positive plate"), *_limits(pairs)],
                title="Plates counted by volume",
                height=1.4,
            )
        )
    grew = [pair for pair in pairs if pair.grew]
    none = [pair for pair in pairs if not pair.grew]
    marks: list[Mark] = []
    if grew:
        marks.append(_dots(grew, _strip(grew, 1), "" if counted else "positive plate"))
    if none:
        marks.append(_dots(none, _strip(none, 0), "negative plate", ink="blue", shape="disc"))
    panels.append(
        Panel(
            x=x,
            y=Axis(low=-0.6, high=1.6, ticks=((0, "negative"), (1, "positive"))),
            marks=[*marks, *_limits(pairs)],
        )
    )
    hidden = len(study.pairs) - len(pairs)
    return Figure(
        name="scatter",
        caption="Each reading and its plate",
        says=f"{len(grew)} of {len(pairs)} plates are positive. RLU are on a logarithmic scale."
        + (f" The latest {len(pairs)} are drawn, {hidden} earlier ones are not." if hidden else ""),
        panels=panels,
        table=Table(
            headings=("Sampling point", "Taken", "RLU", "Verdict", "Plate"),
            rows=[
                (p.place, day_words(p.taken_at), str(p.rlu), p.verdict, p.plate_words)
                for p in reversed(pairs)
            ],
            links=[_address(p) for p in reversed(pairs)],
        ),
        height_px=460 if counted else 300,
    )


def _counted(pairs: Sequence[Pair]) -> tuple[list[Pair], str]:
    """The pairs whose plate has a number in CFU, of the unit that most of them have."""
    counted = [pair for pair in pairs if pair.growth and pair.growth.value]
    units = [pair.growth.unit for pair in counted if pair.growth]
    unit = max(units, key=units.count, default="")
    if units.count(unit) < LEAST_COUNTED:
        return [], ""
    return [pair for pair in counted if pair.growth and pair.growth.unit == unit], unit


def _address(pair: Pair) -> str:
    return reverse("board:turnaround", args=[pair.turnaround_id])


def _value(pair: Pair) -> float:
    assert pair.growth is not None
    assert pair.growth.value is not None
    return pair.growth.value


def _dots(
    pairs: Sequence[Pair],
    y: Sequence[float],
    name: str,
    *,
    ink: str = "vermilion",
    shape: str = "diamond",
) -> Dots:
    return Dots(
        [_log(pair.rlu) for pair in pairs],
        y,
        name=name,
        ink=ink,  # type: ignore[arg-type]
        shape=shape,  # type: ignore[arg-type]
        words=[
            f"{p.place}, {day_words(p.taken_at)}: {p.rlu} RLU, {p.verdict}. {p.plate_words}"
            for p in pairs
        ],
        links=[_address(pair) for pair in pairs],
    )


def _log(rlu: int) -> float:
    return math.log10(rlu + 1)


def _strip(pairs: Sequence[Pair], place: float) -> list[float]:
    """Dots of one kind beside each other in a strip, so that none hides another."""
    return [place + ((i * 7) % 11 - 5) / 12 for i in range(len(pairs))]


def _rlu_ticks(pairs: Sequence[Pair]) -> tuple[tuple[float, str], ...]:
    most = max(pair.rlu for pair in pairs)
    shown = [place for place in RLU_PLACES if place <= most * 1.2 or place <= 10]
    return tuple((_log(place), str(place)) for place in shown)


def _count_ticks(pairs: Sequence[Pair]) -> tuple[tuple[float, str], ...]:
    values = [math.log10(_value(pair)) for pair in pairs]
    low, high = math.floor(min(values)), math.ceil(max(values))
    return tuple((float(power), figures(10.0**power)) for power in range(low, high + 1))


def _limits(pairs: Sequence[Pair]) -> list[Mark]:
    """The limits, where one pair of them judged every reading."""
    known = {(p.alert_rlu, p.action_rlu) for p in pairs if p.judged}
    if len(known) != 1:
        return []
    alert, action = known.pop()
    return [
        Moment(_log(rlu), words, ink=ink)  # type: ignore[arg-type]
        for rlu, words, ink in ((alert, "alert", "purple"), (action, "action", "vermilion"))
        if rlu is not None
    ]
