"""Forms of a sample and of its correction."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.atp.models.readings import RinseEnd
from brewhygiene.atp.readings.queries import Kit
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import CountField
from brewhygiene.turnarounds.forms import ReasonField


class ChoiceOfSome(forms.RadioSelect):
    """Radio buttons of which some are shown but cannot be chosen."""

    closed: Callable[[str], bool] | None = None

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if self.closed is not None and self.closed(str(value)):
            option["attrs"]["disabled"] = True
        return option


class SampleForm(ActionForm):
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
    test_lot = forms.ModelChoiceField(
        label="Stick lot",
        queryset=AtpTestLot.objects.select_related("atp_test"),
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
    SETTLED = ("meter", "test_lot", "stage", "rinse_end")

    def __init__(
        self,
        *args: Any,
        kit: Kit,
        stages: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.kit, self.stages = kit, stages
        # Called when they are shown; what was sent is looked up by itself.
        self.fields["meter"].choices = self._meters  # type: ignore[attr-defined]
        self.fields["test_lot"].choices = self._lots  # type: ignore[attr-defined]
        self.fields["test_lot"].widget.closed = self._past_its_date  # type: ignore[attr-defined]
        self.fields["stage"].choices = stages  # type: ignore[attr-defined]

    def _meters(self) -> list[tuple[int, str]]:
        return [(one.meter.pk, f"{one.meter.name}, {one.words}") for one in self.kit.meters]

    def _lots(self) -> list[tuple[int, str]]:
        return [
            (lot.pk, f"{lot.lot}, {lot.atp_test.name}, {_good_until(lot, self.kit.day)}")
            for lot in self.kit.lots
        ]

    def _past_its_date(self, value: str) -> bool:
        return any(str(lot.pk) == value and lot.expires_on < self.kit.day for lot in self.kit.lots)

    def _short(self) -> dict[str, dict[str, str]]:
        """What can be settled beforehand, in few words, by field and value."""
        return {
            "meter": {str(one.meter.pk): one.meter.name for one in self.kit.meters if one.ready},
            "test_lot": {
                str(lot.pk): f"{lot.atp_test.name} {lot.lot}"
                for lot in self.kit.lots
                if lot.expires_on >= self.kit.day
            },
            "stage": {str(value): str(label) for value, label in self.stages},
            "rinse_end": {str(value): str(label) for value, label in RinseEnd.choices},
        }

    def chosen(self) -> list[str] | None:
        """What is settled beforehand, in words; ``None`` while something is still to choose."""
        words, known = [], self._short()
        for name in self.SETTLED:
            value = str(self[name].value())
            if value not in known[name] or self[name].errors:
                return None
            words.append(known[name][value])
        return words


def _good_until(lot: AtpTestLot, day: date) -> str:
    if lot.expires_on < day:
        return f"past its date, {lot.expires_on:%d %B %Y}: not to be used"
    return f"good until {lot.expires_on:%d %B %Y}"


class CorrectResultForm(ActionForm):
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
