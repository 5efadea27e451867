"""Colours of indicators against their published ranges."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.tank.indicators import INDICATORS, nearest_in, suiting


# Tables of indicators.
@pytest.mark.parametrize(
    ("code", "low", "high", "colours"),
    [
        ("phenolphthalein", 8.2, 10.0, ("colourless", "pale pink", "pink")),
        ("thymol_blue", 8.0, 9.6, ("yellow", "green", "blue")),
        ("phenol_red", 6.8, 8.4, ("yellow", "orange", "red")),
        ("bromothymol_blue", 6.0, 7.6, ("yellow", "green", "blue")),
        ("methyl_red", 4.4, 6.2, ("red", "orange", "yellow")),
    ],
)
def test_colours_stand_for_their_ranges(
    code: str, low: float, high: float, colours: tuple[str, str, str]
) -> None:
    indicator = INDICATORS[code]
    below, between, above = colours
    assert indicator.range_of(below) == (0, low)
    assert indicator.range_of(between) == (low, high)
    assert indicator.range_of(above) == (high, 14)
    with pytest.raises(KeyError):
        indicator.range_of("purple")


def test_only_what_can_show_a_residue_is_offered() -> None:
    def codes(residue):
        return {one.code for one in suiting(residue)}

    both = {"phenol_red", "bromothymol_blue"}
    assert codes(None) == both
    assert codes("caustic") == both | {"phenolphthalein", "thymol_blue"}
    assert codes("acid") == both | {"methyl_red"}


@given(st.floats(0, 14), st.floats(0, 14), st.floats(0, 14))
def test_nearest_lies_in_the_range_and_nothing_in_it_is_nearer(
    one: float, other: float, aim: float
) -> None:
    low, high = sorted((one, other))
    found = nearest_in(low, high, aim=aim)
    assert low <= found <= high
    assert all(abs(found - aim) <= abs(point - aim) for point in (low, high))
    assert found == aim or not low <= aim <= high
