"""The end of a step, its deviations, steps left out and readings corrected."""

from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.turnarounds.models import (
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests import clock
from tests.turnarounds.floor import Floor, counted, errors
from tests.turnarounds.steps.sending import at, dispose, end, read_all, url, words

pytestmark = pytest.mark.django_db

# The end


def test_what_is_unread_is_said_before_the_end(floor: Floor, running: StepRecord) -> None:
    floor.read(running, "temperature_c", 75)
    text = words(floor.client.get(url("end_step", running)))
    assert "Not read yet: Strength, Flow." in text
    assert "The contact time has not reached the minimum." in text


def test_a_step_without_a_deviation_leads_to_the_next(floor: Floor) -> None:
    record = floor.running_caustic(minutes_ago=25)
    read_all(floor, record)
    answer = end(floor, record, agent_lot="C-77", note="Foamed a little")
    assert answer.headers["Location"] == url("step", None, *at(record.clean, 3))
    record.refresh_from_db()
    assert (record.agent_lot, record.note) == ("C-77", "Foamed a little")
    assert Deviation.objects.count() == 0


def test_the_last_step_leads_to_the_end_of_the_clean(floor: Floor) -> None:
    clean = floor.at_step(4, minutes_ago=120)
    record = floor.running_step(clean, 4, now=clock.now() - timedelta(minutes=10))
    floor.read(record, "concentration", 150, basis="mg_l")
    answer = end(floor, record)
    assert answer.headers["Location"] == reverse("turnarounds:finish", args=[clean.pk])


def test_a_step_with_a_deviation_stays_until_it_is_decided(
    floor: Floor, running: StepRecord
) -> None:
    read_all(floor, running)
    answer = end(floor, running)
    assert answer.headers["Location"] == url("step", running)
    page = floor.client.get(url("step", running))
    assert (
        page.context["deviation"].description
        == "Contact time in window 10 min: below 20 min (timer 10 min)"
    )
    assert "Too short. Extend the step by the missing time." in words(page)


def test_the_end_that_a_step_runs_to_has_to_be_said(floor: Floor) -> None:
    clean = floor.at_step(1)
    record = floor.running_step(clean, 1, now=clock.now() - timedelta(minutes=5))
    before = counted(StepRecord, Deviation)
    answer = end(floor, record, note="Kept")
    assert answer.status_code == 422
    assert errors(answer) == {
        "end_criterion_met": ["Choose whether the end was reached: runs clear."]
    }
    assert answer.context["form"]["note"].value() == "Kept"
    record.refresh_from_db()
    assert record.ended_at is None
    assert counted(StepRecord, Deviation) == before
    end(floor, record, end_criterion_met="no")
    assert [d.description for d in Deviation.objects.all()] == ["End not reached: runs clear"]


def test_no_minutes_can_be_typed_for_a_step_that_the_timer_ran(
    floor: Floor, running: StepRecord
) -> None:
    """Ten minutes are ten minutes, whatever is sent with the end."""
    read_all(floor, running)
    end(floor, running, minutes="25")
    reading = StepReading.objects.get(quantity="time_min")
    assert (reading.value, reading.source, reading.verdict) == (10, "server_timer", "below")
    assert (
        Deviation.objects.get().description
        == "Contact time in window 10 min: below 20 min (timer 10 min)"
    )


def test_the_agents_last_lot_is_filled_in(floor: Floor, running: StepRecord) -> None:
    assert floor.client.get(url("end_step", running)).context["form"]["agent_lot"].value() == ""
    read_all(floor, running)
    end(floor, running, agent_lot="C-77")
    dispose(floor, Deviation.objects.get(), "accept", "Known")
    floor.client.post(
        reverse("turnarounds:stop", args=[running.clean_id]), {"reason": "To try again"}
    )
    clean = floor.started(running.clean.turnaround, now=clock.now())
    floor.run_step(clean, 1, now=clock.now())
    again = floor.running_step(clean, 2, now=clock.now())
    page = floor.client.get(url("end_step", again))
    assert page.context["form"]["agent_lot"].value() == "C-77"


def test_an_end_sent_twice_by_one_form_is_one(floor: Floor, running: StepRecord) -> None:
    read_all(floor, running)
    codes = [end(floor, running, key="tap").status_code for _ in range(2)]
    assert codes == [302, 302]
    assert StepReading.objects.filter(quantity="time_min").count() == 1


# Deviations


@pytest.fixture
def too_short(floor: Floor, running: StepRecord) -> Deviation:
    """Caustic ended after 10 of at least 20 minutes."""
    read_all(floor, running)
    end(floor, running)
    return Deviation.objects.get()


def test_a_deviation_offers_four_ways(floor: Floor, too_short: Deviation) -> None:
    form = floor.client.get(url("step", too_short.record)).context["dispose_form"]
    assert [option[0] for option in form.options()] == ["repeat", "extend", "accept", "stop"]


@pytest.mark.parametrize("disposition", ["accept", "stop"])
def test_accepting_or_stopping_without_a_reason_is_said_and_the_choice_is_kept(
    floor: Floor, too_short: Deviation, disposition: str
) -> None:
    before = counted(Deviation)
    answer = dispose(floor, too_short, disposition)
    assert answer.status_code == 422
    assert errors(answer, "dispose_form") == {"reason": ["Enter a reason."]}
    assert [o[0] for o in answer.context["dispose_form"].options() if o[3]] == [disposition]
    too_short.refresh_from_db()
    assert too_short.disposition == ""
    assert counted(Deviation) == before


@pytest.mark.parametrize("disposition", ["", "ignore"])
def test_a_decision_that_is_none_is_said(
    floor: Floor, too_short: Deviation, disposition: str
) -> None:
    answer = dispose(floor, too_short, disposition, "I typed this")
    assert errors(answer, "dispose_form") == {"disposition": ["Choose a decision."]}
    assert answer.context["dispose_form"]["reason"].value() == "I typed this"


def test_an_accepted_deviation_leads_on(floor: Floor, too_short: Deviation) -> None:
    answer = dispose(floor, too_short, "accept", "The clock was knocked")
    assert answer.headers["Location"] == url("step", None, *at(too_short.record.clean, 3))


def test_a_repeated_step_is_started_again(floor: Floor, too_short: Deviation) -> None:
    answer = dispose(floor, too_short, "repeat")
    assert answer.headers["Location"] == url("step", too_short.record)
    page = floor.client.get(url("step", too_short.record))
    # The checks were ticked for this step of this clean already.
    assert ">Repeat step</button>" in words(page)


def test_an_extended_step_counts_on_from_what_ran(floor: Floor, too_short: Deviation) -> None:
    dispose(floor, too_short, "extend")
    page = floor.client.get(url("step", too_short.record))
    assert ">Continue step</button>" in words(page)
    floor.client.post(url("start_step", too_short.record))
    screen = floor.client.get(url("step", too_short.record)).context["screen"]
    assert screen.clock.before_s == pytest.approx(600, abs=30)
    # What was read before the extension counts.
    assert screen.unread == []


def test_a_stopped_clean_leads_back_to_the_vessel(floor: Floor, too_short: Deviation) -> None:
    clean = too_short.record.clean
    answer = dispose(floor, too_short, "stop", "Pump seal gone")
    assert answer.headers["Location"] == reverse("board:turnaround", args=[clean.turnaround_id])
    clean.refresh_from_db()
    assert clean.stop_reason == (
        "Contact time in window 10 min: below 20 min (timer 10 min). Pump seal gone"
    )


def test_repeating_settles_all_that_is_open_on_the_attempt(
    floor: Floor, running: StepRecord
) -> None:
    end(floor, running)
    found = list(Deviation.objects.order_by("pk"))
    assert len(found) == 4
    dispose(floor, found[0], "repeat")
    assert set(Deviation.objects.values_list("disposition", flat=True)) == {"repeat"}


def test_accepting_settles_one_after_the_other(floor: Floor, running: StepRecord) -> None:
    end(floor, running)
    for left in (3, 2, 1):
        dispose(floor, Deviation.objects.filter(disposition="").first(), "accept", "Known")
        assert floor.client.get(url("step", running)).context["screen"].undecided != []
        assert Deviation.objects.filter(disposition="").count() == left
    dispose(floor, Deviation.objects.get(disposition=""), "accept", "Known")
    assert floor.client.get(url("step", running)).context["screen"].state == "done"


def test_a_weak_solution_put_right_keeps_the_step_running(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "concentration", 1.2, basis="ww")
    deviation = Deviation.objects.get()
    page = words(floor.client.get(reverse("turnarounds:dispose", args=[deviation.pk])))
    assert "Correct it and continue" in page
    assert 'role="timer"' in page
    answer = dispose(floor, deviation, "extend")
    assert answer.headers["Location"] == url("step", running)
    screen = floor.client.get(url("step", running)).context["screen"]
    assert (screen.state, screen.undecided) == ("running", [])


def test_a_deviation_decided_already_names_who_did(floor: Floor, too_short: Deviation) -> None:
    dispose(floor, too_short, "repeat")
    answer = dispose(floor, too_short, "accept", "Too late")
    assert errors(answer, "dispose_form") == {
        "__all__": ["Jonas Feld already decided: repeat the step."]
    }


# Leaving out, correcting


def test_a_step_is_left_out_with_its_reason_and_then_decided_on(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    before = counted(StepRecord, Deviation)
    refused = floor.client.post(url("leave_out", None, *step), {"reason": ""})
    assert (refused.status_code, errors(refused)) == (422, {"reason": ["Enter a reason."]})
    assert counted(StepRecord, Deviation) == before
    answer = floor.client.post(url("leave_out", None, *step), {"reason": "No caustic left"})
    assert answer.headers["Location"] == url("step", None, *step)
    form = floor.client.get(url("step", None, *step)).context["dispose_form"]
    assert [option[:2] for option in form.options()] == [
        ("repeat", "Do the step"),
        ("accept", "Leave out the step"),
        ("stop", "Stop the clean"),
    ]


def test_a_mistyped_reading_is_put_right_and_both_stay(floor: Floor, running: StepRecord) -> None:
    first = floor.read(running, "temperature_c", 7.5)
    correct = reverse("turnarounds:correct_reading", args=[first.pk])
    before = counted(StepReading)
    refused = floor.client.post(correct, {"value": "75", "reason": ""})
    assert errors(refused) == {"reason": ["Enter a reason."]}
    assert refused.context["form"]["value"].value() == "75"
    absurd = floor.client.post(correct, {"value": "750", "reason": "Point"})
    assert errors(absurd) == {"value": ["750 °C is not possible. Enter -10 °C to 150 °C."]}
    assert counted(StepReading) == before
    answer = floor.client.post(correct, {"value": "75", "reason": "Point in the wrong place"})
    second = StepReading.objects.latest("pk")
    assert answer.headers["Location"] == f"{url('step', running)}?latest={second.pk}#readings"
    text = words(floor.client.get(url("step", running)))
    assert "Instead of 7.5 °C: Point in the wrong place" in text
    assert "To decide" not in text


def test_a_correction_is_typed_in_the_sites_unit() -> None:
    floor = Floor(temperature_unit="F")
    record = floor.running_caustic()
    first = floor.read(record, "temperature_c", 20)
    correct = reverse("turnarounds:correct_reading", args=[first.pk])
    floor.client.post(correct, {"value": "158", "reason": "Mistyped"})
    assert StepReading.objects.latest("pk").value == pytest.approx(70)
