"""Run lengths of the control charts by simulation, beside the chains and what is published.

``python -m tests.simulation.control`` writes ``fixtures/simulation/arl.md`` anew. Two questions:

1. Do simulated run lengths agree with the Markov chains of ``science.control.run_length`` and with
   published ones, where centre and sigma are known and readings are normal?
2. What is left of that where it is not so: limits from the first 20 readings, and readings that
   are counts with many zeros? The product's own ``judge_phase`` is run for it.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from brewhygiene.science.control.judging import judge_phase, least_sigma_of_counts
from brewhygiene.science.control.rules import RULE_SETS
from brewhygiene.science.control.run_length import (
    cusum_run_length,
    ewma_run_length,
    false_alarm_chance,
    rules_run_length,
)
from brewhygiene.science.errors import TooFewReadings

TABLE = Path(__file__).resolve().parents[2] / "fixtures" / "simulation" / "arl.md"
SEED = 20260310
RUNS = 4_000
PHASES = 600
BASELINE = 20
JUDGED = 60
LONGEST = 40_000

Array = NDArray[np.float64]
Draw = Callable[[np.random.Generator, int, float], Array]


def run_length_of_ewma(shift: float, *, runs: int = RUNS, seed: int = SEED) -> Array:
    """Simulated run lengths of the two-sided EWMA, centre and sigma known."""
    chance = np.random.default_rng(seed)
    limit = 2.962 * np.sqrt(0.2 / 1.8)
    z = np.zeros(runs)
    length = np.zeros(runs)
    running = np.arange(runs)
    for n in range(1, LONGEST):
        z = 0.8 * z + 0.2 * (chance.standard_normal(len(z)) + shift)
        out = np.abs(z) > limit
        length[running[out]] = n
        z, running = z[~out], running[~out]
        if not len(z):
            break
    return length


def run_length_of_cusum(shift: float, *, runs: int = RUNS, seed: int = SEED) -> Array:
    """Simulated run lengths of the two-sided CUSUM with k = 0.5 and h = 5."""
    chance = np.random.default_rng(seed)
    up, down = np.zeros(runs), np.zeros(runs)
    length = np.zeros(runs)
    running = np.arange(runs)
    for n in range(1, LONGEST):
        x = chance.standard_normal(len(up)) + shift
        up = np.maximum(0, up + x - 0.5)
        down = np.maximum(0, down - x - 0.5)
        out = (up > 5) | (down > 5)
        length[running[out]] = n
        up, down, running = up[~out], down[~out], running[~out]
        if not len(up):
            break
    return length


def run_length_of_zones(shift: float, *, runs: int = RUNS, seed: int = SEED) -> Array:
    """Simulated run lengths of the four Western Electric rules."""
    chance = np.random.default_rng(seed)
    recent = np.zeros((runs, 8))
    length = np.zeros(runs)
    running = np.arange(runs)
    for n in range(1, LONGEST):
        x = chance.standard_normal(len(recent)) + shift
        recent = np.column_stack((recent[:, 1:], x))
        out = np.zeros(len(recent), dtype=bool)
        for side in (recent, -recent):
            newest = side[:, -1]
            out |= newest > 3
            out |= (newest > 2) & ((side[:, -3:] > 2).sum(axis=1) >= 2)
            out |= (newest > 1) & ((side[:, -5:] > 1).sum(axis=1) >= 4)
            out |= (side > 0).all(axis=1)
        length[running[out]] = n
        recent, running = recent[~out], running[~out]
        if not len(recent):
            break
    return length


def normal(chance: np.random.Generator, n: int, shift: float) -> Array:
    """Values that are normal as they are, for comparison; ``shift`` in sigmas."""
    return 2 + 0.3 * (chance.standard_normal(n) + shift)


def _counts(
    chance: np.random.Generator, n: int, shift: float, *, mean: float, shape: float
) -> Array:
    """log10(RLU+1) of negative binomial counts; ``shift`` multiplies their mean by 1 + 2 shift."""
    lasting = chance.gamma(shape, mean * (1 + 2 * shift) / shape, n)
    return np.log10(chance.poisson(lasting) + 1.0)


def counts(chance: np.random.Generator, n: int, shift: float) -> Array:
    """Negative binomial: mean 8 RLU, shape 2; about one zero in 25."""
    return _counts(chance, n, shift, mean=8, shape=2)


def few_counts(chance: np.random.Generator, n: int, shift: float) -> Array:
    """Negative binomial: mean 2.5 RLU, shape 1.5; about one zero in four."""
    return _counts(chance, n, shift, mean=2.5, shape=1.5)


def mostly_zero(chance: np.random.Generator, n: int, shift: float) -> Array:
    """Negative binomial: mean 0.5 RLU, shape 0.5; about 7 zeros in 10."""
    return _counts(chance, n, shift, mean=0.5, shape=0.5)


def lognormal(chance: np.random.Generator, n: int, shift: float) -> Array:
    """Whole RLU of a lognormal around 20 RLU, SD 0.3 of log10; ``shift`` in such SDs."""
    return np.log10(np.floor(10 ** (1.3 + 0.3 * (chance.standard_normal(n) + shift))) + 1.0)


SHAPES: dict[str, Draw] = {
    "normal": normal,
    "lognormal, whole RLU": lognormal,
    "negative binomial, mean 8": counts,
    "negative binomial, mean 2.5": few_counts,
    "mostly zero, mean 0.5": mostly_zero,
}


def judged_phases(
    draw: Draw, shift: float, *, phases: int = PHASES, seed: int = SEED
) -> tuple[int, dict[str, list[int]]]:
    """How many phases got no limits, and per rule the readings until its first upward signal.

    Each phase has 20 steady readings that make its limits and 60 shifted ones.
    """
    chance = np.random.default_rng(seed)
    without = 0
    first: dict[str, list[int]] = {"ewma": [], "cusum": [], "beyond_3": [], "any": []}
    for _ in range(phases):
        steady = draw(chance, BASELINE, 0.0)
        values = [*steady.tolist(), *draw(chance, JUDGED, shift).tolist()]
        try:
            phase = judge_phase(values, least_sigma=least_sigma_of_counts(steady.tolist()))
        except TooFewReadings:
            without += 1
            continue
        up = [signal for signal in phase.signals if signal.direction == "up"]
        for rule, found in first.items():
            ours = [s.found for s in up if rule in ("any", s.rule)]
            if ours:
                found.append(min(ours) - BASELINE + 1)
    return without, first


def _known() -> list[str]:
    published = {
        ("EWMA 0.2, 2.962", 0.0): "500",
        ("EWMA 0.2, 2.962", 1.0): "10.5",
        ("CUSUM 0.5, 5", 0.0): "465",
        ("CUSUM 0.5, 5", 0.5): "38.0",
        ("CUSUM 0.5, 5", 1.0): "10.4",
        ("CUSUM 0.5, 5", 2.0): "4.01",
        ("Western Electric, four rules", 0.0): "91.75",
    }
    zones = RULE_SETS["western_electric"].rules
    charts = (
        ("EWMA 0.2, 2.962", run_length_of_ewma, lambda d: ewma_run_length(shift=d)),
        ("CUSUM 0.5, 5", run_length_of_cusum, lambda d: cusum_run_length(shift=d)),
        (
            "Western Electric, four rules",
            run_length_of_zones,
            lambda d: rules_run_length(rules=zones, shift=d),
        ),
    )
    rows = []
    for name, simulate, chain in charts:
        for shift in (0.0, 0.5, 1.0, 2.0):
            lengths = simulate(shift)
            error = lengths.std() / np.sqrt(len(lengths))
            rows.append(
                f"| {name} | {shift:g} | {lengths.mean():.1f} ± {2 * error:.1f} | "
                f"{chain(shift):.1f} | {published.get((name, shift), '')} |"
            )
    return rows


def _estimated() -> list[str]:
    rows = []
    for name, draw in SHAPES.items():
        for shift in (0.0, 1.0, 2.0):
            without, first = judged_phases(draw, shift)
            with_limits = PHASES - without
            cells = []
            for rule in ("ewma", "cusum", "beyond_3", "any"):
                found = first[rule]
                share = 100 * len(found) / with_limits
                middle = f", {np.median(found):.0f}" if shift and found else ""
                cells.append(f"{share:.0f} %{middle}")
            rows.append(
                f"| {name} | {shift:g} | {100 * without / PHASES:.0f} % | {' | '.join(cells)} |"
            )
    return rows


def table() -> str:
    """The whole page."""
    bound = 100 * false_alarm_chance(readings=JUDGED, baseline=BASELINE)
    exact = 100 * false_alarm_chance(readings=JUDGED)
    return "\n".join(
        [
            "# Run lengths of the control charts",
            "",
            "Written by `python -m tests.simulation.control`; do not edit.",
            "",
            "## Centre and sigma known, normal readings",
            "",
            f"{RUNS} runs each. Readings until the first alarm, both sides: the simulated mean ± 2",
            "standard errors, the Markov chain, and what is published (Lucas and Saccucci 1990;",
            "Montgomery, table 9.3; Champ and Woodall 1987; printed values from memory).",
            "",
            "| chart | shift, sigmas | simulated | chain | published |",
            "|---|---|---|---|---|",
            *_known(),
            "",
            f"## Limits from the first {BASELINE} readings",
            "",
            f"{PHASES} phases each: {BASELINE} steady readings make the limits, {JUDGED} more are",
            "judged as the product does (log10(RLU+1); EWMA and CUSUM with readings drawn in to",
            "3.5 sigmas). The share of phases with an upward signal among the judged readings",
            "and, where these are shifted, the median number of readings until it. A shift of 1",
            "or 2 is so many sigmas for the first two shapes; for the counts it makes the mean 3",
            "or 5 times as high. “No limits” are phases whose baseline readings were all equal.",
            "",
            "| readings | shift | no limits | EWMA | CUSUM | beyond 3 sigmas | any |",
            "|---|---|---|---|---|---|---|",
            *_estimated(),
            "",
            f"What the pages say of a steady point over {JUDGED} readings: up to {bound:.0f} %",
            f"with limits from {BASELINE} readings; {exact:.0f} % were they exactly right. The",
            "three charts' alarms are added up in it, so it is an upper bound for the first four",
            "shapes. Where readings are mostly zero it is none: a baseline of 20 then holds few",
            "readings that say how far up one goes by itself, and two points in three are said to",
            "have a high reading or to get worse at some time. The pages say so there.",
            "",
        ]
    )


def main() -> None:
    TABLE.parent.mkdir(parents=True, exist_ok=True)
    TABLE.write_text(table())


if __name__ == "__main__":
    main()
