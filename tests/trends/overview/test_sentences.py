"""A month in sentences: each rule, and nothing that the figures do not say."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.trends.overview.sentences import (
    FEW,
    Money,
    Worse,
    compared_briefly,
    sentences_of,
)
from tests.trends.overview.turn_facts import fact, facts, figures


def said(*args: object, **values: object) -> str:
    return " ".join(sentences_of(figures(*args, **values)))  # type: ignore[arg-type]


def test_share_has_its_interval() -> None:
    """Wilson's interval of 27 of 30 is 74.4 to 96.5 %."""
    assert said(facts(27, dirty=3)).startswith(
        "In March 2026 27 of 30 turnarounds were clean the first time: "
        "90 % (95 % interval 74 to 97 %)."
    )


def test_few_turnarounds_are_said_to_be_few() -> None:
    few = "Fewer than 10 turnarounds are too few for a reliable share."
    assert few in said(facts(FEW - 1))
    assert few not in said(facts(FEW))


def test_one_turnaround_is_told_in_the_singular() -> None:
    assert "1 of 1 turnaround was clean the first time: 100 %" in said(facts(1))


def test_change_within_chance_is_not_called_one() -> None:
    text = said(facts(19, dirty=1), facts(17, dirty=3))
    assert "It was 85 % in February 2026. The difference is within chance (95 % interval)." in text
    assert "better" not in text


def test_no_change_is_called_so() -> None:
    assert "It was 90 % in February 2026 too." in said(facts(9, dirty=1), facts(18, dirty=2))


def test_change_beyond_chance_is_told_with_its_size() -> None:
    """Newcombe's interval of 40/40 less 25/40 is 21.6 to 53 points."""
    better = said(facts(40), facts(25, dirty=15))
    assert (
        "That is better than the 62 % in February 2026, by 22 to 53 points (95 % interval)."
        in better
    )
    worse = said(facts(25, dirty=15), facts(40))
    assert (
        "That is worse than the 100 % in February 2026, by 22 to 53 points (95 % interval)."
        in worse
    )


def test_nothing_before_is_nothing_to_compare_with() -> None:
    nothing = "No turnaround of February 2026 is judged to compare it with."
    assert nothing in said(facts(20), [])
    assert nothing in said(facts(20), facts(0, not_judged=3))
    assert nothing not in said(facts(20))


def test_turnarounds_not_judged_are_named() -> None:
    assert "2 turnarounds are not judged: a point was not read, or has no approved limits." in said(
        facts(12, not_judged=2)
    )
    assert "not judged" not in said(facts(12))


def test_nothing_judged_gives_no_share() -> None:
    text = said(facts(0, not_judged=3))
    assert text.startswith("None of 3 turnarounds in March 2026 is judged: a point required")
    assert "%" not in text


def test_recleans_are_counted() -> None:
    assert "None was re-cleaned." in said(facts(3))
    twice = [*facts(3), fact(9, first_time_clean=False, recleans=2)]
    assert "1 turnaround was re-cleaned, 2 times in all." in said(twice)
    once = [fact(9, first_time_clean=False, recleans=1)]
    assert "1 turnaround was re-cleaned." in said(once)


def test_hours_are_told_with_their_slow_tail() -> None:
    hours = [fact(n, hours_to_release=float(n)) for n in range(1, 21)]
    assert (
        "The median time from emptied to released was 10 h. One in ten took longer than 18 h."
        in said(hours)
    )
    assert "One in ten" not in said(hours[:9])


def test_hours_changed_only_where_their_intervals_part() -> None:
    slow, quick = facts(20, hours_to_release=9.0), facts(20, hours_to_release=3.0)
    assert "That is longer than the 3 h in February 2026." in said(slow, quick)
    assert "That is shorter than the 9 h in February 2026." in said(quick, slow)
    assert "longer" not in said(slow[:5], quick)


def test_nothing_released_is_said() -> None:
    assert "None was released." in said(facts(3, hours_to_release=None))


def test_lapses_and_signatures_are_told_where_there_are_any() -> None:
    text = said(facts(2, lapses=1, self_release=True, without_release=True))
    assert "2 releases lapsed before the fill." in text
    assert "2 vessels were filled without a release." in text
    assert (
        "2 turnarounds were self-released: the person who signed had worked on the clean." in text
    )
    quiet = said(facts(2))
    assert not any(word in quiet for word in ("lapsed", "without a release", "self-released"))


def test_unjudged_readings_are_told_of_all() -> None:
    text = said(facts(2), readings=40, unjudged=1)
    assert "1 reading of 40 has no verdict: no limits are approved" in text
    assert "no verdict" not in said(facts(2), readings=40)


@pytest.mark.parametrize(
    ("found", "words"),
    [
        ([], "No step left its window."),
        ([("step left out", 1)], "1 deviation in the steps: step left out."),
        ([("a", 1), ("b", 1), ("c", 1)], "3 deviations in the steps: a, b and 1 more."),
        ([("too cold", 4)], "4 deviations in the steps, each time: too cold."),
        ([("too cold", 4), ("b", 1)], "5 deviations in the steps, most often: too cold (4)."),
    ],
)
def test_deviations_are_told_by_their_kind(found: list[tuple[str, int]], words: str) -> None:
    assert words in said(facts(2), deviations=found)


def test_plates_are_told_read_positive_and_overdue() -> None:
    assert "Of 7 plates read, 1 was positive." in said(facts(2), plates_read=7, plates_positive=1)
    assert "Of 1 plate read, none was positive." in said(facts(2), plates_read=1)
    assert "2 plates are overdue." in said(facts(2), plates_overdue=2)
    assert "plate" not in said(facts(2))


def test_points_getting_worse_are_named_three_at_most() -> None:
    worse = [Worse(f"FV{n}, valve", "3 March" if n == 1 else "") for n in range(1, 6)]
    assert (
        "Getting worse: FV1, valve since 3 March · FV2, valve · FV3, valve · and 2 more."
        in said(facts(2), worse=worse)
    )
    assert "No point is getting worse." in said(facts(2))


def test_what_is_known_later_is_dated() -> None:
    later = {"worse_on": "10 May 2026"}
    assert "No point is getting worse on 10 May 2026." in said(facts(2), **later)
    assert "Getting worse on 10 May 2026: FV1, valve." in said(
        facts(2), worse=[Worse("FV1, valve")], **later
    )


def test_cost_is_told_with_the_month_before() -> None:
    now, then = Money(3.2, "EUR 3.20 per hL", 24), Money(3.5, "EUR 3.50 per hL", 20)
    assert (
        "Cleaning cost EUR 3.20 per hL, over 24 cleans. It was EUR 3.50 per hL in February 2026."
        in said(facts(2), money=now, money_before=then)
    )
    assert "Cleaning cost" not in said(facts(2), money_before=then)


def test_month_without_a_turnaround_says_so_and_shows_no_rate() -> None:
    text = said([], facts(20), plates_overdue=1)
    assert text.startswith("No vessel was emptied in March 2026, so no rate is shown.")
    assert "1 plate is overdue." in text
    assert "%" not in text


@given(
    clean=st.integers(0, 60),
    dirty=st.integers(0, 20),
    not_judged=st.integers(0, 5),
    was=st.integers(0, 60),
    was_dirty=st.integers(0, 20),
)
def test_every_number_said_is_one_of_the_figures(
    clean: int, dirty: int, not_judged: int, was: int, was_dirty: int
) -> None:
    """The two counts of the first sentence are those of the facts, whatever they are."""
    now = facts(clean, dirty=dirty, not_judged=not_judged)
    text = said(now, facts(was, dirty=was_dirty))
    found = re.search(r"(\d+) of (\d+) turnarounds? w", text)
    assert (found is not None) == (clean + dirty > 0)
    if found is not None:
        assert (int(found[1]), int(found[2])) == (clean, clean + dirty)
    assert "nan" not in text
    assert ("better" in text) <= (clean * (was + was_dirty) > was * (clean + dirty))
    assert ("worse than" in text) <= (clean * (was + was_dirty) < was * (clean + dirty))


def test_card_says_the_same_in_few_words() -> None:
    assert (
        compared_briefly(figures(facts(40), facts(25, dirty=15))) == "Better than the 62 % before."
    )
    assert compared_briefly(figures(facts(20), facts(19, dirty=1))) == (
        "95 % before, a difference within chance."
    )
    assert compared_briefly(figures(facts(20), [])) == "No turnaround before to compare it with."
    assert compared_briefly(figures(facts(20))) == ""
