"""What is cleaned by date: the shipped days, a vessel's own, and until when the next is due."""

from datetime import UTC, datetime, timedelta

import pytest

from brewhygiene.cellar.by_date import ByDate, Within, within_of
from brewhygiene.cellar.models import Vessel, VesselKind

DAY = timedelta(days=1)
CLEANED = datetime(2026, 3, 2, 12, tzinfo=UTC)
LINE = Within(14, 91)


@pytest.mark.parametrize("kind", VesselKind)
def test_only_a_draught_line_has_days_of_its_kind(kind: VesselKind) -> None:
    expected = Within(14, 91) if kind == VesselKind.DRAUGHT_LINE else Within(None, None)
    assert within_of(Vessel(kind=kind)) == expected
    assert bool(expected) is (kind == VesselKind.DRAUGHT_LINE)


def test_days_of_a_vessel_go_before_those_of_its_kind() -> None:
    assert within_of(Vessel(kind="draught_line", clean_within_days=7)) == Within(7, 91)
    assert within_of(Vessel(kind="draught_line", acid_within_days=60)) == Within(14, 60)
    assert within_of(Vessel(kind="fermenter", acid_within_days=30)) == Within(None, 30)
    assert Within(None, 30)


def test_due_by_the_sooner_of_clean_and_acid() -> None:
    line = ByDate(LINE, CLEANED, CLEANED - 80 * DAY)
    assert (line.clean_due_at, line.acid_due_at) == (CLEANED + 14 * DAY, CLEANED + 11 * DAY)
    assert (line.due_at, line.words) == (CLEANED + 11 * DAY, "acid clean due")
    both = ByDate(LINE, CLEANED, CLEANED - 77 * DAY)
    assert (both.due_at, both.words) == (CLEANED + 14 * DAY, "acid clean due")
    later = ByDate(LINE, CLEANED, CLEANED)
    assert (later.due_at, later.words) == (CLEANED + 14 * DAY, "clean due")


def test_what_is_not_on_record_is_due_since_it_was_filled() -> None:
    assert ByDate(LINE, CLEANED, None, CLEANED + DAY).due_at == CLEANED + DAY
    assert ByDate(LINE, CLEANED, None, CLEANED + DAY).words == "acid clean due"
    assert ByDate(LINE, None, None, None).due_at is None
    assert ByDate(LINE, None, None, None).words == ""


def test_vessel_with_a_rule_for_acid_alone_is_never_due_to_be_cleaned() -> None:
    only = ByDate(Within(None, 30), CLEANED, CLEANED)
    assert (only.clean_due_at, only.due_at) == (None, CLEANED + 30 * DAY)
    other = ByDate(Within(30, None), CLEANED, CLEANED)
    assert (other.acid_due_at, other.words) == (None, "clean due")


@pytest.mark.parametrize(("days", "asks"), [(77, False), (78, True), (91, True), (200, True)])
def test_acid_is_asked_for_where_the_next_clean_would_be_too_late(days: int, asks: bool) -> None:
    assert ByDate(LINE, CLEANED, CLEANED).asks_acid(CLEANED + days * DAY) is asks


def test_acid_is_asked_for_where_none_is_on_record_and_never_without_a_rule() -> None:
    assert ByDate(LINE).asks_acid(CLEANED)
    assert not ByDate(Within(14, None)).asks_acid(CLEANED)
    alone = ByDate(Within(None, 30), None, CLEANED)
    assert not alone.asks_acid(CLEANED + 30 * DAY)
    assert alone.asks_acid(CLEANED + 31 * DAY)
