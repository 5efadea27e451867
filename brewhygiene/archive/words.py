"""What an archive holds, in sentences."""

import zoneinfo
from datetime import datetime

from brewhygiene.archive.layout.manifest import Manifest
from brewhygiene.quantities.style import digits


def size_words(count: int) -> str:
    """Bytes as a person reads them."""
    if count < 1_000_000:
        return f"{digits(max(1, round(count / 1000)), ',')} kB"
    if count < 1_000_000_000:
        return f"{digits(count / 1_000_000, ',.1f')} MB"
    return f"{digits(count / 1_000_000_000, ',.1f')} GB"


def until_words(manifest: Manifest) -> str:
    """How many ledger entries, and when the last was recorded, in the brewery's zone."""
    head = manifest.head
    if not head.entries:
        return "Ledger: no entries yet."
    moment = datetime.fromisoformat(head.recorded_at)
    try:
        moment = moment.astimezone(zoneinfo.ZoneInfo(manifest.time_zone))
        zone = manifest.time_zone
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        zone = "UTC"
    entries = "entry" if head.entries == 1 else "entries"
    return f"Ledger: {digits(head.entries, ',')} {entries}, until {moment:%Y-%m-%d %H:%M} ({zone})."
