"""The form of a plate's reading, dish by dish."""

import dataclasses
from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.functional import cached_property

from brewhygiene.people.forms import ActionForm
from brewhygiene.plates.growth import dishes_of
from brewhygiene.plates.models import DishCount, Plate, PlateState
from brewhygiene.plates.seen import MOST_DISHES, NUMBER_OR_TOO_MANY
from brewhygiene.quantities.fields import CountField, NumberField
from brewhygiene.science.counting.colonies import Dish

ROWS = 4
PARTS = ("colonies", "too_many", "volume_ml", "dilution")


@dataclasses.dataclass(frozen=True)
class DishRow:
    """The fields of one dish."""

    number: int
    colonies: BoundField
    too_many: BoundField
    volume_ml: BoundField
    dilution: BoundField

    @property
    def filled(self) -> bool:
        return any(getattr(self, part).value() for part in PARTS)


def _named(part: str, number: int) -> str:
    return part if number == 1 else f"{part}_{number}"


def asked_rows(given: Mapping[str, Any]) -> int:
    """How many dishes a form was sent with, within the allowed number."""
    typed = str(given.get("rows", ""))
    rows = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 4 else ROWS
    return min(max(rows, ROWS), MOST_DISHES)


class ReadForm(ActionForm):
    """What grew: nothing, a number of colonies, or several dishes with their volumes.

    With a dish's volume the colonies become CFU; without, they stay a number of colonies.
    """

    state = forms.ChoiceField(
        label="Result",
        choices=[
            (PlateState.NEGATIVE, "Negative: no growth"),
            (PlateState.POSITIVE, "Positive: colonies"),
        ],
        widget=forms.RadioSelect,
        required=False,
    )
    organism = forms.CharField(
        max_length=100,
        required=False,
        help_text="E.g. rods, anaerobic.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    rows = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, rows: int = ROWS, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {**self.initial, "rows": rows}
        self.row_count = rows
        for number in range(1, rows + 1):
            named = f"Dish {number}: " if number > 1 else ""
            fields = {
                "colonies": CountField(
                    label=f"{named}colonies" if named else "Colonies",
                    high=100_000,
                    required=False,
                    pad=True,
                ),
                "too_many": forms.BooleanField(
                    label=f"{named}too many to count" if named else "Too many to count",
                    required=False,
                ),
                "volume_ml": NumberField(
                    label=f"{named}volume plated" if named else "Volume plated",
                    unit="mL",
                    low=0.001,
                    high=10_000,
                    required=False,
                    pad=True,
                ),
                "dilution": NumberField(
                    label=f"{named}dilution" if named else "Dilution",
                    unit="times",
                    low=1,
                    high=1e9,
                    required=False,
                    pad=True,
                ),
            }
            for part, field in fields.items():
                self.fields[_named(part, number)] = field

    @property
    def dish_rows(self) -> list[DishRow]:
        return [
            DishRow(number, *(self[_named(part, number)] for part in PARTS))
            for number in range(1, self.row_count + 1)
        ]

    @property
    def more_filled(self) -> bool:
        """Whether a dish after the first is filled in, so that they are shown."""
        return self.row_count > ROWS or any(row.filled for row in self.dish_rows[1:])

    @property
    def may_grow(self) -> bool:
        return self.row_count < MOST_DISHES

    def clean(self) -> None:
        given = self.cleaned_data
        touched = [n for n in range(1, self.row_count + 1) if self._touched(given, n)]
        if not given.get("state") and not any(self._counted(given, n) for n in touched):
            # A count is required only once it is known that something grew.
            if not {"state", *(_named("colonies", n) for n in touched)} & set(self.errors):
                self.add_error("state", "Choose negative or positive.")
            return
        by_volume = any(given.get(_named("volume_ml", n)) is not None for n in touched)
        for number in touched:
            colonies = given.get(_named("colonies", number))
            if colonies is not None and given.get(_named("too_many", number)):
                self.add_error(_named("colonies", number), NUMBER_OR_TOO_MANY)
            self._check_amounts(given, number, by_volume=by_volume)

    def _counted(self, given: Mapping[str, Any], number: int) -> bool:
        return given.get(_named("colonies", number)) is not None or bool(
            given.get(_named("too_many", number))
        )

    def _touched(self, given: Mapping[str, Any], number: int) -> bool:
        values = (given.get(_named(part, number)) for part in PARTS)
        return any(value not in (None, False) for value in values)

    def _check_amounts(self, given: Mapping[str, Any], number: int, *, by_volume: bool) -> None:
        """A dish that stands beside others, or is diluted, needs its volume, and a count."""
        volume, dilution = _named("volume_ml", number), _named("dilution", number)
        colonies = _named("colonies", number)
        if {volume, dilution, colonies} & set(self.errors):
            return
        if given.get(volume) is None:
            if by_volume or number > 1 or given.get(dilution) is not None:
                self.add_error(volume, "Enter the volume on this dish in mL.")
            elif not given.get("state"):
                self.add_error("state", "Choose negative or positive.")
        elif not self._counted(given, number) and given.get("state") != PlateState.NEGATIVE:
            self.add_error(colonies, "Enter the number of colonies, e.g. 0.")

    @cached_property
    def dishes(self) -> list[Dish]:
        """The dishes that were given with their volume; all empty where nothing grew."""
        given = self.cleaned_data
        found = []
        for number in range(1, self.row_count + 1):
            volume = given[_named("volume_ml", number)]
            if volume is None:
                continue
            colonies = given[_named("colonies", number)]
            if not self._counted(given, number):
                colonies = 0
            found.append(Dish(given[_named("dilution", number)] or 1, volume, colonies))
        return found

    def seen(self) -> dict[str, Any]:
        """The arguments of the actions."""
        given = self.cleaned_data
        return {
            "state": given["state"],
            "colonies": given["colonies"],
            "too_many": given["too_many"],
            "organism": given["organism"],
            "dishes": self.dishes,
        }


class CorrectPlateForm(ReadForm):
    """The correction of a misread plate."""

    reason = forms.CharField(
        label="Reason for the correction",
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Enter a reason."},
    )
    password = forms.CharField(
        label="Your password",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="Changing a positive plate to negative is signed.",
    )

    def __init__(self, *args: Any, was_positive: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not was_positive:
            del self.fields["password"]


def as_typed(dish: DishCount) -> dict[str, Any]:
    """A dish's volume and dilution as initial values."""
    return {"volume_ml": dish.volume_ml, "dilution": dish.dilution if dish.dilution > 1 else None}


def reading_as_typed(plate: Plate) -> tuple[int, dict[str, Any]]:
    """How many rows a plate's reading fills, and with what. 1 query at most."""
    dishes = dishes_of(plate)
    typed: dict[str, Any] = {"state": plate.state, "organism": plate.organism}
    if not dishes and plate.state == PlateState.POSITIVE:
        typed |= {"colonies": plate.colonies, "too_many": plate.colonies is None}
    for number, dish in enumerate(dishes, start=1):
        values = {
            "colonies": dish.colonies,
            "too_many": dish.colonies is None,
            **as_typed(dish),
        }
        typed |= {_named(part, number): value for part, value in values.items()}
    return min(max(ROWS, len(dishes)), MOST_DISHES), typed
