"""What limits can be worked out from, and what is said where nothing can."""

import pytest

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.sample import MOST_READINGS, sample_of, whole_rlu


def refused(error: type[ValueError], rlu: list[int], **values: list[str]) -> str:
    with pytest.raises(error) as refusal:
        sample_of(rlu, **values)
    return str(refusal.value)


def test_no_reading_is_refused_with_how_many_it_takes() -> None:
    assert refused(TooFewReadings, []) == (
        "There is no reading yet. Limits need at least 10, 10 more."
    )


def test_one_reading_is_refused() -> None:
    assert refused(TooFewReadings, [4]) == (
        "1 reading does not show how clean vessels vary. Limits need at least 10, 9 more."
    )


def test_nine_readings_are_one_too_few_and_ten_are_enough() -> None:
    assert refused(TooFewReadings, list(range(9))) == (
        "9 readings do not show how clean vessels vary. Limits need at least 10, 1 more."
    )
    assert sample_of(list(range(10))).size == 10


def test_all_zeros_are_refused_with_all_that_they_show() -> None:
    said = refused(OutOfRange, [0] * 30)
    assert said.startswith("All 30 readings are 0 RLU, so their variation is unknown")
    assert "With 95 % confidence at most 10 % of such cleans read more" in said


def test_all_equal_are_refused_with_their_number() -> None:
    assert refused(OutOfRange, [7] * 12).startswith("All 12 readings are 7 RLU, so their variation")


def test_readings_of_two_scales_are_never_put_together() -> None:
    said = refused(OutOfRange, list(range(12)), scales=["Lab"] * 6 + ["Cellar"] * 6)
    assert said == (
        "These are readings of 2 scales (Cellar, Lab). RLU of two meters or two types of ATP test "
        "must not be combined. Choose one."
    )


def test_too_many_readings_are_refused() -> None:
    said = refused(OutOfRange, [1, 2] * MOST_READINGS)
    assert said.startswith("2,000 readings are more than a baseline takes (1,000).")


def test_reading_below_nothing_is_refused() -> None:
    assert refused(OutOfRange, [-1, *range(12)]) == (
        "The reading is -1 RLU. It must be at least 0 RLU."
    )


@pytest.mark.parametrize("exact, whole", [(12.0, 12), (12.0000000001, 12), (12.01, 13), (0.2, 1)])
def test_limit_is_rounded_up_to_whole_rlu(exact: float, whole: int) -> None:
    assert whole_rlu(exact) == whole


@pytest.mark.parametrize(
    "values, said",
    [
        (
            {"alert_coverage": 0.99, "action_coverage": 0.95},
            "The alert level cannot cover more than the action limit does.",
        ),
        (
            {"alert_k": 2.0},
            "Enter k for both the alert level and the action limit, or for neither.",
        ),
        (
            {"alert_k": 3.0, "action_k": 2.0},
            "The k of the alert level cannot be above that of the action limit.",
        ),
        ({"confidence": 1.0}, "The confidence is 1. It must be from 0.5 to 0.999."),
    ],
)
def test_what_cannot_be_asked_is_refused(values: dict[str, float], said: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        Asked(**values)
    assert str(refusal.value) == said
