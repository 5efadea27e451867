"""Whether people with one meter get one number: gauge repeatability and reproducibility.

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
        raise OutOfRange("Every person must take the same number of readings at every point.")
    if len(readings) < 2 or min(places, default=0) < 2 or min(lengths, default=0) < 2:
        raise TooFewReadings(
            "Enter at least two people, two points each, and two readings at each point."
        )
    x = require("reading", np.asarray(list(readings.values()), dtype=float))
    people, parts, repeats = x.shape
    if float(np.ptp(x)) == 0:
        raise OutOfRange("All readings are equal, so there is no variation to analyse.")
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
        raise OutOfRange("Every repeat is the same, so the measurement system shows no variation.")
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
