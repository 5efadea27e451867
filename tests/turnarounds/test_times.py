"""When something may have happened: not to come, not absurdly long ago, not before its cause."""

from datetime import datetime, timedelta

import pytest

from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when
from tests.factories import NOW

BY = Actor(user=None, now=NOW)
LEAST = timedelta(microseconds=1)
# The clean ended in the middle of a minute, an hour ago.
MINUTE = NOW - timedelta(hours=1)
ENDED = MINUTE + timedelta(seconds=30, microseconds=500)


@pytest.mark.parametrize(
    "moment, kept",
    [
        (NOW, NOW),
        (NOW - LEAST, NOW - LEAST),
        (NOW + LEAST, NOW),
        (NOW + timedelta(minutes=2), NOW),
        (NOW - timedelta(days=60), NOW - timedelta(days=60)),
    ],
    ids=str,
)
def test_a_clock_that_is_slightly_fast_is_brought_to_now(moment: datetime, kept: datetime) -> None:
    assert check_when(moment, by=BY, field="taken_at") == kept


@pytest.mark.parametrize(
    "moment",
    [NOW + timedelta(minutes=2) + LEAST, NOW - timedelta(days=60) - LEAST],
    ids=str,
)
def test_a_time_to_come_or_older_than_sixty_days_is_refused(moment: datetime) -> None:
    with pytest.raises(Refusal) as refused:
        check_when(moment, by=BY, field="taken_at")
    assert refused.value.field == "taken_at"


@pytest.mark.parametrize(
    "moment, kept",
    [
        (MINUTE - LEAST, MINUTE - LEAST),
        (MINUTE, ENDED),
        (ENDED - LEAST, ENDED),
        (ENDED, ENDED),
        (ENDED + LEAST, ENDED + LEAST),
    ],
    ids=str,
)
def test_a_time_in_the_minute_of_its_cause_is_brought_up_to_it(
    moment: datetime, kept: datetime
) -> None:
    assert check_when(moment, by=BY, field="taken_at", not_before=ENDED) == kept
