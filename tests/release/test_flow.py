"""The main job through its actions, and its refusals."""

from datetime import timedelta

import pytest

from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release import actions
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code
from tests.factories import NOW, PASSWORD, Cellar, acting, because, make_limits, make_meter

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def code_at(cellar: Cellar, minutes: float) -> Code:
    return state_of(cellar.vessel, now=NOW + timedelta(minutes=minutes)).status.code


def test_a_vessel_goes_from_new_to_filled_through_each_status(cellar: Cellar) -> None:
    assert code_at(cellar, 0) == Code.EMPTY
    turnaround = cellar.emptied()
    assert code_at(cellar, 0) == Code.EMPTY
    clean = cellar.started(turnaround)
    assert code_at(cellar, 0) == Code.CLEANING
    cellar.run(clean)
    cellar.checked()
    assert code_at(cellar, 20) == Code.TO_SAMPLE
    cellar.sampled(turnaround)
    assert code_at(cellar, 30) == Code.TO_DECIDE
    cellar.decided(turnaround)
    assert code_at(cellar, 40) == Code.RELEASED
    cellar.filled(turnaround)
    assert code_at(cellar, 50) == Code.IN_USE
    assert check_chain() is None


def test_a_release_lapses_with_the_sanitised_hold(cellar: Cellar) -> None:
    cellar.released()
    # Sanitiser ended 20 minutes after emptying; the sanitised-hold is 4 h by default.
    assert code_at(cellar, 20 + 4 * 60 - 1) == Code.RELEASED
    assert code_at(cellar, 20 + 4 * 60) == Code.LAPSED


def test_a_lapsed_vessel_is_not_filled(cellar: Cellar) -> None:
    turnaround = cellar.released()
    with pytest.raises(Refusal, match="lapsed"):
        cellar.filled(turnaround, now=NOW + timedelta(hours=5))
    assert Fill.objects.count() == 0


def test_a_lapse_is_cured_by_a_resanitise_and_a_fresh_sample(cellar: Cellar) -> None:
    turnaround = cellar.released()
    later = NOW + timedelta(hours=25)
    assert code_at(cellar, 25 * 60) == Code.LAPSED
    clean = actions.resanitise(
        by=acting(cellar.hand, now=later),
        turnaround=turnaround,
        version=cellar.resanitise_version,
    )
    cellar.run(clean, now=later)
    assert code_at(cellar, 25 * 60 + 20) == Code.TO_SAMPLE
    cellar.checked(now=later)
    cellar.sampled(turnaround, now=later + timedelta(minutes=30))
    cellar.decided(turnaround, now=later + timedelta(minutes=40))
    assert code_at(cellar, 25 * 60 + 40) == Code.RELEASED


def test_a_resanitise_is_refused_while_the_release_stands(cellar: Cellar) -> None:
    turnaround = cellar.released()
    with pytest.raises(Refusal, match="needs no re-sanitise yet"):
        actions.resanitise(
            by=acting(cellar.hand, now=NOW + timedelta(hours=1)),
            turnaround=turnaround,
            version=cellar.resanitise_version,
        )


def test_a_resanitise_never_cures_a_failed_result(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    with pytest.raises(Refusal, match="over the action limit"):
        actions.resanitise(
            by=acting(cellar.hand, now=NOW + timedelta(hours=6)),
            turnaround=turnaround,
            version=cellar.resanitise_version,
        )


def test_a_result_over_the_action_limit_holds_the_vessel_at_once(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    assert code_at(cellar, 30) == Code.HELD


def test_a_second_sample_does_not_wipe_out_the_first(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    first = cellar.sampled(turnaround, rlu=31)
    second = cellar.sampled(turnaround, rlu=0, now=NOW + timedelta(minutes=35))
    assert second.retest_of == first
    assert code_at(cellar, 35) == Code.HELD


def test_a_hold_by_result_ends_by_a_clean_with_fresh_samples(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    later = NOW + timedelta(hours=1)
    cellar.run(cellar.started(turnaround, now=later), now=later)
    assert code_at(cellar, 80) == Code.TO_SAMPLE
    cellar.sampled(turnaround, rlu=2, now=later + timedelta(minutes=30))
    assert code_at(cellar, 90) == Code.TO_DECIDE


def test_a_stopped_clean_leaves_the_vessel_held(cellar: Cellar) -> None:
    from brewhygiene.turnarounds.actions import stop_clean

    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    clean = cellar.started(turnaround, now=NOW + timedelta(hours=1))
    stop_clean(
        by=acting(cellar.hand, now=NOW + timedelta(hours=1)), clean=clean, reason="Pump failed"
    )
    assert code_at(cellar, 61) == Code.HELD


def test_a_head_brewers_signed_reason_releases_over_an_action_result(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    with pytest.raises(Refusal, match="Choose a cause for") as refused:
        cellar.decided(turnaround)
    assert refused.value.field == "reason_nothing_over_action"
    cellar.decided(turnaround, gate_reasons={"nothing_over_action": "Swab touched the bench"})
    assert code_at(cellar, 40) == Code.RELEASED


def test_an_action_gate_that_the_site_does_not_waive_blocks() -> None:
    cellar = Cellar(waivable_gates=[])
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    with pytest.raises(Refusal, match="over the action limit"):
        cellar.decided(turnaround, gate_reasons={"nothing_over_action": "It will do"})


def test_an_action_result_after_the_release_holds_again(cellar: Cellar) -> None:
    turnaround = cellar.released()
    cellar.sampled(turnaround, rlu=500, now=NOW + timedelta(minutes=45))
    assert code_at(cellar, 45) == Code.HELD
    with pytest.raises(Refusal, match="not released"):
        cellar.filled(turnaround)


def test_a_meter_without_limits_blocks_the_release_whatever_is_waivable() -> None:
    cellar = Cellar(waivable_gates=["limits", "nothing_over_action", "sampled"])
    turnaround = cellar.cleaned()
    other = make_meter()
    cellar.checked(meter=other)
    result = cellar.sampled(turnaround, rlu=0, meter=other)
    assert result.verdict == "unjudged"
    with pytest.raises(Refusal, match="no approved limits") as refused:
        cellar.decided(turnaround, gate_reasons={"limits": "Reads nought"})
    assert refused.value.code == "blocked"
    assert Decision.objects.count() == 0


def test_limits_approved_since_clear_the_way_for_a_waiting_reading(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    other = make_meter()
    cellar.checked(meter=other)
    cellar.sampled(turnaround, rlu=0, meter=other)
    make_limits(
        by=cellar.brewer,
        meter=other,
        atp_test=cellar.atp_test,
        now=NOW + timedelta(minutes=35),
    )
    cellar.decided(turnaround, gate_reasons={"recovery": "The new meter's study is under way"})
    assert code_at(cellar, 40) == Code.RELEASED


def test_an_unsampled_vessel_is_not_released(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    with pytest.raises(Refusal, match="not sampled"):
        cellar.decided(turnaround)


def test_an_alert_needs_a_reason(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=11)
    with pytest.raises(Refusal) as refused:
        cellar.decided(turnaround)
    assert refused.value.field == "reason_alerts"
    decision = cellar.decided(turnaround, gate_reasons={"alerts": "New gasket, first clean"})
    assert decision.waivers == {"alerts": because("New gasket, first clean").words}


def test_a_release_by_the_cellar_role_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    with pytest.raises(NotAllowed):
        cellar.decided(turnaround, by=cellar.hand)
    with pytest.raises(NotAllowed):
        cellar.decided(turnaround, by=cellar.owner)
    assert Decision.objects.count() == 0


def test_a_wrong_password_signs_nothing(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    entries = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        cellar.decided(turnaround, password="wort-after-noon")
    assert refused.value.field == "password"
    assert (Decision.objects.count(), Entry.objects.count()) == (0, entries)


def test_the_second_of_two_people_deciding_at_once_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    turnaround.refresh_from_db()
    seen = turnaround.revision
    cellar.decided(turnaround, "hold")
    with pytest.raises(Refusal, match=r"hold, signed by Mara Oduya") as refused:
        actions.decide(
            by=acting(cellar.brewer),
            turnaround=turnaround,
            outcome="release",
            password=PASSWORD,
            revision_seen=seen,
        )
    assert refused.value.code == "stale"
    assert Decision.objects.count() == 1


def test_a_self_release_is_flagged_and_needs_a_reason() -> None:
    cellar = Cellar(self_release_allowed=True)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, by=cellar.brewer)
    with pytest.raises(Refusal) as refused:
        cellar.decided(turnaround)
    assert refused.value.field == "reason_two_people"
    decision = cellar.decided(turnaround, gate_reasons={"two_people": "Alone tonight"})
    assert decision.self_release is True


def test_a_self_release_is_refused_where_the_brewery_forbids_it() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, by=cellar.brewer)
    with pytest.raises(Refusal, match="does not allow"):
        cellar.decided(turnaround, gate_reasons={"two_people": "Alone tonight"})


def test_a_release_by_another_person_is_not_a_self_release(cellar: Cellar) -> None:
    turnaround = cellar.released()
    assert turnaround.decisions.get().self_release is False


def test_opening_a_released_vessel_voids_its_release(cellar: Cellar) -> None:
    from brewhygiene.turnarounds.actions import record_opening

    turnaround = cellar.released()
    record_opening(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=45)),
        turnaround=turnaround,
        reason="Manway gasket looked at",
    )
    assert code_at(cellar, 45) == Code.LAPSED
    with pytest.raises(Refusal, match="Opened since the release"):
        cellar.filled(turnaround)


def test_a_fill_without_release_is_signed_and_marked_for_ever(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    fill = actions.record_fill_without_release(
        by=acting(cellar.brewer, now=NOW + timedelta(hours=1)),
        turnaround=turnaround,
        beer=cellar.pale,
        batch="B-77",
        volume_hl=20,
        filled_at=NOW + timedelta(minutes=50),
        reason="Night shift filled it unasked",
        password=PASSWORD,
    )
    assert fill.without_release is True
    assert fill.without_release_signature.printed_name == "Mara Oduya"
    status = state_of(cellar.vessel, now=NOW + timedelta(hours=1)).status
    assert (status.code, status.detail) == (
        Code.IN_USE,
        "Harrow Pale (invented) B-77, filled without a release",
    )


def test_a_fill_without_release_is_not_for_the_cellar_role(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    with pytest.raises(NotAllowed):
        actions.record_fill_without_release(
            by=acting(cellar.hand),
            turnaround=turnaround,
            beer=cellar.pale,
            batch="B-77",
            volume_hl=20,
            filled_at=NOW,
            reason="It happened",
            password=PASSWORD,
        )


def test_more_beer_than_the_vessel_holds_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.released()
    with pytest.raises(Refusal, match="do not fit") as refused:
        cellar.filled(turnaround, volume_hl=31)
    assert refused.value.field == "volume_hl"


def test_a_failed_control_check_later_that_day_blocks_the_release(cellar: Cellar) -> None:
    from brewhygiene.atp.meters.actions import record_control_check

    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    record_control_check(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=35)),
        meter=cellar.meter,
        blank_rlu=80,
        positive_rlu=200,
    )
    with pytest.raises(Refusal, match="failed or missed its control check"):
        cellar.decided(turnaround)


def test_an_out_of_service_vessel_is_not_cleaned(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.vessel.out_of_service_since = NOW
    cellar.vessel.out_of_service_reason = "Dented cone"
    cellar.vessel.save()
    with pytest.raises(Refusal, match="Dented cone"):
        cellar.started(turnaround)
    assert code_at(cellar, 0) == Code.OUT_OF_SERVICE
