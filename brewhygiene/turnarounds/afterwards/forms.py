"""The form by which a clean that was done already is entered."""

from typing import Any

from django import forms

from brewhygiene.quantities.days import MomentField
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.turnarounds.forms import GearForm, ReasonField


class EnterCleanForm(GearForm):
    """Which regime was run, since when, and why it was not recorded then."""

    version = forms.ModelChoiceField(
        queryset=RegimeVersion.objects.none(),
        label="Regime that was run",
        empty_label="Choose",
        error_messages={
            "required": "Choose the regime that was run.",
            "invalid_choice": "This regime is not in force for this vessel. Choose another.",
        },
    )
    # Nothing is filled in: a time that is stated has to be somebody's own.
    started_at = MomentField(
        label="Clean started",
        initial=None,
        error_messages={"required": "Enter when the clean started."},
    )
    entered_reason = ReasonField(label="Why it was not recorded when it was done")
    weaker_reason = ReasonField(
        label="Why this regime was enough",
        required=False,
        help_text="Only if the regime is weaker than required.",
    )

    def __init__(self, *args: Any, versions: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].queryset = versions  # type: ignore[attr-defined]
