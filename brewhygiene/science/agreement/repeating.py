"""Whether people with one meter get one number: gauge repeatability and reproducibility; kappa.

References
----------
.. [1] AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III.
"""

import dataclasses
import math
from collections.abc import Mapping, Sequence

from brewhygiene.science.errors import OutOfRange, TooFewReadings, require

INTERACTION_P = 0.25  # above it the interaction is pooled with the repeatability [1]
CATEGORIES = 1.41  # √2, as the manual writes it


@dataclasses.dataclass(frozen=True)
class Gauge:
    """Standard deviations by their source, in the readings' unit.

    ``repeatability`` (EV) of one person with one meter, ``reproducibility`` (AV) between people,
    both together ``gauge`` (GRR), ``parts`` (PV) between the places read, ``total`` (TV).
    ``interaction_p`` is the p value of people reading some places differently from others;
    ``pooled`` says that this was taken for repeatability. ``categories`` (ndc) is how many
    groups of places the readings can tell apart.
    """

    repeatability: float
    reproducibility: float
    gauge: float
    parts: float
    total: float
    interaction_p: float
    pooled: bool
    categories: float

    @property
    def shares_percent(self) -> dict[str, float]:
        """Shares of the total variance, in %."""
        return {
            name: 100 * (sd / self.total) ** 2
            for name, sd in (
                ("repeatability", self.repeatability),
                ("reproducibility", self.reproducibility),
                ("gauge", self.gauge),
                ("parts", self.parts),
            )
        }


def gauge_study(*, readings: Mapping[str, Sequence[Sequence[float]]]) -> Gauge:
    """Gauge R&R by a two-way analysis of variance, places and people both at random [1]_.

    ``readings`` gives each person's readings as one list a place, all of the same length (two
    repeats or more), in one unit, such as log10(RLU + 1). Components below 0 are 0. Where the
    interaction's p is above 0.25 it is pooled with the repeatability. Raises
    :class:`TooFewReadings` with fewer than two people, places or repeats, :class:`OutOfRange`
    where lengths differ, a reading is no finite number or all are equal.

    >>> found = gauge_study(readings={"A": [[1.0, 1.1], [2.0, 2.1], [3.1, 3.0]],
    ...                               "B": [[1.1, 1.2], [2.1, 2.0], [3.0, 3.2]]})
    >>> round(found.repeatability, 3), round(found.parts, 2)
    (0.079, 0.99)
    """
    import numpy as np
    from scipy.stats import f as fisher

    lengths = {len(place) for person in readings.values() for place in person}
    places = {len(person) for person in readings.values()}
    if len(lengths) > 1 or len(places) > 1:
        raise OutOfRange("Every person has to read every place the same number of times.")
    if len(readings) < 2 or min(places, default=0) < 2 or min(lengths, default=0) < 2:
        raise TooFewReadings(
            "It takes at least two people who each read at least two places at least twice."
        )
    x = require("reading", np.asarray(list(readings.values()), dtype=float))
    people, parts, repeats = x.shape
    if float(np.ptp(x)) == 0:
        raise OutOfRange("All readings are equal: they say nothing about the spread.")
    mean = x.mean()
    by_part, by_person, by_cell = x.mean(axis=(0, 2)), x.mean(axis=(1, 2)), x.mean(axis=2)
    ss_part = people * repeats * float(((by_part - mean) ** 2).sum())
    ss_person = parts * repeats * float(((by_person - mean) ** 2).sum())
    ss_cell = repeats * float(((by_cell - mean) ** 2).sum())
    ss_both = max(ss_cell - ss_part - ss_person, 0.0)
    ss_error = float(((x - by_cell[:, :, None]) ** 2).sum())
    df_both, df_error = (people - 1) * (parts - 1), people * parts * (repeats - 1)
    ms_both, ms_error = ss_both / df_both, ss_error / df_error
    ms_part, ms_person = ss_part / (parts - 1), ss_person / (people - 1)
    p = float(fisher.sf(ms_both / ms_error, df_both, df_error)) if ms_error > 0 else 0.0
    pooled = p > INTERACTION_P
    if pooled:
        ms_error = (ss_error + ss_both) / (df_error + df_both)
        ms_both = ms_error
    both = max((ms_both - ms_error) / repeats, 0.0)
    between_people = max((ms_person - ms_both) / (parts * repeats), 0.0)
    between_parts = max((ms_part - ms_both) / (people * repeats), 0.0)
    gauge = ms_error + between_people + both
    if gauge == 0:
        raise OutOfRange("Every repeat gave the same number: there is no spread of the gauge.")
    return Gauge(
        repeatability=math.sqrt(ms_error),
        reproducibility=math.sqrt(between_people + both),
        gauge=math.sqrt(gauge),
        parts=math.sqrt(between_parts),
        total=math.sqrt(gauge + between_parts),
        interaction_p=p,
        pooled=pooled,
        categories=CATEGORIES * math.sqrt(between_parts / gauge),
    )


def kappa(*, table: Sequence[Sequence[int]]) -> float:
    """Cohen's kappa: how far two raters agree beyond chance; 1 is always, 0 as by chance.

    ``table[i][j]`` counts, as a number without a unit, what the first put into class i and the
    second into class j. (p₀ − pₑ)/(1 − pₑ) [1]_. Raises :class:`OutOfRange` for a table that is
    not square or a count below 0, :class:`TooFewReadings` where nothing was counted or both used
    one class only.

    >>> round(kappa(table=[[44, 6], [3, 97]]), 3)
    0.863
    """
    size = len(table)
    if size < 2 or any(len(row) != size for row in table):
        raise OutOfRange("The table needs the same classes for both, two or more.")
    if any(count < 0 for row in table for count in row):
        raise OutOfRange("A count below 0 cannot be.")
    total = sum(sum(row) for row in table)
    if total == 0:
        raise TooFewReadings("Nothing was rated by both.")
    agreed = sum(table[k][k] for k in range(size)) / total
    chance = sum(sum(table[k]) * sum(row[k] for row in table) for k in range(size)) / total**2
    if chance == 1:
        raise TooFewReadings("Both put everything into one class: agreement by chance is certain.")
    return (agreed - chance) / (1 - chance)
