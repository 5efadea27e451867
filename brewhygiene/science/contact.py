"""Contact time: for how long a solution is known to have been inside its windows, and flowing."""

import dataclasses
from collections.abc import Collection, Iterable
from typing import Literal

# What is known of a step: that the solution flows or not, and where a quantity was read.
EventKind = Literal["flow", "no_flow", "inside", "outside", "unknown"]


@dataclasses.dataclass(frozen=True)
class Event:
    """Something that begins, pauses or ends contact.

    ``quantity`` is what was read; of flow, what told of it ('' for a tap): it flows while
    nobody says that it does not.

    ``at_s`` in s from any moment, the same for all events of a step.
    """

    at_s: float
    kind: EventKind
    quantity: str = ""


@dataclasses.dataclass(frozen=True)
class Run:
    """One unbroken run, in s: ``length_s`` is without its pauses.

    ``ended_by`` is the event that broke it, ``None`` for one that was not broken.
    """

    from_s: float
    until_s: float
    length_s: float
    ended_by: Event | None


@dataclasses.dataclass(frozen=True)
class ContactRuns:
    """The runs of a step in order, and how it stands at the end of what is known."""

    runs: tuple[Run, ...]
    missing: tuple[str, ...]  # asked and not known to be inside
    flowing: bool

    @property
    def longest_s(self) -> float:
        """The longest run, s; 0 where there is none."""
        return max((run.length_s for run in self.runs), default=0.0)

    @property
    def current_s(self) -> float:
        """The run that is not broken, s; 0 where there is none."""
        last = self.runs[-1] if self.runs else None
        return last.length_s if last is not None and last.ended_by is None else 0.0

    @property
    def counting(self) -> bool:
        return self.flowing and not self.missing


def contact_runs(events: Iterable[Event], *, asked: Collection[str], until_s: float) -> ContactRuns:
    """The runs with every ``asked`` quantity inside its window, as far as read.

    A run begins with the reading by which the last asked quantity is inside, pauses while nothing
    flows, and is broken by a reading outside or by what makes a quantity unknown (a top-up,
    heating up). A quantity counts as inside from its reading on, never before. ``events`` of one
    moment count in the order given, those after ``until_s`` (s) not at all. With nothing asked
    there are no runs.

    >>> contact_runs(
    ...     [Event(0, "flow"), Event(120, "inside", "strength"), Event(600, "no_flow")],
    ...     asked=["strength"], until_s=900,
    ... ).longest_s
    480.0
    """
    inside = dict.fromkeys(asked, False)
    flowing, told = False, {"": False}
    runs: list[Run] = []
    from_s: float | None = None  # of the run that is on
    length_s, last_s = 0.0, 0.0
    for event in sorted((e for e in events if e.at_s <= until_s), key=lambda e: e.at_s):
        if from_s is not None and flowing:
            length_s += event.at_s - last_s
        last_s = event.at_s
        if event.kind in ("flow", "no_flow"):
            told[event.quantity] = event.kind == "flow"
            flowing = all(told.values())
        elif event.quantity in inside:
            inside[event.quantity] = event.kind == "inside"
        complete = bool(inside) and all(inside.values())
        if complete and from_s is None:
            from_s, length_s = event.at_s, 0.0
        elif from_s is not None and not complete:
            runs.append(Run(from_s, event.at_s, float(length_s), event))
            from_s = None
    if from_s is not None:
        if flowing:
            length_s += until_s - last_s
        runs.append(Run(from_s, until_s, float(length_s), None))
    return ContactRuns(
        runs=tuple(runs),
        missing=tuple(quantity for quantity, known in inside.items() if not known),
        flowing=flowing,
    )
