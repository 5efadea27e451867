"""Forms of a permit to enter a vessel."""

from django import forms

from brewhygiene.people.forms import ActionForm, ConfirmedForm
from brewhygiene.quantities.fields import NumberField, words_of_ours


def _gas(label: str, help_text: str) -> NumberField:
    return NumberField(
        label=label,
        unit="%",
        low=0,
        high=100,
        help_text=help_text,
        error_messages={"required": "Enter what the gas meter shows now."},
    )


class PermitForm(ConfirmedForm):
    reason = forms.CharField(label="Work inside", max_length=200)
    entrants = forms.CharField(label="Who goes in", max_length=200, help_text="Each by name.")
    attendant = forms.CharField(
        label="Who stays outside",
        max_length=80,
        help_text="Watches all the time, never enters, and calls the rescue team.",
    )
    isolation = forms.CharField(
        label="Shut, locked and tagged",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Each product, gas, steam and cleaning line, each agitator and pump.",
    )
    oxygen_pct = _gas("Oxygen", "Read at the top, the middle and the bottom: enter the worst.")
    co2_pct = _gas("CO2", words_of_ours("The highest of the three. 5,000 ppm is 0.5 %."))
    explosive_pct = _gas("Flammable gas", "In % of its lower explosive limit. 0 if none.")


class CloseForm(ActionForm):
    everyone_out = forms.BooleanField(
        label="Everybody is out, counted by name",
        error_messages={"required": "Tick it once everybody is out, counted by name."},
    )
    nothing_left = forms.BooleanField(
        label="Tools, lamps and parts are out",
        error_messages={"required": "Tick it once tools, lamps and parts are out."},
    )
    note = forms.CharField(
        label="What was done and found",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Enter what was done and found."},
    )
