"""What of a step may be done without a network, and the times that a tablet gives of it."""

from datetime import datetime

from django.utils import timezone

from brewhygiene.ledger.recording import Actor
from brewhygiene.quantities.style import shown_moment, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.cautions import is_hot
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.actions import check_when
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.progress import standing_readings
from brewhygiene.turnarounds.steps.times.bracket import earliest_start

# Water in, water out: what their cautions ask is carried along with their page.
MAY_START = frozenset({StepKind.PRE_RINSE, StepKind.RINSE, StepKind.DRAIN})


def needs_server(clean: Clean, step: Step) -> str:
    """Why a step cannot start without a network, in words; '' where it may. 0 queries.

    Reads the prefetched windows, the agent and the regime.
    """
    title = step.get_kind_display().capitalize()
    if step.agent is not None:
        why = "an agent"
    elif is_hot(step):
        why = "heat"
    elif clean.version.regime.under_co2:
        why = "CO2 pressure"
    elif step.kind not in MAY_START:
        return f"{title} needs the network to start."
    else:
        return ""
    return f"{title} with {why} needs the network to start."


def when_started(
    started_at: datetime | None, *, by: Actor, clean: Clean, step: Step
) -> datetime | None:
    """When a step was started without a network; ``None`` is now. Refuses one that may not."""
    if started_at is None:
        return None
    why = needs_server(clean, step)
    if why:
        raise Refusal(f"{why} Start it now.", code="needs_server")
    earliest = earliest_start(clean)
    started_at = check_when(started_at, by=by, field="codes", not_before=earliest)
    if started_at < earliest:
        with told():
            raise Refusal(
                "By the tablet's clock this step started before the one before it ended, at "
                f"{shown_moment(timezone.localtime(earliest), 'H:i')}. Enter it as run without "
                "the timer.",
                code="before_its_turn",
            )
    return started_at


def when_ended(ended_at: datetime | None, *, by: Actor, record: StepRecord) -> datetime | None:
    """When a step was ended without a network; ``None`` is now. Refuses what cannot be."""
    if ended_at is None:
        return None
    ended_at = check_when(ended_at, by=by, field="note", not_before=record.started_at)
    if ended_at < record.started_at:
        raise Refusal(
            "By the tablet's clock the step ended before it began. End it again.",
            code="before_step",
        )
    last = max((reading.taken_at for reading in standing_readings(record)), default=ended_at)
    if last > ended_at:
        with told():
            raise Refusal(
                f"This step was read at {shown_moment(timezone.localtime(last), 'H:i')}, after "
                "this end. It still "
                "ran. End it again.",
                code="read_after_end",
            )
    return ended_at
