"""The bounds of a recovery study, what is signed for it, and who retires one."""

from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.atp.recovery.actions import record_study, retire_study
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.refusals import NotAllowed, Refusal
from tests.atp.recovery.test_studies import SANITISER, WATER, recorded
from tests.factories import NOW, PASSWORD, Cellar, acting
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    made = Cellar()
    made.proves_recovery = False
    return made


@pytest.mark.parametrize("count", [3, 50])
@pytest.mark.parametrize("field", ["water_rlu", "sanitiser_rlu"])
def test_three_to_fifty_readings_are_taken(cellar: Cellar, field: str, count: int) -> None:
    readings = [1000 + n for n in range(count)]
    study = recorded(cellar, **{field: readings})
    assert getattr(study, field) == readings


@pytest.mark.parametrize(
    ("count", "code", "words"),
    [
        (2, "too_few", "Enter at least 3 readings."),
        (51, "too_many", "Enter at most 50 readings."),
    ],
)
def test_fewer_or_more_are_not(cellar: Cellar, count: int, code: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        recorded(cellar, sanitiser_rlu=[1000] * count)
    assert (refused.value.field, refused.value.code) == ("sanitiser_rlu", code)
    assert refused.value.message == words


@pytest.mark.parametrize("strength", [0.5, 10_000])
def test_a_strength_from_above_nothing_to_ten_grams_is_taken(
    cellar: Cellar, strength: float
) -> None:
    assert recorded(cellar, strength_mg_l=strength).strength_mg_l == strength


@pytest.mark.parametrize("strength", [0, 10_000.5])
def test_no_other_strength_is(cellar: Cellar, strength: float) -> None:
    with pytest.raises(Refusal) as refused:
        recorded(cellar, strength_mg_l=strength)
    assert refused.value.message == "Enter a strength above 0 and up to 10000 mg/L."


def test_blanks_that_are_not_given_read_nothing(cellar: Cellar) -> None:
    study = recorded(cellar)
    assert (study.water_blank_rlu, study.sanitiser_blank_rlu) == (0, 0)


def test_the_page_says_for_how_many_months_a_study_is_valid(cellar: Cellar) -> None:
    page = signed_in(cellar.brewer).get(reverse("atp:recovery_studies"))
    assert page.context["months"] == 12


def test_it_is_in_the_ledger_once_and_signed(cellar: Cellar) -> None:
    study = recorded(cellar)
    assert study.signature.meaning == f"Recovery study of {study.agent}"
    values = Entry.objects.get(verb="record recovery study").values
    assert (values["water_rlu"], values["sanitiser_rlu"]) == (WATER, SANITISER)


def retired(cellar: Cellar, study: RecoveryStudy, **values: Any) -> RecoveryStudy:
    by = acting(values.pop("user", cellar.brewer))
    return retire_study(by=by, study=study, **{"password": PASSWORD, **values})


def test_who_approves_limits_retires_a_study_under_a_signature(cellar: Cellar) -> None:
    study = recorded(cellar)
    assert retired(cellar, study).retired_at == NOW
    meaning = f"Retired the recovery study of {study.agent}"
    assert Signature.objects.get(meaning=meaning).user == cellar.brewer
    assert Entry.objects.get(verb="retire recovery study").values == {"study": str(study)}


def test_nobody_else_retires_one_nor_without_the_password(cellar: Cellar) -> None:
    study = recorded(cellar)
    with pytest.raises(NotAllowed):
        retired(cellar, study, user=cellar.hand)
    with pytest.raises(Refusal) as refused:
        retired(cellar, study, password="not mine")
    assert refused.value.field == "password"
    study.refresh_from_db()
    assert study.retired_at is None


def test_a_study_sent_twice_by_one_form_is_recorded_once(cellar: Cellar) -> None:
    given: dict[str, Any] = {
        "agent": cellar.version.steps.get(kind="sanitiser").agent,
        "meter": cellar.meter,
        "atp_test": cellar.atp_test,
        "strength_mg_l": 200,
        "water_rlu": WATER,
        "sanitiser_rlu": SANITISER,
        "done_on": NOW.date(),
        "password": PASSWORD,
    }
    first, second = (
        record_study(by=acting(cellar.brewer, key="one-form"), **given) for _ in range(2)
    )
    assert first == second
    assert RecoveryStudy.objects.count() == 1
