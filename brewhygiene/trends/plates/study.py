"""What pairs of one scale say of ATP as a sign of what grows: worked out, and put in words."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.science.diagnosis.costs import CostedCutOff, cheapest_cut_off
from brewhygiene.science.diagnosis.roc import CutOff, Roc, roc_of, youden_cut_off
from brewhygiene.science.diagnosis.shares import Share
from brewhygiene.science.diagnosis.table import (
    Diagnosis,
    Estimate,
    TwoByTwo,
    Untold,
    Words,
    diagnose,
)
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.working import shown
from brewhygiene.trends.plates.pairs import Pair, Scale

GREW, CLEAN = "positive on the plate", "negative on the plate"
# With fewer positives the ranges are so wide that a bare number misleads: common sense, no source.
FEW_POSITIVES = 10


@dataclasses.dataclass(frozen=True)
class FigureLine:
    """One figure of a table in words, or ``why`` it is not told."""

    name: str
    asks: str
    value: str = ""
    interval: str = ""
    exact: str = ""
    why: str = ""


@dataclasses.dataclass(frozen=True)
class VerdictTable:
    """A verdict of the meter against the plates."""

    name: str
    title: str
    called: str
    not_called: str
    found: Diagnosis
    lines: Sequence[FigureLine]

    @property
    def cells(self) -> TwoByTwo:
        return self.found.table


@dataclasses.dataclass(frozen=True)
class Costs:
    """What a dirty vessel that is filled and a needless re-clean cost, in the site's money."""

    missed: float
    needless: float
    currency: str

    def of(self, table: TwoByTwo) -> float | None:
        """What the verdicts of a table cost per pair."""
        if not table.all:
            return None
        return (table.misses * self.missed + table.false_alarms * self.needless) / table.all


@dataclasses.dataclass(frozen=True)
class Study:
    """Everything the page says of one scale."""

    scale: Scale
    pairs: Sequence[Pair]
    tables: Sequence[VerdictTable]
    unjudged: int
    roc: Roc | None
    why_no_roc: str
    best: CutOff | None
    costed: CostedCutOff | None
    cost_words: Sequence[str]
    cautions: Sequence[str]

    @property
    def grown(self) -> int:
        return sum(pair.grew for pair in self.pairs)

    @property
    def missed(self) -> list[Pair]:
        """The plate grew though the reading was not over the action limit; the latest first."""
        return [p for p in self.pairs[::-1] if p.judged and p.grew and not p.over_action]

    @property
    def needless(self) -> list[Pair]:
        """The reading was over the action limit though nothing grew; the latest first."""
        return [p for p in self.pairs[::-1] if p.over_action and not p.grew]


def study_of(scale: Scale, pairs: Sequence[Pair], costs: Costs | None) -> Study:
    """Tables, curve and cut-offs of the pairs of one scale; no query."""
    judged = [pair for pair in pairs if pair.judged]
    tables = [
        _table(
            "action",
            "Over the action limit",
            Words(GREW, CLEAN, "over the action limit", "within the action limit"),
            judged,
            [pair.over_action for pair in judged],
        ),
        _table(
            "alert",
            "Over the alert level",
            Words(GREW, CLEAN, "over the alert level", "within the alert level"),
            judged,
            [pair.over_alert for pair in judged],
        ),
    ]
    rlu, grew = [float(pair.rlu) for pair in pairs], [pair.grew for pair in pairs]
    roc, why = None, ""
    try:
        roc = roc_of(rlu, grew, so=GREW, not_so=CLEAN)
    except TooFewReadings as refused:
        why = str(refused)
    costed = None
    if roc is not None and costs is not None:
        costed = cheapest_cut_off(
            rlu, grew, miss_cost=costs.missed, alarm_cost=costs.needless, so=GREW, not_so=CLEAN
        )
    return Study(
        scale=scale,
        pairs=pairs,
        tables=tables,
        unjudged=len(pairs) - len(judged),
        roc=roc,
        why_no_roc=why,
        best=youden_cut_off(roc) if roc is not None else None,
        costed=costed,
        cost_words=_cost_words(costed, costs, roc, tables[0].cells) if costed and costs else (),
        cautions=_cautions(pairs),
    )


def _table(
    name: str, title: str, words: Words, pairs: Sequence[Pair], called: Sequence[bool]
) -> VerdictTable:
    cells = TwoByTwo(
        hits=sum(c and p.grew for p, c in zip(pairs, called, strict=True)),
        false_alarms=sum(c and not p.grew for p, c in zip(pairs, called, strict=True)),
        misses=sum(p.grew and not c for p, c in zip(pairs, called, strict=True)),
        quiet=sum(not p.grew and not c for p, c in zip(pairs, called, strict=True)),
    )
    found = diagnose(cells, words=words)
    return VerdictTable(
        name, title, words.said.capitalize(), words.not_said.capitalize(), found, _lines(found)
    )


def _lines(found: Diagnosis) -> list[FigureLine]:
    return [
        _share("Sensitivity", "Of the positive plates, how many it caught", found.sensitivity),
        _share("Specificity", "Of the negative plates, how many it let be", found.specificity),
        _share("Positive predictive value", "Once it calls, how often a plate grew", found.ppv),
        _share("Negative predictive value", "While it is quiet, how often none grew", found.npv),
        _share("Accuracy", "How often the two agree", found.accuracy),
        _share("Positive plates", "How many of the plates grew at all", found.prevalence),
        _estimate("Kappa", "Agreement beyond chance: 0 is none, 1 is full", found.kappa, digits=2),
        _estimate(
            "Likelihood ratio of a call",
            "By how much a call raises the odds that a plate grows",
            found.ratio_said,
        ),
        _estimate(
            "Likelihood ratio of none",
            "By how much quiet lowers those odds",
            found.ratio_not_said,
        ),
    ]


def percent(share: float) -> str:
    """A share as a whole percentage; none and all are said only of exactly none and all."""
    whole = round(100 * share)
    if share > 0 and whole == 0:
        return "below 1 %"
    if share < 1 and whole == 100:
        return "above 99 %"
    return f"{whole} %"


def _share(name: str, asks: str, figure: Share | Untold) -> FigureLine:
    if isinstance(figure, Untold):
        return FigureLine(name, asks, why=figure.why)
    return FigureLine(
        name,
        asks,
        value=f"{percent(figure.value)} ({figure.count} of {figure.of})",
        interval=f"{percent(figure.interval.low)} to {percent(figure.interval.high)}",
        exact=f"{percent(figure.exact.low)} to {percent(figure.exact.high)}",
    )


def _estimate(name: str, asks: str, figure: Estimate | Untold, *, digits: int = 2) -> FigureLine:
    if isinstance(figure, Untold):
        return FigureLine(name, asks, why=figure.why)
    low, high = (shown(v, significant=digits) for v in (figure.interval.low, figure.interval.high))
    return FigureLine(
        name, asks, value=shown(figure.value, significant=digits), interval=f"{low} to {high}"
    )


def cut_words(at_least: float | None) -> str:
    return "never" if at_least is None else f"from {at_least:.0f} RLU up"


def _money(value: float, currency: str) -> str:
    return f"{shown(value, significant=3)} {currency}"


def _cost_words(
    costed: CostedCutOff, costs: Costs, roc: Roc | None, now: TwoByTwo
) -> tuple[str, ...]:
    cut, money = costed.cut_off, costs.currency
    assert roc is not None  # there is no cheapest cut-off without a curve
    always = cut == roc.cut_offs[-1]
    if cut.at_least is None:
        said = "No cut-off pays at these costs: cleaning again costs more than what it saves."
    elif always:
        said = (
            f"Every reading there is would be called ({cut_words(cut.at_least)}): a miss costs so "
            "much that the meter saves no re-clean. Look at the costs again, or rely on plates."
        )
    else:
        said = (
            f"Least costly: clean again {cut_words(cut.at_least)}. It catches {cut.hits} of "
            f"{cut.positives} positive plates, with {cut.false_alarms} needless re-cleans of "
            f"{cut.negatives}."
        )
    spread = (
        f"How far that is settled: of {costed.resamples} draws from these pairs, with "
        f"replacement, nineteen in twenty put it between {_end(costed.low)} and "
        f"{_end(costed.high)}."
    )
    compare = (
        f"Per clean it costs {_money(costed.cost, money)}; never cleaning again "
        f"{_money(costed.cost_never, money)}, always {_money(costed.cost_always, money)}"
    )
    of_now = costs.of(now)
    if of_now is not None:
        compare += f", and by the action limits of then {_money(of_now, money)}"
    return said, spread, compare + "."


def _end(at_least: float | None) -> str:
    return "never" if at_least is None else f"{at_least:.0f} RLU"


def _cautions(pairs: Sequence[Pair]) -> list[str]:
    grown = sum(pair.grew for pair in pairs)
    said = []
    if 0 < grown < FEW_POSITIVES:
        plates = "1 plate" if grown == 1 else f"{grown} plates"
        said.append(
            f"Only {plates} of {len(pairs)} grew. Read the ranges, not the figures: one plate "
            "more or less changes them."
        )
    if len({(p.alert_rlu, p.action_rlu) for p in pairs if p.judged}) > 1:
        said.append(
            "The limits changed over this period or differ by point; each reading counts with "
            "the verdict that it was given."
        )
    return said
