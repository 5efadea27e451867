"""What a gate answers, and on what evidence."""

import dataclasses
from collections.abc import Iterable
from enum import StrEnum
from typing import Any

# Past these no single person releases, whoever may.
TWO_SIGN = frozenset({"nothing_over_action"})


class Answer(StrEnum):
    YES = "yes"
    EXPLAIN = "explain"  # passes with a reason from the one who signs
    NO = "no"


@dataclasses.dataclass(frozen=True)
class Gate:
    """One gate. ``waivable``: a NO may be overridden with a reason, by the site's setting."""

    code: str
    title: str
    answer: Answer
    evidence: tuple[str, ...]
    waivable: bool = False

    @property
    def needs_reason(self) -> bool:
        """Whether a release has to say something about this gate."""
        return self.answer == Answer.EXPLAIN or (self.answer == Answer.NO and self.waivable)

    @property
    def blocks(self) -> bool:
        return self.answer == Answer.NO and not self.waivable

    @property
    def two_sign(self) -> bool:
        """Whether a release past this gate takes a second person's signature."""
        return self.code in TWO_SIGN and self.answer == Answer.NO and self.waivable

    def as_record(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "title": self.title,
            "answer": self.answer.value,
            "evidence": list(self.evidence),
        }


Found = tuple[Answer, Iterable[str]]
NO_CLEAN: Found = (Answer.NO, ["No finished clean"])
NO_SAMPLES: Found = (Answer.NO, ["No reading after the last clean"])
