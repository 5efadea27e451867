"""What stands under a check that does not pass by itself: a cause, what was checked, the result.

A single free text was filled with "ok". Each of the two texts has to say something, and the same
words signed again are marked as such.
"""

import dataclasses
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import models
from django.utils import timezone

from brewhygiene.people.models import User
from brewhygiene.quantities.style import shown_moment
from brewhygiene.refusals import Refusal
from brewhygiene.release.models import Decision


class ReleaseCause(models.TextChoices):
    """Why a check did not pass. Common practice, no source."""

    SAMPLING = "sampling", "Sampling error, e.g. a touched tip"
    WATER = "water", "Water supply"
    RESIDUE = "residue", "Sanitiser or rinse residue in the sample"
    INSTRUMENT = "instrument", "Instrument or meter"
    NEW_PART = "new_part", "New or changed part"
    EQUIPMENT = "equipment", "Pump, steam, spray device or valve"
    SUPPLIES = "supplies", "Agent or part not in stock"
    TIME = "time", "Time or staff"
    RECORDING = "recording", "Not recorded at the time"
    SOIL = "soil", "Soil left in the vessel"
    NOT_FOUND = "not_found", "Cause not found"


# So many decisions of the same person are looked back upon.
LOOKS_BACK = 20
# A text says something from so many different words on, of which so many are none of the empty
# ones. Common practice, no source.
LEAST_WORDS = 3
LEAST_TELLING = 2
EMPTY_WORDS = frozenset(
    words
    for line in (
        "a above all alright am and are as asdf at be before below can checked do done ditto etc",
        "everything fine for good great has have i in is it its me my na nil no none normal not",
        "nothing now of ok okay on please qwerty reason release right same see seems so still",
        "sure test that the there this to us very was we well went were with yeah yep yes you",
        "look looked looks like fill filled",
    )
    for words in line.split()
)
TOO_LITTLE = "Enter at least three words that say what was done or seen."


@dataclasses.dataclass(frozen=True)
class Explanation:
    """One explanation of a check: a cause from the list, what was checked, and the result."""

    cause: str
    checked: str
    result: str

    @property
    def words(self) -> str:
        """All three in a line."""
        checked, result = (text.strip().rstrip(".") for text in (self.checked, self.result))
        return f"{ReleaseCause(self.cause).label}. Checked: {checked}. Result: {result}."


def words_of(text: str) -> list[str]:
    """The words of a text, whatever its capitals, spaces and signs.

    >>> words_of("Seen at the tap, myself!") == words_of(" seen at  the TAP myself")
    True
    """
    return re.findall(r"\w+", text.casefold())


def says_something(text: str) -> bool:
    """Whether a text has enough different words, and enough that are not empty.

    >>> [says_something(text) for text in ("ok", "ok ok ok", "All is fine", "xxx xxx yyy zzz")]
    [False, False, False, False]
    >>> says_something("Read again, 12 RLU")
    True
    """
    different = set(words_of(text))
    telling = [
        word
        for word in different
        if word not in EMPTY_WORDS and (word.isdigit() or len(set(word)) > 1)
    ]
    return len(different) >= LEAST_WORDS and len(telling) >= LEAST_TELLING


def checked_explanation(code: str, title: str, given: Explanation | None) -> Explanation:
    """The explanation of one check, or a :class:`Refusal` beside the field that lacks something.

    The fields are ``reason_<code>`` (the cause), ``checked_<code>`` and ``result_<code>``.
    """
    if given is None or not given.cause:
        raise Refusal(
            f"Choose a cause for “{title}”, and enter what was checked and the result.",
            field=f"reason_{code}",
            code="no_reason",
        )
    if given.cause not in ReleaseCause.values:
        raise Refusal("Choose a cause from the list.", field=f"reason_{code}", code="no_reason")
    for name, text, asked in (
        ("checked", given.checked, "what was checked"),
        ("result", given.result, "the result"),
    ):
        if not text.strip():
            raise Refusal(f"Enter {asked} for “{title}”.", field=f"{name}_{code}", code="no_reason")
        if not says_something(text):
            raise Refusal(TOO_LITTLE, field=f"{name}_{code}", code="says_nothing")
    if words_of(given.checked) == words_of(given.result):
        raise Refusal(
            "Enter what the check showed. These are the words of the field above.",
            field=f"result_{code}",
            code="same_words",
        )
    return Explanation(given.cause, given.checked.strip(), given.result.strip())


def earlier_decisions(user: User) -> list[Decision]:
    """The latest decisions that a person signed, the latest first. 1 query."""
    return list(
        Decision.objects.filter(signature__user=user)
        .only("decided_at", "explanations")
        .order_by("-pk")[:LOOKS_BACK]
    )


def same_words(given: Explanation, earlier: Sequence[Decision]) -> datetime | None:
    """When one of the two texts was last signed in the same words, or ``None``."""
    texts = [words_of(given.checked), words_of(given.result)]
    for decision in earlier:
        for past in decision.explanations.values():
            if words_of(past["checked"]) in texts or words_of(past["result"]) in texts:
                return decision.decided_at
    return None


@dataclasses.dataclass(frozen=True)
class Explained:
    """What a decision keeps of its explanations: as data, and in words by check."""

    explanations: dict[str, dict[str, Any]]
    words: dict[str, str]


def explained(given: Mapping[str, Explanation], *, user: User) -> Explained:
    """Explanations as they are kept, with what repeats an earlier one marked. 1 query if any."""
    earlier = earlier_decisions(user) if given else []
    kept: dict[str, dict[str, Any]] = {}
    words: dict[str, str] = {}
    for code, each in given.items():
        before = same_words(each, earlier)
        kept[code] = {
            **dataclasses.asdict(each),
            "same_as": before.isoformat() if before is not None else "",
        }
        words[code] = each.words
        if before is not None:
            words[code] += (
                f" Same words as on {shown_moment(timezone.localtime(before), 'd F Y, H:i')}."
            )
    return Explained(kept, words)
