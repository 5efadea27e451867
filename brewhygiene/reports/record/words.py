"""Readings, people and moments, as a record words them."""

from datetime import datetime

from django.utils import timezone

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.models import User
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import shown_moment
from brewhygiene.regimes.measures import site_label, to_site
from brewhygiene.regimes.models import Quantity
from brewhygiene.turnarounds.models import StepReading


def reading_words(reading: StepReading, *, brewery: Brewery) -> str:
    """A reading as it was typed, with the brewery's own unit behind where that is another."""
    value = to_site(reading.value, quantity=reading.quantity, brewery=brewery)
    unit = site_label(quantity=reading.quantity, basis=reading.basis, brewery=brewery)
    if reading.quantity == Quantity.PH or value is None or reading.typed.endswith(unit):
        return reading.typed
    return f"{reading.typed} ({show_number(value)} {unit})"


def person_words(user: User | None) -> str:
    """A person's name with the initials, as 'Jonas Feld (JF)'."""
    if user is None:
        return "not on record"
    return f"{user.display_name} ({user.initials})" if user.initials else user.display_name


def moment_words(moment: datetime) -> str:
    """A moment of the record's year, in the active time zone, as '10 Mar 10:12'."""
    local = timezone.localtime(moment)
    return f"{shown_moment(local, 'j M H:i')}"
