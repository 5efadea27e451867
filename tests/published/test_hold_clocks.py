"""The three clocks that a new brewery starts with."""

from collections.abc import Callable

import pytest

from brewhygiene.cellar.hold_times.actions import USUAL_HOURS
from brewhygiene.cellar.models import HoldClock
from brewhygiene.regimes.drafts import COMMON_PRACTICE
from brewhygiene.release.standing.facts import HoldTimes

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


@pytest.mark.parametrize(
    ("kind", "hours"),
    [
        # Hours dirty, clean, sanitised, the stricter of two: common practice, no source.
        ("fermenter", (12, 24, 4)),
        ("bright_tank", (12, 72, 12)),
        ("serving_tank", (12, 72, 12)),
        ("yeast_vessel", (2, 24, 2)),
        ("heat_exchanger", (1, 24, 2)),
        ("hose_set", (1, 24, 4)),
        ("filler", (1, 24, 4)),
        ("keg_line", (1, 24, 4)),
        ("dry_hop_gear", (1, 24, 4)),
    ],
)
def test_hours_that_are_offered_are_the_usual_ones(
    published: Callable[..., None], kind: str, hours: tuple[float, ...]
) -> None:
    published(f"{kind}: dirty, clean, sanitised, h", USUAL_HOURS[kind], hours, COMMON_PRACTICE)


def test_no_other_kind_is_offered_hours() -> None:
    assert len(USUAL_HOURS) == 9
