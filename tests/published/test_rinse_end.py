"""The end of a rinse beside its supply water, against hand-made decisions on published bounds.

Bounds of the supply: Directive 98/83/EC, 6.5 to 9.5 (read in a water authority's list; the same
in (EU) 2020/2184 Annex I C, from memory). Pure water with 81 mg/L of caustic reads pH 11.3
(computed). Tolerances of 0.5 and 0.05 mS/cm are common practice, no source.
"""

import pytest

from brewhygiene.science.tank.against_supply import neutral, same_conductivity, same_ph


@pytest.mark.parametrize(
    ("supply", "reading", "decision"),
    [
        (7.6, 7.8, "met"),
        (9.2, 9.3, "met"),  # legal water, which a window of 6 to 8 would fail
        (7.4, 11.3, "not_met"),
        (6.6, 5.2, "not_met"),
        (7.5, 8.2, "not_met"),
        (None, 8.2, "ask_supply"),
        (10.4, 10.3, "question_supply"),
        (7.1, 7.6, "met"),
        (7.6, 7.1, "met"),
        (7.6, 8.11, "not_met"),
        (6.5, 6.5, "met"),
        (6.49, 6.5, "question_supply"),
        (9.5, 9.5, "met"),
        (9.51, 9.5, "question_supply"),
    ],
)
def test_ph(supply: float | None, reading: float, decision: str) -> None:
    assert same_ph(reading, supply_ph=supply).says == decision


@pytest.mark.parametrize(
    ("supply_us_cm", "reading_us_cm", "decision"),
    [
        (480, 505, "met"),
        (480, 640, "not_met"),
        (480, 300, "question_supply"),
        (None, 505, "ask_supply"),
        (480, 530, "met"),
        (480, 530.1, "not_met"),
        (480, 384, "met"),
        (480, 383.9, "question_supply"),
    ],
)
def test_conductivity(supply_us_cm: float | None, reading_us_cm: float, decision: str) -> None:
    supply = None if supply_us_cm is None else supply_us_cm / 1000
    assert same_conductivity(reading_us_cm / 1000, supply_ms_cm=supply).says == decision


@pytest.mark.parametrize(
    ("ph", "decision"), [(5.9, "not_met"), (6, "met"), (8, "met"), (8.1, "not_met")]
)
def test_window_of_six_to_eight(ph: float, decision: str) -> None:
    """Craft Brewer's Guide to Best Practices, vol. 2 (excerpt read)."""
    assert neutral(ph).says == decision
