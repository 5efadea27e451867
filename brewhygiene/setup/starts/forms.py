"""The form that puts all vessels on record, one row a vessel."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import GONE_THROUGH, Beer, Vessel
from brewhygiene.people.forms import ActionForm, password_field
from brewhygiene.quantities.days import DayField, MomentField
from brewhygiene.quantities.fields import StoredQuantityField
from brewhygiene.release.starts.actions import Stands
from brewhygiene.turnarounds.models.starts import Stood

LATER = ("", "not yet")


@dataclasses.dataclass(frozen=True)
class Row:
    """A vessel with its fields: how it stands, and what that asks for."""

    vessel: Vessel
    stood: forms.BoundField
    contains: Sequence[forms.BoundField]
    paper: Sequence[forms.BoundField]


class StartsForm(ActionForm):
    """How each vessel stands. A row that says nothing is left for another day."""

    # What is needed depends on how the vessel stands.
    use_required_attribute = False

    def __init__(
        self, *args: Any, vessels: Sequence[Vessel], brewery: Brewery, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.vessels = vessels
        self.beers = {str(beer.pk): beer for beer in Beer.objects.filter(active=True)}
        beers = [("", "Choose"), *((pk, beer.name) for pk, beer in self.beers.items())]
        for vessel in vessels:
            for name, field in _fields_of(vessel, beers, brewery).items():
                label = f"{vessel.name}, {str(field.label).lower()}"
                field.widget.attrs["aria-label"] = label
                self.fields[f"{name}_{vessel.pk}"] = field
        self.fields["password"] = password_field(
            "Your password",
            known=True,
            required=False,
            help_text="Only where a vessel was released on paper.",
        )

    @property
    def rows(self) -> list[Row]:
        return [
            Row(
                vessel=vessel,
                stood=self[f"stood_{vessel.pk}"],
                contains=[
                    self[f"{name}_{vessel.pk}"]
                    for name in ("beer", "batch", "volume_hl", "since")
                    if f"{name}_{vessel.pk}" in self.fields
                ],
                paper=[self[f"{name}_{vessel.pk}"] for name in ("released_at", "paper_signer")],
            )
            for vessel in self.vessels
        ]

    def chosen(self) -> list[Stands]:
        """What was filled in, vessel by vessel."""
        found = []
        for vessel in self.vessels:
            given = {
                name: self.cleaned_data.get(f"{name}_{vessel.pk}")
                for name in ("stood", "batch", "volume_hl", "since", "released_at", "paper_signer")
            }
            if not given["stood"]:
                continue
            found.append(
                Stands(
                    vessel=vessel,
                    stood=given["stood"],
                    beer=self.beers.get(self.cleaned_data.get(f"beer_{vessel.pk}") or ""),
                    batch=given["batch"] or "",
                    volume_hl=given["volume_hl"],
                    since=given["since"],
                    released_at=given["released_at"],
                    paper_signer=given["paper_signer"] or "",
                )
            )
        return found


def _fields_of(
    vessel: Vessel, beers: list[tuple[str, str]], brewery: Brewery
) -> dict[str, forms.Field]:
    """The fields of one vessel, by name; a hose is never asked what it contains."""
    stood = [one for one in Stood.choices if one[0] != Stood.CONTAINS]
    fields: dict[str, forms.Field] = {}
    if vessel.kind not in GONE_THROUGH:
        stood = list(Stood.choices)
        volume = StoredQuantityField(
            label="Volume", stored="hL", low=0, high=10_000, required=False
        )
        volume.show_in(brewery.volume_unit, kept=None)
        plain = forms.TextInput(attrs={"autocomplete": "off"})
        fields = {
            "beer": forms.ChoiceField(label="Beer", choices=beers, required=False),
            "batch": forms.CharField(label="Batch", max_length=40, required=False, widget=plain),
            "volume_hl": volume,
            "since": DayField(label="Since", required=False),
        }
    return {
        "stood": forms.ChoiceField(label="Stands", choices=[LATER, *stood], required=False),
        **fields,
        "released_at": MomentField(label="Time on the paper", required=False, initial=None),
        "paper_signer": forms.CharField(label="Name on the paper", max_length=120, required=False),
    }
