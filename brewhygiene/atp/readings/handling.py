"""How an ATP test is taken and read, in our own words. Common practice, no source."""

from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.quantities.parsing import show_number

PROVENANCE = "Common practice, no source."
COUNT_S = 15  # how long a meter counts


def handling_steps(point: SamplingPoint) -> list[str]:
    """What to do at a point, in the order of doing it."""
    if point.sample_kind == SampleKind.RINSE:
        take = "Flush the sample valve with a steady stream, then dip the rinse sampler."
    else:
        area = f"{show_number(point.area_cm2)} cm²" if point.area_cm2 else "the whole of the part"
        square = " (10 × 10 cm)" if point.area_cm2 == 100 else ""
        take = f"Swab {area}{square} in both directions and turn the tip as you go."
    return [
        "Let the test warm up for 10 to 15 min.",
        take,
        "Touch nothing else with the tip.",
        "Activate it as its leaflet says, and shake it. Keep it upright and out of the sun.",
        "Put it into the meter within a minute.",
    ]
