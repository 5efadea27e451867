"""What a step's screen says of its windows, readings and time."""

import dataclasses
import math
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.measures import site_label, to_site, window_in_words
from brewhygiene.regimes.models import Quantity, Step, StepWindow
from brewhygiene.turnarounds.contact import Contact, contact_of
from brewhygiene.turnarounds.models import StepReading, StepRecord, WindowVerdict
from brewhygiene.turnarounds.progress import (
    StepProgress,
    is_outside,
    latest_readings,
    read_quantities,
)
from brewhygiene.turnarounds.quantities import (
    CONDUCTIVITY,
    INDICATOR,
    minutes_words,
    quantity_title,
    show_value,
)

BELOW, ABOVE = WindowVerdict.BELOW.value, WindowVerdict.ABOVE.value

# What helps, in the order that a cellar hand can do it. No amounts are worked out here.
ADVICE: dict[tuple[str, str], str] = {
    (
        Quantity.CONCENTRATION,
        BELOW,
    ): "Too weak. Top up the agent and read again, or repeat the step.",
    (
        Quantity.CONCENTRATION,
        ABOVE,
    ): "Too strong. Thin the solution and read again. Rinse longer afterwards.",
    (
        Quantity.TEMPERATURE_C,
        BELOW,
    ): "Too cold. Heat the solution and read again, or repeat the step.",
    (Quantity.TEMPERATURE_C, ABOVE): "Too hot. Let it cool with the vent open, then read again.",
    (Quantity.FLOW_L_MIN, BELOW): (
        "Too little flow. Check pump, valves and spray device, then read again."
    ),
    (Quantity.FLOW_L_MIN, ABOVE): "More flow than set. Turn the pump down, then read again.",
    (Quantity.VELOCITY_M_S, BELOW): "Too slow to scour the line. Check the pump, then read again.",
    (Quantity.VELOCITY_M_S, ABOVE): "Faster than set. Turn the pump down, then read again.",
    (Quantity.TIME_MIN, BELOW): "Too short. Extend the step by the missing time.",
    (Quantity.TIME_MIN, ABOVE): "Longer than set. Check seals and gaskets.",
}


def miss_words(reading: StepReading, *, window: StepWindow | None, brewery: Brewery) -> str:
    """By how much a reading misses its window, as '0.3 % w/w below the minimum, 1.5 % w/w'."""
    if window is None or not is_outside(reading) or reading.judged_value is None:
        return ""
    below = reading.verdict == WindowVerdict.BELOW
    bound = window.minimum if below else window.maximum
    if bound is None:
        return ""
    quantity, basis = window.quantity, window.basis
    at = to_site(bound, quantity=quantity, brewery=brewery) or 0.0
    read = to_site(reading.judged_value, quantity=quantity, brewery=brewery) or 0.0
    unit = (
        ""
        if quantity == Quantity.PH
        else site_label(quantity=quantity, basis=basis, brewery=brewery)
    )
    miss = f"{show_number(abs(at - read), significant=2)} {unit}".strip()
    edge = show_value(bound, quantity=quantity, basis=basis, brewery=brewery)
    return f"{miss} below the minimum, {edge}" if below else f"{miss} above the maximum, {edge}"


def advice_words(reading: StepReading) -> str:
    """What to do about a reading outside its window, or ''."""
    if not is_outside(reading):
        return ""
    return ADVICE.get(
        (reading.quantity, reading.verdict),
        "Continue until it is within the window, then read again.",
    )


def _by_conductivity(reading: StepReading, brewery: Brewery) -> str:
    """As '92.9 mS/cm at 20 °C by the published relation, ± 0.07 % w/w'."""
    kept = reading.titration or {}
    shown, degrees = (
        show_value(float(kept[name]), quantity=quantity, basis="", brewery=brewery)
        for name, quantity in (
            ("conductivity_ms_cm", Quantity.CONDUCTIVITY_MS_CM),
            ("temperature_c", Quantity.TEMPERATURE_C),
        )
    )
    by = "the published relation"
    if kept["calibration"] is not None:
        by = f"calibration no. {kept['calibration']} of the site"
    within = show_number(float(kept["within"]), significant=2)
    unit = site_label(quantity=reading.quantity, basis=reading.basis, brewery=brewery)
    return f"by conductivity: {shown} at {degrees} by {by}, ± {within} {unit}"


def method_words(reading: StepReading, *, window: StepWindow | None, brewery: Brewery) -> str:
    """How a reading was found and on which other basis it was judged; '' for most."""
    parts = [reading.method] if reading.method else []
    if reading.titration and reading.titration.get("method") == CONDUCTIVITY:
        parts.append(_by_conductivity(reading, brewery))
    elif reading.titration and reading.titration.get("method") == INDICATOR:
        parts.append("by the colour of an indicator")
    elif reading.titration:
        titrant, normality, sample = (
            show_number(float(reading.titration[name]))
            for name in ("titrant_ml", "titrant_normality", "sample_ml")
        )
        parts.append(f"{titrant} mL of {normality} eq/L for a sample of {sample} mL")
    if window is not None and reading.basis and reading.basis != window.basis:
        # Three digits: no titration gives more.
        judged = show_number(reading.judged_value or 0.0, significant=3)
        unit = site_label(quantity=window.quantity, basis=window.basis, brewery=brewery)
        parts.append(f"judged as {judged} {unit}")
    return ", ".join(parts)


@dataclasses.dataclass(frozen=True)
class ReadingLine:
    """A reading as a screen shows it."""

    reading: StepReading
    title: str
    method: str
    miss: str
    advice: str
    replaced: StepReading | None = None


def contact_words(record: StepRecord, step: Step) -> str:
    """Of an ended attempt, as 'contact time in window 27 min, strength read once'; or ''.

    0 queries.
    """
    if record.ended_at is None or record.left_out:
        return ""
    contact = contact_of(record, step, until=record.ended_at)
    if contact is None:
        return ""
    words = f"contact time in window {minutes_words(contact.minutes)}"
    return f"{words}, {contact.once_words}" if contact.once_words else words


def reading_lines(item: StepProgress, *, brewery: Brewery) -> list[ReadingLine]:
    """The standing readings of a step, oldest first, each with what it replaced. 0 queries."""
    records = {attempt.pk: attempt for attempt in item.attempts}
    windows = {window.quantity: window for window in item.step.windows.all()}
    all_read = {r.pk: r for attempt in item.attempts for r in attempt.readings.all()}
    return [
        ReadingLine(
            reading=reading,
            title=quantity_title(reading.quantity, reading.typed),
            method=contact_words(records[reading.record_id], item.step)
            if reading.quantity == Quantity.TIME_MIN and not reading.method
            else method_words(reading, window=windows.get(reading.quantity), brewery=brewery),
            miss=miss_words(reading, window=windows.get(reading.quantity), brewery=brewery),
            advice=advice_words(reading),
            replaced=all_read.get(reading.corrects_id) if reading.corrects_id else None,
        )
        for reading in item.readings
    ]


@dataclasses.dataclass(frozen=True)
class Target:
    """A window as a screen shows it, and whether it was read in this attempt."""

    window: StepWindow
    title: str
    words: str
    read: bool
    outside: bool


def targets_of(item: StepProgress, *, brewery: Brewery) -> list[Target]:
    """The windows of a step. 0 queries."""
    latest = latest_readings(item.record) if item.record is not None else {}
    read = read_quantities(item.record) if item.record is not None else set()
    return [
        Target(
            window=window,
            title=quantity_title(window.quantity),
            words=window_in_words(window, brewery),
            read=window.quantity in read,
            outside=window.quantity in latest and is_outside(latest[window.quantity]),
        )
        for window in item.step.windows.all()
    ]


def clock_text(seconds: float) -> str:
    """Seconds as on a stop-watch.

    >>> clock_text(754), clock_text(3661)
    ('12:34', '1:01:01')
    """
    total = max(0, math.floor(seconds))
    hours, minutes, rest = total // 3600, total % 3600 // 60, total % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


@dataclasses.dataclass(frozen=True)
class Clock:
    """A running step's time, in seconds; ``before_s`` is what an attempt that it prolongs ran."""

    started_at: datetime
    now: datetime
    before_s: float
    minimum_s: float | None
    target_s: float | None
    maximum_s: float | None
    contact: Contact | None = None

    @property
    def run_s(self) -> float:
        return (self.now - self.started_at).total_seconds() + self.before_s

    @property
    def text(self) -> str:
        return clock_text(self.run_s)

    @property
    def counts(self) -> bool:
        """Whether what is counted to the minimum goes on by itself."""
        return self.contact is None or (
            self.contact.runs.counting and self.counted_s == self.contact.runs.current_s
        )

    @property
    def counted_s(self) -> float:
        """What counts to the minimum and the target: contact where the step asks for it.

        The run that is on, until one has reached the minimum.
        """
        if self.contact is None:
            return self.run_s
        runs = self.contact.runs
        reached = self.minimum_s is None or runs.longest_s >= self.minimum_s
        return runs.longest_s if reached else runs.current_s

    @property
    def ahead_s(self) -> float:
        """How far the timer is ahead of what counts: a maximum is of the timer."""
        return self.run_s - self.counted_s

    @property
    def counted_text(self) -> str:
        return clock_text(self.counted_s)

    @property
    def contact_words(self) -> str:
        """As 'Contact time 12:34. Flow lost'; '' where the step asks for none."""
        if self.contact is None:
            return ""
        shown = f"Contact time {clock_text(self.counted_s)}"
        return f"{shown}. {self.contact.stopped_by}" if self.contact.stopped_by else shown

    @property
    def enough(self) -> bool:
        """Whether the minimum time, where one is set, has run."""
        return self.minimum_s is None or self.counted_s >= self.minimum_s

    @property
    def reached(self) -> str:
        """The last bound that is passed: ``minimum``, ``target``, ``maximum``, or ''."""
        if self.maximum_s is not None and self.run_s > self.maximum_s:
            return "maximum"
        if self.target_s is not None and self.counted_s >= self.target_s:
            return "target"
        return "minimum" if self.minimum_s is not None and self.enough else ""

    @property
    def left_words(self) -> str:
        """What is left to the next bound, as the page's script counts it down; '' without one."""
        if self.minimum_s is None and self.target_s is None and self.maximum_s is None:
            return ""
        counted, run = self.counted_s, self.run_s
        if self.minimum_s is not None and counted < self.minimum_s:
            return f"{_left(counted, self.minimum_s)} until the minimum"
        if self.target_s is not None and counted < self.target_s:
            return f"{_left(counted, self.target_s)} until the target"
        if self.maximum_s is None:
            return "Time reached"
        if run <= self.maximum_s:
            return f"Time reached, {_left(run, self.maximum_s)} until the maximum"
        return f"{clock_text(run - self.maximum_s)} over the maximum"


def _left(run_s: float, goal_s: float) -> str:
    # Up, so that the clock and what is left to its bound add up on the screen.
    return clock_text(math.ceil(goal_s - math.floor(run_s)))


def clock_of(
    *,
    started_at: datetime,
    now: datetime,
    before_min: float,
    time: StepWindow | None,
    contact: Contact | None = None,
) -> Clock:
    """The clock of a running step, by its time window where it has one."""

    def seconds(minutes: float | None) -> float | None:
        return None if minutes is None else minutes * 60

    return Clock(
        started_at=started_at,
        now=now,
        before_s=before_min * 60,
        minimum_s=seconds(time.minimum) if time else None,
        target_s=seconds(time.target) if time else None,
        maximum_s=seconds(time.maximum) if time else None,
        contact=contact,
    )
