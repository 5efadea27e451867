"""Forms of a sample and of its correction."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.models import Meter, RinseEnd, StickLot
from brewhygiene.atp.sample_queries import MeterToday
from brewhygiene.people.forms import MomentField, VerbForm
from brewhygiene.quantities.fields import CountField
from brewhygiene.turnarounds.forms import ReasonField


class ChoiceOfSome(forms.RadioSelect):
    """Radio buttons of which some are shown but cannot be chosen."""

    closed: frozenset[str] = frozenset()

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if str(value) in self.closed:
            option["attrs"]["disabled"] = True
        return option


class SampleForm(VerbForm):
    """One stick read at one point. What is known is chosen beforehand."""

    meter = forms.ModelChoiceField(
        label="Meter",
        queryset=Meter.objects.filter(active=True),
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose the meter.",
            "invalid_choice": "That meter is out of use. Choose another.",
        },
    )
    stick_lot = forms.ModelChoiceField(
        label="Stick lot",
        queryset=StickLot.objects.select_related("stick_type"),
        widget=ChoiceOfSome,
        error_messages={
            "required": "Choose the lot that is on the stick's box.",
            "invalid_choice": "That lot is not there any more. Choose another.",
        },
    )
    stage = forms.ChoiceField(
        label="Taken",
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether this was after the rinse or the sanitiser."},
    )
    rinse_end = forms.ChoiceField(
        label="How the rinse ended",
        choices=RinseEnd.choices,
        widget=forms.RadioSelect,
        help_text="Residue dims the light and can make a dirty vessel look clean.",
        error_messages={"required": "Say how the rinse ended; residue dims the light."},
    )
    rlu = CountField(
        label="RLU",
        unit="RLU",
        pad=True,
        error_messages={"required": "Type what the meter shows; 0 counts too."},
    )
    suspected_slip = forms.BooleanField(
        label="Something may have gone wrong with the stick",
        required=False,
        help_text="As a touched tip. The reading stands and is marked so.",
    )
    taken_at = MomentField(
        label="When it was taken",
        required=False,
        initial=None,
        help_text="Left empty, it means now.",
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    # The fields that are known beforehand, most days.
    SETTLED = ("meter", "stick_lot", "stage", "rinse_end")

    def __init__(
        self,
        *args: Any,
        meters: Sequence[MeterToday],
        lots: Sequence[StickLot],
        stages: Sequence[tuple[str, str]],
        day: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["meter"].choices = [  # type: ignore[attr-defined]
            (one.meter.pk, f"{one.meter.name}, {one.words}") for one in meters
        ]
        self.fields["stick_lot"].choices = [  # type: ignore[attr-defined]
            (lot.pk, f"{lot.lot}, {lot.stick_type.name}, {_good_until(lot, day)}") for lot in lots
        ]
        past = frozenset(str(lot.pk) for lot in lots if lot.expires_on < day)
        self.fields["stick_lot"].widget.closed = past  # type: ignore[attr-defined]
        self.fields["stage"].choices = stages  # type: ignore[attr-defined]
        self._short: dict[str, dict[str, str]] = {
            "meter": {str(one.meter.pk): one.meter.name for one in meters if one.ready},
            "stick_lot": {
                str(lot.pk): f"{lot.stick_type.name} {lot.lot}"
                for lot in lots
                if lot.expires_on >= day
            },
            "stage": {str(value): str(label) for value, label in stages},
            "rinse_end": {str(value): str(label) for value, label in RinseEnd.choices},
        }

    def chosen(self) -> list[str] | None:
        """What is settled beforehand, in words; ``None`` while something is still to choose."""
        words = []
        for name in self.SETTLED:
            value = str(self[name].value())
            if value not in self._short[name] or self[name].errors:
                return None
            words.append(self._short[name][value])
        return words


def _good_until(lot: StickLot, day: date) -> str:
    if lot.expires_on < day:
        return f"past its date, {lot.expires_on:%d %B %Y}: not to be used"
    return f"good until {lot.expires_on:%d %B %Y}"


class CorrectResultForm(VerbForm):
    """A mistyped reading set right; one over the action limit takes the password."""

    rlu = CountField(
        label="What the meter showed",
        unit="RLU",
        pad=True,
        error_messages={"required": "Type what the meter showed; 0 counts too."},
    )
    reason = ReasonField(label="What was wrong with the first number")
    password = forms.CharField(
        label="Your password, to sign",
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="The first reading is over the action limit, so putting it right is signed.",
    )

    def __init__(self, *args: Any, signed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not signed:
            del self.fields["password"]
