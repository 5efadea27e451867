"""What a room asks of the rooms above it, which it may not import.

The lower room states the question beside its own code; the one room that knows the answer gives
it in its ``answers.py``, which the application loads when it starts. A test sees to it that every
question has its answer, and that no room reaches up by a related name instead.
"""

from collections.abc import Callable
from typing import Any, Generic, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class Question(Generic[P, T]):
    """A question with the shape of the function that answers it; calling it asks."""

    asked: "list[Question[Any, Any]]" = []

    def __init__(self, words: str) -> None:
        self.words = words
        self.answer: Callable[P, T] | None = None
        Question.asked.append(self)

    def answered_by(self, function: Callable[P, T]) -> Callable[P, T]:
        """The decorator of the one function that answers; raises ``ValueError`` for a second."""
        if self.answer is not None:
            raise ValueError(f"{self.words}: answered already")
        self.answer = function
        return function

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> T:
        if self.answer is None:
            raise LookupError(f"{self.words}: no room answers")
        return self.answer(*args, **kwargs)
