"""What the board tells about backups: nothing while there is a fresh one. No query."""

from datetime import datetime, timedelta

from brewhygiene.archive import data_folder
from brewhygiene.archive.keeping import STALE_AFTER, Newest

_newest = Newest()


def newest_made_at() -> datetime | None:
    """When this installation's newest archive was made. Raises :class:`OSError`."""
    mine = data_folder.marker()
    if mine is None:
        return None
    return _newest.made_at(data_folder.backup_folder(), installation=mine.id)


def stale_words(now: datetime) -> str:
    """A sentence where the newest archive is older than two days, else ''.

    Nothing in a folder that no server was started in, or not for two days yet.
    """
    mine = data_folder.marker()
    if mine is None or not mine.begun_at:
        return ""
    try:
        made_at = newest_made_at()
    except OSError as error:
        return f"The folder of the backups cannot be read ({error.strerror})."
    since = now - (made_at or datetime.fromisoformat(mine.begun_at))
    if since <= STALE_AFTER:
        return ""
    days = since // timedelta(days=1)
    if made_at is None:
        return f"There is no backup yet, after {days} days."
    return f"The newest backup is {days} days old."
