"""How guessing a PIN slows down.

Four digits stand against somebody with a minute alone at a tablet. So wrong PINs of one person on
one tablet make that PIN wait there, longer each time, and nothing else: other tablets, running
sessions and every password go on as before. A try during the wait is not looked at and does not
make it longer. Common practice, no source.
"""

from datetime import datetime, timedelta

from django.db import transaction
from django.http import HttpRequest

from brewhygiene.people import tablets
from brewhygiene.people.models import PinWait, User

# So many wrong ones are free; each further one doubles the wait, up to the longest.
FREE_TRIES = 3
FIRST_WAIT = timedelta(seconds=10)
LONGEST_WAIT = timedelta(minutes=15)
# After so long without a wrong one the count begins again.
FORGOTTEN_AFTER = timedelta(hours=12)


def wait_after(failures: int) -> timedelta:
    """How long a PIN waits after so many wrong ones in a row.

    >>> [int(wait_after(n).total_seconds()) for n in (1, 3, 4, 5, 8, 20)]
    [0, 0, 10, 20, 160, 900]
    """
    over = failures - FREE_TRIES
    if over <= 0:
        return timedelta(0)
    doubled: int = 2 ** min(over - 1, 20)
    return min(FIRST_WAIT * doubled, LONGEST_WAIT)


def tablet_of(request: HttpRequest) -> str:
    """What a wrong PIN is counted by: the tablet's own cookie, else its address."""
    return tablets.mark_of(request) or f"address {request.META.get('REMOTE_ADDR', '')}"[:64]


def waits_until(person: User, tablet: str, *, now: datetime) -> datetime | None:
    """Until when a person's PIN is not looked at on a tablet, or ``None``. 1 query."""
    wait = PinWait.objects.filter(person=person, tablet=tablet, until__gt=now).first()
    return wait.until if wait is not None else None


@transaction.atomic
def count_wrong(person: User, tablet: str, *, now: datetime) -> datetime | None:
    """Count a wrong PIN; until when the next waits, or ``None``."""
    wait, _ = PinWait.objects.select_for_update().get_or_create(person=person, tablet=tablet)
    if wait.last_at is not None and now - wait.last_at > FORGOTTEN_AFTER:
        wait.failures = 0
    wait.failures += 1
    wait.last_at = now
    pause = wait_after(wait.failures)
    wait.until = now + pause if pause else None
    wait.save()
    return wait.until


def forget(person: User, tablet: str) -> None:
    """The right PIN was typed: the count begins again."""
    PinWait.objects.filter(person=person, tablet=tablet).delete()
