"""The form of the hold times."""

from typing import Any

from django import forms

from brewhygiene.cellar.hold_times.actions import (
    DEFAULT_HOURS,
    LEAST_H,
    MOST_H,
    USUAL_HOURS,
    USUAL_NOTES,
    Hours,
)
from brewhygiene.cellar.models import VesselKind
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.quantities.fields import NumberField


class HoldTimesForm(ConfirmedForm):
    """Three hours for every kind of vessel."""

    LABELS = {
        "dirty_hold_h": "dirty-hold",
        "clean_hold_h": "clean-hold",
        "sanitised_hold_h": "sanitised-hold",
    }

    def __init__(
        self, *args: Any, stored: dict[str, Hours], usual: bool = False, **kwargs: Any
    ) -> None:
        """``usual`` fills in the usual hours, which are not stored before the form is sent."""
        super().__init__(*args, **kwargs)
        self.stored = stored
        shown = {**stored, **USUAL_HOURS} if usual else stored
        for kind, label in VesselKind.choices:
            hours = shown.get(kind, DEFAULT_HOURS)
            for name, value in hours._asdict().items():
                field = NumberField(
                    label=self.LABELS[name], low=LEAST_H, high=MOST_H, unit="h", initial=value
                )
                field.widget.attrs["aria-label"] = f"{label}, {self.LABELS[name]}, hours"
                self.fields[f"{kind}-{name}"] = field

    @property
    def rows(self) -> list[tuple[str, str, list[forms.BoundField]]]:
        """Each kind's label, what is usual for it beside the hours, and its fields."""
        return [
            (label, USUAL_NOTES.get(kind, ""), [self[f"{kind}-{name}"] for name in Hours._fields])
            for kind, label in VesselKind.choices
        ]

    def changed(self) -> dict[str, Hours]:
        """The hours of the kinds that were changed, by kind."""
        changed = {}
        for kind in VesselKind.values:
            hours = Hours(*(self.cleaned_data[f"{kind}-{name}"] for name in Hours._fields))
            if hours != self.stored.get(kind, DEFAULT_HOURS):
                changed[kind] = hours
        return changed
