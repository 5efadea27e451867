"""Meters, ATP tests, lots and limits."""

from datetime import date, datetime, timedelta
from typing import Any

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, Meter
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.people.models import Signature, User
from brewhygiene.people.queries import people_who_may
from brewhygiene.regimes.models import Agent
from tests.factories.people import acting
from tests.factories.values import NOW, PASSWORD, next_number


def make_meter(**values: Any) -> Meter:
    number = next_number()
    return Meter.objects.create(
        **{
            "name": f"Meter {number}",
            "serial": f"S-{number}",
            "blank_max_rlu": 5,
            "positive_min_rlu": 100,
            "positive_max_rlu": 400,
            **values,
        }
    )


def make_atp_test(**values: Any) -> AtpTest:
    return AtpTest.objects.create(
        **{"name": f"Rinse sampler {next_number()}", "sample_kind": "rinse", **values}
    )


def make_test_lot(atp_test: AtpTest | None = None, **values: Any) -> AtpTestLot:
    return AtpTestLot.objects.create(
        atp_test=atp_test or make_atp_test(),
        **{"lot": f"L{next_number()}", "expires_on": date(2027, 1, 31), **values},
    )


def make_limits(
    *,
    by: User,
    meter: Meter,
    atp_test: AtpTest,
    alert_rlu: int = 10,
    action_rlu: int = 30,
    point: SamplingPoint | None = None,
    vessel_kind: str = "",
    moment: str = "in_sanitiser",
    now: datetime = NOW - timedelta(days=1),
) -> LimitSet:
    """Approved limits; proposed by another person, where one may."""
    proposer = people_who_may("approve_limits").exclude(pk=by.pk).first() or by
    limits = limit_actions.propose_limits(
        by=acting(proposer, now=now),
        meter=meter,
        atp_test=atp_test,
        alert_rlu=alert_rlu,
        action_rlu=action_rlu,
        source="maker",
        source_note="The maker's leaflet (invented)",
        review_on=date(2027, 3, 1),
        point=point,
        vessel_kind=vessel_kind,
        moment=moment,
    )
    return limit_actions.approve_limits(by=acting(by, now=now), limits=limits, password=PASSWORD)


def make_recovery_study(
    *, by: User, agent: Agent, meter: Meter, atp_test: AtpTest, **values: Any
) -> RecoveryStudy:
    """A study in force for ten years that proves a sanitiser of up to 1000 mg/L not to dim."""
    return RecoveryStudy.objects.create(
        **{
            "agent": agent,
            "meter": meter,
            "atp_test": atp_test,
            "strength_mg_l": 1000,
            "water_rlu": [100, 101, 102],
            "sanitiser_rlu": [100, 101, 102],
            "source": "read",
            "ratio": 1,
            "low": 0.98,
            "high": 1.02,
            "proved": True,
            "done_on": date(2020, 1, 1),
            "valid_until": date(2030, 12, 31),
            "recorded_at": NOW - timedelta(days=1),
            "recorded_by": by,
            "signature": Signature.objects.create(
                user=by,
                printed_name=by.display_name,
                meaning="Recovery study",
                signed_at=NOW - timedelta(days=1),
            ),
            **values,
        }
    )
