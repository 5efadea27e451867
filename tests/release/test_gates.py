"""Each gate on its own: what it asks, its evidence, and who may wave it through."""

from datetime import date, timedelta

import pytest

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.models import User
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE, Answer, Gate, gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, Cellar, make_point, make_test_lot

pytestmark = pytest.mark.django_db

QUERIES = 30


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def gates(
    cellar: Cellar, turnaround: Turnaround, *, minutes: float = 35, user: User | None = None
) -> dict[str, Gate]:
    now = NOW + timedelta(minutes=minutes)
    found = gates_of(
        load_dossier(turnaround, now=now),
        brewery=Brewery.current(),
        now=now,
        user=user or cellar.brewer,
    )
    return {gate.code: gate for gate in found}


def test_a_good_turnaround_answers_every_gate_with_yes(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    found = gates(cellar, turnaround)
    assert list(found) == list(GATE_TITLES)
    assert {gate.answer for gate in found.values()} == {Answer.YES}
    assert all(gate.evidence for gate in found.values())


def test_an_uncleaned_vessel_answers_no_wherever_a_clean_is_asked_for(cellar: Cellar) -> None:
    found = gates(cellar, cellar.emptied())
    refused = {code for code, gate in found.items() if gate.answer == Answer.NO}
    assert refused == set(GATE_TITLES) - {
        "in_service",
        "names",
        "plates",
        "allergens",
        "two_people",
    }


def test_gates_read_in_the_same_number_of_queries_for_one_point_and_for_five(
    cellar: Cellar, django_assert_num_queries
) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    with django_assert_num_queries(QUERIES):
        load_dossier(turnaround, now=NOW)
    for order in range(1, 5):
        point = make_point(cellar.vessel, order=order)
        cellar.sampled(turnaround, point=point)
    with django_assert_num_queries(QUERIES):
        load_dossier(turnaround, now=NOW)


def test_the_gates_that_are_never_waived_are_those_of_safety_and_limits() -> None:
    assert (
        frozenset(
            {
                "in_service",
                "cleaned",
                "safety",
                "control_check",
                "limits",
                "allergens",
                "two_people",
            }
        )
        == NEVER_WAIVABLE
    )


def test_a_site_cannot_make_safety_or_limits_waivable() -> None:
    cellar = Cellar(waivable_gates=list(GATE_TITLES))
    found = gates(cellar, cellar.emptied())
    assert {code for code, gate in found.items() if not gate.waivable} == NEVER_WAIVABLE


def test_a_point_added_after_sampling_is_asked_for(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    make_point(cellar.vessel, name="Racking arm")
    gate = gates(cellar, turnaround)["sampled"]
    assert (gate.answer, gate.evidence) == (Answer.NO, ("Racking arm: not sampled",))


def test_a_vessel_without_required_points_is_not_proven_clean() -> None:
    cellar = Cellar(points=0)
    turnaround = cellar.cleaned()
    gate = gates(cellar, turnaround)["sampled"]
    assert gate.answer == Answer.NO


def test_a_late_start_of_the_clean_has_to_be_explained(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    late = NOW + timedelta(hours=25)
    cellar.run(cellar.started(turnaround, now=late), now=late)
    gate = gates(cellar, turnaround, minutes=26 * 60)["dirty_hold"]
    assert (gate.answer, gate.evidence) == (
        Answer.EXPLAIN,
        ("The clean that counts started 25.0 h after emptying, dirty-hold time 24 h",),
    )


def test_an_unchecked_rinse_end_has_to_be_explained(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rinse_end="not_checked")
    assert gates(cellar, turnaround)["rinse_end"].answer == Answer.EXPLAIN


def test_the_hold_time_is_counted_from_the_sanitiser(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    assert gates(cellar, turnaround, minutes=20)["hold_time"].evidence == (
        "4.0 h left (clean-hold time 24 h, sanitised-hold time 4 h)",
    )
    assert gates(cellar, turnaround, minutes=260)["hold_time"].answer == Answer.NO


def test_a_swab_in_date_on_the_brewerys_own_day_passes() -> None:
    # 09:30 UTC on the 10th is still the 9th in Honolulu.
    cellar = Cellar(time_zone="Pacific/Honolulu")
    lot = make_test_lot(cellar.atp_test, expires_on=date(2026, 3, 9))
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, test_lot=lot, now=NOW + timedelta(minutes=30))
    assert gates(cellar, turnaround)["stick_in_date"].answer == Answer.YES


def test_the_two_people_gate_looks_at_who_worked_on_the_clean(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    assert gates(cellar, turnaround, user=cellar.brewer)["two_people"].answer == Answer.YES
    assert gates(cellar, turnaround, user=cellar.hand)["two_people"].answer == Answer.NO
    cellar.brewery.self_release_allowed = True
    cellar.brewery.save()
    assert gates(cellar, turnaround, user=cellar.hand)["two_people"].answer == Answer.EXPLAIN


def test_a_decision_keeps_its_gates_as_they_stood(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    decision = cellar.decided(turnaround)
    make_point(cellar.vessel, name="Racking arm")
    decision.refresh_from_db()
    kept = {gate["code"]: gate["answer"] for gate in decision.gates}
    assert kept == dict.fromkeys(GATE_TITLES, "yes")
