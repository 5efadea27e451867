"""A baseline at both sides of its bounds, and what its verbs tell the ledger."""

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from brewhygiene.atp.baselines import actions
from brewhygiene.atp.baselines.queries import members_of
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.ledger.models import Entry
from brewhygiene.science.limits.side_by_side import COUNTS
from tests.atp.baselines.scenes import SINCE, history, made, refused
from tests.factories import NOW, Cellar, acting

TODAY = NOW.date()
LONG = f" {'x' * 300}  y "


def values() -> dict[str, Any]:
    told: dict[str, Any] = Entry.objects.latest("pk").values
    return told


@pytest.mark.django_db
def test_a_baseline_may_be_of_a_single_day_and_begin_today() -> None:
    cellar = Cellar()
    one = made(cellar, name="One day", since=SINCE, until=SINCE)
    today = made(cellar, name="Today", since=TODAY, until=TODAY + timedelta(days=30))
    assert (one.since, one.until, today.since) == (SINCE, SINCE, TODAY)
    assert (today.made_at, today.made_by) == (NOW, cellar.brewer)
    assert (values()["points"], values()["regimes"]) == ("all", "any")
    made(cellar, name="Narrow", regimes=[cellar.version.regime])
    assert values()["regimes"] == [cellar.version.regime.name]


@pytest.mark.django_db
def test_why_a_reading_is_excluded_keeps_two_hundred_letters_and_stays_when_it_is_back() -> None:
    cellar = Cellar(points=1)
    history(cellar, 2, rlu=lambda stick: stick.turn.number + 3)
    baseline, by = made(cellar), acting(cellar.brewer)
    result = Result.objects.get(rlu=4)
    out = actions.exclude_result(by=by, baseline=baseline, result=result, reason=LONG)
    assert (out.reason, out.excluded_at) == ("x" * 200, NOW)
    told = values()
    assert (told["result"], told["rlu"], told["point"]) == (result.pk, 4, str(result.point))
    other = Result.objects.get(rlu=3)
    # One that is excluded says nothing of another.
    assert (
        refused(
            lambda: actions.readmit_result(by=by, baseline=baseline, result=other, reason="No")
        ).code
        == "not_excluded"
    )
    back = actions.readmit_result(by=by, baseline=baseline, result=result, reason=LONG)
    back.refresh_from_db()
    assert (back.readmitted_at, back.reason) == (NOW, "x" * 200)
    told = values()
    assert (told["was_out_because"], told["reason"]) == ("x" * 200, "x" * 200)
    assert len(members_of(baseline).counted) == 2


def level(rlu: int | None) -> Any:
    return None if rlu is None else SimpleNamespace(rlu=rlu)


def study(alert: int | None = 10, action: int | None = 30, *, usable: bool = True) -> Any:
    found = {
        "code": COUNTS,
        "usable": usable,
        "why_not": "Too few.",
        "alert": level(alert),
        "action": level(action),
    }
    return SimpleNamespace(
        why_none="", rows=[SimpleNamespace(title="counts", method=SimpleNamespace(**found))]
    )


@pytest.fixture(autouse=True)
def _figures(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    if "django_db" not in request.keywords:
        monkeypatch.setattr(actions, "snapshot", lambda study, row: {"title": row.title})


@pytest.mark.parametrize(
    "found, seen, code",
    [
        (study(MAX_RLU, MAX_RLU), None, None),
        (study(), (10, 30), None),
        # What no meter shows is no limit, whichever of the two it is.
        (study(MAX_RLU + 1, 30), None, "refused"),
        (study(10, MAX_RLU + 1), None, "refused"),
        (study(), (9, 30), "changed_since"),
        (study(), (10, 31), "changed_since"),
        (study(usable=False), None, "not_applicable"),
        (study(None, 30), None, "not_applicable"),
        (study(10, None), None, "not_applicable"),
    ],
)
def test_a_method_gives_limits_that_a_meter_shows_and_that_were_seen(
    found: Any, seen: tuple[int, int] | None, code: str | None
) -> None:
    def limits() -> Any:
        return actions._limits_of(found, COUNTS, seen)

    if code is None:
        method = found.rows[0].method
        assert limits() == (method.alert.rlu, method.action.rlu, {"title": "counts"})
    else:
        assert refused(limits).code == code


@pytest.mark.django_db
def test_limits_from_a_baseline_say_for_which_points_and_until_when() -> None:
    cellar = Cellar(points=1)
    history(cellar, 60, rlu=lambda stick: stick.turn.number % 12)
    baseline = made(cellar, name="x" * 60)
    for point, told in ((None, "all points"), (cellar.point, str(cellar.point))):
        limits = actions.propose_from_baseline(
            by=acting(cellar.brewer),
            baseline=baseline,
            method=COUNTS,
            review_on=date(2026, 9, 1),
            valid_until=None,
            point=point,
        )
        assert (limits.point, limits.sample_kind) == (point, "rinse")
        assert (limits.proposed_at, limits.proposed_by) == (NOW, cellar.brewer)
        assert values()["point"] == told
    assert LimitSet.objects.filter(baseline=baseline).count() == 2
