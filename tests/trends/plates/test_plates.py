"""ATP against plates: which reading goes with which plate, the figures, and when there are none."""

import html
import random
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from brewhygiene.brewery import actions as brewery_actions
from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.models import DishCount, Plate
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.trends.plates.pairs import Pair, Scale, pairs_since
from brewhygiene.trends.plates.study import Costs, study_of
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import (
    acting,
    make_limits,
    make_meter,
    make_point,
    make_user,
    make_vessel,
)
from tests.histories import Swab, make_history
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db

ADDRESS = "/trends/plates/"
DAY = timedelta(days=1)
# Session, user, brewery, permissions; plates with their dishes, cleans, readings.
PAGE_QUERIES = 8
PAIRS_QUERIES = 4
SCALE = Scale(1, 1, "Meter, swabs")


@pytest.fixture
def cellar() -> Now:
    return Now()


def page_of(client: Client, **asked: object) -> str:
    response = client.get(ADDRESS, asked)
    assert response.status_code == 200
    return html.unescape(response.content.decode())


def sampled_and_plated(
    cellar: Now, *, rlu: int, state: str, ago: timedelta = 20 * DAY, **values: Any
) -> Turnaround:
    """A vessel of its own, cleaned, read and plated; the plate read when it was due."""
    turnaround = cellar.cleaned_ago(ago, vessel=make_vessel())
    cellar.sampled_ago(turnaround, ago - 30 * MINUTE, rlu=rlu)
    plate = cellar.plate_sent(turnaround, ago=ago - 40 * MINUTE)
    read(cellar, plate, state, ago=ago - 8 * DAY, **values)
    return turnaround


def read(cellar: Now, plate: Plate, state: str, *, ago: timedelta, **values: Any) -> Plate:
    if state == "positive" and not values:
        values = {"colonies": 4}
    return plate_actions.read_plate(
        by=acting(cellar.brewer, now=cellar.at(ago)), plate=plate, state=state, **values
    )


def with_history(cellar: Now, *, turns: int = 60) -> None:
    """Plates that grow the more likely the higher the reading, and now and then otherwise."""

    def rlu(swab: Swab) -> int:
        return int(random.Random(swab.turn.number).lognormvariate(2.2, 1.1))

    def plate(swab: Swab) -> str:
        chance = random.Random(1000 + swab.turn.number).random()
        return "positive" if chance < min(0.9, rlu(swab) / 80) else "negative"

    make_history(
        cellar=cellar,
        cleans=turns,
        every=timedelta(days=5),
        until=clock.now(),
        rlu=rlu,
        plate=plate,
    )


def pair(rlu: int, grew: bool, verdict: str = "", at: datetime | None = None) -> Pair:
    return Pair(
        scale=SCALE,
        turnaround_id=1,
        place="FV 1, Valve",
        taken_at=at or clock.now(),
        rlu=rlu,
        verdict=verdict or ("action" if rlu > 30 else "alert" if rlu > 10 else "clear"),
        alert_rlu=10,
        action_rlu=30,
        grew=grew,
        growth=None,
        plate_words="MRS: nothing grew",
    )


# --- pairs ---


def test_pair_is_the_reading_of_the_clean_before_the_plate(cellar: Now) -> None:
    turnaround = sampled_and_plated(cellar, rlu=12, state="positive")
    (found,) = pairs_since(None).pairs
    assert (found.turnaround_id, found.rlu, found.verdict, found.grew) == (
        turnaround.pk,
        12,
        "alert",
        True,
    )
    assert (found.scale.name, found.plate_words) == (
        f"{cellar.meter.name}, {cellar.atp_test.name}",
        "MRS: 4 colonies",
    )


def test_reading_of_a_later_clean_is_not_put_beside_an_earlier_plate(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(20 * DAY)
    cellar.sampled_ago(turnaround, 20 * DAY - 30 * MINUTE, rlu=90)
    plate = cellar.plate_sent(turnaround, ago=20 * DAY - 40 * MINUTE)
    cellar.run(cellar.started(turnaround, now=cellar.at(19 * DAY)), now=cellar.at(19 * DAY))
    cellar.sampled_ago(turnaround, 19 * DAY - 30 * MINUTE, rlu=1)
    later = cellar.plate_sent(turnaround, ago=19 * DAY - 40 * MINUTE)
    for sent, state in ((plate, "positive"), (later, "negative")):
        read(cellar, sent, state, ago=10 * DAY)
    assert [(p.rlu, p.grew) for p in pairs_since(None).pairs] == [(90, True), (1, False)]


def test_second_reading_after_a_clean_does_not_wipe_out_the_first(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(20 * DAY)
    cellar.sampled_ago(turnaround, 20 * DAY - 30 * MINUTE, rlu=90)
    cellar.sampled_ago(turnaround, 20 * DAY - 35 * MINUTE, rlu=2)
    read(cellar, cellar.plate_sent(turnaround, ago=20 * DAY - HOUR), "positive", ago=10 * DAY)
    assert [p.rlu for p in pairs_since(None).pairs] == [90]


def test_two_plates_of_one_sample_are_one_pair(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(20 * DAY)
    cellar.sampled_ago(turnaround, 20 * DAY - 30 * MINUTE, rlu=7)
    for medium, state in (("MRS", "negative"), ("WLN", "positive")):
        plate = cellar.plate_sent(turnaround, ago=20 * DAY - HOUR, medium=medium)
        read(cellar, plate, state, ago=10 * DAY)
    assert [(p.grew, p.plate_words) for p in pairs_since(None).pairs] == [(True, "WLN: 4 colonies")]


def test_plate_of_another_point_or_without_a_clean_stays_alone(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(20 * DAY)
    cellar.sampled_ago(turnaround, 20 * DAY - 30 * MINUTE, rlu=7)
    other = make_point(cellar.vessel, name="Racking arm", order=3)
    plate = cellar.plate_sent(turnaround, ago=20 * DAY - HOUR, point=other)
    read(cellar, plate, "negative", ago=10 * DAY)
    early = cellar.emptied(now=cellar.at(20 * DAY), vessel=make_vessel())
    read(cellar, cellar.plate_sent(early, ago=20 * DAY), "positive", ago=10 * DAY)
    found = pairs_since(None)
    assert (list(found.pairs), found.alone) == ([], 2)


def test_scales_are_never_put_together(cellar: Now) -> None:
    sampled_and_plated(cellar, rlu=12, state="positive")
    first = cellar.meter
    cellar.meter = make_meter()
    make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test)
    for rlu in (900, 950):
        sampled_and_plated(cellar, rlu=rlu, state="negative")
    found = pairs_since(None)
    assert [(scale.meter_id, count) for scale, count in found.scales] == [
        (cellar.meter.pk, 2),
        (first.pk, 1),
    ]
    client = signed_in(cellar.owner)
    assert ": 2 pairs, 0 positive" in page_of(client)
    assert ": 1 pair, 1 positive" in page_of(client, scale=f"{first.pk}-{cellar.atp_test.pk}")


def test_period_leaves_older_plates_out(cellar: Now) -> None:
    sampled_and_plated(cellar, rlu=1, state="negative", ago=200 * DAY)
    client = signed_in(cellar.owner)
    assert ": 1 pair, 0 positive" in page_of(client)
    assert "No pair yet" in page_of(client, period="quarter")


@pytest.mark.parametrize("turns", [1, 3, 30])
def test_pairs_take_the_same_queries_however_many(
    cellar: Now, turns: int, django_assert_num_queries: Any
) -> None:
    with_history(cellar, turns=turns)
    DishCount.objects.create(plate=Plate.objects.first(), dilution=1, volume_ml=1, colonies=3)
    with django_assert_num_queries(PAIRS_QUERIES):
        assert len(pairs_since(None).pairs) == turns


# --- the study ---


def study(pairs: Sequence[Pair], costs: Costs | None = None) -> Any:
    return study_of(SCALE, pairs, costs)


def test_table_counts_by_the_verdict_given_then() -> None:
    pairs = [pair(50, True), pair(40, False), pair(20, True), pair(5, False), pair(1, False)]
    action, alert = study(pairs).tables
    assert (action.cells.hits, action.cells.false_alarms) == (1, 1)
    assert (action.cells.misses, action.cells.quiet) == (1, 2)
    assert (alert.cells.hits, alert.cells.misses) == (2, 0)
    assert [(line.name, line.value) for line in action.lines[:2]] == [
        ("Sensitivity", "50 % (1 of 2)"),
        ("Specificity", "67 % (2 of 3)"),
    ]


def test_unjudged_reading_is_in_the_curve_but_in_no_table() -> None:
    pairs = [pair(50, True), pair(40, True), pair(5, False), pair(9, False, "unjudged")]
    found = study(pairs)
    assert (found.unjudged, found.tables[0].cells.all, found.roc.cut_offs[0].negatives) == (
        1,
        3,
        2,
    )


@pytest.mark.parametrize(
    "pairs, why",
    [
        ([(1, False), (2, False)], "Of 2 pairs, 0 are positive on the plate and 2 negative on"),
        ([(1, True), (2, True)], "Of 2 pairs, 2 are positive on the plate and 0 negative on"),
        ([(1, True), (2, False)], "Of 2 pairs, 1 is positive on the plate and 1 negative on"),
        ([(0, True), (0, True), (0, False), (0, False)], "All readings are equal"),
    ],
)
def test_too_little_gives_a_sentence_and_no_curve(pairs: list[tuple[int, bool]], why: str) -> None:
    found = study([pair(*p) for p in pairs], Costs(10, 1, "EUR"))
    assert (found.roc, found.best, found.costed) == (None, None, None)
    assert found.why_no_roc.startswith(why)
    assert "A curve needs" in found.why_no_roc


def test_few_positives_are_cautioned_of() -> None:
    found = study([pair(50, True), pair(1, False), pair(2, False)])
    (caution,) = found.cautions
    assert caution == (
        "Only 1 plate of 3 is positive. Use the intervals, not the figures alone: one more plate "
        "changes them."
    )


def test_cut_off_by_cost_is_put_in_words() -> None:
    pairs = [pair(r, g) for r, g in ((0, False), (1, False), (2, False), (3, False), (9, False))]
    pairs += [pair(r, g) for r, g in ((20, False), (8, True), (30, True), (40, True), (50, True))]
    found = study(pairs, Costs(10, 1, "EUR"))
    assert found.cost_words[0] == (
        "Lowest cost: re-clean from 8 RLU. It detects 4 of 4 positive plates, with 2 needless "
        "re-cleans of 6 negative plates."
    )
    assert found.cost_words[2] == (
        "Cost per clean: 0.2 EUR with it, 4 EUR with no re-clean, 0.6 EUR with a re-clean each "
        "time, 2 EUR with the action limits of the time."
    )


def test_costs_that_make_the_meter_needless_are_said() -> None:
    mixed = [pair(r, g) for r, g in ((1, True), (2, False), (3, True), (4, False), (5, False))]
    always = study(mixed, Costs(100_000, 1, "EUR")).cost_words[0]
    never = study(mixed, Costs(0.01, 1_000, "EUR")).cost_words[0]
    assert always.startswith("Every reading would ask for a re-clean (from 1 RLU)")
    assert never.startswith("No cut-off pays at these costs")


def test_disagreements_are_named_latest_first() -> None:
    then = clock.now() - DAY
    pairs = [pair(1, True, at=then), pair(2, True), pair(90, False), pair(50, True)]
    found = study(pairs)
    assert [p.rlu for p in found.missed] == [2, 1]
    assert [p.rlu for p in found.needless] == [90]


# --- the page ---


def test_page_is_for_everybody_signed_in_and_nobody_else(cellar: Now) -> None:
    people = (cellar.hand, cellar.brewer, cellar.owner, make_user())
    assert [signed_in(user).get(ADDRESS).status_code for user in people] == [200] * 4
    stranger = Client().get(ADDRESS)
    assert (stranger.status_code, stranger["Location"]) == (302, f"/sign-in/?next={ADDRESS}")


def test_page_warns_that_atp_is_no_count_even_without_a_pair(cellar: Now) -> None:
    text = page_of(signed_in(cellar.hand))
    assert "ATP is not a count of microbes." in text
    assert "No pair yet" in text
    assert text.count("<h1") == 1


@pytest.mark.parametrize("turns", [3, 60])
def test_page_takes_the_same_queries_however_many(
    cellar: Now, turns: int, django_assert_num_queries: Any
) -> None:
    with_history(cellar, turns=turns)
    client = signed_in(cellar.owner)
    page_of(client)
    with django_assert_num_queries(PAGE_QUERIES):
        page_of(client, missed="4000", needless="60")


def test_page_shows_table_curve_cut_off_and_links(cellar: Now) -> None:
    with_history(cellar)
    missed = sampled_and_plated(cellar, rlu=2, state="positive")
    text = page_of(signed_in(cellar.owner), missed="4000", needless="60")
    assert "<strong>Lowest cost: re-clean from " in text
    assert "At 4000 EUR for a dirty vessel filled and 60 EUR for a needless re-clean." in text
    assert text.count('<figure class="figure"') == 2
    assert text.count('class="twobytwo"') == 2
    disagree = text[text.index("Disagreements") :]
    assert f'href="/turnarounds/{missed.pk}/"' in disagree
    assert "nan" not in text.lower().replace("finance", "")


def test_costs_are_those_of_the_prices_where_none_is_typed(cellar: Now) -> None:
    with_history(cellar)
    client = signed_in(cellar.owner)
    assert "to calculate the cut-off with the lowest cost." in page_of(client)
    brewery_actions.edit_prices(
        by=acting(cellar.brewer), missed_tank_cost=5000, needless_clean_cost=70
    )
    assert "At 5000 EUR for a dirty vessel filled and 70 EUR" in page_of(client)
    assert "At 5000 EUR for a dirty vessel filled and 90 EUR" in page_of(client, needless="90")


@pytest.mark.parametrize(
    "asked, message",
    [
        ({"missed": "dear"}, "“dear” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ({"missed": "0", "needless": "5"}, "Enter more than 0, or leave it blank."),
        ({"missed": "50"}, "Enter this cost too. A cut-off needs both."),
        ({"missed": "-1", "needless": "5"}, "-1 is too low. Enter at least 0."),
        ({"period": "decade"}, "Choose a period of the list."),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_the_page_is_shown(
    cellar: Now, asked: dict[str, str], message: str
) -> None:
    with_history(cellar)
    text = page_of(signed_in(cellar.owner), **asked)
    assert message in text
    assert "What the limits detected" in text
    for value in asked.values():
        assert value == "decade" or f'value="{value}"' in text


def test_counted_plates_stand_by_their_cfu(cellar: Now) -> None:
    for rlu in (40, 41, 42):
        sampled_and_plated(cellar, rlu=rlu, state="positive", dishes=[Dish(1, 1, 35)])
    sampled_and_plated(cellar, rlu=1, state="negative", dishes=[Dish(1, 100, 0)])
    text = page_of(signed_in(cellar.owner))
    assert "MRS: 35 CFU per mL (24 to 49)" in text
    assert "Plates counted by volume" in text
