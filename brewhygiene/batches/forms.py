"""What the forms of batches share: fields of volumes, of equipment, of vessels to choose."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.fields import StoredQuantityField

MOST_HL = 10_000
MOST_L = 1_000_000


def number_field(label: str, *, missing: str, **kwargs: Any) -> forms.CharField:
    """The number of a batch, a crop or a lot."""
    return forms.CharField(
        label=label,
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": missing},
        **kwargs,
    )


def volume_field(label: str, *, stored: str = "hL", **kwargs: Any) -> StoredQuantityField:
    """A volume, in the brewery's unit; ``stored`` is hL, or L for what is small."""
    missing = {"required": "Enter the volume."}
    high = MOST_HL if stored == "hL" else MOST_L
    kwargs.setdefault("error_messages", missing)
    return StoredQuantityField(label=label, stored=stored, low=0, high=high, **kwargs)


def reason_field(label: str, **kwargs: Any) -> forms.CharField:
    """A reason in a few lines; the action says when it is needed."""
    return forms.CharField(
        label=label, max_length=400, widget=forms.Textarea(attrs={"rows": 2}), **kwargs
    )


class VesselChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A vessel, with what is to be known of it before it is chosen."""

    notes: Mapping[int, str] = {}

    def label_from_instance(self, vessel: Any) -> str:
        note = self.notes.get(vessel.pk, "")
        return f"{vessel.name}, {note}" if note else str(vessel.name)


class BrewForm(ActionForm):
    """A form of this room: its volumes in the brewery's units, some of its fields folded away."""

    # By the words that they are folded under.
    folded: ClassVar[Mapping[str, Sequence[str]]] = {}

    def __init__(self, *args: Any, brewery: Brewery, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = brewery.volume_unit
        for field in self.fields.values():
            if isinstance(field, StoredQuantityField):
                unit = brewery.volume_unit if field.stored == "hL" else brewery.solution_unit
                field.show_in(unit, kept=None)

    @property
    def plain(self) -> list[Any]:
        """The fields that are in sight."""
        folded = {name for names in self.folded.values() for name in names}
        return [field for field in self.visible_fields() if field.name not in folded]

    @property
    def folds(self) -> list[tuple[str, list[Any], bool]]:
        """What is folded away: its words, its fields, and whether something in it was typed."""
        found = []
        for words, names in self.folded.items():
            fields = [self[name] for name in names if name in self.fields]
            if fields:
                found.append((words, fields, any(f.errors or self._typed(f) for f in fields)))
        return found

    def _typed(self, field: Any) -> bool:
        return self.is_bound and bool(field.data)
