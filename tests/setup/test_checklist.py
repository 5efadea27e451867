"""What the set-up page says is there and missing, from nothing to the first release."""

from datetime import date

import pytest
from django.test import Client

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.points import actions as point_actions
from brewhygiene.cellar.vessels import actions as cellar_actions
from brewhygiene.release.starts.actions import Stands, put_on_record
from brewhygiene.setup.checklist import Stop, checklist, next_stop
from brewhygiene.turnarounds.models.starts import Stood
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_atp_test,
    make_beer,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_limits,
    make_meter,
    make_test_lot,
    make_user,
    make_version,
    make_vessel,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 10)


def stops(brewery: Brewery | None = None) -> dict[str, Stop]:
    groups = checklist(brewery=brewery or Brewery.current(), today=TODAY)
    return {stop.title: stop for group in groups for stop in group.stops}


def missing(title: str, brewery: Brewery | None = None) -> tuple[str, ...]:
    return stops(brewery)[title].missing


def advice(title: str) -> tuple[str, ...]:
    return stops()[title].advice


def test_empty_installation_misses_everything_and_begins_with_its_name() -> None:
    assert {title: stop.missing for title, stop in stops().items() if stop.missing} == {
        "Brewery": ("The brewery has no name and no time zone yet.",),
        "People": (
            "Nobody has the cellar role.",
            "Nobody can release. Give somebody the head brewer role.",
        ),
        "Vessels and sampling points": ("No vessel yet.",),
        "Beers": ("No beer yet. Nothing can be filled.",),
        "Cleaning agents": ("No agent yet. The starting regimes include their agents.",),
        "Regimes": ("No regime yet. Add the starting regimes.",),
        "Meters": ("No meter yet.",),
        "ATP tests": ("No ATP test yet.",),
    }
    first = next_stop(checklist(brewery=Brewery.current(), today=TODAY))
    assert first is not None
    assert first.title == "Brewery"


def test_brewery_that_is_ready_misses_nothing() -> None:
    Cellar()
    assert {title: stop.missing for title, stop in stops().items() if stop.missing} == {}
    assert next_stop(checklist(brewery=Brewery.current(), today=TODAY)) is None


def test_one_person_alone_needs_self_release() -> None:
    make_head_brewer()
    assert missing("People", make_brewery(self_release_allowed=True)) == ()
    (said,) = missing("People", make_brewery())
    assert said == (
        "The release rules do not let one person both clean and release. Add a second person, "
        "or allow self-release."
    )
    make_cellar_hand()
    assert missing("People", make_brewery()) == ()


def test_rules_as_shipped_are_no_looser_and_each_looser_one_is_named() -> None:
    assert stops(make_brewery())["Release rules"].advice == ()
    looser = make_brewery(
        self_release_allowed=True,
        waivable_gates=["control_check", "plates", "regime_strength"],
    )
    assert stops(looser)["Release rules"].advice == (
        "Looser than shipped: self-release is allowed.",
        "Looser than shipped: “No open positive plate” can be waived.",
    )
    assert stops(looser)["Release rules"].there == "2 checks can be waived, self-release allowed"


def test_people_who_left_do_not_count() -> None:
    make_user("head brewer", is_active=False)
    assert len(missing("People")) == 2


def test_vessels_without_a_required_point_are_named_and_then_counted() -> None:
    for number in range(6):
        make_vessel(name=f"FV {number}", points=0)
    assert missing("Vessels and sampling points") == (
        "No sampling point is required for release: FV 0, FV 1, FV 2, FV 3 and 2 more.",
    )


def test_retired_point_does_not_count_and_neither_does_a_vessel_out_of_service() -> None:
    brewer, vessel = make_head_brewer(), make_vessel(name="FV 1")
    point_actions.retire_point(by=acting(brewer), point=vessel.points.get(), password=PASSWORD)
    assert missing("Vessels and sampling points") == (
        "No sampling point is required for release: FV 1.",
    )
    cellar_actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Weld")
    assert missing("Vessels and sampling points") == ()


def test_kind_of_vessel_without_a_regime_is_named() -> None:
    make_vessel()
    make_vessel(kind="keg")
    make_version(vessel_kinds=["fermenter"])
    assert missing("Regimes") == ("No regime for: keg.",)
    assert advice("Regimes") == ("No regime to re-sanitise: fermenter.",)


def test_regime_without_steps_cleans_nothing() -> None:
    make_vessel()
    make_version(steps=False)
    assert missing("Regimes") == ("No regime yet. Add the starting regimes.",)


def test_atp_tests_are_asked_for_by_the_points() -> None:
    make_vessel()
    atp_test = make_atp_test()
    make_test_lot(atp_test, expires_on=date(2026, 3, 9))
    assert missing("ATP tests") == ("No rinse sampler in date.",)
    make_test_lot(atp_test, expires_on=TODAY)
    assert missing("ATP tests") == ()


def test_samples_that_a_release_asks_for_need_approved_limits() -> None:
    brewer, meter, atp_test = make_head_brewer(), make_meter(name="Meter A"), make_atp_test()
    make_vessel()
    make_test_lot(atp_test)
    assert missing("Limits") == (
        "No approved limits for rinse readings. Without them a release is blocked.",
    )
    make_limits(by=brewer, meter=meter, atp_test=atp_test)
    assert (missing("Limits"), advice("Limits")) == ((), ())


def test_further_meter_without_limits_is_pointed_out() -> None:
    brewer, meter, atp_test = make_head_brewer(), make_meter(name="Meter A"), make_atp_test()
    other = make_meter(name="Meter B")
    make_vessel()
    make_test_lot(atp_test)
    make_limits(by=brewer, meter=meter, atp_test=atp_test)
    gap = f"No limits for Meter B with {atp_test.name}. Its readings stay unjudged."
    assert (missing("Limits"), advice("Limits")) == ((), (gap,))
    limit_actions.propose_limits(
        by=acting(brewer),
        meter=other,
        atp_test=atp_test,
        moment="in_sanitiser",
        alert_rlu=10,
        action_rlu=30,
        source="maker",
        source_note="Leaflet (invented)",
        review_on=date(2027, 3, 1),
    )
    assert advice("Limits") == (gap, "1 set of limits to approve.")


def test_counts_are_told_in_words() -> None:
    make_vessel(points=2)
    make_beer()
    told = {title: stop.there for title, stop in stops(make_brewery()).items()}
    assert told["Vessels and sampling points"] == "1 vessel, 2 sampling points"
    assert told["Beers"] == "1 beer"
    assert told["Release rules"] == "2 checks can be waived, self-release not allowed"
    assert told["Hold times"] == "24, 24 and 4 h for every kind of vessel"


@pytest.mark.parametrize("more", [0, 2])
def test_checklist_costs_the_same_for_one_and_for_three(
    more: int, django_assert_num_queries
) -> None:
    cellar = Cellar()
    for _ in range(more):
        make_vessel(points=2)
        make_beer()
        make_cellar_hand()
        make_version()
        make_limits(by=cellar.brewer, meter=make_meter(), atp_test=make_atp_test())
        make_test_lot()
    brewery = Brewery.current()
    with django_assert_num_queries(15):
        checklist(brewery=brewery, today=TODAY)


@pytest.mark.parametrize(
    "make, comes_next",
    [(make_head_brewer, "Vessels and sampling points"), (make_cellar_hand, "People")],
)
def test_page_leads_on_whoever_looks(client: Client, make, comes_next: str) -> None:
    make_brewery(self_release_allowed=True)
    client.force_login(make())
    page = client.get("/set-up/")
    assert page.status_code == 200
    assert page.context["next"].title == comes_next
    assert "Needed before a release" in page.content.decode()


def test_stranger_is_sent_to_sign_in() -> None:
    assert Client().get("/set-up/")["Location"] == "/sign-in/?next=/set-up/"


def test_vessels_not_on_record_yet_are_named_with_the_page_that_says_how_they_stand() -> None:
    for number in (10, 2, 1):
        make_vessel(name=f"FV {number}")
    stop = stops()["Vessels as they stand"]
    assert (stop.address, stop.there) == ("setup:starts", "0 of 3 vessels on record")
    assert stop.advice == (
        "Not on record yet: FV 1, FV 2, FV 10. Put them on record as they stand.",
    )
    put_on_record(
        by=acting(make_head_brewer()),
        vessels=[Stands(v, Stood.EMPTY) for v in Vessel.objects.exclude(name="FV 2")],
    )
    stop = stops()["Vessels as they stand"]
    assert stop.there == "2 of 3 vessels on record"
    assert stop.advice == ("Not on record yet: FV 2. Put them on record as they stand.",)
    assert stop.missing == ()
