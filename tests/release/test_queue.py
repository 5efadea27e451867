"""What is in the release queue and in what order, worked out of statuses: no database."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.cellar.models import Beer, Vessel
from brewhygiene.release import queue
from brewhygiene.release.polling import Seen
from brewhygiene.release.queries import VesselState
from brewhygiene.release.standing.facts import CleanFacts, VesselFacts
from brewhygiene.release.status import Code, Next, Status
from brewhygiene.turnarounds.models import Turnaround
from tests.release.test_status import CLEANED, CLEAR, after

NOW = after(8)


def state(
    pk: int, code: Code, *, next_beer: Beer | None = None, facts: Any = None, **values: Any
) -> VesselState:
    vessel = Vessel(pk=pk, name=f"FV {pk}", kind="fermenter", order=pk)
    status = Status(
        **{
            "code": code,
            "since": after(3),
            "detail": "As told",
            "next": Next.DECIDE,
            "next_text": "Hold or release",
            **values,
        }
    )
    turnaround = None if code == Code.IN_USE else Turnaround(pk=pk + 100, next_beer=next_beer)
    return VesselState(vessel, VesselFacts(name=vessel.name, turnaround=facts), status, turnaround)


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Any:
    def queue_of(*states: VesselState, seen: Seen | None = None) -> queue.Queue:
        monkeypatch.setattr(queue, "states_of", lambda vessels, now: list(states))
        return queue.queue_at(NOW, seen=seen)

    return queue_of


def rows(found: queue.Queue) -> dict[str, list[int]]:
    return {part.name: [row.vessel_pk for row in part.rows] for part in found.parts}


def test_the_queue_holds_four_kinds_in_their_order_and_leaves_out_what_is_empty(
    shown: Any,
) -> None:
    every = [state(number, code) for number, code in enumerate(Code, start=1)]
    found = shown(*every)
    assert [(part.name, part.title) for part in found.parts] == [
        ("to_decide", "To decide"),
        ("held", "Held"),
        ("lapsed", "Lapsed"),
        ("released", "Released, waiting to be filled"),
    ]
    assert found.number == 4
    assert rows(shown(state(1, Code.HELD), state(2, Code.HELD))) == {"held": [1, 2]}
    assert shown(state(1, Code.EMPTY)).number == 0


def test_what_is_due_first_leads_then_what_waits_longest_then_its_place(shown: Any) -> None:
    found = shown(
        state(4, Code.TO_DECIDE, due_at=None, since=None),
        state(3, Code.TO_DECIDE, due_at=after(5)),
        state(2, Code.TO_DECIDE, due_at=after(5)),
        state(1, Code.TO_DECIDE, due_at=after(6), since=after(1)),
        state(5, Code.TO_DECIDE, due_at=None, since=after(4)),
    )
    assert rows(found) == {"to_decide": [5, 2, 3, 1, 4]}


def test_a_row_says_what_is_to_be_known_of_its_vessel(shown: Any) -> None:
    beer = Beer(name="Stout (invented)")
    late = state(1, Code.RELEASED, next_beer=beer, due_at=NOW - timedelta(minutes=1))
    held = state(2, Code.IN_USE)
    held = replace(held, status=replace(held.status, code=Code.HELD, due_at=NOW))
    found = shown(late, held)
    (of_held,), (of_late,) = (part.rows for part in found.parts)
    assert (of_late.name, of_late.kind, of_late.turnaround_pk) == ("FV 1", "fermenter", 101)
    assert (of_late.next_beer, of_late.overdue, of_late.detail) == (beer.name, True, "As told")
    # In use, so it has no turnaround; due now is not overdue.
    assert (of_held.turnaround_pk, of_held.next_beer, of_held.overdue) == (None, "", False)
    assert (of_held.verdicts, of_late.verdicts) == ((), ())


def test_readings_are_counted_by_verdict_since_the_last_full_clean(shown: Any) -> None:
    second = CleanFacts(2, True, "Hot", after(4), after(5))
    resanitised = CleanFacts(3, False, "Again", after(6), after(7))
    results = [
        replace(CLEAR, clean_pk=clean, verdict=verdict)
        for clean, verdict in (
            (1, "action"),
            (2, "clear"),
            (2, "alert"),
            (3, "clear"),
            (3, "unjudged"),
        )
    ]
    facts = replace(CLEANED, cleans=[*CLEANED.cleans, second, resanitised], results=results)
    (part,) = shown(state(1, Code.TO_DECIDE, facts=facts)).parts
    assert dict(part.rows[0].verdicts) == {"clear": 2, "alert": 1, "unjudged": 1}
    uncleaned = replace(facts, cleans=[])
    (part,) = shown(state(1, Code.TO_DECIDE, facts=uncleaned)).parts
    assert part.rows[0].verdicts == ()


def test_the_news_are_of_what_changed_since_the_page_was_seen(shown: Any) -> None:
    before = shown(state(1, Code.TO_DECIDE), state(2, Code.EMPTY))
    assert before.news == ""
    same = shown(state(1, Code.TO_DECIDE), state(2, Code.EMPTY), seen=before.seen)
    assert (same.news, same.seen) == ("", before.seen)
    later = shown(state(1, Code.HELD), state(2, Code.EMPTY), seen=before.seen)
    assert later.news == "FV 1: held."
    assert later.seen.digest != before.seen.digest
    assert later.now == NOW
