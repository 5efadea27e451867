"""The page that compares turnarounds: who may look, the period, what is counted, the queries."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.atp.causes.actions import record_found_cause
from brewhygiene.trends.compare.grouping import Groups, grouped, grouped_points, season_of
from brewhygiene.trends.compare.page import PARTS
from brewhygiene.trends.compare.queries import (
    causes_in,
    deviations_in,
    factors_of,
    signed_by_month,
    unexplained_in,
)
from brewhygiene.trends.turns.facts import Why, turn_facts
from tests import clock
from tests.evidence import unguarded
from tests.factories import (
    Cellar,
    acting,
    make_beer,
    make_test_lot,
    make_user,
    make_version,
    make_vessel,
)
from tests.histories import Swab, Turn, make_history
from tests.trends.compare.scene import bad_at, compare, history, rows, span, words
from tests.turnarounds.floor import signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]

WEEK = timedelta(days=7)
PAGE = 14  # queries of the page's own: session, user, roles, brewery, the turnarounds' ten


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


# Who may look


@pytest.mark.parametrize("part", PARTS)
def test_each_part_is_for_the_head_brewer_and_the_owner(cellar: Cellar, part: str) -> None:
    history(cellar, vessels=2, cleans=4)
    assert compare(cellar.brewer, by=part).status_code == 200
    page = compare(cellar.owner, by=part)
    assert page.status_code == 200
    assert [f">{months} months</a>" in page.content.decode() for months in (3, 6, 12)] == [True] * 3
    assert page.content.count(b"<h1") == 1
    assert compare(cellar.hand, by=part).status_code == 403
    assert compare(make_user(), by=part).status_code == 403


def test_rows_are_for_the_head_brewer_and_the_owner(cellar: Cellar) -> None:
    history(cellar, vessels=1, cleans=4)
    asked = {"by": "vessel", "of": str(cellar.vessel.pk)}
    assert [
        rows(who, **asked).status_code for who in (cellar.brewer, cellar.owner, cellar.hand)
    ] == [
        200,
        200,
        403,
    ]


def test_nobody_sees_it_without_signing_in(cellar: Cellar) -> None:
    for name in ("trends:compare", "trends:compare_rows"):
        assert signed_in(None).get(reverse(name)).status_code == 302


@pytest.mark.parametrize(
    "asked",
    [
        {"by": "person"},
        {"by": "vessel", "of": "999999"},
        {"by": "point", "of": "not a number"},
        {"by": "vessel", "of": "1", "only": "some"},
        {"by": "vessel", "of": "1", "months": "7"},
    ],
)
def test_rows_of_nothing_are_not_found(cellar: Cellar, asked: dict[str, str]) -> None:
    assert rows(cellar.owner, **asked).status_code == 404


def test_a_part_that_does_not_exist_is_not_found(cellar: Cellar) -> None:
    assert compare(cellar.owner, by="person").status_code == 404


# The period


@pytest.mark.parametrize(
    "asked, field, message",
    [
        (
            {"first": "2026-05-02", "last": "2026-05-01"},
            "last",
            "Enter a day after the first day, 2 May 2026.",
        ),
        ({"first": "2026-05-02"}, "last", "Enter both days."),
        ({"last": "2026-05-02"}, "first", "Enter both days."),
        (
            {"first": "second of May", "last": "2026-05-02"},
            "first",
            "Enter a date, e.g. 2026-03-14.",
        ),
        (
            {"first": "2098-01-01", "last": "2098-02-01"},
            "first",
            "Enter a day that is not in the future.",
        ),
        ({"first": "2019-01-01", "last": "2026-02-01"}, "first", "Choose at most three years."),
    ],
)
def test_days_out_of_order_are_said_beside_their_field_and_kept(
    cellar: Cellar, asked: dict[str, str], field: str, message: str
) -> None:
    answer = compare(cellar.owner, **asked)
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == [field]
    assert message in form.errors[field][0]
    assert "No turnarounds are shown. Correct the period above." in words(answer)
    for typed in asked.values():
        assert f'value="{typed}"' in answer.content.decode()


def test_months_that_are_not_offered_are_said(cellar: Cellar) -> None:
    answer = compare(cellar.owner, months="7")
    assert answer.status_code == 422
    assert "Choose 3, 6 or 12 months" in words(answer)


@pytest.mark.instants
def test_only_what_was_emptied_in_the_time_counts(cellar: Cellar) -> None:
    history(cellar, vessels=1, cleans=30, rlu=lambda swab: 1)
    assert compare(cellar.owner).context["shown"].rate.number == 30
    assert compare(cellar.owner, months="3").context["shown"].rate.number in (12, 13)
    today = clock.today()
    two_weeks = {
        "first": (today - timedelta(days=15)).isoformat(),
        "last": (today - timedelta(days=2)).isoformat(),
    }
    assert compare(cellar.owner, **two_weeks).context["shown"].rate.number == 2


# Nothing yet, too little


def test_page_without_any_turnaround_says_so(cellar: Cellar) -> None:
    for part in PARTS:
        answer = compare(cellar.owner, by=part)
        assert "No vessel was emptied in this period" in words(answer)
        assert b"<figure" not in answer.content


def test_turnarounds_not_judged_show_no_figure(cellar: Cellar) -> None:
    history(cellar, vessels=2, cleans=3, test_lot=make_test_lot())
    for part in PARTS:
        answer = compare(cellar.owner, by=part)
        assert "No turnaround of this period is judged yet" in words(answer)
        assert b"<figure" not in answer.content


def test_one_vessel_is_not_compared(cellar: Cellar) -> None:
    history(cellar, vessels=1, cleans=10)
    answer = compare(cellar.owner, by="vessel")
    assert answer.context["funnel"] is None
    assert "There is only one. A comparison needs at least two." in words(answer)


def test_all_clean_has_nothing_to_compare(cellar: Cellar) -> None:
    history(cellar, vessels=3, cleans=10, rlu=lambda swab: 0)
    answer = compare(cellar.owner, by="vessel")
    assert answer.context["funnel"] is None
    assert "All are equal, so there is no difference to compare." in words(answer)
    assert "100 % were clean the first time: 30 of the 30" in words(answer)


def test_regression_refuses_too_few(cellar: Cellar) -> None:
    history(cellar, vessels=3, cleans=10)
    answer = compare(cellar.owner, by="together")
    assert "At least 15 are needed" in words(answer)
    assert b"<figure" not in answer.content


def test_no_lot_recorded_is_said(cellar: Cellar) -> None:
    history(cellar, vessels=2, cleans=4)
    assert "No lot of an agent was recorded" in words(compare(cellar.owner, by="lot"))


# What is counted


def test_groups_count_judged_clean_and_not_judged(cellar: Cellar) -> None:
    other = make_test_lot()

    def test_lot(turn: Turn) -> Any:
        return other if turn.number < 2 else cellar.lot

    history(
        cellar,
        vessels=1,
        cleans=10,
        test_lot=test_lot,
        rlu=lambda swab: 300 if swab.turn.number == 5 else 1,
    )
    (group,) = grouped(turn_facts(**span()), "vessel").groups
    assert (group.name, group.judged, group.clean, group.not_judged) == (
        cellar.vessel.name,
        8,
        7,
        2,
    )
    (point,) = grouped_points(**span()).groups
    assert (point.judged, point.clean, point.not_judged, point.vessel) == (
        8,
        7,
        2,
        cellar.vessel.name,
    )


def test_groups_by_regime_lot_season_and_content(cellar: Cellar) -> None:
    sour = make_beer(name="Mere Sour (invented)", sour_or_mixed=True)
    quick = make_version(name="Quick (invented)")
    history(
        cellar,
        vessels=1,
        cleans=8,
        beer=lambda turn: sour if turn.number % 2 else cellar.pale,
        version=lambda turn: quick if turn.number < 4 else cellar.version,
        agent_lot=lambda turn: "P1" if turn.number < 6 else "P2",
    )
    facts = turn_facts(**span())

    def judged(by: str) -> dict[str, int]:
        return {group.name: group.judged for group in grouped(facts, by).groups}

    assert judged("regime") == {
        "Quick (invented), version 1": 4,
        f"{cellar.version.regime.name}, version 1": 4,
    }
    assert sorted(judged("lot").values()) == [2, 2, 4]
    assert sum(judged("season").values()) == 8
    assert judged("before")["Mere Sour (invented)"] == judged("kind")["Sour or mixed culture"] == 3
    assert judged("kind")["None of these"] == 5


def test_season_goes_by_the_month_where_the_brewery_stands() -> None:
    moments = [clock.now().replace(month=month, day=15) for month in range(1, 13)]
    assert [season_of(moment) for moment in moments] == [0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3, 0]


def test_lots_are_held_against_lots_of_the_same_agent_only(cellar: Cellar) -> None:
    """An agent whose lots are all bad makes no lot of another good."""
    quick = make_version(name="Quick (invented)")

    def rlu(swab: Swab) -> int:
        every = 2 if swab.turn.number % 2 else 10
        return 300 if swab.turn.number // 2 % every == 0 else 1

    history(
        cellar,
        vessels=1,
        cleans=40,
        version=lambda turn: quick if turn.number % 2 else cellar.version,
        agent_lot=lambda turn: f"P{turn.number // 20}",
        rlu=rlu,
    )
    found: Groups = grouped(turn_facts(**span()), "lot")
    assert sorted((group.judged, group.not_clean, group.outside) for group in found.groups) == [
        (10, 1, 0),
        (10, 1, 0),
        (10, 5, 0),
        (10, 5, 0),
    ]
    assert found.funnel is None


def test_deviations_and_causes_are_counted(cellar: Cellar) -> None:
    history(
        cellar,
        vessels=1,
        cleans=6,
        reading=lambda turn, window: (
            20.0 if window.quantity == "concentration" and turn.number < 4 else None
        ),
        rlu=lambda swab: 300 if swab.turn.number < 3 else 1,
    )
    deviations = deviations_in(**span())
    assert deviations.together == (("Sanitiser, strength below window", 4),)
    assert deviations.by_step == (("sanitiser", 4),)
    assert deviations.by_kind == (("below its window", 4),)
    assert unexplained_in(**span()).without_cause == 3
    fact = next(fact for fact in turn_facts(**span()) if fact.why == Why.OVER)
    turnaround = cellar.vessel.turnarounds.get(pk=fact.turnaround_id)
    turnaround.opened_at = clock.now() - WEEK
    with unguarded(type(turnaround)):
        turnaround.save()
    record_found_cause(
        by=acting(cellar.hand, now=clock.now()), turnaround=turnaround, cause="gasket"
    )
    assert causes_in(**span()) == [("Gasket or seal", 1)]
    found = unexplained_in(**span())
    assert (found.over, found.without_cause) == (3, 2)
    page = words(compare(cellar.owner, by="causes"))
    assert "3 turnarounds had a reading over the action limit. 2 have no cause recorded." in page


@pytest.mark.instants
def test_releases_by_oneself_and_fills_without_one_are_counted_by_month(cellar: Cellar) -> None:
    history(
        cellar,
        vessels=1,
        cleans=8,
        released_by=lambda turn: cellar.hand if turn.number in (2, 3) else cellar.brewer,
    )
    months = signed_by_month(turn_facts(**span()))
    assert sum(month.releases for month in months) == 8
    assert sum(len(month.self_released) for month in months) == 2
    assert [month.first for month in months] == sorted(
        (month.first for month in months), reverse=True
    )
    page = compare(cellar.owner, by="signed")
    assert "2 of 8 releases were signed by someone who had worked on the clean" in words(page)
    own = [fact for fact in turn_facts(**span()) if fact.self_release]
    for fact in own:
        assert reverse("board:turnaround", args=[fact.turnaround_id]) in page.content.decode()


def test_factors_take_lots_of_agents_in_general_use_only(cellar: Cellar) -> None:
    history(
        cellar,
        vessels=2,
        cleans=10,
        agent_lot=lambda turn: "P1" if turn.number < 3 else "",
    )
    facts = turn_facts(**span())
    assert [factor.name for factor in factors_of(facts)] == [
        "Vessel",
        "Regime",
        "Content before",
        "Season",
    ]


def test_factor_of_lots_has_none_where_no_lot_was_written(cellar: Cellar) -> None:
    history(cellar, vessels=1, cleans=8, agent_lot=lambda turn: "" if turn.number < 2 else "P1")
    lots = next(f for f in factors_of(turn_facts(**span())) if f.name.startswith("Lot of "))
    assert list(lots.levels) == [None, None, *["P1"] * 6]


# How many queries


@pytest.mark.parametrize(
    "part, more",
    [(part, {"": 4, "point": 1, "causes": 3}.get(part, 0)) for part in PARTS],
)
def test_part_takes_as_many_queries_for_one_vessel_as_for_three(
    cellar: Cellar, part: str, more: int, django_assert_num_queries: Any
) -> None:
    client = signed_in(cellar.owner)
    address = f"{reverse('trends:compare')}?by={part}"
    history(cellar, vessels=1, cleans=20, agent_lot="P1")
    client.get(address)
    with django_assert_num_queries(PAGE + more):
        client.get(address)
    for number in (1, 2):
        make_history(
            cellar=cellar,
            vessels=[make_vessel(points=1, name=f"Other {number}")],
            cleans=20,
            until=clock.now() - timedelta(days=1),
            agent_lot="P2",
            rlu=bad_at("Other 1"),
        )
    with django_assert_num_queries(PAGE + more):
        client.get(address)
