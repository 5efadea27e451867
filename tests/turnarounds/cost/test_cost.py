"""What a clean cost, against a sum done by hand, and its pages for the three who look."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.brewery.models import Brewery
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.cost.report import CostReport, cost_of, turnaround_cost
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import acting, add_step, make_version, seen_well
from tests.turnarounds.floor import Floor, signed_in

pytestmark = pytest.mark.django_db
PRICES = {
    "currency": "EUR",
    "water_price_hl": 0.5,
    "effluent_price_hl": 0.4,
    "load_price_kg_naoh": 0.6,
    "energy_price_kwh": 0.1,
    "minute_price": 0.5,
    "supply_water_c": 12,
    "heat_efficiency": 0.8,
}


@pytest.fixture
def floor() -> Floor:
    found = Floor(**PRICES)
    found.vessel.solution_l = 250
    found.vessel.save()
    for agent, price, kept in (("NaOH", 0.9, 0.6), ("PAA", 3.0, 0.0)):
        for step in found.version.steps.filter(agent__active_substance=agent):
            step.agent.price_kg, step.agent.recovered_share = price, kept
            step.agent.save()
    return found


def run(floor: Floor, *, rinse_flow: float | None = None) -> Clean:
    """Pre-rinse 5 min, caustic 30 min of 2 % at 75 °C, rinse 5 min, sanitiser of 150 mg/L 5 min."""
    then = clock.now() - timedelta(hours=3)
    clean = floor.started(floor.emptied(now=then), now=then)
    for order in (1, 2, 3, 4):
        if order == 3 and rinse_flow is not None:
            record = floor.running_step(clean, order, now=then)
            floor.read(record, "flow_l_min", rinse_flow, now=then)
            floor.end_read(record, record.step, now=then)
            step_actions.end_step(
                by=acting(floor.hand, now=then + timedelta(minutes=5)),
                record=record,
                end_criterion_met=True,
                observations=seen_well(clean, record.step),
            )
        else:
            floor.run_step(clean, order, now=then)
        then += timedelta(minutes=31)
    return actions.finish_clean(by=acting(floor.hand, now=then), clean=clean)


def report(floor: Floor, clean: Clean) -> CostReport:
    return cost_of(floor.progress(clean), brewery=Brewery.current())


def rows(found: CostReport, step: str) -> dict[str, tuple[str, str, str]]:
    (at,) = [s for s in found.steps if s.title == step]
    return {row.label: (row.amount, row.money, row.source) for row in at.rows}


def test_caustic_is_counted_by_mass_without_what_is_kept(floor: Floor) -> None:
    """250 L of 2 %, 1.0207 kg/L (Perry, 6th ed.): 10.2 kg of 50 %, of which 40 % is let go."""
    found = report(floor, run(floor))
    caustic = rows(found, "2. caustic")
    name = next(label for label in caustic if label.startswith("Caustic"))
    source = "volume from the set-up, strength read"
    assert caustic[name] == ("4.08 kg", "EUR 3.67", source)
    # As much NaOH is let go: half of the liquor.
    assert caustic["alkaline load, as NaOH"] == ("2.04 kg", "EUR 1.22", source)
    assert caustic["water"] == ("1 hL", "EUR 0.50", "from the set-up")
    assert caustic["effluent"] == ("1 hL", "EUR 0.40", "from the set-up")
    assert caustic["time"] == ("30 min", "EUR 15.00", "read")
    # 255.2 kg × 4.08 kJ/(kg K) × 63 K / 3600 / 0.8; 4.08 is that of 2 % caustic (CRC 3.99 to 4.1).
    amount, money, source = caustic["heat"]
    assert float(amount.split()[0]) == pytest.approx(255.2 * 4.08 * 63 / 3600 / 0.8, rel=0.01)
    assert source == "volume from the set-up, strength read, temperature read"
    assert float(money.split()[1]) == pytest.approx(2.28, abs=0.03)


def test_thin_sanitiser_is_counted_at_a_kilogram_a_litre(floor: Floor) -> None:
    """250 L of 150 mg/L are 37.5 g, 250 g of 15 %; all of it is let go."""
    sanitiser = rows(report(floor, run(floor)), "4. sanitiser")
    name = next(label for label in sanitiser if label.startswith("Peracetic"))
    assert sanitiser[name][:2] == ("250 g", "EUR 0.75")
    assert sanitiser["effluent"][0] == "2.5 hL"
    assert "heat" not in sanitiser


def test_rinse_without_a_flow_is_missing_and_never_nothing(floor: Floor) -> None:
    found = report(floor, run(floor))
    assert [(m.what, m.remedy) for m in found.missing] == [
        ("1. pre-rinse: volume", "Read the flow in this step. Water is flow × time."),
        ("3. rinse: volume", "Read the flow in this step. Water is flow × time."),
    ]
    assert found.partial
    assert set(rows(found, "3. rinse")) == {"time"}


def test_rinse_whose_flow_was_read_is_flow_by_time(floor: Floor) -> None:
    """100 L/min for 5 min: 5 hL."""
    found = report(floor, run(floor, rinse_flow=100))
    assert rows(found, "3. rinse")["water"] == ("5 hL", "EUR 2.50", "flow × time, both read")
    assert [m.what for m in found.missing] == ["1. pre-rinse: volume"]


def test_the_money_is_the_sum_of_its_lines_and_shared_by_the_vessels_volume(floor: Floor) -> None:
    """30 hL."""
    found = report(floor, run(floor))
    lines = [float(row.money.split()[1]) for step in found.steps for row in step.rows if row.money]
    assert found.money == pytest.approx(sum(lines), abs=0.005 * len(lines))
    assert found.money_per_volume == f"EUR {found.money / 30:.2f}"
    totals = {total.label: (total.whole, total.per_volume) for total in found.totals}
    # 40 % of 2.5 hL of caustic, and 2.5 of sanitiser; 5 + 30 + 5 + 5 min.
    assert totals["water"] == ("3.5 hL", "0.12 hL")
    assert totals["time"] == ("45 min", "1.5 min")


def test_what_has_no_price_is_named(floor: Floor) -> None:
    Brewery.objects.update(energy_price_kwh=None, load_price_kg_naoh=None)
    assert report(floor, run(floor)).unpriced == ("alkaline load", "heat")


def test_without_any_price_there_are_amounts(floor: Floor) -> None:
    clean = run(floor)
    Brewery.objects.update(**{name: None for name in PRICES if "price" in name})
    for step in clean.version.steps.exclude(agent=None):
        step.agent.price_kg = None
        step.agent.save()
    found = report(floor, clean)
    assert (found.money, found.money_words) == (None, "")
    assert rows(found, "2. caustic")["water"] == ("1 hL", "", "from the set-up")


def test_without_a_volume_of_solution_its_remedy_is_said(floor: Floor) -> None:
    clean = run(floor)
    floor.vessel.solution_l = None
    floor.vessel.save()
    found = {m.what: m.remedy for m in report(floor, clean).missing}
    assert found["2. caustic: volume"] == "Set the solution volume with the vessel."


def test_strength_that_was_not_read_is_the_regimes(floor: Floor) -> None:
    """The middle of 1.5 to 3 %: the window of this regime has no target."""
    then = clock.now() - timedelta(hours=3)
    clean = floor.started(floor.emptied(now=then), now=then)
    floor.run_step(clean, 1, now=then)
    record = floor.running_step(clean, 2, now=then + timedelta(minutes=10))
    step_actions.end_step(by=acting(floor.hand, now=then + timedelta(minutes=40)), record=record)
    actions.stop_clean(
        by=acting(floor.hand, now=then + timedelta(minutes=41)), clean=clean, reason="pump"
    )
    found = report(floor, clean)
    caustic = rows(found, "2. caustic")
    name = next(label for label in caustic if label.startswith("Caustic"))
    assert caustic[name][2] == "volume from the set-up, strength from the regime"
    assert [step.title for step in found.steps] == ["1. pre-rinse", "2. caustic"]


def test_repeated_step_counts_its_minutes_and_one_solution(floor: Floor) -> None:
    then = clock.now() - timedelta(hours=3)
    clean = floor.started(floor.emptied(now=then), now=then)
    floor.run_step(clean, 1, now=then)
    first = floor.running_step(clean, 2, now=then)
    floor.read(first, "concentration", 1.0, basis="ww", now=then)
    deviation_actions.dispose_deviation(
        by=acting(floor.hand, now=then + timedelta(minutes=10)),
        deviation=first.deviations.get(),
        disposition="repeat",
    )
    floor.run_step(clean, 2, now=then + timedelta(minutes=12))
    caustic = next(s for s in report(floor, clean).steps if s.title == "2. caustic")
    assert caustic.note == "Run 2 times. One solution is counted."
    assert {row.label: row.amount for row in caustic.rows}["time"] == "40 min"
    assert {row.label: row.amount for row in caustic.rows}["water"] == "1 hL"


def test_hot_water_is_taken_as_one_filling_and_says_so(floor: Floor) -> None:
    """250 L from 12 to 85 °C; nothing of it is kept."""
    floor.version = make_version(steps=False, name="Hot water alone (invented)")
    add_step(floor.version, StepKind.HOT_WATER, windows={"temperature_c": (80, None)})
    then = clock.now() - timedelta(hours=3)
    clean = floor.started(floor.emptied(now=then), now=then)
    record = floor.running_step(clean, 1, now=then)
    floor.read(record, "temperature_c", 85, now=then)
    step_actions.end_step(by=acting(floor.hand, now=then + timedelta(minutes=20)), record=record)
    actions.finish_clean(by=acting(floor.hand, now=then + timedelta(minutes=21)), clean=clean)
    (step,) = report(floor, clean).steps
    said = "Counted as one filling of the circuit, 250 L. More may have run through."
    assert step.note == said
    amounts = {row.label: row.amount for row in step.rows}
    assert (amounts["water"], amounts["effluent"]) == ("2.5 hL", "2.5 hL")
    # 249.6 kg × 4.19 kJ/(kg K) × 73 K / 3600 / 0.8 (water, from memory).
    assert float(amounts["heat"].split()[0]) == pytest.approx(26.5, abs=0.1)
    page = floor.client.get(reverse("turnarounds:cost", args=[clean.pk]))
    assert said in words(page)


def test_left_out_step_costs_nothing(floor: Floor) -> None:
    then = clock.now() - timedelta(hours=3)
    clean = floor.started(floor.emptied(now=then), now=then)
    step = clean.version.steps.get(order=1)
    step_actions.leave_out_step(
        by=acting(floor.hand, now=then), clean=clean, step=step, reason="rinsed by hand"
    )
    assert report(floor, clean).steps == ()


def test_barrels_are_shared_by_barrels(floor: Floor) -> None:
    """A US beer barrel is 1.17347765 hL; 1 hL is 0.852 bbl."""
    Brewery.objects.update(volume_unit="bbl")
    found = report(floor, run(floor))
    assert rows(found, "2. caustic")["water"][0] == "0.852 bbl"
    assert found.money_per_volume == f"EUR {found.money / 30 * 1.17347765:.2f}"


def test_cost_takes_no_query(floor: Floor, django_assert_num_queries: Any) -> None:
    progress = floor.progress(run(floor))
    brewery = Brewery.current()
    with django_assert_num_queries(0):
        cost_of(progress, brewery=brewery)
        turnaround_cost([progress], brewery=brewery, now=clock.now())


# Its pages


def words(answer: HttpResponse) -> str:
    return " ".join(answer.content.decode().split())


def test_cost_page_is_for_anyone_to_look_at(floor: Floor) -> None:
    clean = run(floor)
    at = reverse("turnarounds:cost", args=[clean.pk])
    for person in (floor.hand, floor.brewer, floor.owner):
        page = signed_in(person).get(at)
        assert (page.status_code, page.content.count(b"<h1")) == (200, 1)
    assert signed_in(None).get(at).status_code == 302
    text = words(signed_in(floor.hand).get(at))
    assert "At least <strong>EUR" in text
    assert "Read the flow in this step. Water is flow × time." in text
    assert "/set-up/prices/" not in text
    assert "/set-up/prices/" in words(signed_in(floor.owner).get(at))


def test_cost_page_takes_the_same_queries_whatever_was_read(
    floor: Floor, django_assert_num_queries: Any
) -> None:
    clean = run(floor)
    at = reverse("turnarounds:cost", args=[clean.pk])
    with django_assert_num_queries(12):
        floor.client.get(at)
    for record in clean.step_records.all():
        reading = record.readings.first()
        if reading is not None:
            reading.pk = None
            reading.save()
    with django_assert_num_queries(12):
        floor.client.get(at)


def test_running_clean_says_that_it_is_still_on(floor: Floor) -> None:
    record = floor.running_caustic()
    page = floor.client.get(reverse("turnarounds:cost", args=[record.clean_id]))
    assert (page.status_code, page.context["report"]) == (200, None)
    assert "This clean is running." in words(page)


def test_clean_and_turnaround_sum_it_up(floor: Floor) -> None:
    clean = run(floor)
    found = report(floor, clean)
    link = reverse("turnarounds:cost", args=[clean.pk])
    for at in (
        reverse("turnarounds:clean", args=[clean.pk]),
        reverse("board:turnaround", args=[clean.turnaround_id]),
    ):
        text = words(floor.client.get(at))
        assert f"<strong>{found.money_words}</strong>" in text
        assert link in text


def test_sum_that_cannot_be_done_says_why(floor: Floor) -> None:
    clean = run(floor)
    for step in clean.version.steps.filter(kind="caustic"):
        step.agent.concentrate_strength_ww = 1
        step.agent.save()
    page = floor.client.get(reverse("turnarounds:cost", args=[clean.pk]))
    assert "The cost cannot be calculated: The strength of Caustic liquor" in words(page)
