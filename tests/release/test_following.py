"""What a page that follows the cellar by itself is told, and when."""

from datetime import UTC, datetime, timedelta

from brewhygiene.release.polling import Seen, changed_since, news_of, seen_of
from brewhygiene.release.status import Code

NOON = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)
CODES = {7: Code.EMPTY, 3: Code.HELD}


def test_seen_is_the_same_for_the_same_things_within_a_minute() -> None:
    first = seen_of(["a"], codes=CODES, now=NOON)
    assert seen_of(["a"], codes=CODES, now=NOON + timedelta(seconds=59)) == first


def test_seen_is_another_when_a_minute_has_passed_or_a_thing_has_changed() -> None:
    first = seen_of(["a"], codes=CODES, now=NOON)
    later = seen_of(["a"], codes=CODES, now=NOON + timedelta(minutes=1))
    other = seen_of(["b"], codes=CODES, now=NOON)
    assert len({first.digest, later.digest, other.digest}) == 3
    assert first.letters == later.letters == other.letters


def test_seen_goes_through_an_address_and_back() -> None:
    seen = seen_of(["a"], codes=CODES, now=NOON)
    assert Seen.from_text(str(seen)) == seen
    assert Seen.from_text("") is None
    assert Seen.from_text("nonsense") is None


def test_changed_names_the_vessels_whose_status_is_another() -> None:
    seen = seen_of([], codes=CODES, now=NOON)
    assert changed_since(seen, codes={7: Code.CLEANING, 3: Code.HELD}) == [7]
    assert changed_since(seen, codes=CODES) == []


def test_changed_names_nobody_where_nothing_was_seen_or_vessels_came_and_went() -> None:
    seen = seen_of([], codes=CODES, now=NOON)
    assert changed_since(None, codes=CODES) == []
    assert changed_since(seen, codes={7: Code.CLEANING}) == []


def test_changed_takes_no_harm_from_a_forged_address() -> None:
    assert changed_since(Seen("x", "zz"), codes=CODES) == [3, 7]


def test_news_names_up_to_three_vessels_and_counts_more() -> None:
    three = [("FV 1", Code.TO_DECIDE), ("FV 2", Code.HELD), ("BT 1", Code.RELEASED)]
    assert news_of(three) == "FV 1: to decide. FV 2: held. BT 1: released."
    assert news_of([*three, ("BT 2", Code.EMPTY)]) == "4 vessels have changed."
    assert news_of([]) == ""
