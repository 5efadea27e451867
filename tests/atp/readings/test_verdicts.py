"""The verdict of a reading, and its correction."""

from datetime import timedelta

import pytest

from brewhygiene.atp.models.readings import Result
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.atp.readings.scenes import url, words
from tests.factories import (
    PASSWORD,
    make_limits,
    make_meter,
)
from tests.turnarounds.floor import Floor, counted, errors, signed_in

pytestmark = pytest.mark.django_db


# The verdict


@pytest.mark.parametrize(
    ("rlu", "verdict", "says"),
    [
        (10, "clear", "is ready for the decision."),
        (11, "alert", "tell the head brewer. The release needs an explanation of this alert."),
        (31, "action", "Do not repeat the sample: both readings would count."),
    ],
)
def test_a_verdict_says_whose_limits_and_what_to_do(
    floor: Floor, turnaround: Turnaround, rlu: int, verdict: str, says: str
) -> None:
    result = floor.sampled(turnaround, rlu=rlu, now=clock.now())
    page = words(floor.client.get(url("reading", result.pk)))
    assert f'class="verdict verdict-{verdict}"' in page
    assert "Alert above 10, action above 30 RLU." in page
    assert f"Limits of {floor.meter.name} with {floor.atp_test.name}" in page
    assert "Approved by Mara Oduya." in page
    assert says in page


def test_a_point_with_limits_of_its_own_says_so(floor: Floor, turnaround: Turnaround) -> None:
    make_limits(
        by=floor.brewer, meter=floor.meter, atp_test=floor.atp_test, point=floor.point,
        alert_rlu=2, action_rlu=4, now=clock.now(),
    )  # fmt: skip
    result = floor.sampled(turnaround, rlu=3, now=clock.now())
    assert "for Point 1. Approved by" in words(floor.client.get(url("reading", result.pk)))


def test_an_unjudged_reading_says_why_and_who_has_to_act(
    floor: Floor, turnaround: Turnaround
) -> None:
    other = make_meter(name="Meter B")
    floor.checked(now=clock.now(), meter=other)
    result = floor.sampled(turnaround, meter=other, now=clock.now())
    page = words(floor.client.get(url("reading", result.pk)))
    assert (
        f"Meter B has no approved limits with {floor.atp_test.name}, taken in the sanitiser."
        in page
    )
    assert "The head brewer must approve limits for the meter and the ATP test." in page
    brewers = words(signed_in(floor.brewer).get(url("reading", result.pk)))
    assert f'href="{url("setup_limits")}"' in brewers


def test_a_result_of_an_earlier_clean_says_nothing_of_what_is_next(
    floor: Floor, turnaround: Turnaround
) -> None:
    then = clock.now() - timedelta(minutes=15)
    floor.checked(now=then)
    first = floor.sampled(turnaround, rlu=200, now=then)
    floor.version = floor.quick
    floor.run(
        floor.started(turnaround, now=clock.now() - timedelta(minutes=14)),
        now=clock.now() - timedelta(minutes=14),
    )
    page = words(floor.client.get(url("reading", first.pk)))
    assert 'id="next"' not in page


# Corrections


def test_a_mistyped_reading_is_put_right_and_both_stay(
    floor: Floor, turnaround: Turnaround
) -> None:
    first = floor.sampled(turnaround, rlu=20, now=clock.now())
    correct = url("correct_reading", first.pk)
    before = counted(Result)
    refusal = floor.client.post(correct, {"rlu": "2", "reason": ""})
    assert errors(refusal) == {"reason": ["Enter a reason."]}
    assert refusal.context["form"]["rlu"].value() == "2"
    assert counted(Result) == before
    answer = floor.client.post(correct, {"rlu": "2", "reason": "A nought too many"})
    second = Result.objects.latest("pk")
    assert answer.headers["Location"] == url("reading", second.pk)
    assert "Corrected to <a" in words(floor.client.get(url("reading", first.pk)))
    assert "A nought too many" in words(floor.client.get(url("reading", second.pk)))
    again = floor.client.post(correct, {"rlu": "3", "reason": "Again"})
    assert errors(again) == {
        "__all__": ["This reading is already corrected. Correct the newer one instead."]
    }


def test_a_reading_over_the_action_limit_is_not_corrected_by_the_cellar(
    floor: Floor, turnaround: Turnaround
) -> None:
    over = floor.sampled(turnaround, rlu=200, now=clock.now())
    correct = url("correct_reading", over.pk)
    assert correct not in words(floor.client.get(url("reading", over.pk)))
    page = words(floor.client.get(correct))
    assert "Only the head brewer can correct it, with a signature." in page
    assert 'name="rlu"' not in page
    before = counted(Result)
    answer = floor.client.post(correct, {"rlu": "2", "reason": "Mistyped"})
    assert errors(answer) == {
        "rlu": [
            (
                "Only the head brewer can correct a reading over the action limit. "
                "Ask the head brewer to correct it."
            )
        ]
    }
    assert counted(Result) == before


def test_a_reading_over_the_action_limit_is_corrected_under_a_signature(
    floor: Floor, turnaround: Turnaround
) -> None:
    over = floor.sampled(turnaround, rlu=200, now=clock.now())
    correct = url("correct_reading", over.pk)
    client = signed_in(floor.brewer)
    before = counted(Result)
    unsigned = client.post(correct, {"rlu": "20", "reason": "Mistyped"})
    assert errors(unsigned) == {"password": ["Enter your password to sign."]}
    wrong = client.post(correct, {"rlu": "20", "reason": "Mistyped", "password": "guess"})
    assert errors(wrong) == {"password": ["This is not your password. Nothing was signed."]}
    assert wrong.context["form"]["rlu"].value() == "20"
    assert "guess" not in wrong.content.decode()
    assert counted(Result) == before
    client.post(correct, {"rlu": "20", "reason": "Mistyped", "password": PASSWORD})
    corrected = Result.objects.latest("pk")
    assert (corrected.verdict, corrected.correction_signature.printed_name) == (
        "alert",
        "Mara Oduya",
    )
