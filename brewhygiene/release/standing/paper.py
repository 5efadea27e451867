"""A release on paper, from before this record began: until when it counts. Pure functions."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, timedelta

from brewhygiene.quantities.words import BEFORE_RECORD


@dataclasses.dataclass(frozen=True)
class PaperRelease:
    """The time on the paper, and whose name stands on it."""

    released_at: datetime
    by: str

    @property
    def words(self) -> str:
        return f"Signed on paper by {self.by}, {BEFORE_RECORD}"

    def lapses_at(self, *, clean: timedelta, sanitised: timedelta) -> datetime:
        """When it lapses: after the shorter of the two hold times, from the time on the paper.

        When the vessel was sanitised is not on record, so neither of them may be left out.
        """
        return self.released_at + min(clean, sanitised)

    def void_at(
        self, now: datetime, *, lapses_at: datetime, openings: Sequence[datetime]
    ) -> tuple[datetime, str] | None:
        """Since when it no longer counts and why, or ``None`` while it does."""
        opened = next((moment for moment in openings if moment >= self.released_at), None)
        if opened is not None:
            return opened, f"Opened since the release. {self.words}"
        if lapses_at <= now:
            return lapses_at, f"The release has lapsed. {self.words}"
        return None
