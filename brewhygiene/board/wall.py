"""The pages of a wall screen: so many cards as can be read across the room, then the next."""

import dataclasses
import itertools
from collections.abc import Sequence

from brewhygiene.board.cards import Card, CardGroup

# 16 cards of a screen of 1 m let a name be some 4 cm high.
ACROSS = 4
ROWS = 4


@dataclasses.dataclass(frozen=True)
class WallGroup:
    """The cards of one group on one page, and in how many rows they stand."""

    title: str
    cards: Sequence[Card]
    rows: int


@dataclasses.dataclass(frozen=True)
class WallPage:
    """One page of the wall; ``next`` is the one that follows it, the first after the last."""

    number: int
    pages: int
    groups: Sequence[WallGroup]

    @property
    def next(self) -> int:
        return self.number % self.pages + 1

    @property
    def across(self) -> int:
        """How many cards stand side by side in the fullest row."""
        return max((min(len(group.cards), ACROSS) for group in self.groups), default=1)


def wall_page(groups: Sequence[CardGroup], number: int) -> WallPage:
    """Page ``number`` of the wall; counted on from the first where there are not so many."""
    rows = [
        (group.title, group.cards[start : start + ACROSS])
        for group in groups
        for start in range(0, len(group.cards), ACROSS)
    ]
    pages = [rows[start : start + ROWS] for start in range(0, len(rows), ROWS)] or [[]]
    shown = (number - 1) % len(pages)
    titled: dict[str, list[Sequence[Card]]] = {}
    for title, row in pages[shown]:
        titled.setdefault(title, []).append(row)
    return WallPage(
        number=shown + 1,
        pages=len(pages),
        groups=[
            WallGroup(title, list(itertools.chain(*found)), len(found))
            for title, found in titled.items()
        ],
    )
