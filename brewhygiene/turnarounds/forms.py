"""Forms of the turnaround's own screens; those of a step are in ``steps.forms``."""

from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.cellar.models import Beer
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.skids.models import Skid

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
                "required": "Enter a reason.",
                "max_length": "Enter at most 200 characters.",
            },
            **kwargs,
        )


class BeerField(forms.ModelChoiceField):
    """One of the beers in use, or none."""

    def __init__(self, *, label: str, empty_label: str, **kwargs: Any) -> None:
        beers = Beer.objects.filter(active=True)
        super().__init__(beers, label=label, empty_label=empty_label, required=False, **kwargs)


class EmptyForm(ActionForm):
    """A vessel was emptied. What was in it is asked only where no fill is on record."""

    beer = BeerField(label="Last beer", empty_label="Not known")
    next_beer = BeerField(
        label="Next beer", empty_label="Not planned yet", help_text="It may need a stronger clean."
    )
    co2_left = YesNoField(
        label="CO2 left in the vessel",
        initial="yes",
        help_text="Choose yes unless the CO2 was purged with air. It does not drain by itself.",
        error_messages={"required": "Choose whether CO2 is left. If in doubt, choose yes."},
    )
    emptied_at = MomentField(
        label="When it was emptied",
        required=False,
        initial=None,
        help_text="Optional. If blank, the time now is recorded.",
    )
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, contents_known: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if contents_known:
            del self.fields["beer"]


class NextBeerForm(ActionForm):
    beer = BeerField(label="Next beer", empty_label="Not planned yet")


class GearForm(ActionForm):
    """A form that also asks for skid and hose, where a brewery has any on record."""

    skid = forms.ModelChoiceField(
        queryset=Skid.objects.none(),
        required=False,
        empty_label="none on record",
        error_messages={"invalid_choice": "Choose a skid that is in use."},
    )
    hose = forms.ModelChoiceField(
        label="Cleaning hose",
        queryset=Skid.objects.none(),
        required=False,
        empty_label="the skid's own",
        error_messages={"invalid_choice": "Choose a hose that is in use."},
    )

    def offer(
        self, found: Sequence[Skid], skid: Skid | None = None, hose: Skid | None = None
    ) -> None:
        """Offer what is in use, with what is usual chosen; nothing where there is none. 0 queries.

        What is sent is looked up among these: a query where something is chosen.
        """
        usual = {"skid": skid, "hose": hose}
        for name, chosen in usual.items():
            fitting = [one for one in found if one.is_hose == (name == "hose")]
            if not fitting:
                del self.fields[name]
                continue
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = Skid.objects.filter(pk__in=[one.pk for one in fitting])
            empty = str(field.empty_label)
            field.choices = [("", empty), *((one.pk, one.name) for one in fitting)]
            self.initial.setdefault(name, chosen.pk if chosen is not None else None)

    def gear(self) -> dict[str, Skid | None]:
        """What was chosen, by name, as the actions take it."""
        return {name: self.cleaned_data.get(name) for name in ("skid", "hose")}


class RegimeForm(GearForm):
    """One regime to start; each on the page has a form of its own."""

    version = forms.ModelChoiceField(
        queryset=RegimeVersion.objects.all(),
        widget=forms.HiddenInput,
        error_messages={
            "required": "Choose a regime.",
            "invalid_choice": "This regime no longer exists. Choose another.",
        },
    )
    weaker_reason = ReasonField(label="Why this weaker regime is enough", required=False)

    def ask_reason(self) -> None:
        """Show that this one needs its reason. That it does is the action's to say."""
        self.fields["weaker_reason"].required = True


class ReasonForm(ActionForm):
    """A form that asks for nothing but the reason."""

    reason = ReasonField(label="Reason")

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = label
