"""What of the board is asked for in its address."""

import dataclasses
from collections.abc import Mapping
from urllib.parse import urlencode

from brewhygiene.cellar.models import VesselKind
from brewhygiene.release.status import Code

SORTS = {"place": "by place", "urgent": "most urgent first"}


@dataclasses.dataclass(frozen=True)
class Look:
    """A kind, a status, an order; and whether it is for a wall screen, dark or light."""

    kind: str = ""
    status: str = ""
    sort: str = "place"
    wall: str = ""

    @classmethod
    def asked(cls, query: Mapping[str, str]) -> "Look":
        """From an address's query; what it does not know it leaves out."""
        kind, status, sort = query.get("kind", ""), query.get("status", ""), query.get("sort", "")
        wall = ""
        if "wall" in query:
            wall = "light" if query["wall"] == "light" else "dark"
        return cls(
            kind=kind if kind in VesselKind.values else "",
            status=status if status in list(Code) else "",
            sort=sort if sort in SORTS else "place",
            wall=wall,
        )

    @property
    def status_label(self) -> str:
        return Code(self.status).label if self.status else ""

    def query(self, **changes: str) -> str:
        """The query of this look with some things changed, as ``?kind=fermenter``."""
        now = dataclasses.asdict(self)
        asked = {name: now[name] for name in ("wall", "kind", "status", "sort")} | changes
        if asked["sort"] == "place":
            asked["sort"] = ""
        return "?" + urlencode({name: value for name, value in asked.items() if value})
