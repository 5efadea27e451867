"""Set-up forms of beers."""

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
        help_text="Diastatic yeast ferments what the yeast of the next beer leaves.",
    )
    fruit_or_heavy_hops = forms.BooleanField(
        label="Fruit or heavy dry hop",
        required=False,
        help_text="Hops and fruit can block a spray device.",
    )
    allergen = forms.CharField(
        label="Allergen",
        max_length=100,
        required=False,
        help_text="Optional. E.g. lactose or nuts. An ATP test does not detect allergens.",
    )
    strict_before = forms.BooleanField(
        label="Needs a strong clean before it",
        required=False,
        help_text="E.g. a beer without alcohol, or one sold as free of an allergen.",
    )


class EditBeerForm(BeerForm):
    active = forms.BooleanField(
        label="Still brewed", required=False, help_text="Untick to retire the beer."
    )
