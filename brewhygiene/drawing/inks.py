"""The colours of a drawing: variables of the page on a screen, fixed ones on paper."""

import dataclasses

from brewhygiene.drawing.figure import Ink

# Okabe and Ito's set, as on a light screen.
PAPER: dict[str, str] = {
    "ink": "#13252b",
    "soft": "#46585e",
    "blue": "#0072b2",
    "sky": "#56b4e9",
    "teal": "#009e73",
    "orange": "#e69f00",
    "vermilion": "#d55e00",
    "purple": "#cc79a7",
    "yellow": "#f0e442",
    "sheet": "#ffffff",
    "grid": "#dcd9ce",
    "line": "#6c7a7d",
    "cell": "#005b8f",
    "cell-low": "#000000",
    "cell-high": "#ffffff",
}
# Too light to be seen on a light sheet without an edge.
PALE = frozenset({"sky", "orange", "purple", "yellow"})
DASHES = {"solid": "", "dash": "6 4", "dot": "1.5 3"}


@dataclasses.dataclass(frozen=True)
class Inks:
    """What stands in ``fill`` and ``stroke``."""

    paper: bool

    def __getitem__(self, ink: Ink | str) -> str:
        fixed = PAPER[ink]
        return fixed if self.paper else f"var(--chart-{ink})"
