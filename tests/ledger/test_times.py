"""The chain holds whatever zone a clock is written in."""

from datetime import datetime, timedelta, timezone

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import Actor, check_chain
from brewhygiene.plates.actions import send_plate
from tests.factories import NOW, Cellar

pytestmark = pytest.mark.django_db


def test_times_written_in_another_zone_keep_the_chain_whole() -> None:
    cellar = Cellar()
    turnaround = cellar.emptied()
    zone = timezone(timedelta(hours=5, minutes=30))
    by = Actor(
        user=cellar.hand,
        now=NOW.astimezone(zone),
        client_time=datetime(2026, 3, 10, 14, 31, tzinfo=zone),
    )
    send_plate(
        by=by,
        turnaround=turnaround,
        point=cellar.point,
        medium="WLN",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=5,
    )
    assert check_chain() is None
    assert Entry.objects.latest("id").recorded_at == NOW
