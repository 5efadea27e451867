"""Tables of two by two: every figure, or a sentence that says what would allow it."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.diagnosis.shares import Share, share_of
from brewhygiene.science.diagnosis.table import (
    Diagnosis,
    Estimate,
    NotEstimable,
    TwoByTwo,
    Words,
    diagnose,
    kappa_of,
)
from brewhygiene.science.errors import OutOfRange, TooFewReadings

DIRTY = Words("positive on the plate", "negative on the plate", "over the limit", "within it")


def untold(found: Diagnosis) -> dict[str, str]:
    return {
        field.name: getattr(found, field.name).why
        for field in dataclasses.fields(found)
        if isinstance(getattr(found, field.name), NotEstimable)
    }


def test_full_table_tells_everything() -> None:
    assert untold(diagnose(TwoByTwo(hits=4, false_alarms=3, misses=2, quiet=20))) == {}


def test_no_pair_tells_nothing() -> None:
    assert set(untold(diagnose(TwoByTwo(0, 0, 0, 0)))) == {
        "sensitivity", "specificity", "ppv", "npv", "accuracy", "prevalence", "kappa",
        "ratio_said", "ratio_not_said",
    }  # fmt: skip


def test_no_positive_leaves_sensitivity_untold_and_says_what_allows_it() -> None:
    found = untold(diagnose(TwoByTwo(hits=0, false_alarms=3, misses=0, quiet=20), words=DIRTY))
    assert found == {
        "sensitivity": "None was positive on the plate. This figure needs at least one.",
        "ratio_said": "None was positive on the plate. This figure needs at least one.",
        "ratio_not_said": "None was positive on the plate. This figure needs at least one.",
        "kappa": "Agreement beyond chance needs some that are positive on the plate and some "
        "negative on the plate, and some over the limit and some within it.",
    }


def test_no_negative_leaves_specificity_untold() -> None:
    found = untold(diagnose(TwoByTwo(hits=5, false_alarms=0, misses=1, quiet=0)))
    assert set(found) == {"specificity", "kappa", "ratio_said", "ratio_not_said"}


def test_perfect_agreement_is_no_proof_of_more_of_it() -> None:
    table = TwoByTwo(hits=5, false_alarms=0, misses=0, quiet=9)
    assert kappa_of(table).value == 1
    found = untold(diagnose(table))
    assert set(found) == {"kappa", "ratio_said", "ratio_not_said"}
    assert found["kappa"] == (
        "The two agree in every pair. This figure needs a pair where they do not."
    )


@pytest.mark.parametrize("cells", [(0, 0, 9, 59), (10, 0, 13, 94), (5, 2, 0, 9), (5, 2, 3, 0)])
def test_empty_cell_gives_no_ratio_with_a_range_of_nothing(cells: tuple[int, ...]) -> None:
    found = untold(diagnose(TwoByTwo(*cells)))
    assert {"ratio_said", "ratio_not_said"} <= set(found)


@given(cells=st.tuples(*[st.integers(0, 60)] * 4))
def test_no_table_gives_a_number_that_is_none(cells: tuple[int, int, int, int]) -> None:
    found = diagnose(TwoByTwo(*cells))
    for field in dataclasses.fields(found):
        figure = getattr(found, field.name)
        if isinstance(figure, Share | Estimate):
            assert math.isfinite(figure.value)
            assert figure.interval.low <= figure.value + 1e-9
            assert figure.value <= figure.interval.high + 1e-9
            assert figure.interval.low < figure.interval.high


def test_share_of_no_case_is_refused() -> None:
    with pytest.raises(TooFewReadings):
        share_of(count=0, of=0)
    with pytest.raises(OutOfRange):
        share_of(count=3, of=2)


def test_kappa_of_one_sided_verdicts_is_refused() -> None:
    with pytest.raises(TooFewReadings):
        kappa_of(TwoByTwo(hits=5, false_alarms=3, misses=0, quiet=0))


def test_counts_below_0_are_refused() -> None:
    with pytest.raises(OutOfRange):
        TwoByTwo(hits=-1, false_alarms=0, misses=0, quiet=0)
