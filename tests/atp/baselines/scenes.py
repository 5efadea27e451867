"""A baseline, its history and what is refused."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from brewhygiene.atp.baselines.actions import (
    create_baseline,
)
from brewhygiene.atp.baselines.queries import members_of
from brewhygiene.atp.baselines.study import study_of
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.refusals import Refusal
from brewhygiene.science.limits.asked import Asked
from tests.factories import (
    NOW,
    Cellar,
    acting,
)
from tests.histories import make_history

SINCE = date(2025, 1, 1)


def made(cellar: Cellar, **values: Any) -> Baseline:
    return create_baseline(
        by=acting(cellar.brewer),
        **{
            "name": "Rinses",
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "since": SINCE,
            "until": NOW.date(),
            **values,
        },
    )


def numbers(baseline: Baseline) -> list[int]:
    return [result.rlu for result in members_of(baseline).counted]


def history(cellar: Cellar, cleans: int = 40, **values: Any) -> None:
    make_history(cellar=cellar, cleans=cleans, every=timedelta(days=3), **values)


def refused(call: Callable[[], object]) -> Refusal:
    with pytest.raises(Refusal) as refusal:
        call()
    return refusal.value


def study(cellar: Cellar, baseline: Baseline, **asked: Any) -> Any:
    return study_of(baseline, asked=Asked(**asked), now=NOW)
