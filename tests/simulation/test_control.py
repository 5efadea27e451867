"""The committed table of run lengths says what the charts do."""

import re

import pytest

from brewhygiene.science.control.run_length import cusum_run_length, ewma_run_length
from tests.simulation import control

ROW = re.compile(r"\| (.+) \| ([\d.]+) \| ([\d.]+) ± ([\d.]+) \| ([\d.]+) \| ([\d.]*) \|")


def test_simulated_run_lengths_agree_with_the_chains_and_with_what_is_published() -> None:
    rows = ROW.findall(control.TABLE.read_text())
    assert len(rows) == 12
    for name, shift, mean, twice, chain, published in rows:
        allowed = 2 * float(twice) + 0.1
        assert abs(float(mean) - float(chain)) <= allowed, (name, shift)
        if published:
            assert abs(float(mean) - float(published)) <= allowed, (name, shift)


@pytest.mark.parametrize("shift", [0.5, 1.0])
def test_a_few_runs_come_out_as_the_table_says(shift: float) -> None:
    for simulate, chain in (
        (control.run_length_of_ewma, ewma_run_length(shift=shift)),
        (control.run_length_of_cusum, cusum_run_length(shift=shift)),
    ):
        lengths = simulate(shift, runs=400, seed=4)
        error = lengths.std() / 20
        assert abs(lengths.mean() - chain) < 4 * error


def test_table_of_judged_phases_is_what_the_product_makes_now() -> None:
    """One row is made anew: a change of the charts shows here until the table is written again."""
    without, first = control.judged_phases(control.few_counts, 1.0)
    share = 100 * len(first["ewma"]) / (control.PHASES - without)
    row = next(
        line
        for line in control.TABLE.read_text().splitlines()
        if line.startswith("| negative binomial, mean 2.5 | 1 |")
    )
    assert f"| {100 * without / control.PHASES:.0f} % | {share:.0f} %, " in row


def test_baseline_without_any_light_gets_no_limits() -> None:
    without, first = control.judged_phases(
        lambda chance, n, shift: control.np.zeros(n), 0.0, phases=3
    )
    assert (without, first["any"]) == (3, [])
