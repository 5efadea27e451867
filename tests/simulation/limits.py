"""How the methods of limits keep their word: false alarms and coverage attained, by simulation.

``python -m tests.simulation.limits`` writes ``fixtures/simulation/limits.csv`` anew. From each of
three shapes of clean readings many baselines of n readings are drawn; each method makes its limits
of each; and the shape itself, which is known, says what share of later clean readings would lie
above them. Whether a method would have been barred by its goodness of fit is left aside: the table
says what it does when used.
"""

import csv
import dataclasses
import io
import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from brewhygiene.science.limits import many
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.censored import LEAST_SHOWN, fit_censored
from brewhygiene.science.limits.counts import fit_counts
from brewhygiene.science.limits.ranks import bounding_rank, readings_for_percentile
from brewhygiene.science.limits.side_by_side import LEAST_FITTED, factors

TABLE = Path(__file__).parents[2] / "fixtures" / "simulation" / "limits.csv"
SIZES = (10, 20, 30, 60, 120)
BASELINES = 4000
SEED = 20_260_301
ASKED = Asked()
TRADE_K = (2.0, 3.0)

Rows = NDArray[np.int64]
Limits = NDArray[np.float64]


@dataclasses.dataclass(frozen=True)
class Shape:
    """A cellar's clean readings: how to draw them, and the share above a whole number of RLU."""

    name: str
    drawn: Callable[[np.random.Generator, tuple[int, int]], Rows]
    above: Callable[[Limits], Limits]


def _lognormal() -> Shape:
    middle, spread = math.log(8), 0.7

    def drawn(rng: np.random.Generator, size: tuple[int, int]) -> Rows:
        values = np.exp(rng.normal(middle, spread, size))
        return np.where(values < 1, 0, np.rint(values)).astype(np.int64)

    def above(limits: Limits) -> Limits:
        edge = np.where(limits <= 0, 1.0, limits + 0.5)
        return np.asarray(stats.norm.sf((np.log(edge) - middle) / spread))

    return Shape("lognormal", drawn, above)


def _counts() -> Shape:
    mean, size = 6.0, 1.5
    share = size / (size + mean)
    return Shape(
        "negative binomial",
        lambda rng, shape: rng.negative_binomial(size, share, shape),
        lambda limits: np.asarray(stats.nbinom.sf(limits, size, share)),
    )


def _zero_heavy() -> Shape:
    zeros, mean, size = 0.6, 5.0, 1.0
    share = size / (size + mean)

    def drawn(rng: np.random.Generator, shape: tuple[int, int]) -> Rows:
        counts = 1 + rng.negative_binomial(size, share, shape)
        return np.where(rng.random(shape) < zeros, 0, counts)

    return Shape(
        "60 % zeros",
        drawn,
        lambda limits: np.asarray((1 - zeros) * stats.nbinom.sf(limits - 1, size, share)),
    )


SHAPES = (_lognormal(), _counts(), _zero_heavy())


def _by_method(samples: Rows) -> Iterator[tuple[str, str, Limits | None]]:
    """Method, level and the limits of each sample (NaN where that one carries none)."""
    n = samples.shape[1]
    levels = (("alert", ASKED.alert_coverage), ("action", ASKED.action_coverage))
    for place, (level, coverage) in enumerate(levels):
        for name, k in (("exact k", factors(ASKED, n)[place]), ("k 2 and 3", TRADE_K[place])):
            yield f"raw, {name}", level, many.raw_limits(samples, k)
            yield f"logs, {name}", level, many.log_limits(samples, k)
        enough = n >= readings_for_percentile(coverage=coverage)
        yield "percentile", level, many.percentile_limits(samples, coverage) if enough else None
        rank = bounding_rank(readings=n, coverage=coverage, confidence=ASKED.confidence)
        yield "tolerance", level, None if rank is None else many.ranked_limits(samples, rank)
        if n < LEAST_FITTED:
            yield "counts", level, None
            yield "lognormal", level, None
            continue
        some = samples.sum(axis=1) > 0
        counted = np.full(len(samples), np.nan)
        counted[some] = fit_counts(samples[some]).quantile(coverage)
        yield "counts", level, counted
        shown = (samples > 0).sum(axis=1) >= LEAST_SHOWN
        yield "lognormal", level, np.where(shown, fit_censored(samples).quantile(coverage), np.nan)


@dataclasses.dataclass(frozen=True)
class Line:
    """One line of the table; percentages, with standard errors of the simulation's chance."""

    shape: str
    readings: int
    method: str
    level: str
    false_alarm_percent: float | None
    false_alarm_error: float | None
    attained_percent: float | None
    attained_error: float | None

    @property
    def key(self) -> tuple[str, int, str, str]:
        return self.shape, self.readings, self.method, self.level


def simulate(
    *, baselines: int = BASELINES, sizes: Sequence[int] = SIZES, seed: int = SEED
) -> list[Line]:
    """The table: what share of clean readings lies above the limits, and how surely few do.

    ``attained`` is the share of baselines whose limit truly covers what it should (95 % the alert
    level, 99 % the action limit): the confidence that the method really gives.
    """
    lines = []
    for number, shape in enumerate(SHAPES):
        for n in sizes:
            rng = np.random.default_rng([seed, number, n])
            samples = shape.drawn(rng, (baselines, n))
            samples = samples[np.ptp(samples, axis=1) > 0]  # all alike is refused
            for method, level, limits in _by_method(samples):
                lines.append(_line(shape, n, method, level, limits))
    return lines


def _line(shape: Shape, n: int, method: str, level: str, limits: Limits | None) -> Line:
    if limits is None:
        return Line(shape.name, n, method, level, None, None, None, None)
    whole = np.ceil(np.round(limits[np.isfinite(limits)], 6))
    above = 100 * shape.above(whole)
    coverage = ASKED.alert_coverage if level == "alert" else ASKED.action_coverage
    share = float((above <= 100 * (1 - coverage) + 1e-9).mean())
    count = len(whole)
    return Line(
        shape.name,
        n,
        method,
        level,
        round(float(above.mean()), 3),
        round(float(above.std(ddof=1)) / math.sqrt(count), 4),
        round(100 * share, 1),
        round(100 * math.sqrt(max(share * (1 - share), 0.25 / count) / count), 2),
    )


HEADINGS = [field.name for field in dataclasses.fields(Line)]


def written(lines: Sequence[Line]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for line in lines:
        writer.writerow(["" if x is None else x for x in dataclasses.astuple(line)])
    return out.getvalue()


def read(path: Path = TABLE) -> list[Line]:
    """The table as it is kept."""

    def number(text: str) -> Any:
        return float(text) if text else None

    with path.open(encoding="utf-8", newline="") as file:
        return [
            Line(
                row["shape"],
                int(row["readings"]),
                row["method"],
                row["level"],
                number(row["false_alarm_percent"]),
                number(row["false_alarm_error"]),
                number(row["attained_percent"]),
                number(row["attained_error"]),
            )
            for row in csv.DictReader(file)
        ]


def main() -> None:
    TABLE.parent.mkdir(parents=True, exist_ok=True)
    TABLE.write_text(written(simulate()), encoding="utf-8")


if __name__ == "__main__":
    main()
