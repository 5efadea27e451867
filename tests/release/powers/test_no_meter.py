"""A dead meter on brew day: what stands in for the readings, and what never does."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.atp.models.meters import Meter
from brewhygiene.cellar.models import HoldClock
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.plates.actions import send_plate
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.models import Decision
from brewhygiene.release.powers.actions import release_without_meter
from brewhygiene.release.powers.no_meter import ABOUT_READINGS, SeenAtVessel
from brewhygiene.release.queries import state_of
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting, because, make_cellar_hand, make_meter

pytestmark = pytest.mark.django_db
FAILED = NOW + timedelta(minutes=25)
SIGNED = NOW + timedelta(minutes=40)
SEEN = SeenAtVessel(
    meter_fault="Meter 1 shows E2 and no number",
    inspection="Spray ball turns, cone and gaskets look and smell clean",
    rinse_ph=7.4,
    supply_ph=7.2,
)


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def check(cellar: Cellar, *, passes: bool, meter: Meter | None = None, minute: int = 25) -> None:
    record_control_check(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=minute)),
        meter=meter or cellar.meter,
        blank_rlu=0 if passes else 90,
        positive_rlu=200,
    )


def plate(
    cellar: Cellar,
    turnaround: Turnaround,
    *,
    minute: int = 30,
    neutraliser: str = "thiosulfate",
) -> None:
    send_plate(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=minute)),
        turnaround=turnaround,
        point=cellar.point,
        medium="WLN",
        neutraliser=neutraliser,
        incubation_c=28,
        incubation_days=7,
    )


@pytest.fixture
def dead(cellar: Cellar) -> Turnaround:
    """Cleaned, a plate taken, and the only meter failed its control check."""
    turnaround = cellar.cleaned()
    check(cellar, passes=False)
    plate(cellar, turnaround)
    return turnaround


def released(cellar: Cellar, turnaround: Turnaround, **values: Any) -> Decision:
    turnaround.refresh_from_db()
    by = values.pop("by", cellar.brewer)
    if "second_signer" not in values:
        values["second_signer"] = cellar.hand
    return release_without_meter(
        by=acting(by, now=SIGNED),
        turnaround=turnaround,
        **{
            "password": PASSWORD,
            "revision_seen": turnaround.revision,
            "seen": SEEN,
            "second_secret": PASSWORD,
            **values,
        },
    )


def refused(cellar: Cellar, turnaround: Turnaround, **values: Any) -> tuple[str | None, str, str]:
    """Field, code and words of the refusal, having made sure that nothing was written."""
    entries, signatures = Entry.objects.count(), Signature.objects.count()
    with pytest.raises(Refusal) as refusal:
        released(cellar, turnaround, **values)
    assert (Entry.objects.count(), Signature.objects.count()) == (entries, signatures)
    return refusal.value.field, refusal.value.code, refusal.value.message


def test_two_people_release_by_what_stands_in_for_the_readings(
    cellar: Cellar, dead: Turnaround
) -> None:
    decision = released(cellar, dead)
    assert (decision.outcome, decision.kind) == ("release", "without_meter")
    assert decision.second_signature is not None
    assert {decision.signature.user, decision.second_signature.user} == {
        cellar.brewer,
        cellar.hand,
    }
    assert decision.without_meter == {
        "Meter": SEEN.meter_fault,
        "Inspection": SEEN.inspection,
        "Rinse": "pH 7.4 beside the supply's pH 7.2",
        "Strength": "2. sanitiser 140 mg/L",
        "Plate": "Point 1, WLN",
    }
    assert decision.waivers["control_check"].startswith("Meter: Meter 1 shows E2 and no number. ")
    values = Entry.objects.latest("pk").values
    assert values["without_meter"] == decision.without_meter
    assert (values["kind"], values["second_signed_by"]) == ("without_meter", "Jonas Feld")
    status = state_of(cellar.vessel, now=SIGNED).status
    assert (status.code, status.detail) == (
        "released",
        "Signed by Mara Oduya and Jonas Feld: released without a working meter",
    )
    cellar.filled(dead)


def test_readings_that_became_unjudged_are_released_that_way_too(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, now=NOW + timedelta(minutes=22))
    check(cellar, passes=False)
    plate(cellar, turnaround)
    with pytest.raises(Refusal, match="unjudged"):
        cellar.decided(turnaround)
    assert released(cellar, turnaround).kind == "without_meter"


def test_a_meter_that_works_is_to_be_used(cellar: Cellar, dead: Turnaround) -> None:
    spare = make_meter(name="Spare")
    check(cellar, passes=True, meter=spare, minute=10)
    words = refused(cellar, dead)[2]
    assert words == "Spare passed its control check today. Sample with it instead."
    check(cellar, passes=False, meter=spare, minute=20)
    released(cellar, dead)


def test_a_meter_that_passed_again_or_is_retired(cellar: Cellar, dead: Turnaround) -> None:
    check(cellar, passes=True, minute=35)
    assert "passed its control check today" in refused(cellar, dead)[2]
    Meter.objects.update(active=False)
    released(cellar, dead)


def test_readings_that_can_be_judged_decide(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    plate(cellar, turnaround)
    Meter.objects.update(active=False)
    assert refused(cellar, turnaround)[2] == ("The readings can be judged. Decide by them instead.")


def test_a_reading_over_the_action_limit_is_recleaned(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=900, now=NOW + timedelta(minutes=22))
    check(cellar, passes=False)
    plate(cellar, turnaround)
    assert refused(cellar, turnaround)[2] == (
        "A reading is over the action limit. Re-clean the vessel."
    )


def test_no_plate_no_release(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    check(cellar, passes=False)
    field, code, words = refused(cellar, turnaround)
    assert (field, code) == (None, "not_without_meter")
    assert words == "No plate was taken since the last clean. Take one and send it first."


def test_a_plate_taken_as_the_clean_ends_counts(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    check(cellar, passes=False)
    plate(cellar, turnaround, minute=20)
    assert turnaround.cleans.get().finished_at == NOW + timedelta(minutes=20)
    assert released(cellar, turnaround).kind == "without_meter"


def test_a_plate_whose_sanitiser_is_not_stopped_does_not_count(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    check(cellar, passes=False)
    plate(cellar, turnaround, neutraliser="none")
    assert refused(cellar, turnaround)[2] == (
        "No plate was taken since the last clean with a neutraliser that fits. Take one and send "
        "it first."
    )


def test_a_plate_from_before_the_last_clean_does_not_count(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    plate(cellar, turnaround)
    again = NOW + timedelta(minutes=31)
    cellar.run(cellar.started(turnaround, now=again), now=again - timedelta(minutes=15))
    check(cellar, passes=False, minute=35)
    assert "No plate was taken since the last clean." in refused(cellar, turnaround)[2]


def test_strength_outside_its_window_or_unread_is_no_stand_in(
    cellar: Cellar, dead: Turnaround
) -> None:
    from brewhygiene.turnarounds.models import StepReading
    from tests.evidence import unguarded

    with unguarded(StepReading):
        StepReading.objects.filter(quantity="concentration").update(verdict="below")
    assert "A strength was not read, or not inside its window." in refused(cellar, dead)[2]


def test_other_checks_block_as_ever(cellar: Cellar, dead: Turnaround) -> None:
    cellar.vessel.out_of_service_since = NOW
    cellar.vessel.out_of_service_reason = "Weld"
    cellar.vessel.save()
    assert refused(cellar, dead)[2] == "Vessel in service: no. Out of service: Weld."


def test_who_cleaned_cannot_sign_first_here_either(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.hand, helper = cellar.brewer, cellar.hand
    cellar.run(cellar.started(turnaround))
    check(cellar, passes=False)
    plate(cellar, turnaround)
    words = refused(cellar, turnaround, second_signer=helper)[2]
    assert "this brewery does not allow a self-release" in words


def test_what_needs_an_explanation_needs_it_here_too(cellar: Cellar) -> None:
    """A dirty-hold time of no minute has passed at once; it is no check about readings."""
    HoldClock.objects.create(
        vessel_kind=cellar.vessel.kind, dirty_hold_h=1, clean_hold_h=24, sanitised_hold_h=4
    )
    turnaround = cellar.emptied(now=NOW - timedelta(hours=2))
    cellar.run(cellar.started(turnaround))
    check(cellar, passes=False)
    plate(cellar, turnaround)
    assert refused(cellar, turnaround)[:2] == ("reason_dirty_hold", "no_reason")
    given = {"dirty_hold": because("The tank stood over the weekend")}
    decision = released(cellar, turnaround, gate_reasons=given)
    assert decision.waivers.keys() == {"dirty_hold", "control_check"}
    assert decision.explanations.keys() == {"dirty_hold"}


@pytest.mark.parametrize(
    "changed, field, code",
    [
        ({"meter_fault": "ok"}, "meter_fault", "says_nothing"),
        ({"inspection": "ok ok"}, "inspection", "says_nothing"),
        ({"rinse_ph": 11.3}, "rinse_ph", "ph"),
        ({"rinse_ph": 7.8}, "rinse_ph", "ph"),
        ({"rinse_ph": 6.6}, "rinse_ph", "ph"),
        ({"rinse_ph": -5.0}, "rinse_ph", "no_ph"),
        ({"supply_ph": 14.1}, "supply_ph", "no_ph"),
        ({"supply_ph": 11.3, "rinse_ph": 11.3}, "supply_ph", "ph"),
    ],
)
def test_what_was_seen_has_to_hold(
    cellar: Cellar, dead: Turnaround, changed: dict[str, Any], field: str, code: str
) -> None:
    seen = SeenAtVessel(**{**SEEN.__dict__, **changed})
    assert refused(cellar, dead, seen=seen)[:2] == (field, code)


@pytest.mark.parametrize("rinse_ph", [6.7, 7.7])
def test_a_rinse_within_half_a_ph_of_its_supply_will_do(
    cellar: Cellar, dead: Turnaround, rinse_ph: float
) -> None:
    seen = SeenAtVessel(**{**SEEN.__dict__, "rinse_ph": rinse_ph})
    assert released(cellar, dead, seen=seen).kind == "without_meter"


def test_two_different_people_sign_and_one_is_a_head_brewer(
    cellar: Cellar, dead: Turnaround
) -> None:
    assert refused(cellar, dead, second_signer=None)[:2] == ("second_signer", "no_second")
    assert refused(cellar, dead, second_signer=cellar.brewer)[:2] == (
        "second_signer",
        "same_person",
    )
    assert refused(cellar, dead, second_signer=cellar.owner)[:2] == ("second_signer", "no_role")
    assert refused(cellar, dead, second_secret="nope")[:2] == ("second_secret", "bad_secret")
    assert refused(cellar, dead, password="nope")[:2] == ("password", "bad_password")
    with pytest.raises(NotAllowed):
        released(cellar, dead, by=make_cellar_hand())
    assert Decision.objects.count() == 0


def test_a_page_that_is_stale_signs_nothing(cellar: Cellar, dead: Turnaround) -> None:
    assert refused(cellar, dead, revision_seen=dead.revision + 7)[1] == "stale"


def test_only_checks_about_readings_are_stood_in_for() -> None:
    assert (
        frozenset(
            {
                "sampled",
                "rinse_end",
                "control_check",
                "stick_in_date",
                "limits",
                "nothing_over_action",
                "alerts",
                "recovery",
            }
        )
        == ABOUT_READINGS
    )
