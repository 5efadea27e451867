"""A baseline for a kind of vessel: over all of them, with the spread between them told."""

import dataclasses
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.baselines.actions import exclude_result, propose_from_baseline
from brewhygiene.atp.baselines.page import between_words, between_working, pooling_words
from brewhygiene.atp.baselines.queries import baseline_to_study, history_of
from brewhygiene.atp.limits.actions import approve_limits
from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.models import Entry
from brewhygiene.science.limits.groups.between import Between, spread_between
from brewhygiene.science.limits.groups.pooling import pooling_of
from tests import clock
from tests.atp.baselines.scenes import history, made, numbers, refused, study
from tests.factories import NOW, PASSWORD, Cellar, acting, make_head_brewer, make_point, make_vessel
from tests.histories import Swab, usual_rlu

pytestmark = pytest.mark.django_db


def swabbed(swab: Swab) -> int:
    return usual_rlu(swab, mean=6)


def brewery(
    *,
    fermenters: int = 3,
    points: int = 1,
    cleans: int = 20,
    rlu: Callable[[Swab], int] = swabbed,
) -> Cellar:
    """Fermenters FV 1 and so on, each read after its cleans, and a bright tank beside them."""
    cellar = Cellar(points=points)
    Vessel.objects.filter(pk=cellar.vessel.pk).update(name="FV 1", sort_key="FV 1", order=1)
    cellar.vessel.refresh_from_db()
    others = [
        make_vessel(name=f"FV {number}", points=points, order=number)
        for number in range(2, fermenters + 1)
    ]
    bright = make_vessel(name="BT 1", kind="bright_tank", points=points, order=99)
    history(cellar, cleans, vessels=[cellar.vessel, *others, bright], rlu=rlu)
    return cellar


def of_kind(cellar: Cellar, **values: Any) -> Baseline:
    baseline = made(cellar, **{"vessel_kind": "fermenter", **values})
    return baseline_to_study().get(pk=baseline.pk)


def says(found: Any) -> dict[str, bool]:
    return {each.says: each.serious for each in found.advice}


def test_readings_of_all_vessels_of_the_kind_count_and_no_others() -> None:
    cellar = brewery(fermenters=3, cleans=4)
    assert len(numbers(made(cellar, name="all"))) == 16
    assert len(numbers(of_kind(cellar))) == 12
    assert len(numbers(of_kind(cellar, name="bright", vessel_kind="bright_tank"))) == 4
    assert numbers(of_kind(cellar, name="kegs", vessel_kind="keg")) == []


def test_past_cleans_are_those_of_the_kind() -> None:
    cellar = brewery(fermenters=3, cleans=4)
    assert history_of(of_kind(cellar), above_rlu=None, now=NOW).cleans == 12
    assert history_of(made(cellar, name="all"), above_rlu=None, now=NOW).cleans == 16


def test_reading_of_another_kind_is_no_member() -> None:
    cellar = brewery(fermenters=1, cleans=2)
    baseline = of_kind(cellar)
    other = Result.objects.filter(point__vessel__kind="bright_tank").first()
    found = refused(
        lambda: exclude_result(
            by=acting(cellar.brewer), baseline=baseline, result=other, reason="Touched the frame"
        )
    )
    assert found.code == "no_member"


def test_choice_of_a_kind_is_recorded() -> None:
    cellar = Cellar()
    baseline = of_kind(cellar)
    entry = Entry.objects.latest("pk")
    assert (entry.values["vessel_kind"], entry.values["points"]) == ("fermenter", "all")
    assert (baseline.vessel_kind, baseline.where) == (
        "fermenter",
        "every rinse point of a fermenter",
    )
    made(cellar, name="all")
    assert "vessel_kind" not in Entry.objects.latest("pk").values


def test_kind_and_single_points_are_not_chosen_together() -> None:
    cellar = Cellar()
    found = refused(lambda: of_kind(cellar, points=[cellar.point]))
    assert (found.field, found.code) == ("vessel_kind", "points_and_kind")
    assert refused(lambda: of_kind(cellar, vessel_kind="bathtub")).field == "vessel_kind"
    assert Baseline.objects.count() == 0


# --- how the vessels compare ---


def test_vessels_that_are_alike_share_limits_and_their_spread_is_told() -> None:
    found = study(cellar := brewery(), of_kind(cellar))
    assert found.vessels.names == ["FV 1", "FV 2", "FV 3"]
    assert [group.readings for group in found.vessels.pooling.groups] == [20, 20, 20]
    assert found.vessels.pooling.answer == "may"
    by_vessel: dict[str, list[int]] = {}
    for result in found.members.counted:
        by_vessel.setdefault(result.point.vessel.name, []).append(result.rlu)
    between = spread_between(by_vessel)
    assert dataclasses.astuple(found.vessels.between) == pytest.approx(dataclasses.astuple(between))
    # One point each: the points would only say the same again.
    assert found.pooling is None
    assert found.ready
    assert found.recommended is not None


def test_vessel_that_differs_shall_not_share_limits() -> None:
    cellar = brewery(rlu=lambda s: swabbed(s) * (8 if s.turn.vessel.name == "FV 2" else 1))
    found = study(cellar, of_kind(cellar))
    (words,) = [each for each in found.advice if each.says.startswith("The vessels should not")]
    assert words.serious
    assert "FV 2 reads highest" in words.says
    assert words.do.startswith("Start a separate baseline for each vessel that differs.")
    assert found.recommended is None
    assert found.vessels.between.share > 0.3


def test_points_are_compared_too_where_a_vessel_has_several() -> None:
    cellar = brewery(points=2, rlu=lambda s: swabbed(s) * (6 if s.point.order else 1))
    found = study(cellar, of_kind(cellar))
    assert found.vessels.pooling.answer == "may"
    assert found.pooling.answer == "should_not"
    assert {group.readings for group in found.vessels.pooling.groups} == {40}


def test_readings_of_one_vessel_do_not_stand_for_its_kind() -> None:
    cellar = brewery(fermenters=1, cleans=40)
    found = study(cellar, of_kind(cellar))
    assert found.vessels.between is None
    one = "All readings are of FV 1, but these limits would judge every rinse point of a fermenter."
    assert says(found)[one] is True
    assert found.recommended is None


def test_vessels_without_a_reading_are_named() -> None:
    cellar = brewery()
    make_vessel(name="FV 10", order=10)
    make_vessel(name="FV 9", order=9)
    make_vessel(name="BT 2", kind="bright_tank")
    make_vessel(name="FV 11", out_of_service_since=NOW)
    make_vessel(name="FV 12", points=0)
    swabs = make_vessel(name="FV 13", points=0)
    make_point(swabs, sample_kind="surface")
    closed = make_vessel(name="FV 14", points=0)
    make_point(closed, active=False)
    found = study(cellar, of_kind(cellar))
    named = "No reading counts of FV 9, FV 10, which these limits would judge too."
    assert says(found)[named] is False
    assert found.ready


def test_few_readings_a_vessel_are_said() -> None:
    cellar = brewery(fermenters=4, cleans=4)
    found = study(cellar, of_kind(cellar))
    few = "Too few readings a vessel to compare the vessels (at least 5 each)."
    assert says(found)[few] is False
    assert found.vessels.between is not None


def test_other_baselines_say_nothing_of_vessels() -> None:
    found = study(cellar := brewery(), made(cellar, name="all"))
    assert found.vessels is None
    assert {group.name for group in found.pooling.groups} >= {"FV 1, Point 1", "BT 1, Point 1"}


@pytest.mark.parametrize("fermenters", [2, 5])
def test_study_of_a_kind_takes_the_same_queries(
    fermenters: int, django_assert_num_queries: Any
) -> None:
    cellar = brewery(fermenters=fermenters)
    baseline = of_kind(cellar)
    with django_assert_num_queries(7):
        study(cellar, baseline)


# --- limits of the kind ---


def proposed(cellar: Cellar, baseline: Baseline, **values: Any) -> LimitSet:
    return propose_from_baseline(
        by=acting(cellar.brewer),
        baseline=baseline,
        **{"method": "counts", "review_on": date(2026, 9, 1), "valid_until": None, **values},
    )


def test_limits_are_of_the_kind_and_keep_how_its_vessels_differed() -> None:
    cellar = brewery()
    unread = make_vessel(name="FV 9")
    baseline = of_kind(cellar)
    found = study(cellar, baseline).vessels
    limits = proposed(cellar, baseline)
    assert (limits.vessel_kind, limits.point) == ("fermenter", None)
    assert limits.where == "every rinse point of a fermenter"
    figures = LimitSet.objects.get(pk=limits.pk).figures
    assert figures["vessels"] == {"FV 1": 20, "FV 2": 20, "FV 3": 20}
    assert (figures["vessels_answer"], figures["not_read"]) == ("may", ["FV 9"])
    assert figures["vessels_p"] == [found.pooling.level_p, found.pooling.spread_p]
    assert figures["between_share"] == pytest.approx(found.between.share, abs=1e-6)
    assert figures["between_factor"] == pytest.approx(found.between.factor_between, abs=1e-6)
    assert figures["within_factor"] == pytest.approx(found.between.factor_within, abs=1e-6)
    assert figures["worth_readings"] == pytest.approx(found.between.worth, abs=1e-3)
    assert figures["pooling"] is None
    entry = Entry.objects.latest("pk").values
    assert (entry["vessel_kind"], entry["point"]) == ("fermenter", "all points")
    approve_limits(by=acting(make_head_brewer()), limits=limits, password=PASSWORD)
    judged: Callable[[Vessel], LimitSet | None] = lambda vessel: limits_in_force(  # noqa: E731
        meter=cellar.meter,
        test_lot=cellar.lot,
        point=vessel.points.get(),
        moment=limits.moment,
        day=NOW.date(),
    )
    assert judged(cellar.vessel) == limits
    assert judged(unread) == limits
    assert judged(Vessel.objects.get(name="BT 1")) != limits


def test_limits_of_one_point_may_be_proposed_from_it_still() -> None:
    cellar = brewery()
    limits = proposed(cellar, of_kind(cellar), point=cellar.point)
    assert (limits.vessel_kind, limits.point) == ("", cellar.point)
    assert "vessel_kind" not in Entry.objects.latest("pk").values


def test_limits_of_other_baselines_keep_no_vessels() -> None:
    cellar = brewery()
    limits = proposed(cellar, made(cellar, name="all"))
    assert limits.vessel_kind == ""
    assert "vessels" not in limits.figures


# --- in words ---

BETWEEN = Between(
    groups=3,
    readings=60,
    mean_square_between=0.5,
    mean_square_within=0.1,
    usual_size=20,
    sum_of_squared_sizes=1200,
    largest_share=1 / 3,
    f_p=0.012,
)


def test_spread_is_said_in_words() -> None:
    """(0.5 − 0.1) / 20 = 0.02 between; 10^√0.02 = 1.385, 10^√0.1 = 2.07; 60 / (1 + 19/6) = 14.4."""
    assert between_words(BETWEEN) == (
        "17 % of the spread of the logs is between vessels. One standard deviation is a factor of "
        "1.4 between vessels and of 2.1 from clean to clean of one vessel, in RLU + 1. Readings of "
        "one vessel are alike, so that 60 readings say as much about the common level as about 14 "
        "independent ones."
    )


def test_working_is_shown_line_by_line() -> None:
    assert between_working(BETWEEN) == [
        ("Vessels, readings", "3, 60"),
        ("Mean square between vessels", "0.5"),
        ("Mean square within vessels", "0.1"),
        ("Readings a vessel, as weighted", "20"),
        ("Variance between vessels", "(0.5 − 0.1) / 20 = 0.02"),
        ("Variance within vessels", "0.1"),
        ("Share between vessels", "0.02 / 0.12 = 17 %"),
        ("F test", "p = 0.012"),
        ("Readings of the vessel read most", "33 %"),
    ]
    less = dataclasses.replace(BETWEEN, mean_square_between=0.05)
    assert dict(between_working(less))["Variance between vessels"] == (
        "(0.05 − 0.1) / 20 = 0, at least 0"
    )


def test_vessels_are_called_vessels() -> None:
    few = pooling_of({"FV 1": [1, 2, 3], "FV 2": [2, 3]})
    assert pooling_words(few, one="vessel") == (
        "Too few vessels have 5 readings, so the vessels cannot be compared."
    )


# --- the pages ---


def signed_in(cellar: Cellar) -> Client:
    client = Client()
    client.force_login(cellar.brewer)
    return client


def test_kind_is_chosen_studied_and_proposed_on_the_pages() -> None:
    cellar = brewery()
    client = signed_in(cellar)
    values = {
        "name": "Fermenters",
        "meter": cellar.meter.pk,
        "atp_test": cellar.atp_test.pk,
        "since": "2025-01-01",
        "until": timezone.localdate(NOW).isoformat(),
        "vessel_kind": "fermenter",
    }
    both = client.post(reverse("atp:add_baseline"), {**values, "points": [cellar.point.pk]})
    assert (both.status_code, list(both.context["form"].errors)) == (422, ["vessel_kind"])
    assert (
        f'value="{cellar.point.pk}" id="point-{cellar.point.pk}" checked' in both.content.decode()
    )
    answer = client.post(reverse("atp:add_baseline"), values)
    baseline = Baseline.objects.get()
    url = reverse("atp:baseline", args=[baseline.pk])
    assert (answer.status_code, answer.headers["Location"]) == (302, url)
    text = client.get(url).content.decode()
    for words in (
        "every rinse point of a fermenter",
        'id="vessels"',
        "of the spread of the logs is between vessels",
        "Mean square between vessels",
        "Readings by vessel",
    ):
        assert words in text
    assert 'id="points"' not in text
    listed = client.get(reverse("atp:baselines")).content.decode()
    assert '<span class="under">fermenter</span>' in listed
    propose = reverse("atp:baseline_propose", args=[baseline.pk]) + "?method=counts"
    page = client.get(propose)
    assert "Every rinse point of a fermenter" in page.content.decode()
    form = page.context["form"]
    answer = client.post(
        propose,
        {
            "point": "",
            "review_on": clock.today().replace(year=clock.today().year + 1).isoformat(),
            "alert_seen": form["alert_seen"].value(),
            "action_seen": form["action_seen"].value(),
        },
    )
    limits = LimitSet.objects.get(baseline=baseline)
    assert (answer.status_code, limits.vessel_kind) == (302, "fermenter")
    assert "Every rinse point of a fermenter" in client.get(url).content.decode()
    approving = client.get(reverse("atp:setup_approve_limits", args=[limits.pk])).content.decode()
    assert "60 readings of 3 vessels" in approving
