"""The time zones that a brewery may stand in."""

import zoneinfo
from datetime import date, datetime
from functools import lru_cache

from brewhygiene.brewery.models import Brewery


@lru_cache(maxsize=1)
def time_zones() -> tuple[str, ...]:
    """Their names, in order. Read from the disk once: it takes some 50 ms."""
    return tuple(sorted(zoneinfo.available_timezones()))


def time_zone_choices() -> list[tuple[str, list[tuple[str, str]]]]:
    """For a select: by region, each with its places."""
    regions: dict[str, list[tuple[str, str]]] = {}
    for name in time_zones():
        region, _, place = name.partition("/")
        regions.setdefault(region if place else "Others", []).append(
            (name, (place or name).replace("_", " "))
        )
    others = regions.pop("Others", [])
    return [*regions.items(), ("Others", others)]


def brewery_day(moment: datetime, brewery: Brewery) -> date:
    """The calendar day of a moment where the brewery stands."""
    return moment.astimezone(zoneinfo.ZoneInfo(brewery.time_zone)).date()
