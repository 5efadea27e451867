"""The form of a step that ran without the timer."""

from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import NumberField
from brewhygiene.regimes.measures import from_site, site_label
from brewhygiene.regimes.models import Quantity, Step
from brewhygiene.skids.state import SolutionState
from brewhygiene.turnarounds.models import Outflow
from brewhygiene.turnarounds.quantities import quantity_title
from brewhygiene.turnarounds.steps.end_form import EndForm, outflow_field
from brewhygiene.turnarounds.steps.solutions.forms import DrawsForm
from brewhygiene.turnarounds.steps.times.stated import StatedReading


class StateForm(EndForm, DrawsForm):
    """A step that ran without the timer: its start and end on the clock."""

    asked = ("started_at", "ended_at", *EndForm.asked)

    # Nothing is filled in: a time that is stated has to be somebody's own.
    started_at = MomentField(
        label="Started",
        initial=None,
        error_messages={"required": "Enter when the step started."},
    )
    ended_at = MomentField(
        label="Ended", initial=None, error_messages={"required": "Enter when the step ended."}
    )

    field_order = ("started_at", "ended_at")

    def __init__(
        self,
        *args: Any,
        step: Step,
        stated: Sequence[str] = (),
        brewery: Brewery | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, step=step, **kwargs)
        self.brewery, self.bases = brewery, {}
        for quantity in stated:
            window = step.window(quantity)
            self.bases[quantity] = window.basis if window is not None else ""
            field = NumberField(
                label=quantity_title(quantity),
                required=False,
                help_text="Optional. If blank, it counts as not read.",
            )
            if brewery is not None and quantity != Quantity.PH:
                field.widget.unit = site_label(
                    quantity=quantity, basis=self.bases[quantity], brewery=brewery
                )
            self.fields[f"stated_{quantity}"] = field

    def offer_solutions(self, states: Sequence[SolutionState], usual: str) -> None:
        super().offer_solutions(states, usual)
        # What is drawn from a tank went somewhere.
        if states and "outflow" not in self.fields:
            self.fields["outflow"] = outflow_field(initial=Outflow.RETURNED)

    def reading_fields(self) -> list[forms.BoundField]:
        return [self[f"stated_{quantity}"] for quantity in self.bases]

    def values(self) -> dict[str, Any]:
        """What ``state_step`` takes, readings in stored units."""
        given = {
            quantity: from_site(
                self.cleaned_data[f"stated_{quantity}"], quantity=quantity, brewery=self.brewery
            )
            for quantity in self.bases
            if self.brewery is not None
        }
        readings = [
            StatedReading(quantity, value, self.bases[quantity])
            for quantity, value in given.items()
            if value is not None
        ]
        return {**super().values(), "readings": readings, "draws": self.draws()}
