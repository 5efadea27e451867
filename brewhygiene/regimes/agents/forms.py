"""The form of an agent."""

from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.codes.fields import GtinField
from brewhygiene.quantities.fields import NumberField, words_of_ours
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.about import AgentValues
from brewhygiene.regimes.actions import SUBSTANCES
from brewhygiene.regimes.models import ActiveSubstance, Agent, AgentKind
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G


def _substance_choices() -> list[tuple[str, Any]]:
    grouped = [
        (
            AgentKind(kind).label,
            [(value, label) for value, label in ActiveSubstance.choices if value in substances],
        )
        for kind, substances in SUBSTANCES.items()
    ]
    return [("", "Choose"), *grouped]


class AgentForm(ActionForm):
    name = forms.CharField(
        max_length=80, help_text="A general name and the strength, e.g. Caustic liquor 50 %."
    )
    kind = forms.ChoiceField(choices=[("", "Choose"), *AgentKind.choices])
    active_substance = forms.ChoiceField(choices=_substance_choices, label="Active substance")
    concentrate_strength_ww = NumberField(
        label="Strength in the drum",
        unit="% w/w",
        low=0.01,
        high=100,
        help_text="By weight, from the label.",
    )
    concentrate_density_kg_l = NumberField(
        label="Density in the drum",
        unit="kg/L",
        low=0.5,
        high=2.5,
        required=False,
        help_text="Optional, from the safety data sheet. If blank, a strength in % v/v of the "
        "product "
        "cannot be converted.",
    )
    equivalent_weight_g = NumberField(
        label="Equivalent weight",
        unit="g/eq",
        low=1,
        high=500,
        required=False,
        help_text=words_of_ours(
            "Grams of active substance per equivalent of titrant, from the label. Optional "
            f"for a single substance: if blank, its own is used (NaOH "
            f"{EQUIVALENT_WEIGHT_G['NaOH']:.2f}, "
            f"HNO3 {EQUIVALENT_WEIGHT_G['HNO3']:.2f}). A blend cannot be titrated without it."
        ),
    )
    hazards = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="From the safety data sheet, in a few words. Shown at each step with this agent.",
    )
    sds_reference = forms.CharField(
        max_length=200,
        required=False,
        label="Place of the safety data sheet",
        help_text="E.g. red folder by the dosing station.",
    )
    no_rinse_allowed = forms.BooleanField(
        required=False, label="May be left in the vessel without a rinse"
    )
    no_rinse_max_mg_l = NumberField(
        label="Maximum without a rinse",
        unit="mg/L active",
        low=0.1,
        high=50_000,
        required=False,
        help_text="Required for an agent left without a rinse.",
    )
    no_rinse_source = forms.CharField(
        max_length=200,
        required=False,
        label="Source of the maximum",
        help_text="The label with its number, or the code. Required with the maximum.",
    )
    price_kg = NumberField(
        label="Price",
        low=0,
        high=10_000,
        required=False,
        help_text="Of the concentrate. Optional, for the cost of a clean.",
    )
    recovered_percent = NumberField(
        label="Solution kept for the next clean",
        unit="%",
        low=0,
        high=100,
        required=False,
        help_text="Optional. The share returned to its tank. If blank, all is drained.",
    )
    gtin = GtinField(
        max_length=14,
        help_text="Optional. The digits below the drum's barcode: scanning it then shows whether "
        "it is the agent of the step.",
    )
    active = forms.BooleanField(
        required=False,
        initial=True,
        label="In use",
        help_text="A retired agent cannot be chosen for a step.",
    )

    def __init__(
        self, *args: Any, currency: str, agent: Agent | None = None, **kwargs: Any
    ) -> None:
        if agent is not None:
            kwargs.setdefault(
                "initial",
                {
                    **{name: getattr(agent, name) for name in AgentValues.__dataclass_fields__},
                    "recovered_percent": agent.recovered_share * 100,
                },
            )
        super().__init__(*args, **kwargs)
        self.fields["price_kg"].widget.unit = f"{currency} a kg"

    def refuse(self, refusal: Refusal) -> None:
        if refusal.field == "recovered_share":
            refusal = Refusal(refusal.message, field="recovered_percent", code=refusal.code)
        super().refuse(refusal)

    def values(self) -> AgentValues:
        """What was typed; the form is valid."""
        typed = {
            name: self.cleaned_data[name]
            for name in AgentValues.__dataclass_fields__
            if name != "recovered_share"
        }
        return AgentValues(
            **typed, recovered_share=(self.cleaned_data["recovered_percent"] or 0.0) / 100
        )
