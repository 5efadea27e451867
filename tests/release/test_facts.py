"""What a vessel's status is worked out from, as it is read from the records."""

from datetime import timedelta

import pytest

from brewhygiene.atp.models.meters import ControlCheck
from brewhygiene.cellar.models import Emptying, Fill, HoldClock
from brewhygiene.plates.actions import read_plate, send_plate
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.models import Plate
from brewhygiene.release.queries import (
    load_dossier,
    state_of,
    states_of,
    versions_to_resanitise,
)
from brewhygiene.release.standing.facts import HoldTimes
from brewhygiene.turnarounds.actions import record_opening, stop_clean
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from tests.evidence import unguarded
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    made_good,
    make_point,
    make_resanitise_version,
    make_version,
    make_vessel,
)

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def hours(dirty: float, clean: float, sanitised: float) -> HoldTimes:
    return HoldTimes(timedelta(hours=dirty), timedelta(hours=clean), timedelta(hours=sanitised))


def test_each_kind_of_vessel_has_its_own_hold_times_and_the_usual_where_it_has_none(
    cellar: Cellar,
) -> None:
    HoldClock.objects.all().delete()
    for kind, *held in (("fermenter", 7, 8, 3), ("keg", 1, 2, 0.5)):
        HoldClock.objects.create(
            vessel_kind=kind,
            **dict(zip(("dirty_hold_h", "clean_hold_h", "sanitised_hold_h"), held, strict=True)),
        )
    keg, other = make_vessel(kind="keg"), make_vessel(kind="bright_tank")
    found = {
        state.vessel.pk: state.facts.hold_times
        for state in states_of(type(keg).objects.all(), now=NOW)
    }
    assert found == {
        cellar.vessel.pk: hours(7, 8, 3),
        keg.pk: hours(1, 2, 0.5),
        other.pk: hours(24, 24, 4),
    }


def fill(cellar: Cellar, batch: str) -> Fill:
    return Fill.objects.create(
        vessel=cellar.vessel,
        beer=cellar.pale,
        batch=batch,
        volume_hl=20,
        filled_at=NOW - timedelta(days=1),
        recorded_by=cellar.hand,
    )


def test_what_is_in_a_vessel_is_its_last_fill_also_of_two_at_one_time(cellar: Cellar) -> None:
    first = fill(cellar, "B-1")
    with unguarded(Fill):
        Fill.objects.filter(pk=first.pk).update(filled_at=NOW - timedelta(days=9))
    Emptying.objects.create(
        vessel=cellar.vessel, fill=first, emptied_at=NOW, recorded_by=cellar.hand
    )
    empty = state_of(cellar.vessel, now=NOW).facts
    assert (empty.filled_at, empty.contents, empty.filled_without_release) == (None, "", False)
    second = fill(cellar, "B-2")
    assert state_of(cellar.vessel, now=NOW).facts.contents.endswith("B-2")
    Emptying.objects.create(
        vessel=cellar.vessel, fill=second, emptied_at=NOW, recorded_by=cellar.hand
    )
    third = fill(cellar, "B-3")
    facts = state_of(cellar.vessel, now=NOW).facts
    assert (facts.filled_at, facts.filled_without_release) == (third.filled_at, False)
    assert facts.contents.endswith("B-3")


def test_the_last_opening_counts(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    for minutes in (30, 45):
        record_opening(
            by=acting(cellar.hand, now=NOW + timedelta(minutes=minutes)),
            turnaround=turnaround,
            reason="Gasket",
        )
    facts = state_of(cellar.vessel, now=LATER).facts.turnaround
    assert facts is not None
    assert list(facts.openings) == [NOW + timedelta(minutes=45)]


def test_the_points_in_use_that_a_release_requires_are_asked_for_in_their_order(
    cellar: Cellar,
) -> None:
    cone = cellar.point
    last = make_point(cellar.vessel, name="Lid", order=9)
    first = make_point(cellar.vessel, name="Arm", order=5)
    beside = make_point(cellar.vessel, name="Aaa", order=5)
    make_point(cellar.vessel, name="Old", order=1, active=False)
    make_point(cellar.vessel, name="Extra", order=1, required_for_release=False)
    turnaround = cellar.emptied()
    required = {cone.pk: cone.name, first.pk: "Arm", beside.pk: "Aaa", last.pk: "Lid"}
    facts = state_of(cellar.vessel, now=NOW).facts
    assert list(facts.required_points.items()) == list(required.items())
    assert load_dossier(turnaround, now=NOW).facts.required_points == required


def test_a_closed_turnaround_keeps_its_own_facts_beside_the_next_one(cellar: Cellar) -> None:
    turnaround = cellar.released()
    cellar.filled(turnaround)
    cellar.emptied(now=LATER)
    make_point(cellar.vessel, name="Extra", order=1, required_for_release=False)
    make_point(cellar.vessel, name="Old", order=1, active=False)
    dossier = load_dossier(turnaround, now=LATER)
    assert (dossier.status, dossier.facts.required_points) == (
        None,
        {cellar.point.pk: cellar.point.name},
    )
    assert dossier.facts.turnaround is not None
    assert dossier.facts.turnaround.pk == turnaround.pk
    assert [r.rlu for r in dossier.facts.turnaround.results] == [0]
    assert [d.outcome for d in dossier.decisions] == ["release"]


def test_only_versions_in_force_that_resanitise_this_kind_are_offered(cellar: Cellar) -> None:
    make_resanitise_version(vessel_kinds=["keg"])
    make_resanitise_version(active=False)
    make_version()
    own = cellar.resanitise_version
    assert versions_to_resanitise(cellar.vessel, sampled=True) == [own]
    with_samples = make_resanitise_version(steps=False)
    add_step(with_samples, "sample")
    assert versions_to_resanitise(cellar.vessel, sampled=True) == [with_samples, own]
    assert versions_to_resanitise(cellar.vessel, sampled=False) == [own, with_samples]


def test_a_check_failed_at_the_same_moment_is_not_a_later_one(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    result = cellar.sampled(turnaround)
    check = result.control_check
    assert check is not None
    failed = ControlCheck.objects.create(
        meter=cellar.meter,
        checked_at=check.checked_at,
        checked_on=check.checked_on,
        blank_rlu=80,
        positive_rlu=200,
        passed=False,
        checked_by=cellar.hand,
    )
    assert load_dossier(turnaround, now=LATER).failed_checks_later == frozenset()
    failed.checked_at += timedelta(microseconds=1)
    with unguarded(ControlCheck):
        failed.save()
    assert load_dossier(turnaround, now=LATER).failed_checks_later == {result.pk}
    failed.checked_on += timedelta(days=1)
    with unguarded(ControlCheck):
        failed.save()
    assert load_dossier(turnaround, now=LATER).failed_checks_later == frozenset()


def test_without_a_reading_no_check_failed_after_one(cellar: Cellar) -> None:
    assert load_dossier(cellar.cleaned(), now=LATER).failed_checks_later == frozenset()


def test_a_check_that_passes_later_takes_nothing_back(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    cellar.checked(now=NOW + timedelta(minutes=35))
    assert load_dossier(turnaround, now=LATER).failed_checks_later == frozenset()


def test_those_who_started_a_clean_ran_a_step_or_read_a_sample_worked_on_it(
    cellar: Cellar,
) -> None:
    turnaround = cellar.cleaned()
    assert load_dossier(turnaround, now=LATER).workers == {cellar.hand.pk}
    clean = turnaround.cleans.get()
    clean.started_by = cellar.owner
    with unguarded(Clean):
        clean.save()
    assert load_dossier(turnaround, now=LATER).workers == {cellar.hand.pk, cellar.owner.pk}
    with unguarded(StepRecord):
        clean.step_records.update(started_by=cellar.owner)
    # Whoever ended a step, or finished the clean, worked on it too.
    assert load_dossier(turnaround, now=LATER).workers == {cellar.hand.pk, cellar.owner.pk}
    with unguarded(StepRecord):
        clean.step_records.update(ended_by=cellar.owner)
    assert load_dossier(turnaround, now=LATER).workers == {cellar.hand.pk, cellar.owner.pk}
    clean.finished_by = cellar.owner
    with unguarded(Clean):
        clean.save()
    assert load_dossier(turnaround, now=LATER).workers == {cellar.owner.pk}
    with unguarded(StepRecord):
        clean.step_records.update(ended_by=cellar.hand)
    assert load_dossier(turnaround, now=LATER).workers == {cellar.hand.pk, cellar.owner.pk}
    with unguarded(StepRecord):
        clean.step_records.update(ended_by=cellar.owner)
    cellar.sampled(turnaround, by=cellar.brewer)
    assert load_dossier(turnaround, now=LATER).workers == {cellar.owner.pk, cellar.brewer.pk}


def test_readings_are_told_in_the_order_in_which_they_were_recorded(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    other = make_point(cellar.vessel, name="Arm", order=5)
    for rlu, point in ((40, cellar.point), (40, other), (31, other)):
        cellar.sampled(turnaround, rlu=rlu, point=point)
    state = state_of(cellar.vessel, now=LATER)
    assert state.facts.turnaround is not None
    assert [r.rlu for r in state.facts.turnaround.results] == [40, 40, 31]
    assert [r.rlu for r in load_dossier(turnaround, now=LATER).results] == [40, 40, 31]
    # Of two that read alike, the first one names the hold.
    assert cellar.point.name in state.status.detail


def test_cleans_are_told_in_the_order_in_which_they_were_started(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    stopped = cellar.started(turnaround, now=LATER)
    stop_clean(by=acting(cellar.hand, now=LATER), clean=stopped, reason="Pump failed")
    state = state_of(cellar.vessel, now=LATER)
    assert state.facts.turnaround is not None
    first = Clean.objects.earliest("pk")
    assert [clean.pk for clean in state.facts.turnaround.cleans] == [first.pk, stopped.pk]
    # The stopped one came after the finished one, so the vessel is not clean.
    assert (state.status.code, state.status.detail) == ("empty", "The clean was stopped")


def test_a_clean_that_counts_no_more_says_whether_it_was_opened_or_is_too_old(
    cellar: Cellar,
) -> None:
    turnaround = cellar.cleaned()
    old = state_of(cellar.vessel, now=NOW + timedelta(hours=5)).status
    record_opening(by=acting(cellar.hand, now=LATER), turnaround=turnaround, reason="Gasket")
    opened = state_of(cellar.vessel, now=LATER).status
    assert ("pened" in opened.detail, "pened" in old.detail) == (True, False)
    assert (opened.next, old.next) == ("resanitise", "resanitise")


def test_the_first_point_that_is_due_is_the_next_to_be_sampled(db: None) -> None:
    cellar = Cellar(points=2)
    cellar.cleaned()
    status = state_of(cellar.vessel, now=LATER).status
    assert ("Point 1" in status.next_text, "Point 2" in status.next_text) == (True, False)
    assert ("Point 1" in status.detail, "Point 2" in status.detail) == (True, True)


def test_a_dossier_has_its_cleans_and_decisions_in_their_order(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    cellar.decided(turnaround, "hold")
    cellar.decided(turnaround, now=LATER)
    cellar.run(cellar.started(turnaround, now=LATER), now=LATER)
    dossier = load_dossier(turnaround, now=LATER + timedelta(hours=1))
    pks = list(turnaround.cleans.order_by("pk").values_list("pk", flat=True))
    assert [progress.clean.pk for progress in dossier.cleans] == pks
    assert len(pks) == 2
    assert [decision.outcome for decision in dossier.decisions] == ["hold", "release"]
    assert dossier.status is not None


def test_the_open_plates_of_a_dossier_are_the_positive_ones_of_its_vessel(
    cellar: Cellar,
) -> None:
    turnaround, other = cellar.cleaned(), make_vessel()
    elsewhere = cellar.cleaned(vessel=other)
    grown = [plate(cellar, one) for one in (turnaround, turnaround, turnaround, elsewhere)]
    for one in (grown[0], grown[1], grown[3]):
        read_plate(by=acting(cellar.brewer, now=LATER), plate=one, state="positive", colonies=4)
    made = made_good(grown[1], now=LATER + timedelta(minutes=5))
    resolve_plate(
        by=acting(cellar.brewer, now=LATER + timedelta(minutes=5)),
        plate=grown[1],
        resolution="Cleaned hot",
        password=PASSWORD,
        **made,
    )
    dossier = load_dossier(turnaround, now=LATER)
    assert dossier.open_plates == [grown[0]]
    again = made["replating"].pk
    assert {one.pk for one in dossier.plates} == {*(one.pk for one in grown[:3]), again}
    assert dossier.facts.open_positive_since == LATER


def plate(cellar: Cellar, turnaround: Turnaround) -> Plate:
    return send_plate(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=35)),
        turnaround=turnaround,
        point=turnaround.vessel.points.order_by("pk")[0],
        medium="MRS",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=7,
    )
