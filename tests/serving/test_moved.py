"""Bookmarks, printed labels and open tabs from before an address moved still lead to its page."""

import pytest
from django.test import Client
from django.urls import resolve

from brewhygiene.moved import MOVED
from tests.factories import make_head_brewer

SAMPLES = [
    ("/cleans/7/traces/", "/cleans/7/logger-files/"),
    ("/traces/12/", "/logger-files/12/"),
    ("/traces/12/columns/", "/logger-files/12/columns/"),
    ("/results/5/", "/atp-readings/5/"),
    ("/results/5/correct/", "/atp-readings/5/correct/"),
    ("/set-up/sticks/", "/set-up/atp-tests/"),
    ("/set-up/sticks/types/add/", "/set-up/atp-tests/add/"),
    ("/set-up/sticks/lots/3/", "/set-up/atp-tests/lots/3/"),
    ("/set-up/bridges/3/pairs/8/leave-out/", "/set-up/bridges/3/pairs/8/exclude/"),
    ("/set-up/bridges/3/pairs/8/take-in/", "/set-up/bridges/3/pairs/8/include/"),
    ("/set-up/limits/baselines/4/readmit/51/", "/set-up/limits/baselines/4/include/51/"),
    ("/set-up/limits/4/withdraw/", "/set-up/limits/4/retire/"),
    ("/set-up/clocks/", "/set-up/hold-times/"),
    ("/bench/set-right/", "/bench/correct-strength/"),
    ("/bench/repeats/", "/bench/repeatability/"),
    ("/bench/lethality-trace/", "/bench/logged-temperature/"),
    ("/set-up/regimes/bring-in/", "/set-up/regimes/starting/"),
    ("/trends/points/4/begin-anew/", "/trends/points/4/new-phase/"),
    ("/trends/rows/told/", "/trends/rows/judged/"),
    ("/trends/rows/not-told/", "/trends/rows/not-judged/"),
    ("/trends/rows/cleaned-again/", "/trends/rows/re-cleaned/"),
    ("/trends/which/", "/trends/compare/"),
    ("/trends/which/rows/", "/trends/compare/rows/"),
]


@pytest.mark.parametrize("old, new", SAMPLES)
def test_old_address_leads_to_the_new_one_with_all_that_was_asked(
    client: Client, old: str, new: str, db: None
) -> None:
    client.force_login(make_head_brewer())
    answer = client.get(f"{old}?by=vessel&of=1")
    # 308 rather than 301: a form sent to the old address is sent on, not dropped.
    assert (answer.status_code, answer["Location"]) == (308, f"{new}?by=vessel&of=1")
    assert resolve(new).func is not resolve(old).func


def test_every_moved_address_has_a_sample() -> None:
    moved = {resolve(old).route for old, _ in SAMPLES}
    assert moved == set(MOVED)
