"""The invented brewery's six weeks up to today, written by the product's own verbs."""

from collections import Counter
from datetime import timedelta

import pytest
from django.contrib.auth import authenticate
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import RequestFactory

from brewhygiene.atp.models.meters import AtpTestLot
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Fill, Vessel, VesselKind
from brewhygiene.changeovers.carried import carried_by
from brewhygiene.demo.people import DEMO_NAMES, DEMO_PINS, DEMO_SIGN_INS
from brewhygiene.demo.seeding import NotEmpty, seed
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from brewhygiene.people.actions import roles_of
from brewhygiene.people.models import User
from brewhygiene.plates.models import Plate
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import states_of
from brewhygiene.turnarounds.models import (
    Clean,
    StepReading,
    Turnaround,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests.demo.conftest import NOW
from tests.factories import make_brewery, make_user

PAPER_LOG_ENDED = NOW - timedelta(days=45)


def test_board_shows_every_status_with_its_vessel(said: list[str]) -> None:
    states = states_of(Vessel.objects.all(), now=NOW)
    assert {state.vessel.name: state.status.code.value for state in states} == {
        "FV 1": "held",
        "FV 2": "cleaning",
        "FV 3": "held",
        "FV 4": "empty",
        "FV 5": "to_decide",
        "BT 1": "released",
        "BT 2": "lapsed",
        "YV 1": "to_sample",
        "HX 1": "in_use",
        "Hose set A": "empty",
        "Tap line 3": "in_use",
        "Keg run": "out_of_service",
        "ST 1": "in_use",
        "Hop doser": "empty",
    }


def test_oats_left_the_serving_tank_by_a_validated_clean_with_its_test(said: list[str]) -> None:
    changed, again = Turnaround.objects.filter(vessel__name="ST 1").order_by("pk")
    proved = next(gate for gate in changed.decisions.get().gates if gate["code"] == "allergens")
    assert (proved["answer"], len(proved["evidence"])) == ("yes", 1)
    assert proved["evidence"][0].startswith("Oats (gluten): Fermenter, hot caustic, version 1, ")
    assert "GL-2207" in proved["evidence"][0]
    assert again.closing_fill is not None
    assert again.closing_fill.beer.allergens == ["oats"]
    tank = again.vessel
    assert {code: one.beer for code, one in carried_by([tank])[tank.pk].items()} == {
        "oats": "Mirrowend Oat Stout"
    }


def test_tap_line_is_due_by_the_date_of_its_last_clean(said: list[str]) -> None:
    (state,) = states_of(Vessel.objects.filter(name="Tap line 3"), now=NOW)
    finished = Clean.objects.filter(turnaround__vessel=state.vessel).order_by("finished_at")
    acid = finished.filter(version__regime__name="Draught line, with acid, every 3 months").last()
    assert acid is not None
    last = finished.last()
    assert last is not None
    assert last.version.regime.name == "Draught line, circulating, every 14 days"
    by_date = state.facts.by_date
    assert by_date is not None
    assert (by_date.cleaned_at, by_date.acid_at) == (last.finished_at, acid.finished_at)
    assert state.status.due_at == by_date.cleaned_at + timedelta(days=14)
    assert state.status.detail.endswith(", filled without a release, clean due")


def test_one_empty_vessel_is_late_and_the_other_is_not(said: list[str]) -> None:
    states = {state.vessel.name: state.status for state in states_of(Vessel.objects.all(), now=NOW)}
    assert states["FV 4"].overdue(NOW) is True
    assert states["Hose set A"].overdue(NOW) is False


def test_caustic_is_running_on_the_vessel_that_is_cleaned(said: list[str]) -> None:
    clean = Clean.objects.get(finished_at__isnull=True, stopped_at__isnull=True)
    running = clean.step_records.get(ended_at__isnull=True)
    assert running.step.kind == "caustic"
    assert running.readings.count() == 2
    minutes = (NOW - running.started_at).total_seconds() / 60
    assert 5 < minutes < 25


def test_ledger_is_whole_and_in_the_order_of_time(said: list[str]) -> None:
    assert check_chain() is None
    moments = list(Entry.objects.order_by("id").values_list("recorded_at", flat=True))
    assert moments == sorted(moments)
    assert moments[-1] <= NOW
    assert (NOW - moments[0]).days >= 42


def test_everything_is_marked_as_invented(said: list[str]) -> None:
    brewery = Brewery.current()
    assert (brewery.name, brewery.is_demo) == ("Quenlarrow & Ombry Brewery", True)


@pytest.mark.parametrize(("username", "password", "role"), DEMO_SIGN_INS)
def test_each_sign_in_works_and_has_its_one_role(
    said: list[str], username: str, password: str, role: str
) -> None:
    request = RequestFactory().get("/")
    user = authenticate(request, username=username, password=password)
    assert isinstance(user, User)
    assert (user.full_name, user.initials) == DEMO_NAMES[username]
    assert roles_of(user) == [role]
    assert bool(user.pin_hash) is (username in DEMO_PINS)


def test_six_weeks_hold_one_of_everything_that_goes_wrong(said: list[str]) -> None:
    assert set(Result.objects.values_list("verdict", flat=True)) == set(Verdict.values)
    lately = {"record__clean__turnaround__opened_at__gt": PAPER_LOG_ENDED}
    assert Counter(Deviation.objects.filter(**lately).values_list("kind", "disposition")) == {
        ("below", ""): 1,  # its reading was corrected
        ("below", "extend"): 2,
        ("below", "repeat"): 1,
        ("end_not_met", "accept"): 2,
        ("left_out", "accept"): 1,
        ("not_sampled", "accept"): 1,
    }
    assert StepReading.objects.exclude(corrects=None).count() == 1
    assert Clean.objects.exclude(stopped_at=None).count() == 1
    assert Clean.objects.filter(purpose="resanitise").count() == 2
    assert Clean.objects.exclude(weaker_reason="").count() == 1
    decisions = Decision.objects.filter(turnaround__opened_at__gt=PAPER_LOG_ENDED)
    assert decisions.filter(self_release=True).count() == 1
    assert decisions.filter(outcome="hold").count() == 2
    assert Fill.objects.filter(without_release=True).count() == 1
    positive = Plate.objects.filter(state="positive", taken_at__gt=PAPER_LOG_ENDED)
    assert (positive.count(), positive.exclude(resolved_at=None).count()) == (2, 1)
    assert Plate.objects.filter(state="pending").count() >= 1
    assert Plate.objects.filter(state="negative").count() >= 1


def test_late_positive_names_every_fill_since_the_last_good_plate(said: list[str]) -> None:
    entry = Entry.objects.filter(verb="read plate", values__state="positive").latest("id")
    fills = Fill.objects.filter(vessel__name="FV 1").order_by("-filled_at")
    assert entry.values["fills_at_risk"] == [str(fill) for fill in fills[:2]]


def test_one_test_lot_in_use_is_out_of_date(said: list[str]) -> None:
    late = AtpTestLot.objects.filter(expires_on__lt=NOW.date(), active=True)
    assert [lot.lot for lot in late] == ["R-0917"]


def test_vessels_are_of_many_kinds(said: list[str]) -> None:
    assert Counter(Vessel.objects.values_list("kind", flat=True)) == {
        VesselKind.FERMENTER: 5,
        VesselKind.BRIGHT_TANK: 2,
        VesselKind.YEAST_VESSEL: 1,
        VesselKind.SERVING_TANK: 1,
        VesselKind.DRY_HOP_GEAR: 1,
        VesselKind.HEAT_EXCHANGER: 1,
        VesselKind.HOSE_SET: 1,
        VesselKind.DRAUGHT_LINE: 1,
        VesselKind.KEG: 1,
    }


def test_progress_is_told_week_by_week(said: list[str]) -> None:
    assert said[0] == "  the week of 07 September 2026"
    assert said[-1] == "  the week of 19 October 2026"


@pytest.mark.django_db
def test_brewery_that_is_there_is_left_alone() -> None:
    make_brewery()
    with pytest.raises(NotEmpty):
        seed(now=NOW, say=lambda line: None)
    assert Vessel.objects.count() == 0


@pytest.mark.django_db
def test_person_who_is_there_is_left_alone() -> None:
    make_user()
    with pytest.raises(CommandError):
        call_command("seed_demo")
    assert (Brewery.objects.count(), User.objects.count()) == (0, 1)
