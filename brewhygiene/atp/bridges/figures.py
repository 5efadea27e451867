"""The two figures of a bridge study, from its pairs and fit."""

import math
from collections.abc import Sequence

from brewhygiene.atp.bridges.study import Study
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.drawing.figure import (
    Axis,
    Band,
    Dots,
    Figure,
    Level,
    Line,
    Mark,
    Panel,
    Table,
)
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits, own_words
from brewhygiene.science.agreement.paired import log_of_rlu

LEAST_DRAWN = 3
_STEPS = 24
_TICKS_RLU = (0, 1, 3, 10, 30, 100, 300, 1_000, 3_000, 10_000, 100_000, 1_000_000, 10_000_000)


def _ticks(highest: float) -> tuple[tuple[float, str], ...]:
    """RLU at their places of log10(RLU + 1), up to the next beyond the highest."""
    places = [(log_of_rlu(rlu), digits(rlu, ",")) for rlu in _TICKS_RLU]
    beyond = next((k for k, (place, _) in enumerate(places) if place >= highest), len(places) - 1)
    return tuple(places[: beyond + 1])


def scale_names(bridge: Bridge) -> tuple[str, str]:
    """Short names that distinguish the two scales."""
    if bridge.reference_meter_id == bridge.new_meter_id:
        return bridge.reference_atp_test.name, bridge.new_atp_test.name
    if bridge.reference_atp_test_id == bridge.new_atp_test_id:
        return bridge.reference_meter.name, bridge.new_meter.name
    return (
        f"{bridge.reference_meter.name}, {bridge.reference_atp_test.name}",
        f"{bridge.new_meter.name}, {bridge.new_atp_test.name}",
    )


def _logs(pairs: Sequence[BridgePair]) -> tuple[list[float], list[float]]:
    whole = [(p.reference_rlu, p.new_rlu) for p in pairs]
    found = [(a, b) for a, b in whole if a is not None and b is not None]
    return [log_of_rlu(a) for a, _ in found], [log_of_rlu(b) for _, b in found]


def _words(pair: BridgePair) -> str:
    where = f", {pair.point.vessel.name} {pair.point.name}" if pair.point else ""
    why = f", excluded: {pair.left_out_reason}" if pair.left_out_reason else ""
    return f"{pair.reference_rlu} and {pair.new_rlu} RLU{where}{why}"


def _excluded_whole(study: Study) -> list[BridgePair]:
    return [
        pair
        for pair in study.pairs.excluded
        if pair.reference_rlu is not None and pair.new_rlu is not None
    ]


def scatter_figure(bridge: Bridge, study: Study) -> Figure | None:
    """Every pair with the lines through them, on log10(RLU + 1); ``None`` below 3 pairs."""
    used = study.pairs.used
    if len(used) < LEAST_DRAWN:
        return None
    first, second = scale_names(bridge)
    x, y = _logs(used)
    out = _excluded_whole(study)
    out_x, out_y = _logs(out)
    top = max(*x, *y, *out_x, *out_y, log_of_rlu(10)) * 1.03
    marks: list[Mark] = [
        Line(x=[0, top], y=[0, top], name="equal readings", ink="soft", dash="dot")
    ]
    says = "No line: the pairs do not allow one."
    if study.fit is not None:
        line, check = study.fit.line, study.fit.check
        low = max(min(study.fit.reference_logs), 0.0)
        high = max(study.fit.reference_logs)
        places = [low + (high - low) * step / _STEPS for step in range(_STEPS + 1)]
        bounds = [line.interval_at(place) for place in places]
        marks += [
            Band(
                x=places,
                low=[max(low_end, 0.0) for low_end, _ in bounds],
                high=[max(high_end, 0.0) for _, high_end in bounds],
                name="Deming, 95 % interval",
                ink="sky",
            ),
            Line(x=places, y=[line.at(p) for p in places], name="Deming", ink="blue"),
            Line(
                x=places,
                y=[check.at(p) for p in places],
                name="Passing–Bablok",
                ink="orange",
                dash="dash",
            ),
        ]
        says = (
            f"{study.fit.pairs} pairs. The slope of the logs is "
            f"{show_number(line.slope, significant=3)} (95 % interval "
            f"{show_number(line.ci_slope[0], significant=3)} to "
            f"{show_number(line.ci_slope[1], significant=3)})."
        )
    marks.append(Dots(x=x, y=y, name="pairs", ink="ink", words=[_words(pair) for pair in used]))
    if out:
        marks.append(
            Dots(
                x=out_x,
                y=out_y,
                name="excluded",
                ink="vermilion",
                shape="cross",
                words=[_words(pair) for pair in out],
            )
        )
    return Figure(
        name="bridge-pairs",
        caption="Pairs and fitted lines",
        says=says,
        panels=[
            Panel(
                x=Axis(title=f"{first}, RLU", low=0, high=top, ticks=_ticks(top)),
                y=Axis(title=f"{second}, RLU", low=0, high=top, ticks=_ticks(top)),
                marks=marks,
            )
        ],
        table=Table(
            headings=("Pair", f"{first}, RLU", f"{second}, RLU", "Sampling point", "Used"),
            rows=[
                (
                    str(number),
                    str(pair.reference_rlu),
                    str(pair.new_rlu),
                    f"{pair.point.vessel.name}, {pair.point.name}" if pair.point else "",
                    f"no: {pair.left_out_reason}" if pair.left_out_reason else "yes",
                )
                for number, pair in enumerate([*used, *out], start=1)
            ],
        ),
        height_px=420,
    )


def difference_figure(bridge: Bridge, study: Study) -> Figure | None:
    """Bland and Altman's plot of the logarithms, as ratios; ``None`` without limits."""
    if study.logs is None or study.ratios is None:
        return None
    first, second = scale_names(bridge)
    used = study.pairs.used
    x, y = _logs(used)
    means = [(a + b) / 2 for a, b in zip(x, y, strict=True)]
    differences = [b - a for a, b in zip(x, y, strict=True)]
    logs, ratios = study.logs, study.ratios
    right = max(*means, log_of_rlu(10)) * 1.03
    marks: list[Mark] = []
    for inner, words in ((logs.ci_lower, "95 % intervals of the limits"), (logs.ci_upper, "")):
        marks.append(
            Band(x=[0, right], low=[inner[0]] * 2, high=[inner[1]] * 2, name=words, ink="orange")
        )
    marks += [
        Band(
            x=[0, right],
            low=[logs.ci_bias[0]] * 2,
            high=[logs.ci_bias[1]] * 2,
            name="95 % interval of the mean",
            ink="sky",
        ),
        Level(y=logs.bias, words=f"mean, × {_ratio(ratios.ratio)}", ink="blue"),
        Level(y=logs.limits[0], words=f"× {_ratio(ratios.limits[0])}", ink="orange"),
        Level(y=logs.limits[1], words=f"× {_ratio(ratios.limits[1])}", ink="orange"),
        Dots(x=means, y=differences, name="pairs", ink="ink", words=[_words(p) for p in used]),
    ]
    # At least a fifth up and down: pairs that are all alike would leave no axis.
    ends = (*differences, *logs.ci_lower, *logs.ci_upper, math.log10(1.25))
    reach = max(abs(value) for value in ends) * 1.05
    return Figure(
        name="bridge-differences",
        caption="Difference between the scales (Bland–Altman)",
        says=(
            f"On average {second} reads {_ratio(ratios.ratio)} times {first}, in RLU + 1. 95 of "
            f"100 pairs lie between {_ratio(ratios.limits[0])} and {_ratio(ratios.limits[1])} "
            "times."
        ),
        panels=[
            Panel(
                x=Axis(title="mean of both, RLU", low=0, high=right, ticks=_ticks(right)),
                y=Axis(
                    title=f"{second} over {first}",
                    low=-reach,
                    high=reach,
                    ticks=_ratio_ticks(reach),
                ),
                marks=marks,
            )
        ],
        table=Table(
            headings=("Pair", f"{first}, RLU", f"{second}, RLU", "Ratio of RLU + 1"),
            rows=[
                (
                    str(number),
                    str(pair.reference_rlu),
                    str(pair.new_rlu),
                    _ratio(10 ** differences[number - 1]),
                )
                for number, pair in enumerate(used, start=1)
            ],
        ),
        height_px=340,
    )


def _ratio(value: float) -> str:
    return show_number(value, significant=2)


def _ratio_ticks(reach: float) -> tuple[tuple[float, str], ...]:
    """Ratios at the places of their logarithms, as many as fit."""
    every: Sequence[tuple[float, str]] = (
        (0.001, "÷ 1000"),
        (0.01, "÷ 100"),
        (0.1, "÷ 10"),
        (0.2, "÷ 5"),
        (0.5, "÷ 2"),
        (1, "equal"),
        (2, "× 2"),
        (5, "× 5"),
        (10, "× 10"),
        (100, "× 100"),
        (1000, "× 1000"),
    )
    near = reach <= math.log10(2)
    if near:
        every = (
            (0.5, "÷ 2"),
            (1 / 1.5, "÷ 1.5"),
            (1 / 1.2, "÷ 1.2"),
            (1, "equal"),
            (1.2, "× 1.2"),
            (1.5, "× 1.5"),
            (2, "× 2"),
        )
    return tuple(
        (math.log10(ratio), own_words(words))
        for ratio, words in every
        if abs(math.log10(ratio)) <= reach
    )
