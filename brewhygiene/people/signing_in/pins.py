"""Which PINs are too easily guessed, and how guessing one slows down.

Four digits stand against somebody with a minute alone at a tablet. So wrong PINs of one person on
one tablet make that PIN wait there, longer each time, and nothing else: other tablets, running
sessions and every password go on as before. A try during the wait is not looked at and does not
make it longer. Common practice, no source.
"""

from datetime import datetime, timedelta
from itertools import pairwise

from django.db import transaction
from django.http import HttpRequest

from brewhygiene.people.models import PinWait, User
from brewhygiene.people.signing_in import tablets

LEAST_DIGITS, MOST_DIGITS = 4, 12
# So many wrong ones are free; each further one doubles the wait, up to the longest.
FREE_TRIES = 3
FIRST_WAIT = timedelta(seconds=10)
LONGEST_WAIT = timedelta(minutes=15)
# After so long without a wrong one the count begins again.
FORGOTTEN_AFTER = timedelta(hours=12)
KEYPAD = {str(n): divmod(n - 1, 3) for n in range(1, 10)} | {"0": (3, 1)}
YEARS = range(1900, 2100)


def is_obvious(pin: str) -> bool:
    """Whether a PIN is among the first that anybody would try.

    >>> [is_obvious(pin) for pin in ("1111", "2345", "1987", "7373", "4422", "2580", "4826")]
    [True, True, True, True, True, True, False]
    """
    steps = {int(b) - int(a) for a, b in pairwise(pin)}
    half = len(pin) // 2
    return (
        len(steps) == 1
        or len(set(pin)) == 1
        or (len(pin) == 4 and int(pin) in YEARS)
        or (len(pin) % 2 == 0 and pin[:half] == pin[half:])
        or (len(pin) % 2 == 0 and all(a == b for a, b in zip(pin[::2], pin[1::2], strict=True)))
        or pin == pin[::-1]
        or _is_line(pin)
    )


def _is_line(pin: str) -> bool:
    """Whether each digit is the next key in one direction, or the keys go round the corners."""
    places = [KEYPAD[digit] for digit in pin]
    moves = {(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(places)}
    corners = set(pin) == set("1379")
    return corners or (len(moves) == 1 and moves != {(0, 0)})


def wait_after(failures: int) -> timedelta:
    """How long a PIN waits after so many wrong ones in a row.

    >>> [int(wait_after(n).total_seconds()) for n in (1, 3, 4, 5, 8, 20)]
    [0, 0, 10, 20, 160, 900]
    """
    over = failures - FREE_TRIES
    if over <= 0:
        return timedelta(0)
    return min(FIRST_WAIT * 2 ** min(over - 1, 20), LONGEST_WAIT)


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
