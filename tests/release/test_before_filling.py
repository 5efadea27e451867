"""A released vessel is sanitised before it is filled: no samples, no decision, no more time."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release import actions
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.deviations.actions import dispose_deviation
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import NOW, Cellar, acting

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar(waivable_gates=["nothing_over_action"])


def code_at(cellar: Cellar, minutes: float) -> Code:
    return state_of(cellar.vessel, now=NOW + timedelta(minutes=minutes)).status.code


def test_a_passed_sanitised_hold_is_cured_by_sanitising_before_filling(cellar: Cellar) -> None:
    turnaround = cellar.released()
    lapses_at = turnaround.decisions.get().lapses_at
    later = NOW + timedelta(hours=5)
    assert code_at(cellar, 5 * 60) == Code.LAPSED
    clean = actions.sanitise_before_filling(
        by=acting(cellar.hand, now=later),
        turnaround=turnaround,
        version=cellar.resanitise_version,
    )
    assert clean.purpose == "sanitise"
    assert code_at(cellar, 5 * 60) == Code.CLEANING
    cellar.run(clean, now=later)
    assert code_at(cellar, 5 * 60 + 20) == Code.RELEASED
    assert code_at(cellar, 9 * 60 + 20) == Code.LAPSED
    assert [decision.lapses_at for decision in turnaround.decisions.all()] == [lapses_at]
    assert cellar.filled(turnaround, now=later + timedelta(minutes=30)).without_release is False


def test_a_released_vessel_is_sanitised_before_its_time_has_passed(cellar: Cellar) -> None:
    turnaround = cellar.released()
    assert actions.sanitise_before_filling(
        by=acting(cellar.hand, now=NOW + timedelta(hours=1)),
        turnaround=turnaround,
        version=cellar.resanitise_version,
    ).running


def test_only_a_released_vessel_is_sanitised_for_filling(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()

    def refused(hours: float) -> str:
        with pytest.raises(Refusal) as refusal:
            actions.sanitise_before_filling(
                by=acting(cellar.hand, now=NOW + timedelta(hours=hours)),
                turnaround=turnaround,
                version=cellar.resanitise_version,
            )
        assert refusal.value.code == "not_released"
        return str(refusal.value)

    assert "is not released: to sample" in refused(1)
    cellar.sampled(turnaround)
    cellar.decided(turnaround)
    # The clean-hold has passed: sanitising makes no release last longer.
    assert "is not released: lapsed. The release has lapsed." in refused(24.5)


def test_a_deviation_accepted_while_sanitising_asks_for_a_new_decision(cellar: Cellar) -> None:
    turnaround = cellar.released()
    later = NOW + timedelta(hours=5)
    clean = actions.sanitise_before_filling(
        by=acting(cellar.hand, now=later),
        turnaround=turnaround,
        version=cellar.resanitise_version,
    )
    rinse, sanitiser = clean.version.steps.order_by("order")
    record = step_actions.leave_out_step(
        by=acting(cellar.hand, now=later), clean=clean, step=rinse, reason="No water"
    )
    dispose_deviation(
        by=acting(cellar.hand, now=later),
        deviation=record.deviations.get(),
        disposition="accept",
        reason="No water",
    )
    started = cellar.step_started(clean, sanitiser, now=later)
    step_reading_actions.record_reading(
        by=acting(cellar.hand, now=later),
        record=started,
        quantity="concentration",
        value=150,
        basis="mg_l",
    )
    ended = later + timedelta(minutes=10)
    step_actions.end_step(by=acting(cellar.hand, now=ended), record=started)
    turnaround_actions.finish_clean(by=acting(cellar.hand, now=ended), clean=clean)
    assert code_at(cellar, 5 * 60 + 10) == Code.TO_DECIDE


def test_a_reading_over_the_action_limit_is_never_sanitised_away(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=31)
    cellar.decided(turnaround, gate_reasons={"nothing_over_action": "Read beside the valve"})
    with pytest.raises(Refusal, match="Re-clean the vessel instead"):
        actions.sanitise_before_filling(
            by=acting(cellar.hand, now=NOW + timedelta(hours=5)),
            turnaround=turnaround,
            version=cellar.resanitise_version,
        )


def test_the_owner_sanitises_nothing(cellar: Cellar) -> None:
    turnaround = cellar.released()
    with pytest.raises(NotAllowed):
        actions.sanitise_before_filling(
            by=acting(cellar.owner, now=NOW + timedelta(hours=1)),
            turnaround=turnaround,
            version=cellar.resanitise_version,
        )


def test_one_button_starts_it(cellar: Cellar, client: Client) -> None:
    turnaround = cellar.released(now=clock.now() - timedelta(hours=5))
    client.force_login(cellar.hand)
    address = reverse("release:sanitise", args=[turnaround.pk])
    assert address in client.get(reverse("release:fill", args=[turnaround.pk])).content.decode()
    page = client.get(address)
    assert f"Sanitise {cellar.vessel.name}</button>" in page.content.decode()
    form = page.context["form"]
    answer = client.post(address, {"key": form["key"].value(), "version": form["version"].value()})
    clean = Clean.objects.get(purpose="sanitise")
    assert answer.headers["Location"] == reverse("turnarounds:clean", args=[clean.pk])
    assert clean.version == cellar.resanitise_version
    again = client.get(address).content.decode()
    assert "is not released: cleaning" in again
    assert "</button>" not in again.split("<main")[1].split("</main")[0]
