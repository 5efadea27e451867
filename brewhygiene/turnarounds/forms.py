"""Forms of the turnaround's own screens; those of a step are in ``step_forms``."""

from typing import Any

from django import forms

from brewhygiene.cellar.models import Beer
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField
from brewhygiene.regimes.models import RegimeVersion

YES_NO = [("yes", "Yes"), ("no", "No")]


class YesNoField(forms.TypedChoiceField):
    """Two large choices; nothing chosen is ``None``."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            choices=YES_NO,
            widget=forms.RadioSelect,
            coerce=lambda value: value == "yes",
            empty_value=None,
            **kwargs,
        )


class ReasonField(forms.CharField):
    """Why something was done."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        super().__init__(
            label=label,
            max_length=200,
            widget=forms.Textarea(attrs={"rows": 2}),
            error_messages={
                "required": "Say why.",
                "max_length": "That is too long for the record: 200 letters at most.",
            },
            **kwargs,
        )


def beers() -> Any:
    return Beer.objects.filter(active=True)


class EmptyForm(ActionForm):
    """A vessel was emptied. What was in it is asked only where no fill is on record."""

    beer = forms.ModelChoiceField(
        label="What was in it",
        queryset=Beer.objects.none(),
        required=False,
        empty_label="Not known",
    )
    next_beer = forms.ModelChoiceField(
        label="What comes next",
        queryset=Beer.objects.none(),
        required=False,
        empty_label="Not planned yet",
        help_text="It may ask for a stronger clean.",
    )
    co2_left = YesNoField(
        label="Is CO2 left in it?",
        initial="yes",
        help_text="Yes, unless it was driven out with air: it does not drain by itself.",
        error_messages={"required": "Say whether CO2 is left in it; if in doubt, yes."},
    )
    emptied_at = MomentField(
        label="When it was emptied",
        required=False,
        initial=None,
        help_text="Left empty, it means now.",
    )
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, contents_known: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = beers()
        self.fields["next_beer"].queryset = choices  # type: ignore[attr-defined]
        if contents_known:
            del self.fields["beer"]
        else:
            self.fields["beer"].queryset = choices  # type: ignore[attr-defined]


class NextBeerForm(ActionForm):
    beer = forms.ModelChoiceField(
        label="What comes next",
        queryset=Beer.objects.none(),
        required=False,
        empty_label="Not planned yet",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["beer"].queryset = beers()  # type: ignore[attr-defined]


class RegimeForm(ActionForm):
    """One regime to start; each on the page has a form of its own."""

    version = forms.ModelChoiceField(
        queryset=RegimeVersion.objects.all(),
        widget=forms.HiddenInput,
        error_messages={
            "required": "Choose a regime.",
            "invalid_choice": "That regime is not there any more. Choose again.",
        },
    )
    weaker_reason = ReasonField(label="Why it will do", required=False)

    def ask_reason(self) -> None:
        """Show that this one needs its reason. That it does is the verb's to say."""
        self.fields["weaker_reason"].required = True


class ReasonForm(ActionForm):
    """A form that asks for nothing but the reason."""

    reason = ReasonField(label="Reason")

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = label
