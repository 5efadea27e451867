"""Forms of the release room: decide, re-sanitise, fill."""

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import GONE_THROUGH, Beer, Vessel
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import StoredQuantityField
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.regimes.queries import versions_with_steps
from brewhygiene.release.gates import Gate
from brewhygiene.release.models import Outcome
from brewhygiene.release.powers.forms import SignedForm, WhyField
from brewhygiene.release.powers.signers import TwoSigners
from brewhygiene.turnarounds.forms import GearForm

MOST_HL = 10_000


class PasswordField(forms.CharField):
    """The password again, under a signature. It is never sent back to the page."""

    def __init__(self) -> None:
        super().__init__(
            label="Your password",
            strip=False,
            widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
            error_messages={"required": "Enter your password to sign."},
        )


class DecideForm(SignedForm):
    """Hold or release, with an explanation of each gate that needs one."""

    outcome = forms.ChoiceField(label="Decision", choices=Outcome.choices, widget=forms.RadioSelect)
    reason = WhyField(label="Reason", help_text="Optional for a release. Required for a hold.")
    password = PasswordField()

    def __init__(
        self,
        *args: Any,
        gates: Sequence[Gate],
        vessel: str,
        two: TwoSigners | None = None,
        **kwargs: Any,
    ) -> None:
        """``two`` says who can sign second, where a release takes two people."""
        super().__init__(*args, **kwargs)
        outcome = self.fields["outcome"]
        assert isinstance(outcome, forms.ChoiceField)
        outcome.error_messages["required"] = "Choose hold or release."
        offered = [(Outcome.HOLD.value, f"Hold {vessel}")]
        if not any(gate.blocks for gate in gates) and not (two and two.why_not):
            offered.append((Outcome.RELEASE.value, f"Release {vessel}"))
        # The server still knows the other one, and refuses it with the reason.
        outcome.widget.choices = offered
        self.explain(gates)
        if two is not None and not two.why_not:
            self.add_second(two.seconds)


class VersionWithSteps(forms.ModelChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, version: RegimeVersion) -> str:
        steps = ", ".join(step.get_kind_display() for step in version.steps.all())
        return f"{version.regime.name}: {steps}"


class ResanitiseForm(GearForm):
    """Which regime to re-sanitise by."""

    version = VersionWithSteps(
        label="Re-sanitise by",
        queryset=RegimeVersion.objects.none(),
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={
            "required": "Choose a regime.",
            "invalid_choice": "That regime is no longer in force. Choose another.",
        },
    )

    def __init__(self, *args: Any, versions: Iterable[RegimeVersion], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = list(versions)
        field = self.fields["version"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = versions_with_steps().filter(pk__in=[version.pk for version in offered])
        if offered:
            # The one that fits best comes first.
            field.initial = offered[0].pk


class ThroughField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    """The hoses, heat exchangers and fillers that beer or yeast went through."""

    def __init__(self) -> None:
        super().__init__(
            label="Went through",
            queryset=Vessel.objects.filter(
                kind__in=GONE_THROUGH, out_of_service_since__isnull=True
            ),
            required=False,
            widget=forms.CheckboxSelectMultiple,
            help_text="Optional. If blank, the trace says that it was not recorded.",
        )

    def clean(self, value: Any) -> list[Vessel]:  # type: ignore[override]
        return list(super().clean(value))


class FillForm(ActionForm):
    """What went into the vessel, how much of it, and when."""

    beer = forms.ModelChoiceField(
        queryset=Beer.objects.none(),
        empty_label="Choose",
        error_messages={"required": "Choose a beer."},
    )
    batch = forms.CharField(
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="A new number, or that of a batch on record.",
        error_messages={"required": "Enter the batch."},
    )
    volume_hl = StoredQuantityField(
        label="Volume",
        stored="hL",
        low=0,
        high=MOST_HL,
        pad=True,
        error_messages={"required": "Enter the volume."},
    )
    filled_at = MomentField(label="Filled at", required=False, initial=None)
    through = ThroughField()

    def __init__(
        self,
        *args: Any,
        vessel: Vessel,
        brewery: Brewery,
        next_beer: Beer | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.vessel, self.unit = vessel, brewery.volume_unit
        beer, volume = self.fields["beer"], self.fields["volume_hl"]
        assert isinstance(beer, forms.ModelChoiceField)
        assert isinstance(volume, StoredQuantityField)
        beer.queryset = Beer.objects.filter(active=True)
        beer.initial = next_beer
        volume.show_in(self.unit, kept=None)
        volume.help_text = f"{vessel.name} takes {self._shown(vessel.volume_hl)}."

    def _shown(self, value_hl: float) -> str:
        return f"{show_number(convert(value_hl, 'hL', self.unit))} {LABELS[self.unit]}"

    def clean_volume_hl(self) -> float:
        """Refused where it does not fit, in the unit it was typed in."""
        value: float = self.cleaned_data["volume_hl"]
        if self._shown(value) == self._shown(self.vessel.volume_hl):
            # Full to the brim, as far as the shown digits go.
            return self.vessel.volume_hl
        if value > self.vessel.volume_hl:
            raise forms.ValidationError(
                f"{self.vessel.name} takes {self._shown(self.vessel.volume_hl)}. "
                f"{self._shown(value)} do not fit.",
                code="too_much",
            )
        return value


class FillWithoutReleaseForm(FillForm):
    """A fill that happened although nobody had released the vessel."""

    filled_at = MomentField(
        label="Filled at",
        initial=None,
        error_messages={"required": "Enter when the vessel was filled."},
    )
    reason = forms.CharField(
        label="How it was filled without a release",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Shown on the record of the vessel and of the batch.",
        error_messages={"required": "Enter how the vessel came to be filled."},
    )
    password = PasswordField()
