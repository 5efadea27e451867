"""What the one screen of a step shows: worked out from a clean that is loaded."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.regimes.cautions import DEFERENCE, Caution
from brewhygiene.regimes.models import VENT_QUANTITIES, EndCriterion, Quantity, Step
from brewhygiene.turnarounds.contact import contact_of
from brewhygiene.turnarounds.models import (
    Clean,
    SafetyAcknowledgement,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.flow import FlowLoss
from brewhygiene.turnarounds.observations.asked import Observed, observed_in
from brewhygiene.turnarounds.progress import (
    NOT_READ_BY_HAND,
    CleanProgress,
    StepProgress,
    asked_quantities,
    minutes_of,
    open_deviations,
    progress_of,
    read_quantities,
    unread_quantities,
)
from brewhygiene.turnarounds.quantities import quantity_title
from brewhygiene.turnarounds.steps.drain import drain_words
from brewhygiene.turnarounds.steps.ends import vent_words
from brewhygiene.turnarounds.steps.safety import (
    acknowledged_codes,
    required_codes,
    step_cautions,
)
from brewhygiene.turnarounds.steps.times.offline import needs_server
from brewhygiene.turnarounds.steps.words import (
    Clock,
    ReadingLine,
    Target,
    clock_of,
    reading_lines,
    targets_of,
)


@dataclasses.dataclass(frozen=True)
class StepScreen:
    """One step of a clean as its screen shows it."""

    clean: Clean
    progress: CleanProgress
    item: StepProgress
    cautions: Sequence[Caution]
    signed: Sequence[Caution]  # shown, and not asked again
    acknowledgement: SafetyAcknowledgement | None
    unchecked: bool
    targets: Sequence[Target]
    lines: Sequence[ReadingLine]
    unread: Sequence[str]
    undecided: Sequence[Deviation]
    clock: Clock | None
    minutes_before: float
    vent: str  # what a running vent step still needs
    # The step that runs, where this one is shown before its turn for use without a network.
    ahead: StepProgress | None = None

    # Shown below every caution.
    deference: str = DEFERENCE

    @property
    def step(self) -> Step:
        return self.item.step

    @property
    def has_limits(self) -> bool:
        """Whether a limit of the vessel's materials asks for a tick, as nobody has signed it."""
        return any(caution.code.startswith("material_") for caution in self.cautions)

    @property
    def state(self) -> str:
        return self.item.state

    @property
    def drain(self) -> str:
        """Why its water or solution goes to the drain, or ''. 0 queries."""
        return drain_words(self.step, self.clean)

    @property
    def open_loss(self) -> FlowLoss | None:
        """The loss of flow that a running step is in. 0 queries."""
        record = self.item.record
        if record is None or self.state != "running":
            return None
        return next((loss for loss in record.flow_losses.all() if loss.back_at is None), None)

    @property
    def observed(self) -> list[Observed]:
        """What was answered at the ends of its attempts. 0 queries."""
        return observed_in(self.item.attempts)

    @property
    def position(self) -> int:
        """Which step of the clean this is, from 1."""
        return self.progress.steps.index(self.item) + 1

    @property
    def place_words(self) -> str:
        """As 'Step 3 of 8'."""
        return f"Step {self.position} of {len(self.progress.steps)}"

    @property
    def needs_server(self) -> str:
        """Why it cannot start without a network, in words; '' where it may. 0 queries."""
        return needs_server(self.clean, self.step)

    @property
    def then(self) -> StepProgress | None:
        """The next step, where it may start without a network after this one. 0 queries."""
        if self.state != "running" or self.clean.entered_at is not None:
            return None
        later = self.progress.steps[self.position :]
        following = next((item for item in later if item.state == "waiting"), None)
        if following is None or needs_server(self.clean, following.step):
            return None
        return following

    @property
    def is_current(self) -> bool:
        if self.ahead is not None:
            return True
        current = self.progress.current
        return self.clean.running and current is not None and current.step.pk == self.step.pk

    @property
    def startable(self) -> bool:
        """Whether it is its turn, and its safety checks are confirmed."""
        return self.is_current and self.state in ("next", "again") and not self.unchecked

    @property
    def settled_reading(self) -> bool:
        """Whether nothing of this step waits to be read, and its minimum time has run."""
        return not self.unread and (self.clock is None or self.clock.enough)

    @property
    def to_do(self) -> list[StepProgress]:
        """The steps of the clean that are not settled, but for this one."""
        return [item for item in self.progress.steps if not item.settled and item.step != self.step]

    @property
    def next_up(self) -> Step | None:
        """The step that can start as soon as this one has ended: nothing is to be checked or made
        up for it. Asks for what cautions ask for."""
        if not self.to_do or self.clean.entered_at is not None:
            return None
        step = self.to_do[0].step
        to_check = set(required_codes(self.clean, step)) - acknowledged_codes(self.clean, step)
        return None if to_check or step.agent_id is not None else step

    @property
    def next_needs_server(self) -> str:
        """Why the step after this one cannot start without a network, or ''. 0 queries."""
        return needs_server(self.clean, self.to_do[0].step) if self.to_do else ""

    @property
    def may_finish(self) -> bool:
        """Whether the clean is finished with this step: the last one, nothing to look over."""
        deviated = any(item.deviations for item in self.progress.steps)
        return not self.to_do and not deviated and self.clean.entered_at is None

    @property
    def quantities(self) -> list[tuple[str, str, bool]]:
        """What its windows and its end ask to be read: code, name, whether it was."""
        record = self.item.record
        read = read_quantities(record) if record is not None else set()
        return [
            (quantity, quantity_title(quantity), quantity in read)
            for quantity in asked_quantities(self.step)
        ]

    @property
    def other_quantities(self) -> list[tuple[str, str]]:
        """What may be read besides: a strength only where there is an agent."""
        asked = set(asked_quantities(self.step))
        return [
            (quantity.value, quantity_title(quantity))
            for quantity in Quantity
            if quantity not in asked
            and quantity not in VENT_QUANTITIES
            and quantity not in NOT_READ_BY_HAND
            and (quantity != Quantity.CONCENTRATION or self.step.agent is not None)
        ]


def _unread_titles(unread: Sequence[str]) -> list[str]:
    """What waits to be read, by name; of what shows a vented tank one is enough."""
    if set(VENT_QUANTITIES) <= set(unread):
        one, other = (Quantity(quantity).label for quantity in VENT_QUANTITIES)
        rest = [quantity for quantity in unread if quantity not in VENT_QUANTITIES]
        return [*map(quantity_title, rest), f"{one} or {other}"]
    return [quantity_title(quantity) for quantity in unread]


def step_screen(clean: Clean, step_pk: int, *, brewery: Brewery, now: datetime) -> StepScreen:
    """The screen of a step; ``clean`` as loaded by ``queries.cleans_with_records``. 0 queries.

    Raises ``Step.DoesNotExist`` for a step of another regime.
    """
    progress = progress_of(clean)
    item = next((item for item in progress.steps if item.step.pk == step_pk), None)
    if item is None:
        raise Step.DoesNotExist
    record, step = item.record, item.step
    found = step_cautions(clean, step)
    cautions = [caution for caution in found if not caution.signed]
    clock, before = None, 0.0
    if record is not None and record.extends is not None:
        before = minutes_of(record.extends, until=now)
    elif item.extend and record is not None:
        before = minutes_of(record, until=now)
    if record is not None and item.state == "running":
        clock = clock_of(
            started_at=record.started_at,
            now=now,
            before_min=before,
            time=step.window(Quantity.TIME_MIN),
            contact=contact_of(record, step, until=now),
        )
    return StepScreen(
        clean=clean,
        progress=progress,
        item=item,
        cautions=cautions,
        signed=[caution for caution in found if caution.signed],
        acknowledgement=next(
            (ack for ack in reversed(clean.acknowledgements.all()) if ack.step_id == step.pk), None
        ),
        unchecked=bool({c.code for c in cautions} - acknowledged_codes(clean, step)),
        targets=targets_of(item, brewery=brewery),
        lines=reading_lines(item, brewery=brewery),
        unread=_unread_titles(unread_quantities(record, step)) if record else [],
        undecided=[found for attempt in item.attempts for found in open_deviations(attempt)],
        clock=clock,
        minutes_before=before,
        vent=vent_words(record, clean.turnaround.vessel, now=now)
        if clock is not None and record is not None and step.end_criterion == EndCriterion.VENTED
        else "",
    )


def ahead_of_its_turn(screen: StepScreen) -> StepScreen | None:
    """The screen as it will be once the step that runs has ended; ``None`` where none follows so.

    0 queries.
    """
    running = next((item for item in screen.progress.steps if item.state == "running"), None)
    if running is None:
        return None
    item = dataclasses.replace(screen.item, state="next")
    place = screen.progress.steps.index(running)
    before = screen.progress.steps[place + 1 : screen.position - 1]
    if screen.item.state != "waiting" or screen.needs_server or any(not b.settled for b in before):
        return None
    steps = [item if one is screen.item else one for one in screen.progress.steps]
    progress = dataclasses.replace(screen.progress, steps=steps)
    return dataclasses.replace(screen, item=item, progress=progress, ahead=running)


def step_screens(clean: Clean, *, brewery: Brewery, now: datetime) -> list[StepScreen]:
    """The screens of every step of a clean, as :func:`step_screen` makes one. 0 queries."""
    return [
        step_screen(clean, step.pk, brewery=brewery, now=now) for step in clean.version.steps.all()
    ]
