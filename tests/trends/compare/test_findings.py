"""What stands out among turnarounds, in words, and the rows behind it."""

import pytest
from django.urls import reverse

from brewhygiene.trends.turns.facts import Why
from tests.factories import (
    Cellar,
    make_test_lot,
)
from tests.trends.compare.scene import bad_at, compare, history, rows, share, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def test_a_vessel_that_is_worse_is_named_with_what_to_look_at(cellar: Cellar) -> None:
    history(cellar, cleans=40, rlu=bad_at("Tank 2"))
    first = compare(cellar.owner)
    findings = first.context["findings"]
    assert findings[0].says.startswith("Vessel Tank 2: ")
    assert "the spray device and its flow" in findings[0].do
    vessels = compare(cellar.owner, by="vessel")
    assert [group.name for group in vessels.context["worse"]] == ["Tank 2"]
    assert vessels.context["worse"][0].outside == -2
    together = compare(cellar.owner, by="together")
    assert "Vessel Tank 2: " in together.context["named"][0][0]


def test_chance_names_nobody(cellar: Cellar) -> None:
    history(cellar, cleans=40)
    answer = compare(cellar.owner, by="vessel")
    assert answer.context["worse"] == []
    assert "All vessels are within the control limits" in words(answer)
    together = words(compare(cellar.owner, by="together"))
    assert "At least 15 are needed" in together or "Nothing stands out" in together


def test_page_says_so_where_nothing_stands_out(cellar: Cellar) -> None:
    history(cellar, vessels=3, cleans=10, rlu=lambda swab: 0)
    answer = compare(cellar.owner)
    assert answer.context["findings"] == []
    assert "No vessel, point or week is worse than the rest." in words(answer)


@pytest.mark.instants
def test_a_week_in_which_all_suffer_is_named(cellar: Cellar) -> None:
    history(
        cellar,
        cleans=40,
        rlu=lambda swab: 300 if swab.turn.number == 20 or share(swab.turn, "over", 0.03) else 1,
    )
    weeks = compare(cellar.owner, by="weeks").context["bad_weeks"]
    assert [(week.count, week.number) for week in weeks] == [(6, 6)]
    says = " ".join(finding.says for finding in compare(cellar.owner).context["findings"])
    assert "Far more turnarounds than usual were not clean" in says
    assert "(6 of 6)" in says


def test_what_is_not_judged_is_said_where_it_is_much(cellar: Cellar) -> None:
    other = make_test_lot()
    history(
        cellar,
        vessels=2,
        cleans=10,
        test_lot=lambda turn: other if turn.number < 3 else cellar.lot,
    )
    says = [finding.says for finding in compare(cellar.owner).context["findings"]]
    assert (
        "6 of 20 cleaned turnarounds are not judged: 6 with a reading that had no approved limits."
        in says
    )


def test_rows_behind_a_vessel_are_its_turnarounds(cellar: Cellar) -> None:
    history(cellar, vessels=2, cleans=10, rlu=lambda swab: 300 if swab.turn.number == 4 else 1)
    asked = {"by": "vessel", "of": str(cellar.vessel.pk)}
    page = rows(cellar.owner, **asked)
    behind = page.context["behind"]
    assert {code: number for code, _, number in behind.counts} == {
        "not-clean": 1,
        "clean": 9,
        "not-judged": 0,
    }
    (fact,) = behind.facts
    assert (fact.vessel_name, fact.why) == (cellar.vessel.name, Why.OVER)
    assert reverse("board:turnaround", args=[fact.turnaround_id]) in page.content.decode()
    clean = rows(cellar.owner, **asked, only="clean").context["behind"]
    assert len(clean.facts) == 9
    assert clean.facts[0].opened_at > clean.facts[-1].opened_at
    point = rows(cellar.owner, by="point", of=str(cellar.point.pk)).context["behind"]
    assert [fact.turnaround_id for fact in point.facts] == [
        fact.turnaround_id for fact in behind.facts
    ]
