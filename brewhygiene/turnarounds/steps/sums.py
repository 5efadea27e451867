"""The sums beside a step: what to add, the tank gas, the flow. Asked for in the address. 0 queries.

What a sum asks for is kept in the address alone: nothing of it is on record.
"""

import dataclasses
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.fields import NumberField, StoredQuantityField
from brewhygiene.regimes.models import Quantity
from brewhygiene.turnarounds.advice.flow_need import LINES, FlowNeed, flow_of
from brewhygiene.turnarounds.advice.tank_gas import USUAL_C, Estimate, GasGiven, estimate_of
from brewhygiene.turnarounds.advice.what_to_add import WhatToAdd, what_to_add
from brewhygiene.turnarounds.models import StepReading
from brewhygiene.turnarounds.progress import chain_of, standing_readings
from brewhygiene.turnarounds.steps.screen import StepScreen

# A vessel without a rating on record is not asked beyond what the sum takes.
MOST_BAR = 3.9


class SolutionForm(forms.Form):
    """How much solution is in the circuit, where the vessel's set-up does not say."""

    solution = StoredQuantityField(
        label="Solution in the circuit",
        stored="L",
        low=0.1,
        high=1_000_000,
        help_text="Tank and lines together. Used on this page only. The head brewer can save "
        "it with the vessel.",
        error_messages={"required": "Enter the volume of solution."},
    )

    def __init__(self, data: Mapping[str, str], *, brewery: Brewery) -> None:
        asked = "solution" in data
        super().__init__(data if asked else None, auto_id="sum_%s", label_suffix="")
        field = self.fields["solution"]
        assert isinstance(field, StoredQuantityField)
        field.show_in(brewery.solution_unit)
        # Beside the gas it may stay unknown.
        field.required = "gas_c" not in data

    def litres(self) -> float | None:
        """What was typed, L."""
        return self.cleaned_data["solution"] if self.is_bound and self.is_valid() else None


class GasForm(forms.Form):
    """What is assumed of the gas in a vessel before caustic."""

    gas_c = StoredQuantityField(
        label="Gas temperature",
        stored="C",
        low=0,
        high=100,
        required=False,
        help_text="The temperature of the vessel. Cold gas is denser.",
    )
    gas_bar = NumberField(
        label="Gauge pressure",
        unit="bar",
        low=0,
        required=False,
        help_text="0 once vented.",
    )

    def __init__(
        self, data: Mapping[str, str], *, brewery: Brewery, most_bar: float | None
    ) -> None:
        usual = {"gas_c": USUAL_C, "gas_bar": 0.0}
        asked = any(name in data for name in usual)
        super().__init__(data if asked else None, auto_id="sum_%s", label_suffix="", initial=usual)
        degrees, bar = self.fields["gas_c"], self.fields["gas_bar"]
        assert isinstance(degrees, StoredQuantityField)
        assert isinstance(bar, NumberField)
        degrees.show_in(brewery.temperature_unit)
        bar.high = MOST_BAR if most_bar is None else min(most_bar, MOST_BAR)

    def given(self, solution_l: float | None) -> GasGiven:
        """What was typed, the usual where nothing valid was."""
        typed: dict[str, Any] = self.cleaned_data if self.is_bound and self.is_valid() else {}
        degrees, bar = typed.get("gas_c"), typed.get("gas_bar")
        return GasGiven(
            temperature_c=USUAL_C if degrees is None else degrees,
            gauge_bar=bar or 0.0,
            solution_l=solution_l,
        )


@dataclasses.dataclass(frozen=True)
class Sums:
    """What is worked out beside a step, each ``None`` where it is not due.

    ``carried`` is what the page's own links take along, as ``&solution=250``, or ''.
    """

    solution_form: SolutionForm | None
    adding: WhatToAdd | None
    gas_form: GasForm | None
    gas: Estimate | None
    flow: FlowNeed | None
    carried: str


def _last(screen: StepScreen, quantity: str) -> StepReading | None:
    """The latest standing reading of the attempt that is on, and those that it prolongs."""
    record = screen.item.record
    if record is None:
        return None
    for attempt in chain_of(record):
        read = [r for r in standing_readings(attempt) if r.quantity == quantity]
        if read:
            return read[-1]
    return None


def sums_of(screen: StepScreen, address: Mapping[str, str], *, brewery: Brewery) -> Sums:
    """The sums beside a step; ``address`` is its query. 0 queries."""
    vessel, step = screen.clean.turnaround.vessel, screen.step
    solution_form = None
    solution_l, carried = vessel.solution_l, ""
    if solution_l is None:
        solution_form = SolutionForm(address, brewery=brewery)
        solution_l = solution_form.litres()
        if solution_l is not None:
            carried = "&" + urlencode({"solution": address["solution"]})
    strength = _last(screen, Quantity.CONCENTRATION)
    adding = None
    if strength is not None and screen.state in ("running", "deviation", "again"):
        adding = what_to_add(
            strength,
            window=step.window(Quantity.CONCENTRATION),
            agent=step.agent,
            solution_l=solution_l,
            brewery=brewery,
        )
    gas, gas_form = None, None
    if screen.is_current and screen.state in ("next", "again"):
        gas_form = GasForm(address, brewery=brewery, most_bar=vessel.pressure_rating_bar)
        gas = estimate_of(
            step,
            vessel,
            progress=screen.progress,
            co2_left=screen.clean.turnaround.emptying.co2_left,
            given=gas_form.given(solution_l),
            brewery=brewery,
        )
    flow_read = _last(screen, Quantity.FLOW_L_MIN)
    if flow_read is None and vessel.kind in LINES:
        flow_read = _last(screen, Quantity.VELOCITY_M_S)
    flow = flow_of(vessel, flow_read, brewery=brewery)
    return Sums(solution_form, adding, gas_form, gas, flow, carried)
