"""The words of a row of the truth table, and the times and people that they name."""

import dataclasses
import re
from datetime import UTC, datetime, timedelta

from brewhygiene.people.models import User

EMPTIED = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)


POINTS = {1: "Cone", 2: "Arm", 3: "Lid"}


RLU = {"clear": 5, "alert": 20, "action": 40, "unjudged": 7}


HAND = User(pk=1, username="hand", full_name="Jonas Feld")


BREWER = User(pk=2, username="brewer", full_name="Mara Oduya")


TIME = r"-?\d+:\d\d(?::\d\d)?"


def at(text: str) -> datetime:
    """A time after emptying: "3:10" or, to the second, "3:10:59"."""
    hours, minutes, *seconds = (int(part) for part in text.lstrip("-").split(":"))
    passed = timedelta(hours=hours, minutes=minutes, seconds=sum(seconds))
    return EMPTIED - passed if text.startswith("-") else EMPTIED + passed


def shown(moment: datetime | None) -> str:
    """The opposite of :func:`at`; "-" for none."""
    if moment is None:
        return "-"
    seconds = round((moment - EMPTIED).total_seconds())
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")


def items(cell: str) -> list[str]:
    return [item.strip() for item in cell.split(";") if item.strip() not in ("", "-")]


def match(pattern: str, text: str) -> re.Match[str]:
    found = re.fullmatch(pattern, text)
    if found is None:
        raise ValueError(f"Not understood: {text!r}")
    return found


@dataclasses.dataclass(frozen=True)
class Sample:
    clean_pk: int
    point_pk: int
    verdict: str
    rlu: int
    recorded_at: datetime


class Other:
    """The words of the column of other facts; each has to be asked for, or it is refused."""

    def __init__(self, cell: str) -> None:
        self._left = set(items(cell))

    def has(self, word: str) -> bool:
        found = word in self._left
        self._left.discard(word)
        return found

    def numbered(self, word: str, number: int) -> bool:
        """Whether ``word`` was said of the ``number``-th (from 1) of its kind."""
        return self.has(f"{word} {number}")

    def value(self, pattern: str) -> str | None:
        """What stands in the group of a pattern."""
        for item in sorted(self._left):
            if found := re.fullmatch(pattern, item):
                self._left.discard(item)
                return found.group(1)
        return None

    def close(self) -> None:
        if self._left:
            raise ValueError(f"Not understood: {sorted(self._left)}")
