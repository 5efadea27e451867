"""The screens of the samples: what is due, one stick read, its verdict, a correction, a label."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.evidence import unguarded
from tests.factories import (
    PASSWORD,
    acting,
    make_atp_test,
    make_limits,
    make_meter,
    make_point,
    make_test_lot,
    make_user,
    make_vessel,
)
from tests.turnarounds.floor import Floor, as_shown, counted, errors, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def turnaround(floor: Floor) -> Turnaround:
    """Cleaned 20 minutes ago, the meter checked today."""
    return cleaned(floor)


def cleaned(floor: Floor, **values: Any) -> Turnaround:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40), **values)
    floor.checked(now=clock.now())
    return turnaround


def url(name: str, *args: Any) -> str:
    return reverse(f"atp:{name}", args=args)


def page_of(turnaround: Turnaround, point: SamplingPoint | None = None) -> str:
    return url("sample", turnaround.pk, (point or turnaround.vessel.points.get(order=0)).pk)


def words(answer: HttpResponse) -> str:
    return " ".join(answer.content.decode().split())


def typed(floor: Floor, **values: Any) -> dict[str, Any]:
    return {
        "meter": floor.meter.pk,
        "test_lot": floor.lot.pk,
        "stage": "after_sanitiser",
        "rinse_end": "sanitiser_left",
        "rlu": "3",
        **values,
    }


# Who may see and do what


def addresses(floor: Floor, turnaround: Turnaround) -> dict[str, str]:
    result = floor.sampled(turnaround, now=clock.now())
    return {
        "samples": url("samples", turnaround.pk),
        "sample": page_of(turnaround),
        "result": url("result", result.pk),
        "correct_result": url("correct_result", result.pk),
    }


def codes(client: Client, at: dict[str, str]) -> dict[str, int]:
    return {name: client.get(address).status_code for name, address in at.items()}


def test_the_cellar_sees_every_screen(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround)
    assert codes(floor.client, at) == dict.fromkeys(at, 200)
    for address in at.values():
        assert floor.client.get(address).content.count(b"<h1") == 1


def test_the_owner_looks_and_enters_nothing(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround)
    client = signed_in(floor.owner)
    assert codes(client, at) == {
        "samples": 200, "sample": 403, "result": 200, "correct_result": 403,
    }  # fmt: skip
    before = counted(Result)
    for name in ("sample", "correct_result"):
        assert client.post(at[name], typed(floor)).status_code == 403
    assert counted(Result) == before
    for name in ("samples", "result"):
        assert page_of(turnaround) not in client.get(at[name]).content.decode()


def test_somebody_without_a_role_enters_nothing(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround)
    client = signed_in(make_user())
    assert [client.get(at[name]).status_code for name in ("sample", "correct_result")] == [403, 403]


def test_nobody_sees_a_screen_without_signing_in(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround) | {"point": url("point", floor.point.code)}
    client = signed_in(None)
    for address in at.values():
        answer = client.get(address)
        assert answer.headers["Location"] == f"{reverse('people:sign_in')}?next={address}"


def test_another_vessels_point_is_not_found(floor: Floor, turnaround: Turnaround) -> None:
    elsewhere = make_point(make_vessel(points=0))
    assert floor.client.get(page_of(turnaround, elsewhere)).status_code == 404
    retired = make_point(turnaround.vessel, active=False)
    assert floor.client.get(page_of(turnaround, retired)).status_code == 404


# What is due


def test_the_next_required_point_is_offered_first(floor: Floor, turnaround: Turnaround) -> None:
    # Before it in the vessel's order, but not asked for.
    SamplingPoint.objects.filter(vessel=turnaround.vessel).update(order=1)
    make_point(turnaround.vessel, name="Blow-off", order=0, required_for_release=False)
    second = make_point(turnaround.vessel, name="Manway", order=2)
    page = floor.client.get(url("samples", turnaround.pk))
    assert page.context["next_due"].name == "Point 1"
    first = turnaround.vessel.points.get(name="Point 1")
    floor.sampled(turnaround, point=first, now=clock.now())
    page = floor.client.get(url("samples", turnaround.pk))
    assert f'<a class="button primary next" href="{page_of(turnaround, second)}">' in words(page)


def test_with_every_required_point_read_it_is_ready_to_decide(
    floor: Floor, turnaround: Turnaround
) -> None:
    floor.sampled(turnaround, now=clock.now())
    assert "is ready to be decided on" in words(floor.client.get(url("samples", turnaround.pk)))
    decide = reverse("release:decide", args=[turnaround.pk])
    assert decide not in words(floor.client.get(url("samples", turnaround.pk)))
    assert decide in words(signed_in(floor.brewer).get(url("samples", turnaround.pk)))


def test_a_vessel_without_points_says_so(floor: Floor) -> None:
    turnaround = cleaned(floor, vessel=make_vessel(points=0))
    page = words(floor.client.get(url("samples", turnaround.pk)))
    assert "has no sampling points yet" in page
    assert "cannot be released" in page


def test_samples_of_a_running_clean_wait(floor: Floor) -> None:
    clean = floor.at_step(1)
    page = words(floor.client.get(url("samples", clean.turnaround_id)))
    assert "The clean is still running. Sample when it has ended." in page
    point = clean.turnaround.vessel.points.get(order=0)
    waiting = floor.client.get(page_of(clean.turnaround, point))
    assert f'href="{reverse("turnarounds:clean", args=[clean.pk])}"' in words(waiting)


# One stick


def test_all_but_the_number_is_chosen_beforehand(floor: Floor, turnaround: Turnaround) -> None:
    page = floor.client.get(page_of(turnaround))
    assert page.context["chosen"] == [
        floor.meter.name,
        f"{floor.atp_test.name} {floor.lot.lot}",
        "after the sanitiser",
        "no-rinse sanitiser drained, not rinsed",
    ]
    answer = floor.client.post(page_of(turnaround), as_shown(page.context["form"], rlu="0"))
    result = Result.objects.get()
    assert answer.headers["Location"] == url("result", result.pk)
    assert (result.rlu, result.verdict, result.suspected_slip) == (0, "clear", False)
    assert clock.now() - result.taken_at < timedelta(minutes=1)


def test_the_rinse_end_is_known_from_the_cleans_own_record(floor: Floor) -> None:
    # The sanitiser of this one has to be rinsed out, to neutral.
    floor.quick.steps.filter(kind="sanitiser").delete()
    floor.quick.steps.update(end_criterion="neutral")
    page = floor.client.get(page_of(cleaned(floor)))
    assert (page.context["form"]["stage"].value(), page.context["form"]["rinse_end"].value()) == (
        "after_rinse",
        "neutral",
    )


def test_the_meter_used_last_is_chosen_among_those_checked_today(
    floor: Floor, turnaround: Turnaround
) -> None:
    other = make_meter()
    # Two checked, none used yet: a choice to make.
    floor.checked(now=clock.now(), meter=other)
    page = floor.client.get(page_of(turnaround))
    assert (page.context["usual_meter"], page.context["chosen"]) == (None, None)
    floor.sampled(turnaround, meter=other, now=clock.now())
    assert floor.client.get(page_of(turnaround)).context["usual_meter"] == other
    # The other one fails a later check of the day.
    with unguarded(ControlCheck):
        ControlCheck.objects.filter(meter=other).update(passed=False)
    assert floor.client.get(page_of(turnaround)).context["usual_meter"] == floor.meter


def test_only_sticks_for_the_points_kind_are_offered_and_late_ones_closed(
    floor: Floor, turnaround: Turnaround
) -> None:
    late = make_test_lot(floor.atp_test, expires_on=clock.today() - timedelta(days=1), lot="OLD")
    make_test_lot(make_atp_test(sample_kind="surface"))
    page = floor.client.get(page_of(turnaround))
    assert list(page.context["lots"]) == [late, floor.lot]
    form = page.context["form"]
    closed = {int(str(o.data["value"])): o.data["attrs"].get("disabled") for o in form["test_lot"]}
    assert closed == {late.pk: True, floor.lot.pk: None}
    assert "OLD, " + floor.atp_test.name + ", past its date" in words(page)


def test_without_a_checked_meter_the_check_is_offered_with_the_way_back(floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    with unguarded(ControlCheck):
        ControlCheck.objects.all().delete()
    here = page_of(turnaround)
    page = words(floor.client.get(here))
    check = url("check", floor.meter.pk)
    assert "No meter has passed its control check today." in page
    assert f'href="{check}?next={here}"' in page
    good = {"blank_rlu": "0", "positive_rlu": "200", "next": here}
    assert floor.client.post(check, good).headers["Location"] == here


@pytest.mark.parametrize(
    "elsewhere",
    ["https://example.org/", "//example.org/", "javascript:alert(1)", "\\\\example.org"],
)
def test_a_check_never_leads_to_another_site(floor: Floor, elsewhere: str) -> None:
    check = url("check", floor.meter.pk)
    assert floor.client.get(check, {"next": elsewhere}).context["next"] == ""
    good = {"blank_rlu": "0", "positive_rlu": "200", "next": elsewhere}
    answer = floor.client.post(check, good)
    made = ControlCheck.objects.get(meter=floor.meter)
    assert answer.headers["Location"] == url("checked", floor.meter.pk, made.pk)


def test_a_failed_check_keeps_the_way_back(floor: Floor, turnaround: Turnaround) -> None:
    here = page_of(turnaround)
    bad = {"blank_rlu": "90", "positive_rlu": "200", "next": here}
    answer = floor.client.post(url("check", floor.meter.pk), bad, follow=True)
    assert f'href="{url("check", floor.meter.pk)}?next={here}"' in words(answer)


def test_reminders_stand_where_the_stick_is_read(floor: Floor, turnaround: Turnaround) -> None:
    """Handling of a stick: common practice, no source."""
    page = words(floor.client.get(page_of(turnaround)))
    assert "Flush the sample valve with a steady stream first" in page
    assert 'data-countdown="15"' in page
    assert "Common practice, no source." in page
    surface = make_point(turnaround.vessel, sample_kind="surface", area_cm2=100)
    assert "Swab 100 cm² (10 × 10 cm)" in words(floor.client.get(page_of(turnaround, surface)))


def test_a_meter_without_limits_is_said_beforehand(floor: Floor, turnaround: Turnaround) -> None:
    assert floor.client.get(page_of(turnaround)).context["without_limits"] is False
    floor.limits.retired_at = clock.now()
    floor.limits.save()
    page = floor.client.get(page_of(turnaround))
    assert page.context["without_limits"] is True
    assert "the reading will be unjudged" in words(page)


BAD_RLU = [
    ("", "Type what the meter shows; 0 counts too."),
    ("low", "“low” is not a whole number. Type digits only, as 12."),
    ("-3", "That is below 0. Counts start at 0."),
    ("2,5", "“2,5” is not a whole number. Type digits only, as 12."),
    ("12345678", "12345678 RLU cannot be. Meters show whole numbers from 0 to 9999999."),
]


@pytest.mark.parametrize(("rlu", "message"), BAD_RLU)
def test_a_reading_that_cannot_be_is_said_beside_it_and_kept(
    floor: Floor, turnaround: Turnaround, rlu: str, message: str
) -> None:
    before = counted(Result)
    sent = typed(floor, rlu=rlu, note="Second stick", key="kept", rinse_end="tap")
    answer = floor.client.post(page_of(turnaround), sent)
    assert answer.status_code == 422
    assert errors(answer) == {"rlu": [message]}
    form = answer.context["form"]
    assert {name: form[name].value() for name in ("rlu", "note", "key", "rinse_end")} == {
        "rlu": rlu, "note": "Second stick", "key": "kept", "rinse_end": "tap",
    }  # fmt: skip
    assert 'id="id_rlu_error"' in answer.content.decode()
    assert counted(Result) == before


def refused(floor: Floor, turnaround: Turnaround, **values: Any) -> dict[str, list[str]]:
    """The messages of a sample, having made sure that it left nothing behind."""
    before = counted(Result)
    answer = floor.client.post(page_of(turnaround), typed(floor, **values))
    assert answer.status_code == 422
    assert answer.context["form"]["rlu"].value() == "3"
    assert counted(Result) == before
    return errors(answer)


def test_a_stick_past_its_date_is_said_beside_it(floor: Floor, turnaround: Turnaround) -> None:
    yesterday = clock.today() - timedelta(days=1)
    late = make_test_lot(floor.atp_test, expires_on=yesterday, lot="OLD")
    assert refused(floor, turnaround, test_lot=late.pk) == {
        "test_lot": [
            f"Lot OLD was good until {yesterday:%d %B %Y}. Take a stick from a lot in date."
        ]
    }


def test_a_stick_of_the_wrong_kind_is_said_beside_it(floor: Floor, turnaround: Turnaround) -> None:
    swab = make_test_lot(make_atp_test(sample_kind="surface", name="Surface stick (invented)"))
    assert refused(floor, turnaround, test_lot=swab.pk) == {
        "test_lot": ["Point 1 takes a rinse stick; Surface stick (invented) is for surface."]
    }


def test_a_meter_without_a_check_today_is_said_beside_it(
    floor: Floor, turnaround: Turnaround
) -> None:
    unchecked = make_meter(name="Meter B")
    today = clock.today()
    assert refused(floor, turnaround, meter=unchecked.pk) == {
        "meter": [f"Meter B has no control check on {today:%d %B}. Check it first."]
    }


def test_a_meter_out_of_use_is_said_beside_it(floor: Floor, turnaround: Turnaround) -> None:
    gone = make_meter(active=False)
    assert refused(floor, turnaround, meter=gone.pk) == {
        "meter": ["That meter is out of use. Choose another."]
    }


def test_a_sample_before_the_clean_ended_is_said_beside_its_time(
    floor: Floor, turnaround: Turnaround
) -> None:
    early = clock.local() - timedelta(minutes=35)
    assert refused(floor, turnaround, taken_at=f"{early:%Y-%m-%dT%H:%M}") == {
        "taken_at": ["That is before the clean ended. A sample counts only after it."]
    }


def test_a_sample_in_the_minute_in_which_the_clean_ended_counts(floor: Floor) -> None:
    turnaround = cleaned(floor)
    clean = turnaround.cleans.get()
    ended = timezone.localtime(clean.finished_at)
    floor.checked(now=clean.finished_at)
    sent = typed(floor, taken_at=f"{ended:%Y-%m-%dT%H:%M}")
    assert floor.client.post(page_of(turnaround), sent).status_code == 302
    assert Result.objects.get().taken_at == clean.finished_at


def test_a_sample_sent_during_a_clean_is_refused(floor: Floor) -> None:
    turnaround = cleaned(floor)
    floor.started(turnaround, now=clock.now())
    assert refused(floor, turnaround) == {
        "taken_at": ["The clean is still running. Sample when it has ended."]
    }


def test_a_sample_after_a_stopped_clean_is_refused(floor: Floor) -> None:
    turnaround = cleaned(floor)
    clean = floor.started(turnaround, now=clock.now())
    turnaround_actions.stop_clean(
        by=acting(floor.hand, now=clock.now()), clean=clean, reason="Pump seal gone"
    )
    name = turnaround.vessel.name
    assert refused(floor, turnaround) == {
        "taken_at": [f"The last clean of {name} was stopped. Clean it first."]
    }


def test_after_the_rinse_there_is_no_sanitiser_left(floor: Floor, turnaround: Turnaround) -> None:
    assert refused(floor, turnaround, stage="after_rinse") == {
        "rinse_end": ["After the last rinse no sanitiser is left in it. Say how the rinse ended."]
    }


@pytest.mark.parametrize(
    ("field", "message"),
    [
        ("meter", "Choose the meter."),
        ("test_lot", "Choose the lot that is on the stick's box."),
        ("stage", "Say whether this was after the rinse or the sanitiser."),
        ("rinse_end", "Say how the rinse ended; residue dims the light."),
    ],
)
def test_what_is_not_chosen_is_said_beside_it(
    floor: Floor, turnaround: Turnaround, field: str, message: str
) -> None:
    answer = floor.client.post(page_of(turnaround), typed(floor, **{field: ""}))
    assert errors(answer) == {field: [message]}
    # What was folded away is open, so that the message is seen.
    assert '<details class="more settled" open>' in answer.content.decode()


def test_a_sample_sent_twice_is_one(floor: Floor, turnaround: Turnaround) -> None:
    answers = [floor.client.post(page_of(turnaround), typed(floor, key="tap")) for _ in range(2)]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert Result.objects.count() == 1


def test_a_second_sample_is_called_a_retest(floor: Floor, turnaround: Turnaround) -> None:
    floor.sampled(turnaround, rlu=140, now=clock.now())
    page = words(floor.client.get(page_of(turnaround)))
    assert "Read already after this clean: 140 RLU, action." in page
    assert "This will be a retest. Both readings stand" in page
    answer = floor.client.post(page_of(turnaround), typed(floor, rlu="0"), follow=True)
    result = words(answer)
    assert "A retest: 140 RLU was read before it. Both stand." in result
    # A clear retest does not undo it.
    assert "Point 1 read 140 RLU, over the action limit. That stands beside this one." in result
    assert f'href="{reverse("turnarounds:regime", args=[turnaround.pk])}"' in result


def test_a_suspected_slip_is_written_beside_the_reading(
    floor: Floor, turnaround: Turnaround
) -> None:
    sent = typed(floor, rlu="45", suspected_slip="on", note="Touched the rim")
    page = words(floor.client.post(page_of(turnaround), sent, follow=True))
    result = Result.objects.get()
    assert (result.verdict, result.suspected_slip, result.note) == (
        "action", True, "Touched the rim",
    )  # fmt: skip
    assert "suspected; the reading stands" in page


# The verdict


@pytest.mark.parametrize(
    ("rlu", "verdict", "says"),
    [
        (10, "clear", "Clean here."),
        (11, "alert", "Carry on. Tell the head brewer: the release asks for an explanation"),
        (31, "action", "Do not sample again in the hope of a better number"),
    ],
)
def test_a_verdict_says_whose_limits_and_what_to_do(
    floor: Floor, turnaround: Turnaround, rlu: int, verdict: str, says: str
) -> None:
    result = floor.sampled(turnaround, rlu=rlu, now=clock.now())
    page = words(floor.client.get(url("result", result.pk)))
    assert f'class="result result-{verdict}"' in page
    assert "Alert above 10, action above 30 RLU." in page
    assert f"Limits of {floor.meter.name} with {floor.atp_test.name}" in page
    assert "approved by Mara Oduya" in page
    assert says in page


def test_a_point_with_limits_of_its_own_says_so(floor: Floor, turnaround: Turnaround) -> None:
    make_limits(
        by=floor.brewer, meter=floor.meter, atp_test=floor.atp_test, point=floor.point,
        alert_rlu=2, action_rlu=4, now=clock.now(),
    )  # fmt: skip
    result = floor.sampled(turnaround, rlu=3, now=clock.now())
    assert "for Point 1; approved by" in words(floor.client.get(url("result", result.pk)))


def test_an_unjudged_reading_says_why_and_who_has_to_act(
    floor: Floor, turnaround: Turnaround
) -> None:
    other = make_meter(name="Meter B")
    floor.checked(now=clock.now(), meter=other)
    result = floor.sampled(turnaround, meter=other, now=clock.now())
    page = words(floor.client.get(url("result", result.pk)))
    assert f"No approved limits for Meter B with {floor.atp_test.name}." in page
    assert "have to be approved by the head brewer" in page
    brewers = words(signed_in(floor.brewer).get(url("result", result.pk)))
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
    page = words(floor.client.get(url("result", first.pk)))
    assert "What to do" not in page


# Corrections


def test_a_mistyped_reading_is_put_right_and_both_stay(
    floor: Floor, turnaround: Turnaround
) -> None:
    first = floor.sampled(turnaround, rlu=20, now=clock.now())
    correct = url("correct_result", first.pk)
    before = counted(Result)
    refusal = floor.client.post(correct, {"rlu": "2", "reason": ""})
    assert errors(refusal) == {"reason": ["Say why."]}
    assert refusal.context["form"]["rlu"].value() == "2"
    assert counted(Result) == before
    answer = floor.client.post(correct, {"rlu": "2", "reason": "A nought too many"})
    second = Result.objects.latest("pk")
    assert answer.headers["Location"] == url("result", second.pk)
    assert "Set right since:" in words(floor.client.get(url("result", first.pk)))
    assert "A nought too many" in words(floor.client.get(url("result", second.pk)))
    again = floor.client.post(correct, {"rlu": "3", "reason": "Again"})
    assert errors(again) == {"__all__": ["That reading was corrected already."]}


def test_a_reading_over_the_action_limit_is_not_corrected_by_the_cellar(
    floor: Floor, turnaround: Turnaround
) -> None:
    over = floor.sampled(turnaround, rlu=200, now=clock.now())
    correct = url("correct_result", over.pk)
    assert correct not in words(floor.client.get(url("result", over.pk)))
    page = words(floor.client.get(correct))
    assert "put right by the head brewer, with a signature" in page
    assert 'name="rlu"' not in page
    before = counted(Result)
    answer = floor.client.post(correct, {"rlu": "2", "reason": "Mistyped"})
    assert errors(answer) == {
        "rlu": ["A reading over the action limit is corrected only by the head brewer."]
    }
    assert counted(Result) == before


def test_a_reading_over_the_action_limit_is_corrected_under_a_signature(
    floor: Floor, turnaround: Turnaround
) -> None:
    over = floor.sampled(turnaround, rlu=200, now=clock.now())
    correct = url("correct_result", over.pk)
    client = signed_in(floor.brewer)
    before = counted(Result)
    unsigned = client.post(correct, {"rlu": "20", "reason": "Mistyped"})
    assert errors(unsigned) == {"password": ["Type your password to sign."]}
    wrong = client.post(correct, {"rlu": "20", "reason": "Mistyped", "password": "guess"})
    assert errors(wrong) == {"password": ["That is not your password. Nothing was signed."]}
    assert wrong.context["form"]["rlu"].value() == "20"
    assert "guess" not in wrong.content.decode()
    assert counted(Result) == before
    client.post(correct, {"rlu": "20", "reason": "Mistyped", "password": PASSWORD})
    corrected = Result.objects.latest("pk")
    assert (corrected.verdict, corrected.correction_signature.printed_name) == (
        "alert",
        "Mara Oduya",
    )


# The label at the tank


def test_a_label_leads_to_the_sample_that_is_due(floor: Floor, turnaround: Turnaround) -> None:
    for code in (floor.point.code, floor.point.code.lower()):
        answer = floor.client.get(url("point", code))
        assert answer.headers["Location"] == page_of(turnaround)
    owners = signed_in(floor.owner).get(url("point", floor.point.code))
    assert owners.headers["Location"] == url("samples", turnaround.pk)


def test_a_label_of_a_vessel_in_use_says_so(floor: Floor) -> None:
    then = clock.now() - timedelta(days=2)
    fill = floor.filled(floor.released(now=then), now=then + timedelta(minutes=50))
    page = words(floor.client.get(url("point", floor.point.code)))
    assert f"is in use: {floor.pale.name}, batch {fill.batch}." in page
    assert f'href="{reverse("turnarounds:empty", args=[floor.vessel.pk])}"' in page


def test_a_label_of_a_vessel_not_cleaned_leads_to_its_regime(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    page = words(floor.client.get(url("point", floor.point.code)))
    assert "has not been cleaned since it was emptied." in page
    assert f'href="{reverse("turnarounds:regime", args=[turnaround.pk])}"' in page


def test_a_label_during_a_clean_leads_to_it(floor: Floor) -> None:
    clean = floor.at_step(1)
    page = words(floor.client.get(url("point", floor.point.code)))
    assert "The clean is still running." in page
    assert f'href="{reverse("turnarounds:clean", args=[clean.pk])}"' in page


def test_a_label_that_belongs_to_nothing_is_not_found(floor: Floor) -> None:
    answer = floor.client.get(url("point", "NOSUCH"))
    assert answer.status_code == 404
    assert "No sampling point has this label." in words(answer)


def test_a_label_of_a_retired_point_says_so(floor: Floor, turnaround: Turnaround) -> None:
    gone = make_point(turnaround.vessel, name="Old arm", active=False)
    assert "Old arm is not sampled any more." in words(floor.client.get(url("point", gone.code)))


# Queries


def test_five_points_cost_as_much_as_one(
    floor: Floor, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    floor.sampled(turnaround, now=clock.now())
    with django_assert_num_queries(10):
        floor.client.get(url("samples", turnaround.pk))
    for order in range(1, 5):
        point = make_point(turnaround.vessel, order=order)
        floor.sampled(turnaround, point=point, now=clock.now())
    with django_assert_num_queries(10):
        floor.client.get(url("samples", turnaround.pk))


def test_many_meters_and_lots_cost_as_much_as_one(
    floor: Floor, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    floor.sampled(turnaround, now=clock.now())
    with django_assert_num_queries(17):
        floor.client.get(page_of(turnaround))
    for _ in range(3):
        floor.checked(now=clock.now(), meter=make_meter())
        make_test_lot(floor.atp_test)
    with django_assert_num_queries(17):
        floor.client.get(page_of(turnaround))
    assert (Meter.objects.count(), AtpTestLot.objects.count()) == (4, 4)


def test_recording_a_reading_asks_for_no_more_than_it_needs(
    floor: Floor, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    """Twenty tablets do it at once: what only a page would show is not asked for."""
    make_limits(by=floor.brewer, meter=floor.meter, atp_test=floor.atp_test)
    # PostgreSQL asks for the ledger's lock by a query of its own.
    most = 26 if connection.vendor == "postgresql" else 25
    for made in (1, 2):
        with django_assert_num_queries(most):
            answer = floor.client.post(page_of(turnaround), typed(floor, key=f"tap {made}"))
        assert answer.status_code == 302
        for _ in range(2):
            floor.checked(now=clock.now(), meter=make_meter())
            make_test_lot(floor.atp_test)
