"""What is half done now, and the handovers so far."""

import dataclasses
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef

from brewhygiene.board.cards import RESTING, Card, board_of
from brewhygiene.board.handovers.models import Handover, HandoverRead
from brewhygiene.board.look import Look
from brewhygiene.people.models import User
from brewhygiene.quantities.style import digits
from brewhygiene.release.status import Code

# A handover greets the next hand for so long; an older one is history.
GREETS_FOR = timedelta(hours=24)
SHOWN = 20


@dataclasses.dataclass(frozen=True)
class HalfDone:
    """A vessel on its way from emptied to filled, and how it stands."""

    vessel: str
    code: Code
    words: str
    address: str

    @property
    def kept(self) -> dict[str, str]:
        return {"vessel": self.vessel, "status": self.code.value, "words": self.words}


def _words(card: Card) -> str:
    said = [card.detail]
    if card.running is not None:
        of = f" of {digits(card.running.target_min, 'g')}" if card.running.target_min else ""
        said.insert(0, f"{card.running.name}: {card.running.minutes:.0f}{of} min")
    if card.contents_held:
        said.append("batch held")
    if card.next.text:
        said.append(f"next: {card.next.text[0].lower()}{card.next.text[1:]}")
    return ". ".join(word[0].upper() + word[1:] for word in said if word)


def half_done(*, now: datetime) -> list[HalfDone]:
    """Every vessel that is neither at rest nor out of service: what runs, then the most urgent.

    As many queries as the board, which it is read from.
    """
    board = board_of(Look(), may=lambda _: True, now=now)
    cards = [card for group in board.groups if group.title != RESTING for card in group.cards]
    return [
        HalfDone(vessel=card.name, code=card.code, words=_words(card), address=card.address)
        for card in sorted(cards, key=lambda card: card.code != Code.CLEANING)
    ]


def handovers() -> list[Handover]:
    """The last ones with who left and who read them. 2 queries."""
    found = Handover.objects.select_related("handed_over_by").prefetch_related("readers__read_by")
    return list(found.order_by("-handed_over_at", "-pk")[:SHOWN])


def unread(user: User, *, may: Callable[[str], bool], now: datetime) -> Handover | None:
    """The last handover where this person has still to read it. 1 query for cellar hands."""
    if not may("work_cellar"):
        return None
    mine = HandoverRead.objects.filter(handover=OuterRef("pk"), read_by=user)
    last = (
        Handover.objects.filter(handed_over_at__gt=now - GREETS_FOR)
        .annotate(is_read=Exists(mine))
        .select_related("handed_over_by")
        .order_by("-handed_over_at", "-pk")
        .first()
    )
    if last is None or last.handed_over_by_id == user.pk or last.is_read:
        return None
    return last
