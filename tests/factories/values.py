"""Times, a password and names that count from one, for invented things."""

import itertools
from datetime import UTC, datetime

PASSWORD = "wort-before-noon"


NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)


COMMON = "common practice, no source"


_serial = itertools.count(1)


def count_from_one() -> None:
    """Called before each test, so that its names are the same whatever ran before."""
    global _serial
    _serial = itertools.count(1)


def next_number() -> int:
    return next(_serial)
