"""Set-up forms of beers."""

from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm


class BeerForm(ActionForm):
    name = forms.CharField(max_length=60)
    sour_or_mixed = forms.BooleanField(
        label="Sour or mixed culture",
        required=False,
        help_text="Lactics, Brettanomyces or a mixed culture. A kettle sour is ordinary.",
    )
    diastatic = forms.BooleanField(
        label="Diastatic yeast",
        required=False,
        help_text="It ferments what the next beer's yeast leaves.",
    )
    fruit_or_heavy_hops = forms.BooleanField(
        label="Fruit or heavy dry hop",
        required=False,
        help_text="It may block a spray device, so the device is looked at.",
    )
    allergen = forms.CharField(
        label="Allergen",
        max_length=100,
        required=False,
        help_text="As “lactose” or “nuts”. ATP proves nothing about allergens: they need a test "
        "of their own.",
    )
    strict_before = forms.BooleanField(
        label="Asks for a strong clean before it",
        required=False,
        help_text="A beer without alcohol, or one sold as free of an allergen.",
    )

    def values(self) -> dict[str, Any]:
        """What the verb takes."""
        return {
            name: value
            for name, value in self.cleaned_data.items()
            if name not in ("key", "client_time")
        }


class EditBeerForm(BeerForm):
    active = forms.BooleanField(
        label="Still brewed", required=False, help_text="Untick to take it off the lists."
    )
