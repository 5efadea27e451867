"""Fields of explanations and of a second signature, and the release without a meter."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.utils import ErrorDict

from brewhygiene.people.forms import ActionForm, password_field
from brewhygiene.people.models import User
from brewhygiene.people.signing_in.second_signature import SECRET, SIGNER
from brewhygiene.quantities.fields import NumberField
from brewhygiene.release.gates import Gate
from brewhygiene.release.powers.explaining import Explanation, ReleaseCause
from brewhygiene.release.powers.no_meter import PH_HIGH, PH_LOW, SeenAtVessel


class WhyField(forms.CharField):
    """A text that the decision may ask for; the action says whether it does."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        super().__init__(
            label=label, max_length=1000, widget=forms.Textarea(attrs={"rows": 2}), **kwargs
        )

    def validate(self, value: Any) -> None:
        pass


class CauseField(forms.ChoiceField):
    """A cause from the list, that the decision may ask for."""

    def validate(self, value: Any) -> None:
        if value:
            super().validate(value)


class SecondSignerField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """Who signs second, where the decision asks for it."""

    def validate(self, value: Any) -> None:
        pass


class SecretField(forms.CharField):
    """The PIN or password of the second signer. It is never sent back to the page."""

    def validate(self, value: Any) -> None:
        pass


class SignedForm(ActionForm):
    """A decision: explanations by gate, and a second signature where one is asked for."""

    # What is needed depends on the decision.
    use_required_attribute = False

    revision_seen = forms.IntegerField(widget=forms.HiddenInput)

    def explain(self, gates: Sequence[Gate]) -> None:
        """Add the three fields of each gate that needs an explanation."""
        self.asked = [gate.code for gate in gates if gate.needs_reason]
        for gate in gates:
            if gate.needs_reason:
                self.fields[f"reason_{gate.code}"] = CauseField(
                    label=f"Cause for “{gate.title}”",
                    choices=[("", "Choose"), *ReleaseCause.choices],
                    error_messages={"invalid_choice": "Choose a cause from the list."},
                )
                self.fields[f"checked_{gate.code}"] = WhyField(
                    label=f"What was checked for “{gate.title}”"
                )
                self.fields[f"result_{gate.code}"] = WhyField(label=f"Result for “{gate.title}”")

    def add_second(self, people: Sequence[User]) -> None:
        """Add the second signature, offered to ``people``; the action refuses the others."""
        signer = SecondSignerField(
            label="Second signer",
            queryset=User.objects.filter(is_active=True),
            empty_label="Choose",
            error_messages={"invalid_choice": "Choose a person from the list."},
        )
        self.fields[SIGNER] = signer
        signer.widget.choices = [("", "Choose"), *((each.pk, str(each)) for each in people)]
        self.fields[SECRET] = SecretField(
            label="PIN or password of the second signer",
            strip=False,
            max_length=128,
            widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        )

    def refused_with(self, refusals: ErrorDict) -> None:
        """Take over what the action refused: a gate may have gone or come since it was typed."""
        for name, errors in refusals.as_data().items():
            self.add_error(name if name in self.fields else None, errors)

    @property
    def gate_reasons(self) -> dict[str, Explanation]:
        """What was explained, by gate."""
        return {
            code: Explanation(
                *(self.cleaned_data.get(f"{name}_{code}", "") for name in FIELDS_OF_ONE)
            )
            for code in self.asked
        }


FIELDS_OF_ONE = ("reason", "checked", "result")


def _ph_field(label: str, help_text: str) -> NumberField:
    return NumberField(
        label=label,
        low=PH_LOW,
        high=PH_HIGH,
        help_text=help_text,
        error_messages={"required": "Enter the pH that was read."},
    )


class WithoutMeterForm(SignedForm):
    """What stands in for the readings, and both signatures."""

    meter_fault = WhyField(
        label="What is wrong with each meter", help_text="E.g. Meter 1 does not switch on."
    )
    inspection = WhyField(
        label="Inspection",
        help_text="What both of you saw, smelled and lit, e.g. spray device, cone and gaskets.",
    )
    rinse_ph = _ph_field("pH of the last rinse", "Read at the outlet.")
    supply_ph = _ph_field("pH of the supply water", "Read now, by the same strip or meter.")
    password = password_field("Your password", known=True)

    def __init__(
        self, *args: Any, gates: Sequence[Gate], seconds: Sequence[User], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.explain(gates)
        self.add_second(seconds)

    @property
    def seen(self) -> SeenAtVessel:
        """What was seen at the vessel."""
        given = self.cleaned_data
        return SeenAtVessel(
            given["meter_fault"], given["inspection"], given["rinse_ph"], given["supply_ph"]
        )
