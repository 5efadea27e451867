"""Filling an empty installation with the invented brewery."""

import zoneinfo
from collections.abc import Callable
from datetime import datetime

from django.db import transaction

from brewhygiene.brewery.models import Brewery
from brewhygiene.demo.brewery import TIME_ZONE, furnish
from brewhygiene.demo.paper_year.script import PaperYear
from brewhygiene.demo.six_weeks.changeover import Changeover
from brewhygiene.demo.six_weeks.history import History
from brewhygiene.demo.six_weeks.solutions import Solutions
from brewhygiene.demo.six_weeks.studies import Studies
from brewhygiene.demo.six_weeks.today import Today
from brewhygiene.demo.stage import Stage
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User


class NotEmpty(Exception):
    """There is a brewery or a person already, whose record nothing invented may enter."""


@transaction.atomic
def seed(*, now: datetime, say: Callable[[str], None]) -> int:
    """Invent the brewery and its six weeks up to ``now``, all or nothing.

    Returns how many entries its ledger has. Raises :class:`NotEmpty` where anything is there.
    """
    if Brewery.objects.exists() or User.objects.exists():
        raise NotEmpty
    stage = Stage(now=now, zone=zoneinfo.ZoneInfo(TIME_ZONE), say=say)
    brewery = furnish(stage)
    for past in (PaperYear, Studies, Solutions, History, Changeover, Today):
        for script in past(stage, brewery).scripts():
            stage.add(script)
    stage.play()
    return Entry.objects.count()
