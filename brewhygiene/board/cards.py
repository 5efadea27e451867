"""The board's plates: what each says, which are shown, and in which order."""

import dataclasses
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from brewhygiene.board.look import SORTS, Look
from brewhygiene.board.next_step import NextStep, address, next_step
from brewhygiene.board.queries import vessels_for_board
from brewhygiene.cellar.models import VesselKind
from brewhygiene.release.polling import Seen, changed_since, news_of, seen_of
from brewhygiene.release.queries import VesselState, states_of
from brewhygiene.release.status import Code


@dataclasses.dataclass(frozen=True)
class Card:
    """One vessel as the board shows it."""

    pk: int
    address: str
    name: str
    kind: str
    kind_label: str
    code: Code
    detail: str
    since: datetime | None
    due_at: datetime | None
    late: bool
    next: NextStep
    next_beer: str
    unreleased_now: bool
    unreleased_ever: int

    @property
    def urgency(self) -> tuple[int, float]:
        """What is late first, the latest of all leading; then held and lapsed; then what is due."""
        moment = self.due_at or self.since
        when = moment.timestamp() if moment else 0.0
        if self.late:
            return 0, when
        if self.code in (Code.HELD, Code.LAPSED):
            return 1, when
        if self.due_at is not None:
            return 2, when
        return {Code.IN_USE: 4, Code.OUT_OF_SERVICE: 5}.get(self.code, 3), when


def card_of(state: VesselState, *, may: Callable[[str], bool], now: datetime) -> Card:
    """A vessel's card; its vessel as loaded by ``vessels_for_board``. 0 queries."""
    vessel, status, turnaround = state.vessel, state.status, state.turnaround
    next_beer = turnaround.next_beer if turnaround else None
    return Card(
        pk=vessel.pk,
        address=address("board:vessel", vessel.pk),
        name=vessel.name,
        kind=vessel.kind,
        kind_label=vessel.get_kind_display(),
        code=status.code,
        # The fill without a release has a mark of its own on the card.
        detail=state.facts.contents if status.code == Code.IN_USE else status.detail,
        since=status.since,
        due_at=status.due_at,
        late=status.overdue(now),
        next=next_step(state, may=may, now=now, plate_pk=vessel.open_plate_pk),  # type: ignore[attr-defined]
        next_beer=next_beer.name if next_beer else "",
        unreleased_now=state.facts.filled_without_release,
        unreleased_ever=vessel.fills_without_release,  # type: ignore[attr-defined]
    )


@dataclasses.dataclass(frozen=True)
class Choice:
    """One way to look at the board, with how many vessels it shows."""

    value: str
    label: str
    query: str
    chosen: bool
    number: int = 0


@dataclasses.dataclass(frozen=True)
class Board:
    """The whole board for one person, as asked for."""

    look: Look
    now: datetime
    cards: Sequence[Card]
    statuses: Sequence[Choice]
    kinds: Sequence[Choice]
    sorts: Sequence[Choice]
    late: int
    in_all: int
    seen: Seen
    changed: frozenset[int]
    news: str

    @property
    def query(self) -> str:
        """The query under which the page asks again, saying what it has seen."""
        return self.look.query(seen=str(self.seen))

    @property
    def crowd(self) -> str:
        """How many plates a wall screen has to hold, as the name of a grid."""
        for most in (2, 4, 6, 9, 12, 15, 20, 24, 30, 40, 60):
            if len(self.cards) <= most:
                return f"crowd-{most}"
        return "crowd-more"


def board_of(
    look: Look, *, may: Callable[[str], bool], now: datetime, seen: Seen | None = None
) -> Board:
    """The board, with what changed since it was ``seen``. 7 queries, however many vessels."""
    everything = [
        card_of(state, may=may, now=now) for state in states_of(vessels_for_board(), now=now)
    ]
    of_kind = [card for card in everything if look.kind in ("", card.kind)]
    shown = [card for card in of_kind if look.status in ("", card.code)]
    if look.sort == "urgent":
        shown.sort(key=lambda card: card.urgency)
    codes = {card.pk: card.code for card in of_kind}
    statuses = _statuses(of_kind, look)
    changed = changed_since(seen, codes=codes)
    named = {card.pk: card for card in of_kind}
    return Board(
        look=look,
        now=now,
        cards=shown,
        statuses=statuses,
        kinds=_kinds(everything, look),
        sorts=[
            Choice(value, label, look.query(sort=value), look.sort == value)
            for value, label in SORTS.items()
        ],
        late=sum(card.late for card in shown),
        in_all=len(everything),
        seen=seen_of([look, shown, statuses], codes=codes, now=now),
        changed=frozenset(changed),
        news=news_of((named[pk].name, named[pk].code) for pk in changed),
    )


def _statuses(cards: Sequence[Card], look: Look) -> list[Choice]:
    number = Counter(card.code for card in cards)
    return [
        Choice("", "All", look.query(status=""), look.status == "", len(cards)),
        *(
            Choice(code, code.label, look.query(status=code), look.status == code, number[code])
            for code in Code
        ),
    ]


def _kinds(cards: Iterable[Card], look: Look) -> list[Choice]:
    """Every kind that the cellar has; none where it has but one."""
    number = Counter(card.kind for card in cards)
    if len(number) < 2 and not look.kind:
        return []
    return [
        Choice("", "all kinds", look.query(kind=""), look.kind == "", number.total()),
        *(
            Choice(kind, kind.label, look.query(kind=kind), look.kind == kind, number[kind])
            for kind in VesselKind
            if number[kind] or look.kind == kind
        ),
    ]
