"""The parts of the page that compares turnarounds, each with what it shows and nothing more."""

import dataclasses
from collections.abc import Callable, Iterable, Sequence
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone

from brewhygiene.drawing.figure import Figure
from brewhygiene.quantities.sorting import natural_key
from brewhygiene.quantities.words import percent, percent_range
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.rates.odds import Regression, regress
from brewhygiene.science.rates.pareto import Pareto, pareto
from brewhygiene.science.rates.proportions import Share
from brewhygiene.science.rates.weeks import BadWeek, Calendar, bad_weeks, calendar
from brewhygiene.trends.compare.figures import odds_figure, pareto_figure, weeks_figure
from brewhygiene.trends.compare.findings import LOOK_AT_A_WEEK, effect_words, findings, look_for
from brewhygiene.trends.compare.forms import Span
from brewhygiene.trends.compare.grouping import BYS, Group, Groups, grouped, grouped_points
from brewhygiene.trends.compare.queries import (
    causes_in,
    deviations_in,
    factors_of,
    signed_by_month,
    turnarounds_of_point,
    unexplained_in,
)
from brewhygiene.trends.compare.rate_figures import funnel_figure, rates_figure, rates_table
from brewhygiene.trends.turns.facts import TurnFact, turn_facts
from brewhygiene.trends.turns.totals import matching, share_of

PARTS = {
    "": "What stands out",
    "vessel": "Vessels",
    "point": "Points",
    "regime": "Regimes",
    "lot": "Agent lots",
    "before": "Contents before",
    "season": "Seasons",
    "weeks": "Weeks",
    "causes": "Deviations and causes",
    "together": "All factors",
    "signed": "Self-releases",
}
MOST_ROWS_LISTED = 100
MOST_VESSELS_OF_A_CALENDAR = 40
ONLY = {
    "not-clean": "not clean the first time",
    "clean": "clean the first time",
    "not-judged": "not judged",
}


@dataclasses.dataclass(frozen=True)
class Shown:
    """What every part begins with: the period, its turnarounds, and how many were clean."""

    span: Span
    facts: list[TurnFact]
    judged: list[TurnFact]
    rate: Share | None

    @property
    def sentence(self) -> str:
        """How many were clean the first time, in a sentence."""
        if self.rate is None:
            return (
                "No turnaround of this period is judged yet. It needs a finished clean, a reading "
                "of every point required for release, and approved limits."
                if self.facts
                else "No vessel was emptied in this period. Choose a longer one."
            )
        return (
            f"{percent(self.rate.share)} were clean the first time: {self.rate.count} of the "
            f"{self.rate.number} turnarounds judged (95 % interval "
            f"{percent_range(self.rate.low, self.rate.high)})."
        )


def shown_in(span: Span) -> Shown:
    """The turnarounds of a period. 10 queries."""
    facts = turn_facts(since=span.since, until=span.until)
    return Shown(span, facts, matching(facts, "judged"), share_of(facts))


def part_of(part: str, shown: Shown) -> dict[str, Any]:
    """What one part of the page shows. At most 4 queries besides :func:`shown_in`."""
    if part in BYS or part == "point":
        return _groups_part(part, shown)
    return OTHERS[part](shown)


def rows_address(span: Span, by: str, **asked: str) -> str:
    """The turnarounds behind a figure."""
    query = urlencode({"by": by, **asked})
    return f"{reverse('trends:compare_rows')}?{query}&{span.asked}"


# By vessel, point, regime and so on


def _address_of(by: str, span: Span) -> Callable[[Group], str]:
    return lambda group: rows_address(span, by, of=group.key)


def _groups_by(by: str, shown: Shown) -> Groups:
    if by == "point":
        return grouped_points(since=shown.span.since, until=shown.span.until)
    return grouped(shown.facts, by)


def _groups_part(by: str, shown: Shown) -> dict[str, Any]:
    found = _groups_by(by, shown)
    many = "points" if by == "point" else BYS[by].many
    address = _address_of(by, shown.span)
    rated = [group for group in found.groups if group.rate is not None]
    overall = _overall(rated)
    kinds = grouped(shown.facts, "kind") if by == "before" else None
    kinds_address = _address_of("kind", shown.span)
    return {
        "by": by,
        "name": "Point" if by == "point" else BYS[by].name,
        "many": many,
        "worse": found.worse,
        "better": found.better,
        "why_no_funnel": found.why_no_funnel,
        "rates": rates_figure(rated, overall=overall, many=many, address=address)
        if rated
        else None,
        "funnel": funnel_figure(found.funnel, found.groups, address=address)
        if found.funnel
        else None,
        "table": _numbers(found.groups, address),
        "table_of_kinds": _numbers(kinds.groups, kinds_address) if kinds else None,
        "left_out": max(0, len(found.groups) - MOST_ROWS_LISTED),
        "look": look_for("Lot of " if by == "lot" else "Point" if by == "point" else BYS[by].name),
    }


def _overall(groups: Iterable[Group]) -> float:
    rated = list(groups)
    return sum(g.clean for g in rated) / max(1, sum(g.judged for g in rated))


def _numbers(groups: Sequence[Group], address: Callable[[Group], str]) -> dict[str, Any]:
    table = rates_table(groups[:MOST_ROWS_LISTED], address=address)
    return {
        "headings": table.headings,
        "rows": list(zip(table.rows, table.links, strict=True)),
    }


# The others


def _regression(shown: Shown) -> tuple[Regression | None, str]:
    try:
        return (
            regress(
                outcomes=[fact.first_time_clean is False for fact in shown.judged],
                factors=factors_of(shown.judged),
            ),
            "",
        )
    except TooFewReadings as refusal:
        return None, str(refusal)


def _pareto(counts: Iterable[tuple[str, int]]) -> Pareto | None:
    try:
        return pareto(counts)
    except TooFewReadings:
        return None


def _stands_out(shown: Shown) -> dict[str, Any]:
    since, until = shown.span.since, shown.span.until
    regression, _ = _regression(shown)
    vessels = grouped(shown.facts, "vessel")
    points = grouped_points(since=since, until=until)
    weeks = _bad_weeks(shown)
    named = regression.named if regression else ()
    return {
        "calm": bool(shown.judged) and not (vessels.worse or points.worse or weeks or named),
        "findings": findings(
            facts=shown.facts,
            regression=regression,
            vessels=vessels,
            points=points,
            weeks=weeks,
            deviations=_pareto(deviations_in(since=since, until=until).together),
            causes=_pareto(causes_in(since=since, until=until)),
            unexplained=unexplained_in(since=since, until=until),
        ),
    }


def _calendar(shown: Shown, names: Sequence[str]) -> Calendar:
    return calendar(
        (
            (
                fact.vessel_name,
                timezone.localtime(fact.opened_at).date(),
                fact.first_time_clean is False,
            )
            for fact in shown.judged
        ),
        names=names,
        since=shown.span.first,
        until=shown.span.last,
    )


def _bad_weeks(shown: Shown) -> list[BadWeek]:
    return bad_weeks(
        _calendar(shown, sorted({fact.vessel_name for fact in shown.judged}, key=natural_key))
    )


def _weeks(shown: Shown) -> dict[str, Any]:
    by_vessel = grouped(shown.facts, "vessel").groups
    judged = [group for group in by_vessel if group.judged]
    # Those with most of it, then by name, so that a vessel is found again.
    kept = sorted(judged, key=lambda group: (-group.not_clean, natural_key(group.name)))
    kept = sorted(kept[:MOST_VESSELS_OF_A_CALENDAR], key=lambda group: natural_key(group.name))
    if not kept:
        return {"weeks": None}
    found = _calendar(shown, [group.name for group in kept])
    addresses = [rows_address(shown.span, "vessel", of=group.key) for group in kept]
    return {
        "weeks": weeks_figure(found, addresses=addresses, left_out=len(judged) - len(kept)),
        "bad_weeks": _bad_weeks(shown),
        "look": LOOK_AT_A_WEEK,
    }


def _causes(shown: Shown) -> dict[str, Any]:
    since, until = shown.span.since, shown.span.until
    deviations = deviations_in(since=since, until=until)
    return {
        "deviations": _pareto_figure(
            deviations.together, name="deviations", caption="Deviations", of="deviations"
        ),
        "by_step": _pareto(deviations.by_step),
        "by_kind": _pareto(deviations.by_kind),
        "causes": _pareto_figure(
            causes_in(since=since, until=until),
            name="causes",
            caption="Causes found behind readings over a limit",
            of="causes found",
        ),
        "unexplained": unexplained_in(since=since, until=until),
    }


def _pareto_figure(
    counts: Iterable[tuple[str, int]], *, name: str, caption: str, of: str
) -> Figure | None:
    found = _pareto(counts)
    return pareto_figure(found, name=name, caption=caption, of=of) if found else None


def _together(shown: Shown) -> dict[str, Any]:
    found, why_not = _regression(shown)
    if found is None:
        return {"why_not": why_not}
    return {
        "named": [(effect_words(effect), look_for(effect.factor)) for effect in found.named],
        "odds": odds_figure(found),
        "left_out_factors": list(found.left_out.values()),
        "count": found.count,
        "number": found.number,
        "factors": list(found.spreads),
    }


def _signed(shown: Shown) -> dict[str, Any]:
    months = signed_by_month(shown.facts)
    return {
        "months": months,
        "releases": sum(month.releases for month in months),
        "self_released": sum(len(month.self_released) for month in months),
        "without_release": sum(len(month.without_release) for month in months),
    }


OTHERS: dict[str, Callable[[Shown], dict[str, Any]]] = {
    "": _stands_out,
    "weeks": _weeks,
    "causes": _causes,
    "together": _together,
    "signed": _signed,
}


# The rows behind


@dataclasses.dataclass(frozen=True)
class Behind:
    """Turnarounds with one label: how many of each kind, and those asked for, latest first."""

    name: str
    counts: tuple[tuple[str, str, int], ...]
    facts: tuple[TurnFact, ...]
    left_out: int


def rows_behind(shown: Shown, *, by: str, of: str, only: str) -> Behind | None:
    """The turnarounds behind one row; ``None`` where there are none. 1 query for a point."""
    if by == "point":
        judged = turnarounds_of_point(of, since=shown.span.since, until=shown.span.until)
        own = [(f, judged[f.turnaround_id]) for f in shown.facts if f.turnaround_id in judged]
        groups = grouped_points(since=shown.span.since, until=shown.span.until).groups
        name = next((group.name for group in groups if group.key == of), "")
    else:
        labelled = [
            (fact, label)
            for fact in shown.facts
            for label in BYS[by].labels(fact)
            if label.key == of
        ]
        own = [(fact, fact.first_time_clean) for fact, _ in labelled]
        name = labelled[0][1].name if labelled else ""
    if not own:
        return None
    sorts: dict[str, list[TurnFact]] = {code: [] for code in ONLY}
    for fact, clean in own:
        sorts["not-judged" if clean is None else "clean" if clean else "not-clean"].append(fact)
    chosen = sorts[only][::-1]
    return Behind(
        name=name,
        counts=tuple((code, words, len(sorts[code])) for code, words in ONLY.items()),
        facts=tuple(chosen[:MOST_ROWS_LISTED]),
        left_out=max(0, len(chosen) - MOST_ROWS_LISTED),
    )
