"""Restarts of a point's chart."""

from datetime import datetime, timedelta

import pytest

from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.phases.actions import begin_phase
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import NOW, Cellar, acting
from tests.histories import make_history

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def restarted(cellar: Cellar, **values: object) -> ChartPhase:
    user = values.pop("user", cellar.brewer)
    return begin_phase(
        by=acting(user),
        point=cellar.point,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        **{
            "begins_at": NOW - 100 * DAY,
            "baseline_until": NOW - DAY,
            "reason": "Valve rebuilt, not recorded then",
            **values,
        },
    )


def test_chart_begins_anew_with_a_reason_on_record() -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=20)
    phase = restarted(cellar)
    assert (phase.point, phase.reason, phase.made_at) == (
        cellar.point,
        "Valve rebuilt, not recorded then",
        NOW,
    )
    entry = Entry.objects.order_by("-pk").first()
    assert (entry.verb, entry.values["reason"]) == ("restart control chart", phase.reason)


def test_baseline_still_to_come_may_hold_nothing_yet() -> None:
    cellar = Cellar()
    assert restarted(cellar, begins_at=NOW, baseline_until=NOW + 90 * DAY).pk


@pytest.mark.parametrize(
    "values, field, message",
    [
        ({"reason": "  "}, "reason", "Enter a reason."),
        ({"begins_at": NOW + DAY}, "begins_at", "Enter a start up to now."),
        (
            {"baseline_until": NOW - 100 * DAY},
            "baseline_until",
            "Enter an end after the start.",
        ),
        (
            {"baseline_until": NOW - 80 * DAY},
            "baseline_until",
            ("The baseline contains only 3 cleans, and control limits need 12. Enter a later end."),
        ),
    ],
)
def test_what_makes_no_baseline_is_refused(
    values: dict[str, datetime], field: str, message: str
) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=20)
    with pytest.raises(Refusal) as refused:
        restarted(cellar, **values)
    assert (refused.value.field, refused.value.message) == (field, message)
    assert not ChartPhase.objects.exists()


def test_same_beginning_twice_is_refused() -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=20)
    restarted(cellar)
    with pytest.raises(Refusal, match="already restarts at this time"):
        restarted(cellar)


def test_only_the_head_brewer_restarts_a_chart() -> None:
    cellar = Cellar()
    for user in (cellar.hand, cellar.owner):
        with pytest.raises(NotAllowed):
            restarted(cellar, user=user)
