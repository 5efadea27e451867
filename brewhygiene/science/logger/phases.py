"""The phases of a clean, found as plateaus of temperature, flow and conductivity.

The rule, on the means of short buckets:

1. A phase goes on while each quantity stays within its band around the phase's own mean so far:
   ± 5 K, ± the larger of 20 % and 1 mS/cm, ± the larger of 30 % and 10 L/min.
2. A quantity that stays outside for a minute or more begins a new phase there; less is noise.
3. A gap in the readings longer than the longest that is bridged ends a phase.
4. Neighbouring phases shorter than three minutes are one phase of *changing*.
5. A plateau is named by its means, the first that holds: flow below 5 L/min *standing*;
   conductivity of 5 mS/cm or more *solution*; 60 °C or more *hot water*; else *water*. Without
   conductivity there is no telling solution from water: *hot* or *cold*, by 45 °C.

The bands are common practice, no source: a start for the eye, to be moved by hand.
"""

import dataclasses
from typing import Literal

from brewhygiene.science.logger.buckets import Buckets

PhaseKind = Literal["standing", "solution", "hot water", "water", "hot", "cold", "changing"]


@dataclasses.dataclass(frozen=True)
class PhaseRule:
    """The numbers of the rule; units are in the names, shares are of the phase's mean."""

    band_temperature_k: float = 5.0
    band_conductivity_ms_cm: float = 1.0
    band_conductivity_share: float = 0.2
    band_flow_l_min: float = 10.0
    band_flow_share: float = 0.3
    leave_s: float = 60.0
    shortest_s: float = 180.0
    standing_below_l_min: float = 5.0
    solution_from_ms_cm: float = 5.0
    hot_water_from_c: float = 60.0
    hot_from_c: float = 45.0


@dataclasses.dataclass(frozen=True)
class Phase:
    """A stretch of the trace, seconds since its start, with the means by quantity."""

    kind: PhaseKind
    from_s: float
    until_s: float
    means: dict[str, float]

    @property
    def minutes(self) -> float:
        """Length in minutes."""
        return (self.until_s - self.from_s) / 60


class _Stretch:
    """Buckets gathered into one phase."""

    def __init__(self, index: int, values: dict[str, float]) -> None:
        self.first = self.last = index
        self.sums: dict[str, float] = {}
        self.counts: dict[str, int] = {}
        self.take(index, values)

    def take(self, index: int, values: dict[str, float]) -> None:
        self.last = index
        for quantity, value in values.items():
            self.sums[quantity] = self.sums.get(quantity, 0.0) + value
            self.counts[quantity] = self.counts.get(quantity, 0) + 1

    def join(self, other: "_Stretch") -> None:
        self.last = other.last
        for quantity, value in other.sums.items():
            self.sums[quantity] = self.sums.get(quantity, 0.0) + value
            self.counts[quantity] = self.counts.get(quantity, 0) + other.counts[quantity]

    def means(self) -> dict[str, float]:
        return {quantity: total / self.counts[quantity] for quantity, total in self.sums.items()}


def _within(stretch: _Stretch, values: dict[str, float], rule: PhaseRule) -> bool:
    for quantity, value in values.items():
        if not stretch.counts.get(quantity):
            continue
        mean = stretch.sums[quantity] / stretch.counts[quantity]
        if quantity == "temperature_c":
            band = rule.band_temperature_k
        elif quantity == "conductivity_ms_cm":
            band = max(rule.band_conductivity_ms_cm, rule.band_conductivity_share * abs(mean))
        elif quantity == "flow_l_min":
            band = max(rule.band_flow_l_min, rule.band_flow_share * abs(mean))
        else:
            continue
        if abs(value - mean) > band:
            return False
    return True


def _kind(means: dict[str, float], rule: PhaseRule) -> PhaseKind:
    flow, conductivity = means.get("flow_l_min"), means.get("conductivity_ms_cm")
    temperature = means.get("temperature_c")
    if flow is not None and flow < rule.standing_below_l_min:
        return "standing"
    if conductivity is None:
        return "hot" if temperature is not None and temperature >= rule.hot_from_c else "cold"
    if conductivity >= rule.solution_from_ms_cm:
        return "solution"
    hot = temperature is not None and temperature >= rule.hot_water_from_c
    return "hot water" if hot else "water"


TELLING = ("temperature_c", "flow_l_min", "conductivity_ms_cm")


def find_phases(
    buckets: Buckets,
    *,
    quantities: tuple[str, ...],
    rule: PhaseRule | None = None,
    max_gap_s: float = 60.0,
) -> tuple[Phase, ...]:
    """The phases of a trace collected in ``buckets``, in order, by the rule of this module.

    ``quantities`` are those collected, of which temperature, flow and conductivity tell phases;
    ``max_gap_s`` s, the longest gap that is bridged. No phase where none of the three is there.
    """
    rule = rule or PhaseRule()
    rows: dict[int, dict[str, float]] = {}
    for quantity in TELLING:
        if quantity in quantities:
            index, means = buckets.means(quantity)
            for place, mean in zip(index.tolist(), means.tolist(), strict=True):
                rows.setdefault(place, {})[quantity] = mean
    width_s = buckets.width_s
    gap = max(1, int(max_gap_s // width_s) + 1)
    leave = max(1, int(-(-rule.leave_s // width_s)))
    phases: list[Phase] = []
    for stretches in _by_gap(rows, gap=gap, leave=leave, rule=rule):
        phases += _named(stretches, width_s, rule)
    return tuple(phases)


def _by_gap(
    rows: dict[int, dict[str, float]], *, gap: int, leave: int, rule: PhaseRule
) -> list[list[_Stretch]]:
    found: list[list[_Stretch]] = []
    present: list[_Stretch] = []
    outside: list[tuple[int, dict[str, float]]] = []
    last: int | None = None
    for index in sorted(rows):
        values = rows[index]
        if last is None or index - last > gap:
            _settle(present, outside)
            present = [_Stretch(index, values)]
            found.append(present)
        elif _within(present[-1], values, rule):
            _settle(present, outside)
            present[-1].take(index, values)
        else:
            outside.append((index, values))
            if index - outside[0][0] + 1 >= leave:
                _begin(present, outside, rule)
        last = index
    _settle(present, outside)
    return found


def _settle(present: list[_Stretch], outside: list[tuple[int, dict[str, float]]]) -> None:
    """What was outside for too short a time belongs to the phase all the same."""
    for index, values in outside:
        present[-1].take(index, values)
    outside.clear()


def _begin(
    present: list[_Stretch], outside: list[tuple[int, dict[str, float]]], rule: PhaseRule
) -> None:
    """A new phase from what was outside; on a ramp, several of them."""
    for place, (index, values) in enumerate(outside):
        if place == 0 or not _within(present[-1], values, rule):
            present.append(_Stretch(index, values))
        else:
            present[-1].take(index, values)
    outside.clear()


def _named(stretches: list[_Stretch], width_s: float, rule: PhaseRule) -> list[Phase]:
    phases: list[Phase] = []
    changing: _Stretch | None = None

    def finish() -> None:
        if changing is not None:
            phases.append(_phase(changing, width_s, "changing"))

    for stretch in stretches:
        if (stretch.last - stretch.first + 1) * width_s >= rule.shortest_s:
            finish()
            changing = None
            phases.append(_phase(stretch, width_s, _kind(stretch.means(), rule)))
        elif changing is None:
            changing = stretch
        else:
            changing.join(stretch)
    finish()
    return phases


def _phase(stretch: _Stretch, width_s: float, kind: PhaseKind) -> Phase:
    return Phase(kind, stretch.first * width_s, (stretch.last + 1) * width_s, stretch.means())
