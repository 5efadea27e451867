"""The form that begins a point's chart anew."""

from typing import Any

from django import forms

from brewhygiene.atp.phases.starts import Scale
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField


class RephaseForm(ActionForm):
    """From when, until when its baseline, on which scale, and why."""

    scale = forms.ChoiceField(label="Scale", widget=forms.RadioSelect)
    begins_at = MomentField(label="The chart begins anew")
    baseline_until = MomentField(
        label="Its baseline ends",
        help_text="Centre and limits are worked out from the readings until then: "
        "12 at least, better 20.",
    )
    reason = forms.CharField(
        label="Why",
        max_length=200,
        help_text="As “valve rebuilt in January, not recorded then”.",
    )

    def __init__(self, *args: Any, scales: dict[tuple[int, int], Scale], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["scale"]
        assert isinstance(field, forms.ChoiceField)
        self.scales = {f"{meter}-{stick}": scale for (meter, stick), scale in scales.items()}
        field.choices = [(code, str(scale)) for code, scale in self.scales.items()]

    def chosen_scale(self) -> Scale:
        return self.scales[self.cleaned_data["scale"]]
