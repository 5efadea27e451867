"""How a record words a reading."""

import pytest

from brewhygiene.brewery.models import Brewery
from brewhygiene.reports.record.words import reading_words
from brewhygiene.turnarounds.models import StepReading


@pytest.mark.parametrize(
    ("quantity", "value", "typed", "site", "words"),
    [
        ("temperature_c", 74.0, "74 °C", {}, "74 °C"),
        ("temperature_c", 74.0, "74 °C", {"temperature_unit": "F"}, "74 °C (165.2 °F)"),
        ("temperature_c", 74.0, "165.2 °F", {"temperature_unit": "F"}, "165.2 °F"),
        ("flow_l_min", 100.0, "100 L/min", {"flow_unit": "hL/h"}, "100 L/min (60 hL/h)"),
        ("ph", 7.0, "pH 7", {"temperature_unit": "F"}, "pH 7"),
        ("time_min", 12.5, "12.5 min", {"temperature_unit": "F"}, "12.5 min"),
    ],
)
def test_reading_stands_as_typed_with_the_sites_unit_behind_where_that_is_another(
    quantity: str, value: float, typed: str, site: dict[str, str], words: str
) -> None:
    reading = StepReading(quantity=quantity, value=value, typed=typed)
    assert reading_words(reading, brewery=Brewery(**site)) == words
