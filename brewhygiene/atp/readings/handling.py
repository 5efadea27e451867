"""How a stick is handled, in our own words, said where it is needed."""

import dataclasses

from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.quantities.parsing import show_number

PROVENANCE = "common practice, no source"
COUNT_S = 15  # how long a meter counts


@dataclasses.dataclass(frozen=True)
class Reminder:
    """One thing to mind. ``counts`` where the meter's counting time can be counted along."""

    text: str
    counts: bool = False


def reminders_for(point: SamplingPoint) -> list[Reminder]:
    """What to mind with a stick at a point, in the order of doing it. Common practice."""
    if point.sample_kind == SampleKind.RINSE:
        take = Reminder("Flush the sample valve with a steady stream first, then dip.")
    else:
        area = f"{show_number(point.area_cm2)} cm²" if point.area_cm2 else "the whole of the part"
        square = " (10 × 10 cm)" if point.area_cm2 == 100 else ""
        take = Reminder(f"Swab {area}{square}, turning the tip, both ways across.")
    return [
        Reminder("Stick at room temperature: 10 to 15 min out of the cold."),
        take,
        Reminder("Nothing touches the tip: no skin, no hair, no steel but the place itself."),
        Reminder("Snap, squeeze, shake; keep it upright and out of the sun."),
        Reminder("Into the meter within a minute. It counts for about 15 s.", counts=True),
    ]
