"""What pairs of one scale say of ATP as a sign of what grows, in figures and words."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.quantities.words import how_many, percent, percent_range
from brewhygiene.science.diagnosis.costs import CostedCutOff, cheapest_cut_off
from brewhygiene.science.diagnosis.roc import CutOff, Roc, roc_of, youden_cut_off
from brewhygiene.science.diagnosis.shares import Share
from brewhygiene.science.diagnosis.table import (
    Diagnosis,
    Estimate,
    NotEstimable,
    TwoByTwo,
    Words,
    diagnose,
)
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.working import shown
from brewhygiene.trends.plates.pairs import Pair, Scale

GREW, CLEAN = "positive on the plate", "negative on the plate"
# With fewer positives a bare number misleads, so wide is its interval: common sense, no source.
FEW_POSITIVES = 10


@dataclasses.dataclass(frozen=True)
class FigureLine:
    """One figure of a table in words, or ``why`` there is none."""

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
        _share("Sensitivity", "Share of positive plates detected", found.sensitivity),
        _share("Specificity", "Share of negative plates not called", found.specificity),
        _share(
            "Positive predictive value",
            "Share of positive plates among those over the limit",
            found.ppv,
        ),
        _share(
            "Negative predictive value", "Share of negative plates among those within it", found.npv
        ),
        _share("Accuracy", "Share of pairs that agree", found.accuracy),
        _share("Positive plates", "Share of positive plates among all", found.prevalence),
        _estimate("Kappa", "Agreement beyond chance, 0 to 1", found.kappa, digits=2),
        _estimate(
            "Positive likelihood ratio",
            "Odds of a positive plate multiply by this if over the limit",
            found.ratio_said,
        ),
        _estimate(
            "Negative likelihood ratio",
            "Odds of a positive plate multiply by this if within it",
            found.ratio_not_said,
        ),
    ]


def _share(name: str, asks: str, figure: Share | NotEstimable) -> FigureLine:
    if isinstance(figure, NotEstimable):
        return FigureLine(name, asks, why=figure.why)
    return FigureLine(
        name,
        asks,
        value=f"{percent(figure.value)} ({figure.count} of {figure.of})",
        interval=percent_range(figure.interval.low, figure.interval.high),
        exact=percent_range(figure.exact.low, figure.exact.high),
    )


def _estimate(
    name: str, asks: str, figure: Estimate | NotEstimable, *, digits: int = 2
) -> FigureLine:
    if isinstance(figure, NotEstimable):
        return FigureLine(name, asks, why=figure.why)
    low, high = (shown(v, significant=digits) for v in (figure.interval.low, figure.interval.high))
    return FigureLine(
        name, asks, value=shown(figure.value, significant=digits), interval=f"{low} to {high}"
    )


def cut_words(at_least: float | None) -> str:
    return "never" if at_least is None else f"from {at_least:.0f} RLU"


def _money(value: float, currency: str) -> str:
    return f"{shown(value, significant=3)} {currency}"


def _cost_words(
    costed: CostedCutOff, costs: Costs, roc: Roc | None, now: TwoByTwo
) -> tuple[str, ...]:
    cut, money = costed.cut_off, costs.currency
    assert roc is not None  # there is no cheapest cut-off without a curve
    always = cut == roc.cut_offs[-1]
    if cut.at_least is None:
        said = "No cut-off pays at these costs: a re-clean costs more than it saves."
    elif always:
        said = (
            f"Every reading would ask for a re-clean ({cut_words(cut.at_least)}): a dirty vessel "
            "costs too much. Check the costs, or rely on plates."
        )
    else:
        said = (
            f"Lowest cost: re-clean {cut_words(cut.at_least)}. It detects {cut.hits} of "
            f"{cut.positives} positive plates, with {cut.false_alarms} needless re-cleans of "
            f"{cut.negatives} negative plates."
        )
    spread = (
        f"95 % interval {_end(costed.low)} to {_end(costed.high)}, by bootstrap of "
        f"{costed.resamples} resamples."
    )
    compare = (
        f"Cost per clean: {_money(costed.cost, money)} with it, "
        f"{_money(costed.cost_never, money)} with no re-clean, "
        f"{_money(costed.cost_always, money)} with a re-clean each time"
    )
    of_now = costs.of(now)
    if of_now is not None:
        compare += f", {_money(of_now, money)} with the action limits of the time"
    return said, spread, compare + "."


def _end(at_least: float | None) -> str:
    return "never" if at_least is None else f"{at_least:.0f} RLU"


def _cautions(pairs: Sequence[Pair]) -> list[str]:
    grown = sum(pair.grew for pair in pairs)
    said = []
    if 0 < grown < FEW_POSITIVES:
        said.append(
            f"Only {how_many(grown, 'plate')} of {len(pairs)} {'is' if grown == 1 else 'are'} "
            "positive. Use the intervals, not the figures alone: one more plate changes them."
        )
    if len({(p.alert_rlu, p.action_rlu) for p in pairs if p.judged}) > 1:
        said.append(
            "The limits changed in this period or differ by point. Each reading counts with the "
            "verdict it was given."
        )
    return said
