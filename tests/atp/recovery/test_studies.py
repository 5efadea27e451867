"""Recovery studies: recorded with a signature, valid for a year, asked for at the release."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.atp.recovery.actions import last_day, record_study, retire_study
from brewhygiene.brewery.models import Brewery
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.gates import Gate, gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.factories import NOW, PASSWORD, Cellar, acting, make_agent, make_atp_test, make_meter

pytestmark = pytest.mark.django_db
WATER = [1040, 985, 1120, 890, 1010, 960]
SANITISER = [1050, 990, 1100, 900, 1000, 955]
DIMMED = [510, 480, 560, 450, 500, 470]


@pytest.fixture
def cellar() -> Cellar:
    made = Cellar()
    made.proves_recovery = False
    return made


def recorded(cellar: Cellar, **values: Any) -> RecoveryStudy:
    agent = cellar.version.steps.get(kind="sanitiser").agent
    return record_study(
        by=acting(values.pop("user", cellar.brewer)),
        **{
            "agent": agent,
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "strength_mg_l": 200,
            "water_rlu": WATER,
            "sanitiser_rlu": SANITISER,
            "done_on": NOW.date(),
            "password": PASSWORD,
            **values,
        },
    )


def test_a_study_keeps_its_readings_and_what_they_show(cellar: Cellar) -> None:
    study = recorded(cellar, water_blank_rlu=1)
    assert (study.water_rlu, study.sanitiser_rlu, study.proved) == (WATER, SANITISER, True)
    assert study.low < study.ratio < study.high
    assert study.valid_until == date(2027, 3, 10)
    assert study.signature.user == cellar.brewer


def test_a_study_that_shows_dimming_is_kept_and_proves_nothing(cellar: Cellar) -> None:
    study = recorded(cellar, sanitiser_rlu=DIMMED)
    assert (study.proved, round(study.ratio, 1)) == (False, 0.5)


@pytest.mark.parametrize(
    ("day", "last"),
    [(date(2026, 3, 10), date(2027, 3, 10)), (date(2028, 2, 29), date(2029, 2, 28))],
)
def test_a_study_is_valid_for_a_year(day: date, last: date) -> None:
    assert last_day(day) == last


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"water_rlu": WATER[:2]}, "water_rlu"),
        ({"sanitiser_rlu": SANITISER[:2]}, "sanitiser_rlu"),
        ({"sanitiser_rlu": [500] * 51}, "sanitiser_rlu"),
        ({"water_rlu": [-1, 5, 6]}, "water_rlu"),
        ({"sanitiser_rlu": [5, 6, 10_000_000]}, "sanitiser_rlu"),
        ({"water_blank_rlu": 890}, "water_rlu"),
        ({"water_blank_rlu": -1}, "water_blank_rlu"),
        ({"sanitiser_blank_rlu": -1}, "sanitiser_blank_rlu"),
        ({"strength_mg_l": 0}, "strength_mg_l"),
        ({"strength_mg_l": 10_001}, "strength_mg_l"),
        ({"done_on": NOW.date() + timedelta(days=1)}, "done_on"),
        ({"password": "not mine"}, "password"),
    ],
    ids=str,
)
def test_what_cannot_be_is_refused_beside_its_field(
    cellar: Cellar, wrong: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        recorded(cellar, **wrong)
    assert refused.value.field == field
    assert not RecoveryStudy.objects.exists()


def test_only_a_sanitiser_is_studied_and_only_by_who_approves_limits(cellar: Cellar) -> None:
    with pytest.raises(Refusal) as refused:
        recorded(cellar, agent=make_agent())
    assert refused.value.field == "agent"
    with pytest.raises(NotAllowed):
        recorded(cellar, user=cellar.hand)


def gate(turnaround: Turnaround) -> Gate:
    dossier = load_dossier(turnaround, now=NOW + timedelta(minutes=40))
    gates = gates_of(dossier, brewery=Brewery.current(), now=NOW + timedelta(minutes=40), user=None)
    return next(gate for gate in gates if gate.code == "recovery")


@pytest.fixture
def sampled(cellar: Cellar) -> Turnaround:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    return turnaround


def test_a_reading_in_the_sanitiser_has_to_be_explained_without_a_study(
    cellar: Cellar, sampled: Turnaround
) -> None:
    agent = cellar.version.steps.get(kind="sanitiser").agent
    assert gate(sampled).answer == "explain"
    (said,) = gate(sampled).evidence
    assert said == (
        f"Point 1: read in {agent.name} (140 mg/L), and no recovery study shows that it does not "
        f"dim {cellar.meter.name} with {cellar.atp_test.name}"
    )
    with pytest.raises(Refusal) as refused:
        cellar.decided(sampled)
    assert refused.value.field == "reason_recovery"
    cellar.decided(sampled, gate_reasons={"recovery": "Plate sent as well"})


@pytest.mark.parametrize(
    ("values", "answer"),
    [
        ({}, "yes"),
        ({"strength_mg_l": 140}, "yes"),
        ({"strength_mg_l": 139.9}, "explain"),
        ({"sanitiser_rlu": DIMMED}, "explain"),
        ({"done_on": NOW.date() - timedelta(days=365)}, "yes"),
        ({"done_on": NOW.date() - timedelta(days=366)}, "explain"),
    ],
    ids=str,
)
def test_a_study_in_force_at_this_strength_answers_the_check(
    cellar: Cellar, sampled: Turnaround, values: dict[str, Any], answer: str
) -> None:
    recorded(cellar, **values)
    assert gate(sampled).answer == answer


def test_a_study_of_another_sanitiser_meter_or_test_says_nothing(
    cellar: Cellar, sampled: Turnaround
) -> None:
    recorded(cellar, agent=cellar.resanitise_version.steps.get(kind="sanitiser").agent)
    recorded(cellar, meter=make_meter())
    recorded(cellar, atp_test=make_atp_test())
    assert gate(sampled).answer == "explain"
    study = recorded(cellar)
    assert gate(sampled).answer == "yes"
    retire_study(by=acting(cellar.brewer), study=study, password=PASSWORD)
    assert gate(sampled).answer == "explain"
    with pytest.raises(Refusal, match="already retired"):
        retire_study(by=acting(cellar.brewer), study=study, password=PASSWORD)


def test_a_strength_that_was_not_read_proves_nothing(cellar: Cellar) -> None:
    cellar.version.steps.get(kind="sanitiser").windows.all().delete()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    recorded(cellar)
    assert gate(turnaround).answer == "explain"
    assert "(strength not read)" in gate(turnaround).evidence[0]


def test_a_study_is_recorded_on_its_page_and_listed(cellar: Cellar, client: Client) -> None:
    client.force_login(cellar.brewer)
    agent = cellar.version.steps.get(kind="sanitiser").agent
    address = reverse("atp:add_recovery_study")
    typed = {
        "agent": agent.pk,
        "strength_mg_l": "200",
        "meter": cellar.meter.pk,
        "atp_test": cellar.atp_test.pk,
        "water_rlu": "1040 985\n1120; 890 1010 960",
        "sanitiser_rlu": "1050 990 twelve",
        "water_blank_rlu": "0",
        "sanitiser_blank_rlu": "0",
        "done_on": f"{clock.today():%Y-%m-%d}",
        "password": PASSWORD,
    }
    refused = client.post(address, typed)
    assert refused.status_code == 422
    assert list(refused.context["form"].errors) == ["sanitiser_rlu"]
    assert refused.context["form"]["water_rlu"].value() == typed["water_rlu"]
    few = client.post(address, {**typed, "sanitiser_rlu": "1050 990"})
    assert few.context["form"].errors == {"sanitiser_rlu": ["Enter at least 3 readings."]}
    answer = client.post(address, {**typed, "sanitiser_rlu": "1050 990 1100 900 1000 955"})
    assert answer.status_code == 302
    study = RecoveryStudy.objects.get()
    assert study.water_rlu == WATER
    page = client.get(reverse("atp:recovery_studies")).content.decode()
    assert "does not dim" in page
    assert reverse("atp:retire_recovery_study", args=[study.pk]) in page
    client.post(reverse("atp:retire_recovery_study", args=[study.pk]), {"password": PASSWORD})
    study.refresh_from_db()
    assert study.retired_at is not None
    client.force_login(cellar.hand)
    assert client.get(address).status_code == 403
    assert "Record study" not in client.get(reverse("atp:recovery_studies")).content.decode()
