"""What a calculator answers: figures, what they mean, and the working line by line."""

import dataclasses

from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import signed
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
    """One number of an answer; ``uncertainty`` is expanded, in its unit; ``note`` says more."""

    label: str
    value: str
    unit: str = ""
    uncertainty: str = ""
    note: str = ""


def figure(
    label: str,
    value: float,
    unit: str = "",
    *,
    uncertainty: float | None = None,
    note: str = "",
    significant: int = 4,
) -> Figure:
    """A figure from its number; with an uncertainty it has no more digits than that allows."""
    if not uncertainty:
        return Figure(label, show_number(value, significant=significant), unit, "", note)
    return Figure(
        label, rounded_to(value, uncertainty), unit, rounded_to(uncertainty, uncertainty), note
    )


def rounded_to(value: float, uncertainty: float) -> str:
    """``value`` to the second digit of its uncertainty.

    >>> rounded_to(2.03985, 0.0204), rounded_to(1003.4, 12)
    ('2.040', '1003')
    """
    if uncertainty <= 0:
        return show_number(value)
    digits = max(0, 1 - int(f"{uncertainty:e}".split("e")[1]))
    text = f"{value:.{digits}f}"
    return signed(text.removeprefix("-") if float(text) == 0 else text)


@dataclasses.dataclass(frozen=True)
class Table:
    """A table of an answer; cells are text, columns after the first are numbers."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclasses.dataclass(frozen=True)
class Working:
    """A part of the working under its own title."""

    title: str
    lines: tuple[WorkingLine, ...]

    @property
    def steps(self) -> list[tuple[WorkingLine, str]]:
        """Each line with its value in figures."""
        return [(line, shown(line.value)) for line in self.lines]


@dataclasses.dataclass(frozen=True)
class Answer:
    """The figures, the first largest; ``verdict`` is a code of the flags, or empty."""

    figures: tuple[Figure, ...]
    working: tuple[Working, ...]
    verdict: str = ""
    verdict_words: str = ""
    sentences: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    rule: str = ""


INTO_WATER = "Always add concentrate to water, never water to concentrate."


def cautions_of(substance: str) -> tuple[Caution, ...]:
    """What handling a substance calls for."""
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
