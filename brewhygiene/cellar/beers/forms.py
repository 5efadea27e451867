"""Set-up forms of beers."""

from django import forms

from brewhygiene.cellar.allergens import Allergen
from brewhygiene.people.forms import ActionForm, password_field


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
    allergens = forms.MultipleChoiceField(
        label="Allergens",
        choices=Allergen.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Everything that its label names. Tick a cereal in every beer that has it, if "
        "you also brew one without it. An ATP test does not detect allergens.",
    )
    allergen = forms.CharField(
        label="Note on allergens",
        max_length=100,
        required=False,
        help_text="Optional. E.g. where it is from, or an allergen that the list does not have.",
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
    password = password_field(
        "Your password",
        known=True,
        required=False,
        help_text="Only to change allergens, cultures, diastatic yeast or the clean before it. "
        "They set release rules.",
    )
