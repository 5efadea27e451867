"""The screen on which a reading is recorded."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.models.meters import ControlCheck
from brewhygiene.atp.models.readings import Result
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.atp.readings.scenes import cleaned, page_of, typed, url, words
from tests.evidence import unguarded
from tests.factories import (
    acting,
    make_atp_test,
    make_limits,
    make_meter,
    make_point,
    make_test_lot,
)
from tests.turnarounds.floor import Floor, as_shown, counted, errors

pytestmark = pytest.mark.django_db


# One reading


def test_all_but_the_number_is_chosen_beforehand(floor: Floor, turnaround: Turnaround) -> None:
    page = floor.client.get(page_of(turnaround))
    assert page.context["chosen"] == [
        floor.meter.name,
        f"{floor.atp_test.name} {floor.lot.lot}",
        "no-rinse sanitiser drained, not rinsed",
    ]
    answer = floor.client.post(page_of(turnaround), as_shown(page.context["form"], rlu="0"))
    result = Result.objects.get()
    assert answer.headers["Location"] == url("reading", result.pk)
    assert (result.rlu, result.verdict, result.suspected_slip) == (0, "clear", False)
    assert clock.now() - result.taken_at < timedelta(minutes=1)


def test_the_rinse_end_is_known_from_the_cleans_own_record(floor: Floor) -> None:
    # The sanitiser of this one has to be rinsed out, to neutral.
    floor.quick.steps.filter(kind="sanitiser").delete()
    floor.quick.steps.update(end_criterion="neutral")
    page = floor.client.get(page_of(cleaned(floor)))
    assert page.context["form"]["rinse_end"].value() == "neutral"
    assert page.context["due"].moment == "rinse_proved"


def test_the_meter_used_last_is_chosen_among_those_checked_today(
    floor: Floor, turnaround: Turnaround
) -> None:
    other = make_meter()
    make_limits(by=floor.brewer, meter=other, atp_test=floor.atp_test)
    # Two checked, both with limits, none used yet: a choice to make.
    floor.checked(now=clock.now(), meter=other)
    page = floor.client.get(page_of(turnaround))
    assert (page.context["usual_meter"], page.context["chosen"]) == (None, None)
    floor.sampled(turnaround, meter=other, now=clock.now())
    assert floor.client.get(page_of(turnaround)).context["usual_meter"] == other
    # The other one fails a later check of the day.
    with unguarded(ControlCheck):
        ControlCheck.objects.filter(meter=other).update(passed=False)
    assert floor.client.get(page_of(turnaround)).context["usual_meter"] == floor.meter


def test_only_lots_for_the_points_kind_are_offered_and_late_ones_closed(
    floor: Floor, turnaround: Turnaround
) -> None:
    late = make_test_lot(floor.atp_test, expires_on=clock.today() - timedelta(days=1), lot="OLD")
    make_test_lot(make_atp_test(sample_kind="surface"))
    page = floor.client.get(page_of(turnaround))
    assert list(page.context["lots"]) == [late, floor.lot]
    form = page.context["form"]
    closed = {int(str(o.data["value"])): o.data["attrs"].get("disabled") for o in form["test_lot"]}
    assert closed == {late.pk: True, floor.lot.pk: None}
    assert "OLD, " + floor.atp_test.name + ", out of date since" in words(page)


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


def test_handling_stands_where_the_reading_is_entered(floor: Floor, turnaround: Turnaround) -> None:
    """Handling of an ATP test: common practice, no source."""
    page = words(floor.client.get(page_of(turnaround)))
    assert "Flush the sample valve with a steady stream, then dip" in page
    assert 'data-countdown="15"' in page
    assert "Common practice, no source." in page
    surface = make_point(turnaround.vessel, sample_kind="surface", area_cm2=100)
    assert "Swab 100 cm² (10 × 10 cm) in both directions" in words(
        floor.client.get(page_of(turnaround, surface))
    )


def test_a_meter_without_limits_is_said_beforehand(floor: Floor, turnaround: Turnaround) -> None:
    assert floor.client.get(page_of(turnaround)).context["without_limits"] is False
    floor.limits.retired_at = clock.now()
    floor.limits.save()
    page = floor.client.get(page_of(turnaround))
    assert page.context["without_limits"] is True
    assert "The reading will be unjudged and block the release." in words(page)


BAD_RLU = [
    ("", "Enter the number on the meter, e.g. 0."),
    ("low", "“low” is not a whole number. Enter digits only, e.g. 12."),
    ("-3", "A count cannot be below 0. Enter 0 or more."),
    ("2,5", "“2,5” is not a whole number. Enter digits only, e.g. 12."),
    ("12345678", "12345678 RLU is not possible. Enter a whole number from 0 to 9999999."),
]


@pytest.mark.parametrize(("rlu", "message"), BAD_RLU)
def test_a_reading_that_cannot_be_is_said_beside_it_and_kept(
    floor: Floor, turnaround: Turnaround, rlu: str, message: str
) -> None:
    before = counted(Result)
    sent = typed(floor, rlu=rlu, note="Second swab", key="kept", rinse_end="tap")
    answer = floor.client.post(page_of(turnaround), sent)
    assert answer.status_code == 422
    assert errors(answer) == {"rlu": [message]}
    form = answer.context["form"]
    assert {name: form[name].value() for name in ("rlu", "note", "key", "rinse_end")} == {
        "rlu": rlu, "note": "Second swab", "key": "kept", "rinse_end": "tap",
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


def test_a_lot_out_of_date_is_said_beside_it(floor: Floor, turnaround: Turnaround) -> None:
    yesterday = clock.today() - timedelta(days=1)
    late = make_test_lot(floor.atp_test, expires_on=yesterday, lot="OLD")
    assert refused(floor, turnaround, test_lot=late.pk) == {
        "test_lot": [
            (
                f"Lot OLD is out of date. Its last day was {yesterday.day} {yesterday:%B %Y}. "
                "Choose a lot in date."
            )
        ]
    }


def test_a_test_of_the_wrong_kind_is_said_beside_it(floor: Floor, turnaround: Turnaround) -> None:
    swab = make_test_lot(make_atp_test(sample_kind="surface", name="Surface swab (invented)"))
    assert refused(floor, turnaround, test_lot=swab.pk) == {
        "test_lot": [
            (
                "Point 1 takes a rinse sampler. Surface swab (invented) is a swab. "
                "Choose a lot of rinse samplers."
            )
        ]
    }


def test_a_meter_without_a_check_today_is_said_beside_it(
    floor: Floor, turnaround: Turnaround
) -> None:
    unchecked = make_meter(name="Meter B")
    today = clock.today()
    assert refused(floor, turnaround, meter=unchecked.pk) == {
        "meter": [
            (
                f"Meter B has no control check on {today.day} {today:%B %Y}. "
                "Record its control check first."
            )
        ]
    }


def test_a_meter_out_of_use_is_said_beside_it(floor: Floor, turnaround: Turnaround) -> None:
    gone = make_meter(active=False)
    assert refused(floor, turnaround, meter=gone.pk) == {
        "meter": ["This meter is retired. Choose another meter."]
    }


def test_a_sample_before_the_clean_ended_is_said_beside_its_time(
    floor: Floor, turnaround: Turnaround
) -> None:
    early = clock.local() - timedelta(minutes=35)
    assert refused(floor, turnaround, taken_at=f"{early:%Y-%m-%dT%H:%M}") == {
        "taken_at": ["Enter a time after the clean ended. Earlier samples do not count."]
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
        "taken_at": ["The clean is still running. Take samples when it has ended."]
    }


def test_a_sample_after_a_stopped_clean_is_refused(floor: Floor) -> None:
    turnaround = cleaned(floor)
    clean = floor.started(turnaround, now=clock.now())
    turnaround_actions.stop_clean(
        by=acting(floor.hand, now=clock.now()), clean=clean, reason="Pump seal gone"
    )
    name = turnaround.vessel.name
    assert refused(floor, turnaround) == {
        "taken_at": [f"The last clean of {name} was stopped. Clean it again first."]
    }


def test_after_the_rinse_there_is_no_sanitiser_left(floor: Floor) -> None:
    floor.quick.steps.filter(kind="sanitiser").delete()
    assert refused(floor, cleaned(floor)) == {
        "rinse_end": [
            "By the steps of this clean no sanitiser is left now. Choose how the rinse ended."
        ]
    }


@pytest.mark.parametrize(
    ("field", "message"),
    [
        ("meter", "Choose a meter."),
        ("test_lot", "Choose the lot printed on the box."),
        ("rinse_end", "Choose how the rinse ended. Residue makes readings too low."),
    ],
)
def test_what_is_not_chosen_is_said_beside_it(
    floor: Floor, turnaround: Turnaround, field: str, message: str
) -> None:
    answer = floor.client.post(page_of(turnaround), typed(floor, **{field: ""}))
    assert errors(answer) == {field: [message]}
    # What was folded away is open, so that the message is seen.
    assert '<details class="disclosure kit" open>' in answer.content.decode()


def test_a_sample_sent_twice_is_one(floor: Floor, turnaround: Turnaround) -> None:
    answers = [floor.client.post(page_of(turnaround), typed(floor, key="tap")) for _ in range(2)]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert Result.objects.count() == 1


def test_a_second_sample_is_called_a_retest(floor: Floor, turnaround: Turnaround) -> None:
    floor.sampled(turnaround, rlu=140, now=clock.now())
    page = words(floor.client.get(page_of(turnaround)))
    assert "Already read after this clean: 140 RLU, action." in page
    assert "This is a retest, and both readings count." in page
    answer = floor.client.post(page_of(turnaround), typed(floor, rlu="0"), follow=True)
    result = words(answer)
    assert "140 RLU was read before. Both readings count." in result
    # A clear retest does not undo it.
    assert "Point 1 read 140 RLU, over the action limit.</strong> A later clear reading" in result
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
    assert "Marked when recorded. The reading counts." in page
