"""Recording and retiring recovery studies."""

from collections.abc import Sequence
from datetime import date

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.atp.rlu import check_rlu
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Agent, AgentKind
from brewhygiene.science.agreement.recovery import LEAST_READINGS, recovery_of
from brewhygiene.science.errors import OutOfRange

# Common practice, no source.
VALID_MONTHS = 12
MOST_READINGS = 50
STRONGEST_MG_L = 10_000.0


def last_day(day: date) -> date:
    """The last day of a study done on ``day``: a year later, never on the 29th of February."""
    return day.replace(year=day.year + VALID_MONTHS // 12, day=min(day.day, 28))


def _check_readings(readings: Sequence[int], *, field: str) -> None:
    if len(readings) < LEAST_READINGS:
        raise Refusal(f"Enter at least {LEAST_READINGS} readings.", field=field, code="too_few")
    if len(readings) > MOST_READINGS:
        raise Refusal(f"Enter at most {MOST_READINGS} readings.", field=field, code="too_many")
    for reading in readings:
        check_rlu(reading, field=field)


@action("record recovery study")
def record_study(
    *,
    by: Actor,
    agent: Agent,
    meter: Meter,
    atp_test: AtpTest,
    strength_mg_l: float,
    water_rlu: Sequence[int],
    sanitiser_rlu: Sequence[int],
    done_on: date,
    password: str,
    water_blank_rlu: float = 0.0,
    sanitiser_blank_rlu: float = 0.0,
) -> Recorded[RecoveryStudy]:
    """Sign for a positive read in a sanitiser of ``strength_mg_l`` mg/L and in water, in RLU.

    It may show that the sanitiser dims: then it is on record and readings in it have to be
    explained.
    """
    user = require(by, "approve_limits")
    if agent.kind != AgentKind.SANITISER:
        raise Refusal(f"{agent.name} is no sanitiser. Choose a sanitiser.", field="agent")
    if not 0 < strength_mg_l <= STRONGEST_MG_L:
        with told():
            raise Refusal(
                f"Enter a strength above 0 and up to {digits(STRONGEST_MG_L, 'g')} mg/L.",
                field="strength_mg_l",
            )
    if done_on > brewery_day(by.now, Brewery.current()):
        raise Refusal("Enter a day that is not in the future.", field="done_on")
    _check_readings(water_rlu, field="water_rlu")
    _check_readings(sanitiser_rlu, field="sanitiser_rlu")
    if min(water_blank_rlu, sanitiser_blank_rlu) < 0:
        field = "water_blank_rlu" if water_blank_rlu < 0 else "sanitiser_blank_rlu"
        raise Refusal("Enter 0 RLU or more.", field=field)
    try:
        found = recovery_of(
            water=water_rlu,
            sanitiser=sanitiser_rlu,
            water_blank=water_blank_rlu,
            sanitiser_blank=sanitiser_blank_rlu,
        )
    except OutOfRange as refused:
        raise Refusal(str(refused), field="water_rlu", code="no_positive") from refused
    study = RecoveryStudy.objects.create(
        agent=agent,
        meter=meter,
        atp_test=atp_test,
        strength_mg_l=strength_mg_l,
        water_rlu=list(water_rlu),
        sanitiser_rlu=list(sanitiser_rlu),
        water_blank_rlu=water_blank_rlu,
        sanitiser_blank_rlu=sanitiser_blank_rlu,
        source=ValueSource.READ,
        ratio=found.ratio,
        low=found.low,
        high=found.high,
        proved=found.proved,
        done_on=done_on,
        valid_until=last_day(done_on),
        recorded_at=by.now,
        recorded_by=user,
        signature=sign(by=by, password=password, meaning=f"Recovery study of {agent}"[:200]),
    )
    return Recorded(
        study,
        {
            "agent": agent.name,
            "strength_mg_l": strength_mg_l,
            "meter": meter.name,
            "atp_test": atp_test.name,
            "water_rlu": study.water_rlu,
            "sanitiser_rlu": study.sanitiser_rlu,
            "water_blank_rlu": water_blank_rlu,
            "sanitiser_blank_rlu": sanitiser_blank_rlu,
            "ratio": found.ratio,
            "low": found.low,
            "high": found.high,
            "proved": found.proved,
            "done_on": done_on,
            "valid_until": study.valid_until,
        },
    )


@action("retire recovery study")
def retire_study(*, by: Actor, study: RecoveryStudy, password: str) -> Recorded[RecoveryStudy]:
    """Retire a study; it stays on record."""
    require(by, "approve_limits")
    study = RecoveryStudy.objects.select_for_update(of=("self",)).get(pk=study.pk)
    if study.retired_at is not None:
        raise Refusal("This study is already retired.", code="retired")
    sign(by=by, password=password, meaning=f"Retired the recovery study of {study.agent}"[:200])
    study.retired_at = by.now
    study.save(update_fields=["retired_at"])
    return Recorded(study, {"study": str(study)})
