"""The form that starts a new phase of a point's chart."""

from typing import Any

from django import forms

from brewhygiene.atp.phases.starts import Scale
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField


class NewPhaseForm(ActionForm):
    """From when, until when its baseline, on which scale, and the reason."""

    scale = forms.ChoiceField(label="Meter and ATP test", widget=forms.RadioSelect)
    begins_at = MomentField(label="Phase starts")
    baseline_until = MomentField(
        label="Baseline ends",
        help_text="Centre and control limits are calculated from the readings until then. "
        "At least 12, better 20.",
    )
    reason = forms.CharField(
        label="Reason",
        max_length=200,
        help_text="E.g. valve rebuilt in January, not recorded then.",
    )

    def __init__(self, *args: Any, scales: dict[tuple[int, int], Scale], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["scale"]
        assert isinstance(field, forms.ChoiceField)
        self.scales = {f"{meter}-{atp_test}": scale for (meter, atp_test), scale in scales.items()}
        field.choices = [(code, str(scale)) for code, scale in self.scales.items()]

    def chosen_scale(self) -> Scale:
        return self.scales[self.cleaned_data["scale"]]
