"""The board's cards: what each says, which are shown, and in which group and order."""

import dataclasses
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime

from brewhygiene.board.look import Look
from brewhygiene.board.next_step import NextStep, address, next_step
from brewhygiene.board.queries import RunningStep, running_steps, vessels_for_board
from brewhygiene.cellar.models import VesselKind
from brewhygiene.cellar.queries import by_place
from brewhygiene.quantities.words import BEFORE_RECORD
from brewhygiene.release.polling import Seen, changed_since, news_of, seen_of
from brewhygiene.release.queries import VesselState, states_of
from brewhygiene.release.status import Code

NEEDS_YOU, IN_PROGRESS, RESTING = "Needs you now", "In progress", "Resting"
_STOPPED = frozenset({Code.HELD, Code.LAPSED})
_WAITING = frozenset({Code.EMPTY, Code.TO_SAMPLE, Code.TO_DECIDE})


@dataclasses.dataclass(frozen=True)
class Card:
    """One vessel as the board shows it; ``place`` is where it stands among its like."""

    pk: int
    address: str
    name: str
    kind: str
    kind_label: str
    code: Code
    detail: str
    since: datetime | None
    due_at: datetime | None
    overdue: bool
    next: NextStep
    next_beer: str
    running: RunningStep | None
    unreleased_now: bool
    unreleased_ever: int
    contents_held: bool
    on_record: bool
    place: tuple[object, ...]

    @property
    def runs_over(self) -> bool:
        """Whether its step is on for longer than it may be."""
        return self.running is not None and self.running.is_over

    @property
    def group(self) -> str:
        """What waits for another person is in progress, unless it is stopped or overdue.

        What is in use rests, unless it is due to be cleaned by date.
        """
        resting = self.code == Code.IN_USE and not self.overdue
        if resting or self.code == Code.OUT_OF_SERVICE or not self.on_record:
            return RESTING
        if self.runs_over:
            return NEEDS_YOU
        if self.overdue or self.code in _STOPPED or (self.code in _WAITING and self.next.url):
            return NEEDS_YOU
        return IN_PROGRESS

    @property
    def urgency(self) -> tuple[object, ...]:
        """What is overdue or runs over first, the longest of all leading; then held and lapsed;
        then by time.

        What rests stands in the cellar's order, FV 2 before FV 10.
        """
        if self.group == RESTING:
            return 0, 0.0, self.place
        moment = self.due_at or self.since
        rank = (
            0
            if self.overdue or self.runs_over
            else 1
            if self.code in _STOPPED
            else 2
            if self.due_at
            else 3
        )
        return rank, moment.timestamp() if moment else 0.0, self.place


def card_of(
    state: VesselState,
    *,
    may: Callable[[str], bool],
    now: datetime,
    running: Mapping[int, RunningStep] | None = None,
) -> Card:
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
        detail=_contents_words(state) if status.code == Code.IN_USE else status.detail,
        since=status.since,
        due_at=status.due_at,
        overdue=status.overdue(now),
        next=next_step(state, may=may, now=now, plate_pk=vessel.open_plate_pk),  # type: ignore[attr-defined]
        next_beer=next_beer.name if next_beer else "",
        running=(running or {}).get(vessel.pk),
        unreleased_now=state.facts.filled_without_release,
        unreleased_ever=vessel.fills_without_release,  # type: ignore[attr-defined]
        contents_held=vessel.contents_held,  # type: ignore[attr-defined]
        on_record=status.since is not None or turnaround is not None,
        place=by_place(vessel),
    )


def _contents_words(state: VesselState) -> str:
    mark = f", {BEFORE_RECORD}" if state.facts.filled_before_record else ""
    by_date = state.facts.by_date
    due = f", {by_date.words}" if by_date is not None and by_date.words else ""
    return state.facts.contents + mark + due


@dataclasses.dataclass(frozen=True)
class CardGroup:
    """The cards under one heading, the most urgent first."""

    title: str
    cards: Sequence[Card]

    @property
    def urgent(self) -> bool:
        return self.title == NEEDS_YOU


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
    groups: Sequence[CardGroup]
    statuses: Sequence[Choice]
    kinds: Sequence[Choice]
    overdue: int
    in_all: int
    open_decisions: int
    seen: Seen
    changed: frozenset[int]
    news: str

    @property
    def query(self) -> str:
        """The query under which the page asks again, saying what it has seen."""
        return self.look.query(seen=str(self.seen))

    @property
    def number(self) -> int:
        return sum(len(group.cards) for group in self.groups)


def board_of(
    look: Look, *, may: Callable[[str], bool], now: datetime, seen: Seen | None = None
) -> Board:
    """The board, with what changed since it was ``seen``. 8 queries, however many vessels.

    One more while a step runs, for its readings.
    """
    running = running_steps(now=now)
    states = states_of(vessels_for_board(), now=now)
    open_decisions = states[0].vessel.open_decisions if states else 0  # type: ignore[attr-defined]
    everything = [card_of(state, may=may, now=now, running=running) for state in states]
    of_kind = [card for card in everything if look.kind in ("", card.kind)]
    shown = sorted(
        (card for card in of_kind if look.status in ("", card.code)),
        key=lambda card: card.urgency,
    )
    groups = [
        CardGroup(title, found)
        for title in (NEEDS_YOU, IN_PROGRESS, RESTING)
        if (found := [card for card in shown if card.group == title])
    ]
    codes = {card.pk: card.code for card in of_kind}
    statuses = _statuses(of_kind, look)
    changed = changed_since(seen, codes=codes)
    named = {card.pk: card for card in of_kind}
    return Board(
        look=look,
        now=now,
        groups=groups,
        statuses=statuses,
        kinds=_kinds(everything, look),
        overdue=sum(card.overdue for card in shown),
        in_all=len(everything),
        open_decisions=open_decisions,
        seen=seen_of([look, groups, statuses], codes=codes, now=now),
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
        Choice("", "All", look.query(kind=""), look.kind == "", number.total()),
        *(
            Choice(kind, kind.label, look.query(kind=kind), look.kind == kind, number[kind])
            for kind in VesselKind
            if number[kind] or look.kind == kind
        ),
    ]
