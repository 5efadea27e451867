"""What a calculator answers: figures, what they mean, and the sum line by line."""

import dataclasses

from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.cautions import (
    ACID,
    CAUSTIC,
    CHLORINE,
    NO_CHLORINE,
    PERACETIC,
    Caution,
)
from brewhygiene.science.working import WorkingLine, shown


@dataclasses.dataclass(frozen=True)
class Figure:
    """One number of an answer; ``within`` is how far it may be off, ``note`` the same otherwise."""

    label: str
    value: str
    unit: str = ""
    within: str = ""
    note: str = ""


def figure(
    label: str,
    value: float,
    unit: str = "",
    *,
    within: float | None = None,
    note: str = "",
    significant: int = 4,
) -> Figure:
    """A figure from its number; with an uncertainty it has no more digits than that allows."""
    if not within:
        return Figure(label, show_number(value, significant=significant), unit, "", note)
    return Figure(label, rounded_to(value, within), unit, rounded_to(within, within), note)


def rounded_to(value: float, within: float) -> str:
    """``value`` to the second digit of what it may be off.

    >>> rounded_to(2.03985, 0.0204), rounded_to(1003.4, 12)
    ('2.040', '1003')
    """
    if within <= 0:
        return show_number(value)
    digits = max(0, 1 - int(f"{within:e}".split("e")[1]))
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0 else text


@dataclasses.dataclass(frozen=True)
class Table:
    """A table of an answer; cells are text, columns after the first are numbers."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclasses.dataclass(frozen=True)
class Sum:
    """A part of the working under its own title."""

    title: str
    lines: tuple[WorkingLine, ...]

    @property
    def steps(self) -> list[tuple[WorkingLine, str]]:
        """Each line with its value in figures."""
        return [(line, shown(line.value)) for line in self.lines]


@dataclasses.dataclass(frozen=True)
class Answer:
    """The figures, the first largest; ``verdict`` is a code of the house's flags, or empty."""

    figures: tuple[Figure, ...]
    working: tuple[Sum, ...]
    verdict: str = ""
    verdict_words: str = ""
    sentences: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    rule: str = ""


INTO_WATER = "Always the concentrate into the water, never water into the concentrate."


def cautions_of(substance: str) -> tuple[Caution, ...]:
    """What handling a substance calls for, in the house's own wording."""
    match substance:
        case "NaOH" | "KOH":
            return (CAUSTIC,)
        case "HNO3" | "H3PO4" | "HNO3+H3PO4":
            return (ACID, NO_CHLORINE)
        case "PAA" | "H2O2":
            return (PERACETIC,)
        case "chlorine":
            return (CHLORINE,)
    return ()
