"""What is cleaned by date: after how many days at most, and by acid after how many."""

import dataclasses
from collections.abc import Mapping
from datetime import datetime, timedelta

from brewhygiene.cellar.models import Vessel, VesselKind

SOURCE = (
    "Draught lines: caustic every 14 days, acid every 3 months. Brewers Association, Draught Beer "
    "Quality Manual, as summarised by secondary pages (read). 3 months as 91 days: common "
    "practice, no source."
)
LONGEST_DAYS = 365


@dataclasses.dataclass(frozen=True)
class Within:
    """Days between two cleans at most, and between two with an acid step; ``None`` for no rule."""

    clean_days: int | None
    acid_days: int | None

    def __bool__(self) -> bool:
        return self.clean_days is not None or self.acid_days is not None


SHIPPED: Mapping[str, Within] = {VesselKind.DRAUGHT_LINE: Within(14, 91)}
NO_RULE = Within(None, None)


def within_of(vessel: Vessel) -> Within:
    """The vessel's own days, else those of its kind. 0 queries."""
    shipped = SHIPPED.get(vessel.kind, NO_RULE)
    return Within(
        vessel.clean_within_days or shipped.clean_days, vessel.acid_within_days or shipped.acid_days
    )


@dataclasses.dataclass(frozen=True)
class ByDate:
    """The last clean and the last acid of a vessel, and until when the next ones are due.

    With none on record it is due since the vessel was last filled, ``since``: when it was cleaned
    before that nobody knows.
    """

    within: Within
    cleaned_at: datetime | None = None
    acid_at: datetime | None = None
    since: datetime | None = None

    def _due(self, last: datetime | None, days: int | None) -> datetime | None:
        if days is None:
            return None
        return self.since if last is None else last + timedelta(days=days)

    @property
    def clean_due_at(self) -> datetime | None:
        return self._due(self.cleaned_at, self.within.clean_days)

    @property
    def acid_due_at(self) -> datetime | None:
        return self._due(self.acid_at, self.within.acid_days)

    @property
    def due_at(self) -> datetime | None:
        """The sooner of the two."""
        return min((at for at in (self.clean_due_at, self.acid_due_at) if at), default=None)

    @property
    def words(self) -> str:
        """What is due first; an acid clean is a clean, so it is said where both are."""
        if self.due_at is None:
            return ""
        return "acid clean due" if self.due_at == self.acid_due_at else "clean due"

    def asks_acid(self, at: datetime) -> bool:
        """Whether a clean at a moment needs an acid step: by the next one it would be too late."""
        if self.within.acid_days is None:
            return False
        if self.acid_at is None:
            return True
        next_at = at + timedelta(days=self.within.clean_days or 0)
        return next_at > self.acid_at + timedelta(days=self.within.acid_days)
