"""The three clocks that a new brewery starts with."""

from collections.abc import Callable

import pytest

from brewhygiene.cellar.models import HoldClock
from brewhygiene.release.status import HoldTimes

GUIDE = (
    "Craft Brewer's Guide to Best Practices vol. 2 (Master Brewers / ASBC), excerpt read: one "
    "author's rule of thumb, not law"
)


@pytest.mark.parametrize(
    ("field", "clock", "hours"),
    [
        ("dirty_hold_h", "dirty", 24),
        ("clean_hold_h", "clean", 24),
        ("sanitised_hold_h", "sanitised", 4),
    ],
)
def test_hold_clock_starts_from_the_guides_figure(
    published: Callable[..., None], field: str, clock: str, hours: float
) -> None:
    published(
        f"{clock} hold as set up, h", HoldClock._meta.get_field(field).default, hours, GUIDE, 0
    )
    judged = getattr(HoldTimes(), clock).total_seconds() / 3600
    published(f"{clock} hold as judged, h", judged, hours, GUIDE, 0)
