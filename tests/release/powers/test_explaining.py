"""A cause from the list, what was checked and the result; empty and repeated words."""

from datetime import timedelta

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.release.models import Decision
from brewhygiene.release.powers.explaining import (
    LOOKS_BACK,
    Explanation,
    ReleaseCause,
    checked_explanation,
    earlier_decisions,
    says_something,
)
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, make_head_brewer, make_vessel

GOOD = Explanation("new_part", "Gasket seat taken apart", "No soil behind it")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "ok",
        "OK!",
        "ok ok",
        "ok ok ok ok",
        "okay, fine, good",
        "All is fine",
        "Looks ok to me",
        "see above please",
        "n/a",
        "...",
        "xx yy zz",
        "aaa bbb ccc ddd",
        "asdf asdf asdf",
        "checked",
        "gasket",
        "new gasket",
        "gasket gasket gasket",
        "is gasket ok",
    ],
)
def test_what_a_careless_hand_types_says_nothing(text: str) -> None:
    assert says_something(text) is False


@pytest.mark.parametrize(
    "text",
    ["Read again, 12 RLU", "The gasket was new", "Alone in the cellar today", "pH 7.2 at outlet"],
)
def test_three_words_with_two_that_tell_say_something(text: str) -> None:
    assert says_something(text) is True


@pytest.mark.parametrize(
    "given, field, code",
    [
        (None, "reason_alerts", "no_reason"),
        (Explanation("", GOOD.checked, GOOD.result), "reason_alerts", "no_reason"),
        (Explanation("my own", GOOD.checked, GOOD.result), "reason_alerts", "no_reason"),
        (Explanation("water", " ", GOOD.result), "checked_alerts", "no_reason"),
        (Explanation("water", "ok", GOOD.result), "checked_alerts", "says_nothing"),
        (Explanation("water", GOOD.checked, ""), "result_alerts", "no_reason"),
        (Explanation("water", GOOD.checked, "ok"), "result_alerts", "says_nothing"),
        (
            Explanation("water", GOOD.checked, "gasket SEAT, taken  apart."),
            "result_alerts",
            "same_words",
        ),
    ],
)
def test_what_is_lacking_is_refused_beside_its_field(
    given: Explanation | None, field: str, code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        checked_explanation("alerts", "Alerts explained", given)
    assert (refused.value.field, refused.value.code) == (field, code)


def test_an_explanation_is_kept_without_its_outer_blanks_and_said_in_a_line() -> None:
    given = Explanation("new_part", " Gasket seat taken apart. ", " No soil behind it ")
    kept = checked_explanation("alerts", "Alerts explained", given)
    assert kept == Explanation("new_part", "Gasket seat taken apart.", "No soil behind it")
    assert kept.words == (
        "New or changed part. Checked: Gasket seat taken apart. Result: No soil behind it."
    )


def test_causes_are_a_closed_list_with_one_for_not_knowing() -> None:
    assert ReleaseCause.NOT_FOUND in ReleaseCause.values
    assert "other" not in ReleaseCause.values


# ---- the same words again ----


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def waiting(cellar: Cellar, days: int) -> Turnaround:
    """A vessel of its own with an alert, so many days on."""
    now = NOW + timedelta(days=days)
    turnaround = cellar.cleaned(now=now, vessel=make_vessel())
    cellar.sampled(turnaround, rlu=20, now=now + timedelta(minutes=30))
    return turnaround


def explained(cellar: Cellar, days: int, given: Explanation = GOOD, **values: object) -> Decision:
    return cellar.decided(
        waiting(cellar, days),
        now=NOW + timedelta(days=days, minutes=40),
        gate_reasons={"alerts": given},
        **values,
    )


def test_words_are_kept_as_data_and_in_the_ledger(cellar: Cellar) -> None:
    decision = explained(cellar, 0)
    assert decision.explanations == {
        "alerts": {
            "cause": "new_part",
            "checked": GOOD.checked,
            "result": GOOD.result,
            "same_as": "",
        }
    }
    assert decision.waivers == {"alerts": GOOD.words}
    assert decision.marks == []
    assert Entry.objects.latest("pk").values["waivers"] == {"alerts": GOOD.words}


@pytest.mark.parametrize(
    "again",
    [
        Explanation("water", "gasket  SEAT taken apart!", "Another result entirely"),
        Explanation("water", "Another check entirely", "No soil, behind it"),
        Explanation("water", "No soil behind it", "Another result entirely"),
    ],
)
def test_the_same_words_again_are_marked_with_the_day(cellar: Cellar, again: Explanation) -> None:
    first = explained(cellar, 0)
    second = explained(cellar, 3, again)
    assert second.explanations["alerts"]["same_as"] == first.decided_at.isoformat()
    assert second.waivers["alerts"].startswith(again.words + " Same words as on 10 March 2026, ")
    assert second.marks == ["Signed with the same words as an earlier decision"]


def test_other_words_and_another_persons_are_not_marked(cellar: Cellar) -> None:
    explained(cellar, 0)
    other = Explanation("new_part", "Gasket seat taken out", "No soil in front of it")
    assert explained(cellar, 1, other).marks == []
    assert explained(cellar, 2, by=make_head_brewer()).marks == []


def test_the_latest_of_the_same_words_is_named(cellar: Cellar) -> None:
    explained(cellar, 0)
    second = explained(cellar, 1)
    third = explained(cellar, 2)
    assert third.explanations["alerts"]["same_as"] == second.decided_at.isoformat()


def test_only_the_last_decisions_of_a_person_are_looked_back_upon(cellar: Cellar) -> None:
    turnaround = waiting(cellar, 0)
    cellar.decided(turnaround, gate_reasons={"alerts": GOOD})
    for minute in range(LOOKS_BACK - 1):
        cellar.decided(turnaround, "hold", now=NOW + timedelta(minutes=41 + minute))
    assert len(earlier_decisions(cellar.brewer)) == LOOKS_BACK == 20
    later = NOW + timedelta(minutes=41 + LOOKS_BACK)
    marked = cellar.decided(turnaround, now=later, gate_reasons={"alerts": GOOD})
    assert marked.explanations["alerts"]["same_as"] != ""
    for minute in range(LOOKS_BACK):
        cellar.decided(turnaround, "hold", now=later + timedelta(minutes=1 + minute))
    free = cellar.decided(
        turnaround, now=later + timedelta(minutes=30), gate_reasons={"alerts": GOOD}
    )
    assert free.explanations["alerts"]["same_as"] == ""


def test_a_hold_keeps_what_was_explained_in_full_and_asks_for_nothing_more(
    cellar: Cellar,
) -> None:
    turnaround = waiting(cellar, 0)
    half = cellar.decided(
        turnaround, "hold", gate_reasons={"alerts": Explanation("water", "ok", "")}
    )
    assert half.waivers == {}
    full = cellar.decided(turnaround, "hold", gate_reasons={"alerts": GOOD})
    assert full.waivers == {"alerts": GOOD.words}


def test_ok_is_refused_by_the_action_and_nothing_is_written(cellar: Cellar) -> None:
    turnaround = waiting(cellar, 0)
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        cellar.decided(turnaround, gate_reasons={"alerts": Explanation("water", "ok", "ok")})
    assert refused.value.field == "checked_alerts"
    assert (Decision.objects.count(), Entry.objects.count()) == (0, before)
    assert PASSWORD not in refused.value.message
