"""Two people at the same moment, on connections of their own."""

import threading
import time
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection, transaction

from brewhygiene.cellar.models import Emptying
from brewhygiene.ledger.recording import check_chain
from brewhygiene.refusals import Refusal
from brewhygiene.release.actions import decide
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.actions import empty_vessel
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting, make_vessel

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*calls: Callable[[], object]) -> list[object]:
    """What each call gave, or its refusal, with all of them let go together."""
    gate = threading.Barrier(len(calls))
    outcomes: list[object] = [None] * len(calls)

    def run(index: int, call: Callable[[], object]) -> None:
        try:
            gate.wait(timeout=20)
            outcomes[index] = call()
        except Refusal as refusal:
            outcomes[index] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=item) for item in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


def test_one_vessel_emptied_by_two_at_once_is_emptied_once() -> None:
    cellar = Cellar()

    def empty() -> object:
        return empty_vessel(by=acting(cellar.hand), vessel=cellar.vessel, emptied_at=NOW)

    outcomes = at_once(empty, empty)
    assert sorted(isinstance(outcome, Refusal) for outcome in outcomes) == [False, True]
    assert Emptying.objects.count() == 1


def test_one_form_sent_twice_at_once_is_written_once() -> None:
    cellar = Cellar()

    def empty() -> object:
        return empty_vessel(
            by=acting(cellar.hand, key="one-tap"), vessel=cellar.vessel, emptied_at=NOW
        )

    first, second = at_once(empty, empty)
    assert first == second
    assert Emptying.objects.count() == 1


def _decide(cellar: Cellar, turnaround: Turnaround, outcome: str) -> object:
    return decide(
        by=acting(cellar.brewer, now=NOW + timedelta(minutes=40)),
        turnaround=turnaround,
        outcome=outcome,
        password=PASSWORD,
        revision_seen=turnaround.revision,
        reason="Not sure of it",
    )


def test_two_deciding_at_once_leave_one_decision() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    turnaround.refresh_from_db()
    outcomes = at_once(
        lambda: _decide(cellar, turnaround, "release"),
        lambda: _decide(cellar, turnaround, "hold"),
    )
    assert sorted(isinstance(outcome, Refusal) for outcome in outcomes) == [False, True]
    assert Decision.objects.count() == 1


def test_many_writers_at_once_leave_a_whole_chain() -> None:
    cellar = Cellar()
    vessels = [make_vessel() for _ in range(12)]
    outcomes = at_once(
        *(
            lambda vessel=vessel: empty_vessel(
                by=acting(cellar.hand), vessel=vessel, emptied_at=NOW
            )
            for vessel in vessels
        )
    )
    assert [isinstance(outcome, Refusal) for outcome in outcomes] == [False] * 12
    assert check_chain() is None


def test_writer_within_a_transaction_does_not_wait_for_one_that_waits_for_it() -> None:
    cellar = Cellar()
    first, second = make_vessel(), make_vessel()
    begun, began = threading.Event(), time.monotonic()

    def in_a_transaction() -> object:
        with transaction.atomic():
            cellar.vessel.save()
            begun.set()
            time.sleep(0.5)  # for the other to come to the door
            return empty_vessel(by=acting(cellar.hand), vessel=first, emptied_at=NOW)

    def by_itself() -> object:
        begun.wait(timeout=20)
        return empty_vessel(by=acting(cellar.hand), vessel=second, emptied_at=NOW)

    outcomes = at_once(in_a_transaction, by_itself)
    assert [type(outcome) for outcome in outcomes] == [Turnaround, Turnaround]
    assert time.monotonic() - began < 15
    assert check_chain() is None
