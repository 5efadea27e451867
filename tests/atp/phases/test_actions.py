"""A point's chart begun anew."""

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


def begun(cellar: Cellar, **values: object) -> ChartPhase:
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
    phase = begun(cellar)
    assert (phase.point, phase.reason, phase.made_at) == (
        cellar.point,
        "Valve rebuilt, not recorded then",
        NOW,
    )
    entry = Entry.objects.order_by("-pk").first()
    assert (entry.verb, entry.values["reason"]) == ("begin control chart anew", phase.reason)


def test_baseline_still_to_come_may_hold_nothing_yet() -> None:
    cellar = Cellar()
    assert begun(cellar, begins_at=NOW, baseline_until=NOW + 90 * DAY).pk


@pytest.mark.parametrize(
    "values, field, message",
    [
        ({"reason": "  "}, "reason", "Say why the chart begins anew."),
        ({"begins_at": NOW + DAY}, "begins_at", "It cannot begin in the future."),
        (
            {"baseline_until": NOW - 100 * DAY},
            "baseline_until",
            "The baseline ends after it begins.",
        ),
        (
            {"baseline_until": NOW - 80 * DAY},
            "baseline_until",
            (
                "Only 3 cleans were read from then until then: limits need 12. "
                "Let the baseline end later."
            ),
        ),
    ],
)
def test_what_makes_no_baseline_is_refused(
    values: dict[str, datetime], field: str, message: str
) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=20)
    with pytest.raises(Refusal) as refused:
        begun(cellar, **values)
    assert (refused.value.field, refused.value.message) == (field, message)
    assert not ChartPhase.objects.exists()


def test_same_beginning_twice_is_refused() -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=20)
    begun(cellar)
    with pytest.raises(Refusal, match="begins anew there already"):
        begun(cellar)


def test_only_the_head_brewer_begins_a_chart_anew() -> None:
    cellar = Cellar()
    for user in (cellar.hand, cellar.owner):
        with pytest.raises(NotAllowed):
            begun(cellar, user=user)
