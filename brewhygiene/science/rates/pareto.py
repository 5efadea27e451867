"""What happens most: kinds of a thing, the most frequent first, with what they add up to."""

import dataclasses
from collections.abc import Iterable

from brewhygiene.science.errors import TooFewReadings, require

VITAL = 0.8


@dataclasses.dataclass(frozen=True)
class Bar:
    """One kind: ``count`` of it, its ``share`` of all and all down to it, ``running`` (0 to 1).

    ``vital`` says whether it is among the few that make up most of all.
    """

    name: str
    count: int
    share: float
    running: float
    vital: bool


@dataclasses.dataclass(frozen=True)
class Pareto:
    """All kinds, the most frequent first; ``total`` is how many there are in all."""

    bars: tuple[Bar, ...]
    total: int

    @property
    def vital(self) -> tuple[Bar, ...]:
        return tuple(bar for bar in self.bars if bar.vital)


def pareto(counts: Iterable[tuple[str, int]], *, vital: float = VITAL) -> Pareto:
    """Order ``counts`` (a name and how many units of it) by how many, equals by name.

    The vital few are the least number of kinds, from the top, that make up ``vital`` of all (a
    share, 0.5–1). A kind with none is left out. Raises :class:`TooFewReadings` where there is
    nothing at all.

    >>> found = pareto([("weak", 2), ("cold", 7), ("short", 1)])
    >>> [(bar.name, bar.running, bar.vital) for bar in found.bars]
    [('cold', 0.7, True), ('weak', 0.9, True), ('short', 1.0, False)]
    """
    require("vital share", vital, minimum=0.5, maximum=1)
    ordered = sorted(((c, n) for n, c in counts if c > 0), key=lambda pair: (-pair[0], pair[1]))
    total = sum(count for count, _ in ordered)
    if total == 0:
        raise TooFewReadings("There is nothing to count yet.")
    bars = []
    before = 0
    for count, name in ordered:
        bars.append(
            Bar(
                name=name,
                count=count,
                share=count / total,
                running=(before + count) / total,
                vital=before < vital * total,
            )
        )
        before += count
    return Pareto(tuple(bars), total)
