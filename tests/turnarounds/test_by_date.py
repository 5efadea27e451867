"""Draught lines: when they were cleaned last and with acid, and what is proposed by date."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from brewhygiene.board.cards import NEEDS_YOU, RESTING, card_of
from brewhygiene.board.queries import vessels_for_board
from brewhygiene.cellar.by_date import Within
from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.models import RegimeVersion, StepKind
from brewhygiene.release.actions import record_fill_without_release
from brewhygiene.release.queries import states_of
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.queries import by_date_of, proposal_for
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_version,
    make_vessel,
)
from tests.factories.values import next_number
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
# A clean of one step takes 10 minutes in these tests.
TOOK = timedelta(minutes=10)


class Bar(Cellar):
    """A draught line with two regimes: a rinse, and an acid."""

    def __init__(self) -> None:
        super().__init__()
        self.vessel = make_vessel(name="Line 1", kind="draught_line", volume_hl=0.05, points=1)
        self.plain = self._regime("Line, plain", StepKind.RINSE)
        self.with_acid = self._regime("Line, with acid", StepKind.ACID)

    def _regime(self, name: str, kind: StepKind) -> RegimeVersion:
        acid = make_agent(name="Acid", kind="acid", active_substance="H3PO4")
        version = make_version(steps=False, name=name, vessel_kinds=["draught_line"], level=2)
        add_step(version, kind, agent=acid if kind == StepKind.ACID else None)
        acid.name = f"Acid of {name}"
        acid.save()
        return version

    def used(self, version: RegimeVersion, *, days_ago: float) -> Turnaround:
        """Emptied, cleaned and filled again, so many days ago."""
        then = NOW - days_ago * DAY
        turnaround = self.emptied(now=then)
        clean = turnaround_actions.start_clean(
            by=acting(self.hand, now=then),
            turnaround=turnaround,
            version=version,
            weaker_reason="Acid is at the other bar",
        )
        self.run(clean, now=then)
        later = then + timedelta(minutes=50)
        record_fill_without_release(
            by=acting(self.brewer, now=later),
            turnaround=turnaround,
            beer=self.pale,
            batch=f"B{next_number()}",
            volume_hl=0.04,
            filled_at=later,
            reason="Put on for the evening",
            password=PASSWORD,
        )
        return turnaround

    def proposed(self, *, days_ago: float = 0) -> tuple[str, str]:
        turnaround = self.emptied(now=NOW - days_ago * DAY)
        loaded = Turnaround.objects.select_related("vessel", "emptying__beer", "next_beer").get(
            pk=turnaround.pk
        )
        found = proposal_for(loaded)
        assert found.version is not None
        return found.version.regime.name, found.reasons[-1]


@pytest.fixture
def bar() -> Bar:
    return Bar()


def test_last_clean_and_last_acid_are_those_that_were_finished(bar: Bar) -> None:
    first = bar.used(bar.with_acid, days_ago=40)
    last = bar.used(bar.plain, days_ago=13)
    bar.version = bar.with_acid
    bar.started(bar.emptied(now=NOW), now=NOW)
    found = by_date_of([bar.vessel])[bar.vessel.pk]
    assert found.within == Within(14, 91)
    assert found.acid_at == first.opened_at + TOOK
    assert found.cleaned_at == last.opened_at + TOOK


def test_one_query_for_all_lines_and_none_for_tanks(bar: Bar) -> None:
    lines = [bar.vessel, make_vessel(kind="draught_line"), make_vessel(kind="draught_line")]
    with CaptureQueriesContext(connection) as queries:
        assert by_date_of([Vessel(pk=1, kind="fermenter")]) == {}
    assert len(queries) == 0
    with CaptureQueriesContext(connection) as queries:
        assert len(by_date_of(lines)) == 3
    assert len(queries) == 1


def test_acid_is_proposed_where_none_is_on_record(bar: Bar) -> None:
    bar.used(bar.plain, days_ago=13)
    assert bar.proposed() == (
        "Line, with acid",
        "No acid clean on record, due within 91 days",
    )


@pytest.mark.parametrize(("days_ago", "regime"), [(76.9, "Line, plain"), (77.1, "Line, with acid")])
def test_acid_is_proposed_before_its_date_passes(bar: Bar, days_ago: float, regime: str) -> None:
    bar.used(bar.with_acid, days_ago=days_ago)
    name, reason = bar.proposed()
    assert name == regime
    acid = (NOW - days_ago * DAY).strftime("%B %Y, due within 91 days")
    assert reason.endswith(acid) is (regime == "Line, with acid")


def test_days_of_its_own_count_for_a_line(bar: Bar) -> None:
    bar.used(bar.with_acid, days_ago=50)
    Vessel.objects.filter(pk=bar.vessel.pk).update(acid_within_days=60)
    assert bar.proposed()[0] == "Line, with acid"


def shown(bar: Bar) -> tuple[str, str, bool]:
    (state,) = states_of(vessels_for_board().filter(pk=bar.vessel.pk), now=NOW)
    card = card_of(state, may=lambda permission: True, now=NOW)
    return card.detail.rpartition(", ")[2], card.group, card.overdue


def test_line_in_use_is_due_on_the_board_by_its_date(bar: Bar) -> None:
    bar.used(bar.with_acid, days_ago=13)
    assert shown(bar) == ("clean due", RESTING, False)
    Vessel.objects.filter(pk=bar.vessel.pk).update(clean_within_days=12)
    assert shown(bar) == ("clean due", NEEDS_YOU, True)


def test_line_without_acid_on_record_needs_it_now(bar: Bar) -> None:
    bar.used(bar.plain, days_ago=1)
    assert shown(bar) == ("acid clean due", NEEDS_YOU, True)


def test_page_of_a_line_says_when_it_was_cleaned_and_until_when_it_is_due(bar: Bar) -> None:
    bar.used(bar.plain, days_ago=10)
    client = signed_in(bar.hand)
    page = client.get(f"/vessels/{bar.vessel.pk}/").content.decode()
    cleaned = NOW - 10 * DAY
    due = cleaned + 14 * DAY
    for words in (
        f"<dt>Last clean</dt><dd>{cleaned.day} {cleaned:%b %Y}</dd>",
        f"by {due.day} {due:%b %Y}, every 14 days",
        "<dt>Last acid clean</dt><dd>not on record</dd>",
        "<dd>due, every 91 days",
    ):
        assert words in " ".join(page.split()), words
    assert "Last acid clean" not in client.get(f"/vessels/{make_vessel().pk}/").content.decode()
