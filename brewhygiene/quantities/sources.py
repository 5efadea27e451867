"""Where a recorded value is from: a closed list, stored with the value and shown with it."""

from datetime import datetime

from django.db import models


class ValueSource(models.TextChoices):
    """How a value came to the record. None is assumed: every write says its own."""

    SERVER_TIMER = "server_timer", "timer"
    TABLET_TIMER = "tablet_timer", "tablet timer, offline"
    READ = "read", "read"
    LOGGER = "logger", "logger"
    CALCULATED = "calculated", "calculated"
    STATED = "stated", "stated afterwards"
    IMPORTED = "imported", "imported"


# What somebody says, and nothing else shows: it passes no check by itself.
CLAIMED = frozenset({ValueSource.STATED, ValueSource.IMPORTED})
# Of a row written before sources were recorded.
UNRECORDED = "source not recorded"


# A value whose number was typed as it was read: a slip of the finger can be put right. Empty in
# old rows.
READ_BY_EYE = frozenset({ValueSource.READ.value, ""})


def source_of_correction(source: str) -> ValueSource:
    """Where a correction is from: what an instrument or a list gave is now only said to differ.

    >>> source_of_correction("read").value, source_of_correction("logger").value
    ('read', 'stated')
    """
    return ValueSource.READ if source in READ_BY_EYE else ValueSource.STATED


def clock_words(offset_s: float) -> str:
    """What a tablet's clock was put right by, whose times say so; '' where it was right.

    >>> clock_words(-180), clock_words(95), clock_words(29)
    ('clock put right by -3 min', 'clock put right by +2 min', '')
    """
    minutes = round(offset_s / 60)
    return f"clock put right by {minutes:+d} min" if minutes else ""


def source_words(
    source: str, *, taken_at: datetime | None = None, tablet_at: datetime | None = None
) -> str:
    """As 'stated afterwards'; of an earlier row that it was not recorded.

    Of a tablet's timer also what its clock was put right by: ``tablet_at`` is what that showed.

    >>> source_words("stated"), source_words("")
    ('stated afterwards', 'source not recorded')
    """
    words = str(ValueSource(source).label) if source else UNRECORDED
    if source != ValueSource.TABLET_TIMER or taken_at is None or tablet_at is None:
        return words
    put_right = clock_words((taken_at - tablet_at).total_seconds())
    return f"{words}, {put_right}" if put_right else words
