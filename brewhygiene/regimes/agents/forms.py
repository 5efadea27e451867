"""The form of an agent."""

from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.fields import NumberField
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
        max_length=80, help_text="A general name with its strength, as “Caustic liquor 50 %”."
    )
    kind = forms.ChoiceField(choices=[("", "Choose"), *AgentKind.choices])
    active_substance = forms.ChoiceField(choices=_substance_choices, label="Works by")
    concentrate_strength_ww = NumberField(
        label="Strength in the drum",
        unit="% w/w",
        low=0.01,
        high=100,
        help_text="Active substance by weight, from the label.",
    )
    concentrate_density_kg_l = NumberField(
        label="Density in the drum",
        unit="kg/L",
        low=0.5,
        high=2.5,
        required=False,
        help_text="From the safety data sheet. Without it, a strength in % v/v of the product "
        "cannot be turned into another.",
    )
    equivalent_weight_g = NumberField(
        label="Equivalent weight",
        unit="g/eq",
        low=1,
        high=500,
        required=False,
        help_text="For titrations: grams of active substance that one equivalent of titrant uses "
        "up, from the label or the maker's titration sheet. Leave it empty for a single "
        f"substance, whose own is used (NaOH {EQUIVALENT_WEIGHT_G['NaOH']:.2f}, "
        f"HNO3 {EQUIVALENT_WEIGHT_G['HNO3']:.2f}). A blend needs it: without it, its titration "
        "cannot be worked out.",
    )
    hazards = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="From the safety data sheet, in a few words; shown at every step that uses it.",
    )
    sds_reference = forms.CharField(
        max_length=200,
        required=False,
        label="Where the safety data sheet is kept",
        help_text="As “red folder by the dosing station”.",
    )
    no_rinse_allowed = forms.BooleanField(
        required=False, label="May be left in the vessel without a rinse"
    )
    no_rinse_max_mg_l = NumberField(
        label="The most that may be left",
        unit="mg/L active",
        low=0.1,
        high=50_000,
        required=False,
        help_text="Needed when it may be left.",
    )
    no_rinse_source = forms.CharField(
        max_length=200,
        required=False,
        label="Where that maximum comes from",
        help_text="The label, with its number; or the code. Needed when it may be left.",
    )
    price_kg = NumberField(
        label="Price",
        low=0,
        high=10_000,
        required=False,
        help_text="Of the concentrate. For the cost of a clean.",
    )
    recovered_percent = NumberField(
        label="Solution kept for the next clean",
        unit="%",
        low=0,
        high=100,
        required=False,
        help_text="The share that goes back to its tank after use. Empty: all of it is let go.",
    )
    active = forms.BooleanField(
        required=False,
        initial=True,
        label="In use",
        help_text="One that is not in use cannot be chosen for a step.",
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
