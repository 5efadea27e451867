"""What of the board is asked for in its address."""

import dataclasses
from collections.abc import Mapping
from urllib.parse import urlencode

from brewhygiene.cellar.models import VesselKind
from brewhygiene.release.status import Code


@dataclasses.dataclass(frozen=True)
class Look:
    """A kind, a status; and whether it is for a wall screen, dark or light, and its page."""

    kind: str = ""
    status: str = ""
    wall: str = ""
    page: int = 1

    @classmethod
    def asked(cls, query: Mapping[str, str]) -> "Look":
        """From an address's query; what it does not know it leaves out."""
        kind, status, page = query.get("kind", ""), query.get("status", ""), query.get("page", "")
        wall = ""
        if "wall" in query:
            wall = "light" if query["wall"] == "light" else "dark"
        return cls(
            kind=kind if kind in VesselKind.values else "",
            status=status if status in list(Code) else "",
            wall=wall,
            page=int(page) if wall and page.isdecimal() and len(page) < 4 else 1,
        )

    @property
    def status_label(self) -> str:
        return Code(self.status).label if self.status else ""

    @property
    def kind_label(self) -> str:
        return str(VesselKind(self.kind).label) if self.kind else ""

    def query(self, **changes: str) -> str:
        """The query of this look with some things changed, as ``?kind=fermenter``."""
        asked = {"wall": self.wall, "kind": self.kind, "status": self.status} | changes
        return "?" + urlencode({name: value for name, value in asked.items() if value})
