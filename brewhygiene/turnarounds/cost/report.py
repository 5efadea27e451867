"""What a clean cost, as its page shows it. No queries.

Each line says where it is from; what nobody knows is named, with what would make it known.
"""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.science.cost import CleanCost, CostLine, Shared, clean_cost
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.working import WorkingLine
from brewhygiene.turnarounds.advice.what_to_add import mass_words
from brewhygiene.turnarounds.cost.steps import (
    FILLED,
    NOT_SHARED,
    Taken,
    prices_of,
    shares_of,
    taken_of,
)
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import CleanProgress
from brewhygiene.turnarounds.quantities import minutes_words


@dataclasses.dataclass(frozen=True)
class CostRow:
    """One amount of one step: in words, its money where it has a price, and where it is from."""

    label: str
    amount: str
    money: str
    source: str


@dataclasses.dataclass(frozen=True)
class StepCost:
    """The rows of one step; ``note`` says what is particular about it."""

    title: str
    rows: tuple[CostRow, ...]
    note: str = ""


@dataclasses.dataclass(frozen=True)
class Total:
    """One amount of the whole clean, and per unit of the vessel's volume."""

    label: str
    whole: str
    per_volume: str


@dataclasses.dataclass(frozen=True)
class Missing:
    """What is not known and left out of the sums, and what would make it known."""

    what: str
    remedy: str


@dataclasses.dataclass(frozen=True)
class CostReport:
    """A clean's cost as its page shows it. ``money`` is ``None`` where nothing has a price."""

    clean: Clean
    money: float | None
    money_words: str
    money_per_volume: str
    volume_unit: str
    steps: tuple[StepCost, ...] = ()
    totals: tuple[Total, ...] = ()
    missing: tuple[Missing, ...] = ()
    unpriced: tuple[str, ...] = ()
    working: tuple[WorkingLine, ...] = ()
    refusal: str = ""

    @property
    def partial(self) -> bool:
        """Whether something is left out of the money."""
        return bool(self.missing or self.unpriced)


def money_words(money: float, brewery: Brewery) -> str:
    """Money with its currency, to two places.

    >>> money_words(12.5, Brewery(currency="GBP"))
    'GBP 12.50'
    """
    return f"{brewery.currency} {digits(money, '.2f')}"


def cost_of(
    progress: CleanProgress,
    *,
    brewery: Brewery,
    shares: Mapping[int, tuple[Shared, str]] = NOT_SHARED,
) -> CostReport:
    """The cost of what ran of a clean; ``progress`` of one loaded with its records. 0 queries.

    ``shares`` of the solutions that it drew, as of :func:`~.steps.shares_of`.
    """
    vessel = progress.clean.turnaround.vessel
    steps = (taken_of(item, vessel, brewery, shares) for item in progress.steps)
    taken = [one for one in steps if one is not None]
    unit = LABELS[brewery.volume_unit]
    try:
        cost = clean_cost(
            steps=[t.use for t in taken], prices=prices_of(brewery), vessel_hl=vessel.volume_hl
        )
    except OutOfRange as refused:
        return CostReport(progress.clean, None, "", "", unit, refusal=str(refused))
    priced = [line.money for line in cost.lines if line.money is not None and line.amount]
    money = cost.money if priced else None
    per_unit = convert(1, brewery.volume_unit, "hL")
    return CostReport(
        clean=progress.clean,
        money=money,
        money_words=money_words(money, brewery) if money is not None else "",
        money_per_volume=(
            money_words(cost.money_per_hl * per_unit, brewery) if money is not None else ""
        ),
        volume_unit=unit,
        steps=tuple(
            _step_cost(t, [x for x in cost.lines if x.step == t.use.label], brewery) for t in taken
        ),
        totals=tuple(_totals(cost, per_unit, brewery)),
        missing=tuple(_missing(cost, taken)),
        unpriced=_unpriced(cost),
        working=tuple(line.working for line in cost.lines if line.amount and line.what != "time"),
    )


def _unpriced(cost: CleanCost) -> tuple[str, ...]:
    return tuple(dict.fromkeys(x.label for x in cost.lines if x.amount and x.money is None))


def _amount(line: CostLine, brewery: Brewery) -> str:
    match line.unit:
        case "hL":
            return _volume_words(line.amount, brewery)
        case "kg" | "kg NaOH equivalents":
            return mass_words(line.amount)
        case "min":
            return minutes_words(line.amount)
    return f"{show_number(line.amount, significant=3)} {line.unit}"


def _label(line: CostLine) -> str:
    """A load is told as the NaOH that would do as much."""
    return f"{line.label}, as NaOH" if "load" in line.label else line.label


def _volume_words(volume_hl: float, brewery: Brewery) -> str:
    shown = convert(volume_hl, "hL", brewery.volume_unit)
    return f"{show_number(shown, significant=3)} {LABELS[brewery.volume_unit]}"


def _source(line: CostLine, taken: Taken) -> str:
    """Where an amount is from, part by part where the parts differ."""
    use = taken.use
    if line.what == "time":
        return use.minutes.source
    parts = {"volume": taken.volume_from}
    if use.agent and (line.what in ("agent", "heat") or "load" in line.label):
        parts["strength"] = use.agent.strength_ww.source
    if line.what == "heat":
        parts["temperature"] = use.temperature_c.source
    if len(parts) == 1:
        return taken.volume_from
    if len(set(parts.values())) == 1:
        return parts["volume"]
    return ", ".join(f"{what} {source}" for what, source in parts.items())


def _step_cost(taken: Taken, lines: Sequence[CostLine], brewery: Brewery) -> StepCost:
    return StepCost(
        title=taken.use.label,
        rows=tuple(
            CostRow(
                label=_label(line),
                amount=_amount(line, brewery),
                money="" if line.money is None else money_words(line.money, brewery),
                source=_source(line, taken),
            )
            for line in lines
            if line.amount
        ),
        note=taken.note,
    )


def _totals(cost: CleanCost, per_unit: float, brewery: Brewery) -> list[Total]:
    """Sums of the clean; ``per_unit`` is the site's unit of volume in hL."""

    def per(amount: float, unit: str) -> str:
        value = amount / cost.vessel_hl * per_unit
        return f"{show_number(value, significant=2)} {unit}"

    def per_volume(volume_hl: float) -> str:
        # So much of a volume per one of it, whatever the unit.
        unit = LABELS[brewery.volume_unit]
        return f"{show_number(volume_hl / cost.vessel_hl, significant=2)} {unit}"

    found = [
        Total("water", _volume_words(cost.water_hl, brewery), per_volume(cost.water_hl)),
        *(
            Total(name, mass_words(kg), mass_words(kg / cost.vessel_hl * per_unit, significant=2))
            for name, kg in cost.agents_kg.items()
        ),
        Total("heat", f"{show_number(cost.heat_kwh, significant=3)} kWh",
              per(cost.heat_kwh, "kWh")),
        Total("effluent", _volume_words(cost.effluent_hl, brewery), per_volume(cost.effluent_hl)),
    ]  # fmt: skip
    for kind, kg in (
        ("alkaline", cost.alkaline_load_kg_naoh),
        ("acid", cost.acid_load_kg_naoh),
    ):
        if kg:
            each = mass_words(kg / cost.vessel_hl * per_unit, significant=2)
            found.append(Total(f"{kind} load, as NaOH", mass_words(kg), each))
    found.append(Total("time", minutes_words(cost.minutes), per(cost.minutes, "min")))
    return found


def _missing(cost: CleanCost, taken: Sequence[Taken]) -> list[Missing]:
    steps = {t.use.label: t for t in taken}
    found = []
    for entry in cost.missing:
        label, _, what = entry.partition(": ")
        at = steps[label]
        if what == "volume" and at.item.step.kind in FILLED:
            remedy = "Set the solution volume with the vessel."
        elif what == "volume":
            remedy = "Read the flow in this step. Water is flow × time."
        elif what == "time":
            remedy = "The step has not ended."
        elif what.startswith("strength of"):
            remedy = at.not_convertible or "Read the strength, or set one in the regime."
        elif what.startswith("equivalent weight"):
            remedy = "Set it with the agent, from the label."
        else:
            remedy = "The amount follows once the volume is known."
        found.append(Missing(f"{label}: {what}", remedy))
    return found


@dataclasses.dataclass(frozen=True)
class TurnaroundCost:
    """The cost of every ended clean of a turnaround, and the money together."""

    reports: tuple[CostReport, ...]
    money_words: str
    partial: bool


def turnaround_cost(
    cleans: Iterable[CleanProgress], *, brewery: Brewery, now: datetime
) -> TurnaroundCost | None:
    """The cost of the cleans that have ended, or ``None`` where none has.

    At most 7 queries where one drew from a solution tank, else none.
    """
    ended = [one for one in cleans if not one.clean.running]
    shares = shares_of([one.clean for one in ended], now=now, brewery=brewery)
    reports = tuple(cost_of(one, brewery=brewery, shares=shares) for one in ended)
    if not reports:
        return None
    money = [report.money for report in reports if report.money is not None]
    return TurnaroundCost(
        reports=reports,
        money_words=money_words(sum(money), brewery) if money else "",
        partial=len(money) < len(reports) or any(report.partial for report in reports),
    )
