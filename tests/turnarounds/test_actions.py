"""Emptying, cleaning and the steps of a clean."""

from datetime import timedelta

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import (
    Clean,
    StepReading,
    StepRecord,
    Turnaround,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.quantities import Titration
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.readings import actions as reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import (
    NOW,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_beer,
    make_version,
    seen_well,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def caustic_clean(cellar: Cellar) -> Clean:
    """A running clean whose first step is hot caustic, its checks acknowledged."""
    version = make_version(steps=False)
    add_step(
        version,
        StepKind.CAUSTIC,
        agent=make_agent(),
        windows={
            "concentration": (1.5, 3.0),
            "temperature_c": (60, 85),
            "time_min": (20, 45),
        },
    )
    add_step(version, StepKind.RINSE, end_criterion="neutral")
    cellar.version = version
    return cellar.started(cellar.emptied())


def state(clean: Clean, order: int) -> str:
    return progress_of(cleans_with_records().get(pk=clean.pk)).steps[order].state


def first_step(clean: Clean):
    return clean.version.steps.order_by("order").first()


def read(cellar: Cellar, record: StepRecord, quantity: str, value: float, **values):
    return reading_actions.record_reading(
        by=acting(cellar.hand, now=NOW), record=record, quantity=quantity, value=value, **values
    )


def test_emptying_a_vessel_twice_names_who_did_it_first(cellar: Cellar) -> None:
    cellar.emptied()
    with pytest.raises(Refusal, match="Jonas Feld recorded it") as refused:
        cellar.emptied()
    assert refused.value.code == "already_empty"
    assert Turnaround.objects.count() == 1


def test_emptying_takes_its_contents_from_the_fill_on_record(cellar: Cellar) -> None:
    cellar.filled(cellar.released())
    again = cellar.emptied(now=NOW + timedelta(days=9), beer=make_beer())
    assert again.emptying.beer == cellar.pale


def test_emptying_in_the_future_is_refused(cellar: Cellar) -> None:
    with pytest.raises(Refusal) as refused:
        actions.empty_vessel(
            by=acting(cellar.hand),
            vessel=cellar.vessel,
            emptied_at=NOW + timedelta(hours=1),
        )
    assert refused.value.field == "emptied_at"


def test_emptying_by_the_owner_is_refused(cellar: Cellar) -> None:
    with pytest.raises(NotAllowed):
        actions.empty_vessel(by=acting(cellar.owner), vessel=cellar.vessel, emptied_at=NOW)


def test_a_weaker_regime_needs_a_reason(cellar: Cellar) -> None:
    sour = make_beer(name="Skellavine Sour (invented)", sour_or_mixed=True)
    turnaround = cellar.emptied(beer=sour)
    ordinary = make_version(level=2)
    with pytest.raises(Refusal) as refused:
        actions.start_clean(by=acting(cellar.hand), turnaround=turnaround, version=ordinary)
    assert refused.value.field == "weaker_reason"
    clean = actions.start_clean(
        by=acting(cellar.hand),
        turnaround=turnaround,
        version=ordinary,
        weaker_reason="Head brewer told me to",
    )
    assert clean.weaker_reason == "Head brewer told me to"


def test_a_regime_for_another_kind_of_vessel_is_refused(cellar: Cellar) -> None:
    hoses = make_version(vessel_kinds=["hose_set"])
    with pytest.raises(Refusal, match="not for a fermenter"):
        actions.start_clean(by=acting(cellar.hand), turnaround=cellar.emptied(), version=hoses)


def test_a_second_clean_at_the_same_time_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.started(turnaround)
    with pytest.raises(Refusal) as refused:
        cellar.started(turnaround)
    assert refused.value.code == "already_running"


def test_a_dangerous_step_does_not_start_before_its_checks(
    cellar: Cellar, caustic_clean: Clean
) -> None:
    with pytest.raises(Refusal) as refused:
        step_actions.start_step(
            by=acting(cellar.hand), clean=caustic_clean, step=first_step(caustic_clean)
        )
    assert refused.value.code == "unsafe"
    assert StepRecord.objects.count() == 0


def test_safety_checks_are_ticked_each_on_its_own(cellar: Cellar, caustic_clean: Clean) -> None:
    with pytest.raises(Refusal) as refused:
        step_actions.acknowledge_safety(
            by=acting(cellar.hand),
            clean=caustic_clean,
            step=first_step(caustic_clean),
            codes=["vented", "purged", "air_path"],
        )
    assert refused.value.code == "unchecked"


def test_steps_run_in_their_order(cellar: Cellar, caustic_clean: Clean) -> None:
    rinse = caustic_clean.version.steps.get(kind=StepKind.RINSE)
    with pytest.raises(Refusal, match="Do caustic first"):
        step_actions.start_step(by=acting(cellar.hand), clean=caustic_clean, step=rinse)


def test_a_reading_is_judged_at_once(cellar: Cellar, caustic_clean: Clean) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    assert read(cellar, record, "temperature_c", 60).verdict == "within"
    assert read(cellar, record, "temperature_c", 59.9).verdict == "below"
    assert read(cellar, record, "temperature_c", 85.1).verdict == "above"
    assert [d.kind for d in Deviation.objects.order_by("pk")] == ["below", "above"]


def test_a_strength_on_another_basis_is_judged_on_the_windows(
    cellar: Cellar, caustic_clean: Clean
) -> None:
    # 2 % by volume of 50 % liquor (1.525 kg/L) is 1.525 % w/v, about 1.5 % w/w.
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    reading = read(cellar, record, "concentration", 2, basis="vv")
    assert reading.judged_value == pytest.approx(1.50, abs=0.01)


def test_a_strength_without_its_basis_is_refused(cellar: Cellar, caustic_clean: Clean) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    with pytest.raises(Refusal) as refused:
        read(cellar, record, "concentration", 2)
    assert refused.value.field == "basis"


def test_a_titration_gives_the_strength(cellar: Cellar, caustic_clean: Clean) -> None:
    # 5.1 mL of 1 eq/L for 10 mL: 2.04 % w/v, which is 2.0 % w/w NaOH.
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    reading = reading_actions.record_reading(
        by=acting(cellar.hand),
        record=record,
        quantity="concentration",
        titration=Titration(titrant_ml=5.1, titrant_normality=1, sample_ml=10),
    )
    assert reading.judged_value == pytest.approx(2.0, abs=0.005)
    assert reading.titration == {
        "method": "titration",
        "titrant_ml": 5.1,
        "titrant_normality": 1,
        "sample_ml": 10,
    }


@pytest.mark.parametrize(
    ("volumes", "field"),
    [
        ((50.1, 1, 10), "titrant_ml"),
        ((-1, 1, 10), "titrant_ml"),
        ((5, 0, 10), "titrant_normality"),
        ((5, 1, 0), "sample_ml"),
    ],
)
def test_a_titration_that_cannot_be_is_refused(
    cellar: Cellar, caustic_clean: Clean, volumes: tuple[float, float, float], field: str
) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    with pytest.raises(Refusal) as refused:
        reading_actions.record_reading(
            by=acting(cellar.hand),
            record=record,
            quantity="concentration",
            titration=Titration(*volumes),
        )
    assert refused.value.field == field
    assert StepReading.objects.count() == 0


@pytest.mark.parametrize(
    ("quantity", "value", "basis"),
    [
        ("ph", 15, ""),
        ("ph", -1, ""),
        ("temperature_c", 400, ""),
        ("concentration", 101, "vv"),
        ("concentration", -1, "ww"),
        ("flow_l_min", -5, ""),
    ],
)
def test_a_value_that_cannot_be_is_refused(
    cellar: Cellar, caustic_clean: Clean, quantity: str, value: float, basis: str
) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    before = Entry.objects.count()
    with pytest.raises(Refusal, match="is not possible") as refused:
        read(cellar, record, quantity, value, basis=basis)
    assert refused.value.field == "value"
    assert (StepReading.objects.count(), Entry.objects.count()) == (0, before)


def ended(cellar: Cellar, record: StepRecord, minutes: float, **values) -> StepRecord:
    seen = seen_well(record.clean, record.step)
    values = {"observations": seen, **values}
    return step_actions.end_step(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=minutes)), record=record, **values
    )


def run_caustic(cellar: Cellar, clean: Clean, minutes: float = 30) -> StepRecord:
    record = cellar.step_started(clean, first_step(clean))
    read(cellar, record, "concentration", 2, basis="ww")
    read(cellar, record, "temperature_c", 75)
    return ended(cellar, record, minutes)


def test_a_step_within_its_windows_is_done(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean)
    assert (state(caustic_clean, 0), state(caustic_clean, 1)) == ("done", "next")
    assert Deviation.objects.count() == 0


def test_a_step_that_was_too_short_is_a_deviation(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    deviation = Deviation.objects.get()
    assert (deviation.kind, deviation.quantity) == ("below", "time_min")
    assert state(caustic_clean, 0) == "deviation"


def test_what_was_not_read_is_a_deviation(cellar: Cellar, caustic_clean: Clean) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    read(cellar, record, "temperature_c", 75)
    ended(cellar, record, 30)
    assert [d.description for d in Deviation.objects.all()] == ["Strength was not read"]


def test_an_end_that_was_not_reached_is_a_deviation(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean)
    rinse = caustic_clean.version.steps.get(kind=StepKind.RINSE)
    record = cellar.step_started(caustic_clean, rinse)
    with pytest.raises(Refusal) as refused:
        ended(cellar, record, 40)
    assert refused.value.field == "end_criterion_met"
    ended(cellar, record, 40, end_criterion_met=False)
    assert Deviation.objects.get().kind == "end_not_met"


def dispose(cellar: Cellar, disposition: str, minutes: float, reason: str = "") -> Deviation:
    return deviation_actions.dispose_deviation(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=minutes)),
        deviation=Deviation.objects.latest("pk"),
        disposition=disposition,
        reason=reason,
    )


def test_an_accepted_deviation_needs_a_reason(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    with pytest.raises(Refusal) as refused:
        dispose(cellar, "accept", 20)
    assert refused.value.field == "reason"
    dispose(cellar, "accept", 20, reason="Timer knocked off a minute early")
    assert state(caustic_clean, 0) == "done"


def test_a_repeated_step_starts_again(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    dispose(cellar, "repeat", 20)
    assert state(caustic_clean, 0) == "again"
    record = cellar.step_started(
        caustic_clean, first_step(caustic_clean), now=NOW + timedelta(minutes=21)
    )
    assert (record.attempt, record.extends) == (2, None)


def test_an_extended_step_counts_its_minutes_together(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    dispose(cellar, "extend", 20)
    record = cellar.step_started(
        caustic_clean, first_step(caustic_clean), now=NOW + timedelta(minutes=20)
    )
    ended(cellar, record, 25)
    time_min = record.readings.get(quantity="time_min")
    assert (time_min.value, time_min.verdict) == (24, "within")
    assert state(caustic_clean, 0) == "done"


def test_a_deviation_that_stops_the_clean_ends_it(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    dispose(cellar, "stop", 20, reason="Pump seal gone")
    caustic_clean.refresh_from_db()
    assert caustic_clean.stopped_at == NOW + timedelta(minutes=20)


def test_a_deviation_is_decided_once(cellar: Cellar, caustic_clean: Clean) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    dispose(cellar, "repeat", 20)
    with pytest.raises(Refusal, match="already decided") as refused:
        dispose(cellar, "accept", 21, reason="Good enough")
    assert refused.value.code == "already_disposed"


def test_a_step_left_out_is_a_deviation(cellar: Cellar, caustic_clean: Clean) -> None:
    step_actions.leave_out_step(
        by=acting(cellar.hand),
        clean=caustic_clean,
        step=first_step(caustic_clean),
        reason="No caustic in the tank",
    )
    assert Deviation.objects.get().kind == "left_out"
    dispose(cellar, "accept", 1, reason="Head brewer agreed")
    assert state(caustic_clean, 0) == "left_out"


def test_a_clean_with_an_undecided_deviation_does_not_finish(
    cellar: Cellar, caustic_clean: Clean
) -> None:
    run_caustic(cellar, caustic_clean, minutes=19)
    with pytest.raises(Refusal, match="Not finished yet: Contact time in window 19 min"):
        actions.finish_clean(by=acting(cellar.hand), clean=caustic_clean)


def test_a_corrected_reading_takes_its_deviation_along(
    cellar: Cellar, caustic_clean: Clean
) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    read(cellar, record, "concentration", 2, basis="ww")
    mistyped = read(cellar, record, "temperature_c", 7.5)
    corrected = reading_actions.correct_reading(
        by=acting(cellar.hand), reading=mistyped, value=75, reason="Point in the wrong place"
    )
    ended(cellar, record, 30)
    assert (corrected.corrects, corrected.verdict) == (mistyped, "within")
    assert state(caustic_clean, 0) == "done"
    assert StepReading.objects.filter(quantity="temperature_c").count() == 2


def test_a_reading_sent_twice_is_written_once(cellar: Cellar, caustic_clean: Clean) -> None:
    record = cellar.step_started(caustic_clean, first_step(caustic_clean))
    by = acting(cellar.hand, key="tap")
    for _ in range(2):
        reading_actions.record_reading(by=by, record=record, quantity="temperature_c", value=70)
    assert StepReading.objects.count() == 1


def test_a_finished_clean_takes_nothing_more(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.run(cellar.started(turnaround))
    with pytest.raises(Refusal) as refused:
        actions.stop_clean(by=acting(cellar.hand), clean=clean, reason="Changed my mind")
    assert refused.value.code == "clean_ended"
