"""Agents that harm a vessel, or meet what an earlier step left in it."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Agent, RegimeVersion
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.residues import agents_before, agents_inside
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import asks_for_checks, required_codes
from tests import clock
from tests.factories import (
    NOW,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_peracetic,
    make_resanitise_version,
    make_version,
    seen_well,
)
from tests.turnarounds.floor import Floor, counted, errors

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def chlorine() -> Agent:
    return make_agent(
        name="Hypochlorite", kind="sanitiser", active_substance="chlorine",
        concentrate_strength_ww=12, concentrate_density_kg_l=1.2,
    )  # fmt: skip


def acid() -> Agent:
    return make_agent(
        name="Nitric acid", kind="acid", active_substance="HNO3", concentrate_strength_ww=53,
        concentrate_density_kg_l=1.33,
    )  # fmt: skip


def version_of(*steps: tuple[str, Agent | None, str], **values: Any) -> RegimeVersion:
    """A regime of steps, each a kind, an agent and an end."""
    version = make_version(steps=False, **values)
    for kind, agent, end in steps:
        add_step(version, kind, agent=agent, end_criterion=end)
    return version


def started(cellar: Cellar, turnaround: Turnaround, version: RegimeVersion) -> Clean:
    return actions.start_clean(by=acting(cellar.hand), turnaround=turnaround, version=version)


def ended(cellar: Cellar, clean: Clean, order: int, *, met: bool | None = None) -> StepRecord:
    record = cellar.step_started(clean, clean.version.steps.get(order=order))
    if met:
        cellar.end_read(record, record.step)
    return step_actions.end_step(
        by=acting(cellar.hand),
        record=record,
        end_criterion_met=met,
        observations=seen_well(clean, record.step),
    )


def stopped(cellar: Cellar, clean: Clean) -> None:
    actions.stop_clean(by=acting(cellar.hand), clean=clean, reason="The pump failed")


def inside(turnaround: Turnaround) -> list[str]:
    return [agent.name for agent in agents_inside(turnaround)]


# Materials


def test_aluminium_vessel_takes_no_caustic(cellar: Cellar) -> None:
    version = version_of(("rinse", None, ""), ("caustic", make_agent(name="Lye"), ""))
    cellar.vessel.material = "aluminium"
    cellar.vessel.save()
    turnaround = cellar.emptied()
    with pytest.raises(Refusal) as refused:
        started(cellar, turnaround, version)
    assert (refused.value.field, refused.value.code) == ("version", "unfit_material")
    assert refused.value.message == (
        f"Step 2: The vessel of {cellar.vessel.name} is unfit. Lye (sodium hydroxide, NaOH) on "
        "aluminium: the metal dissolves, and hydrogen forms. Source: International "
        "Chemical Safety Card 0360 and its potassium twin. Choose another regime."
    )
    assert Clean.objects.count() == 0


def test_resanitising_is_refused_as_a_clean_is(cellar: Cellar) -> None:
    version = make_resanitise_version()
    cellar.vessel.material = "copper"
    cellar.vessel.save()
    with pytest.raises(Refusal) as refused:
        actions.start_resanitise(
            by=acting(cellar.hand), turnaround=cellar.emptied(), version=version
        )
    assert refused.value.code == "unfit_material"


def test_step_is_refused_where_the_material_became_known_during_the_clean(cellar: Cellar) -> None:
    cellar.vessel.seal_material = "unknown"
    cellar.vessel.save()
    version = version_of(("rinse", None, ""), ("acid", acid(), ""))
    clean = started(cellar, cellar.emptied(), version)
    ended(cellar, clean, 1)
    cellar.vessel.spray_device_material = "brass"
    cellar.vessel.save()
    with pytest.raises(Refusal) as refused:
        cellar.step_started(clean, version.steps.get(order=2))
    assert refused.value.code == "unfit_material"
    assert "The spray device of " in refused.value.message
    assert "nitrogen oxides form" in refused.value.message
    assert refused.value.message.endswith("Stop this clean and choose another regime.")
    assert StepRecord.objects.filter(step__order=2).count() == 0


def test_limited_material_is_acknowledged_before_its_step(cellar: Cellar) -> None:
    cellar.vessel.seal_material = "nbr"
    cellar.vessel.save()
    clean = started(cellar, cellar.emptied(), version_of(("sanitiser", make_peracetic(), "")))
    clean = cleans_with_records().get(pk=clean.pk)
    step = clean.version.steps.all()[0]
    assert list(required_codes(clean, step)) == ["peracetic", "material_seals"]
    by = acting(cellar.hand)
    with pytest.raises(Refusal) as refused:
        step_actions.acknowledge_safety(by=by, clean=clean, step=step, codes=["peracetic"])
    assert refused.value.code == "unchecked"
    with pytest.raises(Refusal) as refused:
        step_actions.start_step(by=by, clean=clean, step=step)
    assert refused.value.code == "unsafe"
    ended(cellar, clean, 1)
    text = clean.acknowledgements.get().texts[1]
    assert text.startswith("A seal: NBR rubber is limited. Peracetic acid ")
    assert "5 to 10 min, not longer" in text


def test_material_edited_later_makes_no_clean_before_it_unsafe(cellar: Cellar) -> None:
    cellar.vessel.seal_material = "nbr"
    clean = started(cellar, cellar.emptied(), version_of(("sanitiser", make_peracetic(), "")))
    clean.turnaround.vessel.seal_material = "nbr"
    step = clean.version.steps.get()
    assert asks_for_checks(clean, step, heat_before=False)


def test_rinse_asks_for_no_check(cellar: Cellar) -> None:
    clean = started(cellar, cellar.emptied(), version_of(("rinse", None, "")))
    step = clean.version.steps.get()
    assert not asks_for_checks(clean, step, heat_before=False)
    # Unless the vessel is hot.
    assert asks_for_checks(clean, step, heat_before=True)


# Agents that meet


def test_last_agent_is_kept_across_cleans_until_a_measured_rinse(cellar: Cellar) -> None:
    bleach = version_of(("sanitiser", chlorine(), ""), ("rinse", None, "neutral"))
    rinse_only = version_of(("rinse", None, "runs_clear"), ("rinse", None, "tap_ph"))
    descale = version_of(("acid", acid(), ""))
    turnaround = cellar.emptied()
    assert inside(turnaround) == []
    first = started(cellar, turnaround, bleach)
    ended(cellar, first, 1)
    assert inside(turnaround) == ["Hypochlorite"]
    stopped(cellar, first)
    with pytest.raises(Refusal) as refused:
        started(cellar, turnaround, descale)
    assert (refused.value.field, refused.value.code) == ("version", "agents_meet")
    assert refused.value.message.startswith(
        "Step 1: Nitric acid must not meet Hypochlorite. Chlorine and nitrogen oxides form, gases "
        "that kill. Source: "
    )
    second = started(cellar, turnaround, rinse_only)
    ended(cellar, second, 1, met=True)
    assert inside(turnaround) == ["Hypochlorite"]  # that it runs clear proves nothing
    ended(cellar, second, 2, met=True)
    assert inside(turnaround) == []
    stopped(cellar, second)
    assert started(cellar, turnaround, descale).pk


@pytest.mark.parametrize(("one", "other"), [(chlorine, acid), (acid, chlorine)])
@pytest.mark.parametrize("met", [True, False])
def test_step_meets_what_is_inside_unless_the_rinse_reached_its_end(
    cellar: Cellar, one: Any, other: Any, met: bool
) -> None:
    version = version_of(
        (one_of(one).kind, one_agent := one_of(one), ""),
        ("rinse", None, "tap_conductivity"),
        (one_of(other).kind, one_of(other), ""),
    )
    clean = started(cellar, cellar.emptied(), version)
    ended(cellar, clean, 1)
    record = ended(cellar, clean, 2, met=met)
    for deviation in Deviation.objects.filter(record=record):
        deviation_actions.dispose_deviation(
            by=acting(cellar.hand), deviation=deviation, disposition="accept", reason="In a hurry"
        )
    last = version.steps.get(order=3)
    if met:
        assert cellar.step_started(clean, last).pk
        return
    with pytest.raises(Refusal) as refused:
        cellar.step_started(clean, last)
    assert refused.value.code == "agents_meet"
    assert one_agent.name in refused.value.message
    assert StepRecord.objects.filter(step=last).count() == 0


def one_of(make: Any) -> Agent:
    """The one agent of its name."""
    name = {chlorine: "Hypochlorite", acid: "Nitric acid"}[make]
    return Agent.objects.filter(name=name).first() or make()


def test_rinse_that_was_left_out_clears_nothing(cellar: Cellar) -> None:
    version = version_of(("sanitiser", chlorine(), ""), ("rinse", None, "neutral"))
    turnaround = cellar.emptied()
    clean = started(cellar, turnaround, version)
    ended(cellar, clean, 1)
    step_actions.leave_out_step(
        by=acting(cellar.hand), clean=clean, step=version.steps.get(order=2), reason="No water"
    )
    assert inside(turnaround) == ["Hypochlorite"]


def test_agent_that_was_left_out_is_not_inside(cellar: Cellar) -> None:
    version = version_of(("sanitiser", chlorine(), ""), ("rinse", None, "neutral"))
    turnaround = cellar.emptied()
    clean = started(cellar, turnaround, version)
    step_actions.leave_out_step(
        by=acting(cellar.hand), clean=clean, step=version.steps.get(order=1), reason="None left"
    )
    assert inside(turnaround) == []


def test_next_turnaround_begins_with_an_empty_list(cellar: Cellar) -> None:
    released = cellar.released()
    assert len(inside(released)) == 1
    cellar.filled(released)
    assert inside(cellar.emptied(now=NOW + timedelta(hours=2))) == []


def test_what_spoils_an_agent_is_acknowledged_where_no_rinse_was_proved(cellar: Cellar) -> None:
    lye = make_agent(name="Lye")
    version = version_of(
        ("caustic", lye, ""), ("rinse", None, ""), ("acid", acid(), ""), ("rinse", None, "neutral"),
        ("sanitiser", make_peracetic(), ""),
    )  # fmt: skip
    clean = started(cellar, cellar.emptied(), version)

    def codes(order: int) -> list[str]:
        loaded = cleans_with_records().get(pk=clean.pk)
        step = next(one for one in loaded.version.steps.all() if one.order == order)
        return [code for code in required_codes(loaded, step) if code.startswith("meets_")]

    assert codes(1) == codes(3) == []
    ended(cellar, clean, 1)
    ended(cellar, clean, 2)
    assert (codes(2), codes(3)) == ([], ["meets_NaOH"])
    ended(cellar, clean, 3)
    assert codes(5) == ["meets_NaOH"]
    ended(cellar, clean, 4, met=True)
    assert codes(5) == []
    ended(cellar, clean, 5)
    # What comes later in a clean was not there before.
    assert codes(1) == []


def test_steps_of_a_clean_ask_once_what_earlier_cleans_left(
    cellar: Cellar, django_assert_num_queries: Any
) -> None:
    turnaround = cellar.emptied()
    bleach = version_of(("sanitiser", chlorine(), ""), ("rinse", None, "neutral"))
    first = started(cellar, turnaround, bleach)
    ended(cellar, first, 1)
    stopped(cellar, first)
    second = started(cellar, turnaround, bleach)
    loaded = cleans_with_records().get(pk=second.pk)
    with django_assert_num_queries(3):
        left = [agents_before(loaded, step) for step in loaded.version.steps.all()]
    assert [[agent.name for agent in found] for found in left] == [["Hypochlorite"]] * 2


# The screen of the choice


def test_the_floor_is_refused_caustic_in_aluminium_and_reads_why(floor: Floor) -> None:
    floor.vessel.material = "aluminium"
    floor.vessel.save()
    turnaround = floor.emptied(now=clock.now())
    page = floor.client.get(reverse("turnarounds:regime", args=[turnaround.pk]))
    assert page.context["proposal"].version == floor.quick
    text = page.content.decode()
    assert "Unfit for this vessel" in text
    assert "on aluminium: the metal dissolves violently, and hydrogen forms." in text
    assert f"Start {floor.version.regime.name}</button>" not in text
    before = counted(Clean)
    answer = floor.client.post(
        reverse("turnarounds:regime", args=[turnaround.pk]), {"version": floor.version.pk}
    )
    assert answer.status_code == 422
    ((field, (message,)),) = errors(answer).items()
    assert field == "version"
    assert "on aluminium: the metal dissolves violently, and hydrogen forms." in message
    assert message in answer.content.decode()
    assert counted(Clean) == before


def test_where_no_regime_suits_the_materials_none_is_proposed(floor: Floor) -> None:
    floor.vessel.material = "copper"
    floor.vessel.save()
    page = floor.client.get(reverse("turnarounds:regime", args=[floor.emptied(now=clock.now()).pk]))
    assert page.context["proposal"].version is None
    assert (
        f"No regime for a fermenter suits the materials of {floor.vessel.name}."
        in page.content.decode()
    )


def test_step_screen_says_why_a_step_is_refused(floor: Floor) -> None:
    clean = floor.at_step(4)
    floor.vessel.spray_device_material = "brass"
    floor.vessel.save()
    step = clean.version.steps.get(order=4)
    before = counted(StepRecord)
    answer = floor.client.post(reverse("turnarounds:start_step", args=[clean.pk, step.pk]))
    assert answer.status_code == 422
    ((field, (message,)),) = errors(answer, "key_form").items()
    assert field == "__all__"
    assert "on brass: corrodes copper and zinc severely, tested at 1 g/L." in message
    assert message in answer.content.decode()
    assert counted(StepRecord) == before


def test_step_screen_shows_a_limit_as_a_line_to_tick(floor: Floor) -> None:
    floor.vessel.seal_material = "nbr"
    floor.vessel.save()
    clean = floor.at_step(4)
    step = clean.version.steps.get(order=4)
    page = floor.client.get(reverse("turnarounds:step", args=[clean.pk, step.pk]))
    assert [c.code for c, _ in page.context["safety_form"].ticks()] == [
        "peracetic", "material_seals",
    ]  # fmt: skip
    assert "A seal: NBR rubber is limited" in page.content.decode()


@pytest.fixture
def floor() -> Floor:
    return Floor()
