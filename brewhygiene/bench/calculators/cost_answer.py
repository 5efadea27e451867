"""The cost of a clean as an answer: figures, a table of the steps, and the working."""

import dataclasses
from collections.abc import Iterator, Mapping

from brewhygiene.bench.answers import Answer, Figure, Table, Working
from brewhygiene.bench.measures import PER_VESSEL, VESSEL, SiteUnits
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.science.cost import CleanCost, CostLine
from brewhygiene.science.working import WorkingLine, shown


def answer_of(
    cost: CleanCost, found: Mapping[str, tuple[WorkingLine, ...]], *, site: SiteUnits, currency: str
) -> Answer:
    """A cost as an answer; ``found`` is the working of volume and strength, by step."""
    priced = [line for line in cost.lines if line.money is not None and line.amount]
    working = list(_by_step(cost, found))
    if priced:
        working.append(Working("Cost", tuple(_money(cost, priced, currency))))
    return Answer(
        figures=tuple(_figures(cost, priced=bool(priced), site=site, currency=currency)),
        working=tuple(working),
        sentences=tuple(_sentences(cost, priced=bool(priced))),
        tables=(_table(cost, site, currency),) if cost.lines else (),
        warnings=(
            (f"Not entered, so not counted: {', '.join(cost.missing)}.",) if cost.missing else ()
        ),
    )


def _figures(cost: CleanCost, *, priced: bool, site: SiteUnits, currency: str) -> Iterator[Figure]:
    """Each amount whole, with what it is for a unit of the vessel's volume beside it."""
    per = site.label(PER_VESSEL)

    def each(amount: float) -> str:
        return show_number(site.to_site(amount / cost.vessel_hl, PER_VESSEL), significant=3)

    if priced:
        yield Figure("cost", digits(cost.money, ".2f"), currency,
                     note=f"{currency} {each(cost.money)} {per}")  # fmt: skip
    for label, volume_hl in (("water", cost.water_hl), ("effluent", cost.effluent_hl)):
        value, unit = site.shown(volume_hl, VESSEL)
        # So much of a volume for one of it, whatever the unit.
        share = show_number(volume_hl / cost.vessel_hl, significant=3)
        yield Figure(label, value, unit, note=f"{share} {unit} {per}")
    for label, amount, unit in (
        *((name, kg, "kg") for name, kg in cost.agents_kg.items()),
        ("alkaline load, as NaOH", cost.alkaline_load_kg_naoh, "kg"),
        ("acid load, as NaOH", cost.acid_load_kg_naoh, "kg"),
        ("heat", cost.heat_kwh, "kWh"),
        ("time", cost.minutes, "min"),
    ):
        if amount:
            yield Figure(label, show_number(amount), unit, note=f"{each(amount)} {unit} {per}")


def _sentences(cost: CleanCost, *, priced: bool) -> Iterator[str]:
    if not priced:
        yield "No prices are entered, so there are only amounts."
        return
    unpriced = dict.fromkeys(x.label for x in cost.lines if x.amount and x.money is None)
    if unpriced:
        yield f"A minimum, because these have no price: {', '.join(unpriced)}."


def _by_step(cost: CleanCost, found: Mapping[str, tuple[WorkingLine, ...]]) -> Iterator[Working]:
    for label, first in found.items():
        lines = [
            dataclasses.replace(line.working, label=line.label)
            for line in cost.lines
            if line.step == label and line.amount and line.what != "time"
        ]
        if first or lines:
            yield Working(label.capitalize(), (*first, *lines))


def _money(cost: CleanCost, priced: list[CostLine], currency: str) -> Iterator[WorkingLine]:
    """Each amount at its price, and the total."""
    sums: dict[tuple[str, str], tuple[float, float]] = {}
    for line in priced:
        amount, money = sums.get((line.label, line.unit), (0.0, 0.0))
        sums[line.label, line.unit] = (amount + line.amount, money + (line.money or 0.0))
    for (label, unit), (amount, money) in sums.items():
        numbers = f"{shown(amount)} × {shown(money / amount)}"
        yield WorkingLine(label, f"{unit} × price", numbers, money, currency)
    parts = " + ".join(shown(money) for _, money in sums.values())
    yield WorkingLine("total", "sum", parts, cost.money, currency)
    yield WorkingLine(
        "per hL of the vessel", "total ÷ volume",
        f"{shown(cost.money)} ÷ {shown(cost.vessel_hl)}", cost.money_per_hl, f"{currency} per hL",
    )  # fmt: skip


def _table(cost: CleanCost, site: SiteUnits, currency: str) -> Table:
    rows = []
    for step in dict.fromkeys(line.step for line in cost.lines):
        lines = [line for line in cost.lines if line.step == step]
        sums = {
            what: sum(x.amount for x in lines if x.what == what)
            for what in ("water", "agent", "heat", "time")
        }
        sums["water"] = site.to_site(sums["water"], VESSEL)
        money = [line.money for line in lines if line.money is not None and line.amount]
        rows.append(
            (
                step.capitalize(),
                *(show_number(amount, significant=3) for amount in sums.values()),
                f"{digits(sum(money), '.2f')}" if money else "no price",
            )
        )
    return Table(
        "Steps",
        ("Step", f"Water, {site.label(VESSEL)}", "Agent, kg", "Heat, kWh", "Time, min", currency),
        tuple(rows),
    )
