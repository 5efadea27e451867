"""How the invented people run a clean: step by step, with readings that a cellar would give."""

import dataclasses
import random
from collections.abc import Generator, Mapping
from datetime import datetime, timedelta

from brewhygiene.demo.skids import draws_for, outflow_of
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import User
from brewhygiene.regimes.models import (
    ActiveSubstance,
    Basis,
    EndCriterion,
    Quantity,
    Step,
    StepKind,
    StepWindow,
)
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import (
    Clean,
    ReadingStage,
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Disposition
from brewhygiene.turnarounds.observations.asked import asked_observations
from brewhygiene.turnarounds.observations.keeping import Seen
from brewhygiene.turnarounds.progress import MEASURED_ENDS, open_deviations
from brewhygiene.turnarounds.quantities import Titration
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.readings import actions as reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import required_codes

# Minutes of a step that has no window for its time.
USUAL_MIN: Mapping[str, float] = {
    StepKind.VENT: 7,
    StepKind.PRE_RINSE: 9,
    StepKind.HAND_CLEAN: 40,
    StepKind.CAUSTIC: 25,
    StepKind.ACID: 15,
    StepKind.RINSE: 11,
    StepKind.SAMPLE: 6,
    StepKind.SANITISER: 12,
    StepKind.HOT_WATER: 12,
    StepKind.DRAIN: 9,
}
NAOH_G_PER_EQUIVALENT = 40.0
TITRANT_NORMALITY = 0.5
SAMPLE_ML = 10.0


@dataclasses.dataclass(frozen=True)
class Trouble:
    """What goes wrong in a clean, by the kind of step it goes wrong in."""

    too_cold: str = ""  # read below its window, then prolonged and read again
    too_weak: str = ""  # read below its window, topped up and repeated
    slip: str = ""  # a temperature typed with a digit too few, then corrected
    not_reached: str = ""  # its end not reached, accepted with the reason
    left_out: str = ""
    reason: str = ""


NONE = Trouble()
# What the rinse reads when it is sampled.
RINSE_C = 16.0
NOT_SAMPLED = "The meter was in use at the bright tanks"


def run(
    stage: Stage,
    clean: Clean,
    *,
    who: User,
    begins: datetime,
    trouble: Trouble = NONE,
    sampling: Script | None = None,
) -> Generator[datetime, None, datetime]:
    """Every step of a clean from ``begins``; returns when the clean was finished.

    ``sampling`` is what is done at its sample step.
    """
    loaded = cleans_with_records().get(pk=clean.pk)
    moment = begins
    for step in loaded.version.steps.all():
        if step.kind == StepKind.SAMPLE:
            moment = yield from _sample_step(
                stage, loaded, step, who=who, begins=moment, sampling=sampling
            )
            continue
        moment = yield from _step(stage, loaded, step, who=who, begins=moment, trouble=trouble)
        moment += timedelta(minutes=1 + stage.chance.random())
    yield moment
    actions.finish_clean(by=stage.by(who), clean=clean)
    return moment


def _sample_step(
    stage: Stage,
    clean: Clean,
    step: Step,
    *,
    who: User,
    begins: datetime,
    sampling: Script | None,
) -> Generator[datetime, None, datetime]:
    """The rinse's temperature, then the samples; without a throw of the play's own dice."""
    yield begins

    def by() -> Actor:
        return Actor(user=who, now=stage.moment, address="192.0.2.31")

    codes = required_codes(clean, step)
    if codes:
        step_actions.acknowledge_safety(by=by(), clean=clean, step=step, codes=codes)
    record = step_actions.start_step(by=by(), clean=clean, step=step)
    yield begins + timedelta(minutes=1)
    reading_actions.record_reading(
        by=by(), record=record, quantity=Quantity.TEMPERATURE_C, value=RINSE_C
    )
    if sampling is not None:
        yield from sampling
    yield stage.moment + timedelta(minutes=2)
    step_actions.end_step(by=by(), record=record)
    for missed in record.deviations.filter(disposition=""):
        deviation_actions.dispose_deviation(
            by=by(), deviation=missed, disposition=Disposition.ACCEPT, reason=NOT_SAMPLED
        )
    return stage.moment + timedelta(minutes=1)


def until(
    stage: Stage, clean: Clean, *, who: User, begins: datetime, kind: str
) -> Generator[datetime, None, StepRecord]:
    """Every step before the first of a kind, and that one started and read; returns it."""
    loaded = cleans_with_records().get(pk=clean.pk)
    moment = begins
    for step in loaded.version.steps.all():
        if step.kind == kind:
            record = yield from _start(stage, loaded, step, who=who, begins=moment)
            within_min = _read_within(step, minutes_of_step(random.Random(0), step))
            yield from _read(stage, record, step, who=who, begins=moment, within_min=within_min)
            return record
        moment = yield from _step(stage, loaded, step, who=who, begins=moment, trouble=NONE)
        moment += timedelta(minutes=1)
    raise ValueError(f"{clean.version} has no step of kind {kind}.")


def _step(
    stage: Stage, clean: Clean, step: Step, *, who: User, begins: datetime, trouble: Trouble
) -> Generator[datetime, None, datetime]:
    if step.kind == trouble.left_out:
        yield begins
        record = step_actions.leave_out_step(
            by=stage.by(who), clean=clean, step=step, reason=trouble.reason
        )
        yield from _decide(stage, record, who=who, disposition="accept", reason=trouble.reason)
        return stage.moment
    record = yield from _start(stage, clean, step, who=who, begins=begins)
    minutes = minutes_of_step(stage.chance, step)
    if step.kind == trouble.too_weak:
        return (yield from _topped_up(stage, clean, step, record, who=who, trouble=trouble))
    low = step.kind == trouble.too_cold
    yield from _read(
        stage,
        record,
        step,
        who=who,
        begins=begins,
        within_min=_read_within(step, minutes),
        low=Quantity.TEMPERATURE_C if low else "",
        slip=step.kind == trouble.slip,
    )
    # A cold solution is noticed early; it is heated, and its minutes run afterwards.
    yield begins + timedelta(minutes=6 if low else minutes)
    missed = step.kind == trouble.not_reached
    _end(stage, record, step, who=who, reached=not missed)
    if missed:
        yield from _decide(stage, record, who=who, disposition="accept", reason=trouble.reason)
    elif low:
        yield from _decide(stage, record, who=who, disposition="extend", reason=trouble.reason)
        record = yield from _start(
            stage, clean, step, who=who, begins=stage.moment + timedelta(minutes=2)
        )
        again = stage.moment
        within_min = _read_within(step, minutes)
        yield from _read(stage, record, step, who=who, begins=again, within_min=within_min)
        yield again + timedelta(minutes=minutes)
        _end(stage, record, step, who=who, reached=True)
    return stage.moment


def _topped_up(
    stage: Stage, clean: Clean, step: Step, record: StepRecord, *, who: User, trouble: Trouble
) -> Generator[datetime, None, datetime]:
    """The strength reads low at once: top up and begin the step again."""
    yield from _read(
        stage,
        record,
        step,
        who=who,
        begins=stage.moment,
        within_min=4,
        low=Quantity.CONCENTRATION,
        only=Quantity.CONCENTRATION,
    )
    yield from _decide(stage, record, who=who, disposition="repeat", reason=trouble.reason)
    again = stage.moment + timedelta(minutes=6)
    record = yield from _start(stage, clean, step, who=who, begins=again)
    minutes = minutes_of_step(stage.chance, step)
    within_min = _read_within(step, minutes)
    yield from _read(stage, record, step, who=who, begins=again, within_min=within_min)
    yield again + timedelta(minutes=minutes)
    _end(stage, record, step, who=who, reached=True)
    return stage.moment


def _start(
    stage: Stage, clean: Clean, step: Step, *, who: User, begins: datetime
) -> Generator[datetime, None, StepRecord]:
    yield begins
    # What is still in the vessel and on its skid hangs on how the steps before it ended.
    clean = cleans_with_records().get(pk=clean.pk)
    if codes := required_codes(clean, step):
        step_actions.acknowledge_safety(by=stage.by(who), clean=clean, step=step, codes=codes)
    return step_actions.start_step(
        by=stage.by(who), clean=clean, step=step, draws=draws_for(clean, step)
    )


def _read_within(step: Step, minutes: float) -> float:
    """Minutes from a step's start to read everything in, so that its contact time is enough."""
    window = next((w for w in step.windows.all() if w.quantity == Quantity.TIME_MIN), None)
    spare = minutes - (window.minimum or 0) if window is not None else minutes
    return min(4, minutes / 2, 0.9 * spare)


# What the invented brewery's water reads.
SUPPLY = {Quantity.PH: 7.4, Quantity.CONDUCTIVITY_MS_CM: 0.48}


def _prove_end(record: StepRecord, step: Step, *, by: Actor) -> None:
    """Read what shows that a rinse is done: beside the supply water's where it is compared."""
    if step.end_criterion == EndCriterion.VENTED:
        reading_actions.record_reading(
            by=by, record=record, quantity=Quantity.CO2_PCT, value=0.4, stage=ReadingStage.END
        )
    quantity = MEASURED_ENDS.get(step.end_criterion)
    if quantity is None:
        return
    stages = [ReadingStage.END]
    if step.end_criterion != EndCriterion.NEUTRAL:
        stages.insert(0, ReadingStage.SUPPLY)
    for when in stages:
        reading_actions.record_reading(
            by=by, record=record, quantity=quantity, value=SUPPLY[quantity], stage=when
        )


def _end(stage: Stage, record: StepRecord, step: Step, *, who: User, reached: bool) -> None:
    by = stage.by(who)
    if reached:
        _prove_end(record, step, by=by)
    step_actions.end_step(
        by=by,
        record=record,
        end_criterion_met=reached if step.end_criterion else None,
        agent_lot=f"{step.agent.name[0]}-{stage.moment:%y%m}" if step.agent else "",
        outflow=outflow_of(record, step),
        observations=[Seen(one, yes=True) for one in asked_observations(record.clean, step)],
    )


def _decide(
    stage: Stage, record: StepRecord, *, who: User, disposition: str, reason: str
) -> Generator[datetime, None, None]:
    """Dispose of every open deviation of an attempt, a minute after the last deed."""
    yield stage.moment + timedelta(minutes=1)
    attempts = StepRecord.objects.prefetch_related("readings", "deviations")
    while open_ones := open_deviations(attempts.get(pk=record.pk)):
        deviation_actions.dispose_deviation(
            by=stage.by(who),
            deviation=open_ones[0],
            disposition=Disposition(disposition),
            reason=reason,
        )


def _read(
    stage: Stage,
    record: StepRecord,
    step: Step,
    *,
    who: User,
    begins: datetime,
    within_min: float,
    low: str = "",
    only: str = "",
    slip: bool = False,
) -> Generator[datetime, None, None]:
    """Read everything that a step's windows ask for, within some minutes."""
    windows = [
        w
        for w in step.windows.all()
        if w.quantity != Quantity.TIME_MIN and only in ("", w.quantity)
    ]
    for number, window in enumerate(windows, start=1):
        yield begins + timedelta(minutes=within_min * number / (len(windows) + 1))
        value = value_of(stage.chance, window, low=window.quantity == low)
        if slip and window.quantity == Quantity.TEMPERATURE_C:
            typed = _record(stage, record, step, window, who=who, value=round(value / 10, 1))
            reading_actions.correct_reading(
                by=stage.by(who), reading=typed, value=value, reason="A digit was left out"
            )
        else:
            _record(stage, record, step, window, who=who, value=value)


def _record(
    stage: Stage, record: StepRecord, step: Step, window: StepWindow, *, who: User, value: float
) -> StepReading:
    titrated = (
        window.quantity == Quantity.CONCENTRATION
        and step.agent is not None
        and step.agent.active_substance == ActiveSubstance.NAOH
        and stage.chance.random() < 0.6
    )
    if titrated:
        # Enough titrant for this strength, read off the burette to a tenth of a mL.
        titrant_ml = round(value * 10 * SAMPLE_ML / (TITRANT_NORMALITY * NAOH_G_PER_EQUIVALENT), 1)
        return reading_actions.record_reading(
            by=stage.by(who),
            record=record,
            quantity=window.quantity,
            titration=Titration(
                titrant_ml=titrant_ml, titrant_normality=TITRANT_NORMALITY, sample_ml=SAMPLE_ML
            ),
        )
    return reading_actions.record_reading(
        by=stage.by(who),
        record=record,
        quantity=window.quantity,
        value=value,
        basis=window.basis,
    )


def value_of(chance: random.Random, window: StepWindow, *, low: bool) -> float:
    """A believable reading: near what is aimed for, or clearly below the window."""
    least = window.minimum if window.minimum is not None else (window.maximum or 0) * 0.4
    most = window.maximum if window.maximum is not None else least * 1.15
    if low:
        return _as_read(window, least * chance.uniform(0.82, 0.93))
    aim = window.target if window.target is not None else (least + most) / 2
    # Nobody makes a solution up to the very edge of its window.
    aim = max(aim, least + 0.15 * (most - least))
    # A quarter of the way to either bound is the most that it strays.
    return _as_read(window, aim + chance.uniform(-0.25 * (aim - least), 0.25 * (most - aim)))


def _as_read(window: StepWindow, value: float) -> float:
    """Rounded as an instrument or a strip shows it."""
    if window.basis == Basis.MG_L:
        return float(round(value / 5) * 5)
    if window.quantity in (Quantity.CONCENTRATION, Quantity.VELOCITY_M_S):
        return round(value, 2)
    return round(value, 1)


def minutes_of_step(chance: random.Random, step: Step) -> float:
    """How long a step is run."""
    window = next((w for w in step.windows.all() if w.quantity == Quantity.TIME_MIN), None)
    if window is None:
        return USUAL_MIN[step.kind] * chance.uniform(0.8, 1.25)
    least = window.minimum or 1
    most = window.maximum if window.maximum is not None else least * 1.4
    aim = window.target if window.target is not None else least * 1.1
    return aim + chance.uniform(0.02, 0.3) * (most - aim)
