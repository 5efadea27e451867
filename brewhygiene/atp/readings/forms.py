"""Forms of a reading and of its correction."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.limits.days import day_words
from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.atp.models.readings import RinseEnd
from brewhygiene.atp.readings.actions import NO_RINSE_END
from brewhygiene.atp.readings.queries import Kit
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.codes.fields import LotField
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import CountField


class ChoiceOfSome(forms.RadioSelect):
    """Radio buttons of which some are shown but cannot be chosen."""

    closed: Callable[[str], bool] | None = None

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if self.closed is not None and self.closed(str(value)):
            option["attrs"]["disabled"] = True
        return option


class SampleForm(ActionForm):
    """One reading at one point. What is known is chosen beforehand."""

    meter = forms.ModelChoiceField(
        label="Meter",
        queryset=Meter.objects.filter(active=True),
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose a meter.",
            "invalid_choice": "This meter is retired. Choose another meter.",
        },
    )
    test_lot = forms.ModelChoiceField(
        label="ATP test lot",
        queryset=AtpTestLot.objects.select_related("atp_test"),
        widget=ChoiceOfSome,
        error_messages={
            "required": "Choose the lot printed on the box.",
            "invalid_choice": "This lot is no longer listed. Choose another lot.",
        },
    )
    scanned = LotField(
        scan="test_lot",
        label="Lot by its barcode",
        required=False,
        max_length=40,
        help_text="Scan the box, or enter its lot. It is chosen in place of the one above.",
    )
    rinse_end = forms.ChoiceField(
        label="How the rinse ended",
        choices=RinseEnd.choices,
        widget=forms.RadioSelect,
        help_text="Residue makes readings too low. A dirty vessel can then look clean.",
        error_messages={"required": NO_RINSE_END},
    )
    rlu = CountField(
        label="Reading",
        unit="RLU",
        pad=True,
        error_messages={"required": "Enter the number on the meter, e.g. 0."},
    )
    suspected_slip = forms.BooleanField(
        label="Possible mistake with the test",
        required=False,
        help_text="E.g. a touched tip. The reading counts and is marked.",
    )
    taken_at = MomentField(
        label="Time taken",
        required=False,
        initial=None,
        help_text="Optional. If blank, now.",
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    # The fields that are usually known beforehand.
    KNOWN = ("meter", "test_lot", "rinse_end")

    def __init__(
        self,
        *args: Any,
        kit: Kit,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.kit = kit
        # Called when they are shown; what was sent is looked up by itself.
        self.fields["meter"].choices = self._meters  # type: ignore[attr-defined]
        self.fields["test_lot"].choices = self._lots  # type: ignore[attr-defined]
        self.fields["test_lot"].widget.closed = self._out_of_date  # type: ignore[attr-defined]

    def _meters(self) -> list[tuple[int, str]]:
        return [(one.meter.pk, f"{one.meter.name}, {one.words}") for one in self.kit.meters]

    def _lots(self) -> list[tuple[int, str]]:
        return [
            (lot.pk, f"{lot.lot}, {lot.atp_test.name}, {_expiry(lot, self.kit.day)}")
            for lot in self.kit.lots
        ]

    def _out_of_date(self, value: str) -> bool:
        return any(str(lot.pk) == value and lot.expires_on < self.kit.day for lot in self.kit.lots)

    def _short(self) -> dict[str, dict[str, str]]:
        """What can be known beforehand, in few words, by field and value."""
        return {
            "meter": {str(one.meter.pk): one.meter.name for one in self.kit.meters if one.ready},
            "test_lot": {
                str(lot.pk): f"{lot.atp_test.name} {lot.lot}"
                for lot in self.kit.lots
                if lot.expires_on >= self.kit.day
            },
            "rinse_end": {str(value): str(label) for value, label in RinseEnd.choices},
        }

    def clean(self) -> dict[str, Any]:
        """A lot that was scanned takes the place of the one that was chosen."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        scanned = given.pop("scanned", "")
        if not scanned:
            return given
        found = [lot for lot in self.kit.lots if lot.lot.casefold() == scanned.casefold()]
        if len(found) == 1:
            given["test_lot"] = found[0]
            self.errors.pop("test_lot", None)
        elif found and given.get("test_lot") not in found:
            self.add_error("scanned", f"Two ATP tests have a lot {scanned}. Choose it in the list.")
        elif not found:
            self.add_error(
                "scanned",
                f"Lot {scanned} is not a lot for this sampling point. Choose another lot.",
            )
        return given

    def chosen(self) -> list[str] | None:
        """What is chosen beforehand, in words; ``None`` while something is missing."""
        words, known = [], self._short()
        for name in self.KNOWN:
            value = str(self[name].value())
            if value not in known[name] or self[name].errors:
                return None
            words.append(known[name][value])
        return words


def _expiry(lot: AtpTestLot, day: date) -> str:
    if lot.expires_on < day:
        return f"out of date since {day_words(lot.expires_on)}"
    return f"expires {day_words(lot.expires_on)}"


class CorrectResultForm(ActionForm):
    """The correction of a mistyped reading; over the action limit it takes the password."""

    rlu = CountField(
        label="Correct reading",
        unit="RLU",
        pad=True,
        error_messages={"required": "Enter the number that the meter showed, e.g. 0."},
    )
    reason = forms.CharField(
        label="Reason for the correction",
        max_length=200,
        error_messages={"required": "Enter a reason."},
    )
    password = forms.CharField(
        label="Your password, to sign",
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="The first reading is over the action limit, so the correction is signed.",
    )

    def __init__(self, *args: Any, signed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not signed:
            del self.fields["password"]
