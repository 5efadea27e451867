"""The next action for a vessel, as a link for the person who looks."""

import dataclasses
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache

from django.urls import reverse

from brewhygiene.release.queries import VesselState
from brewhygiene.release.standing.clocks import missing_points, results_in_doubt
from brewhygiene.release.status import Code, Next, may_resanitise, may_sanitise_before_filling

NEEDED: dict[Next, str] = {
    Next.EMPTY: "work_cellar",
    Next.CLEAN: "work_cellar",
    Next.CONTINUE: "work_cellar",
    Next.SAMPLE: "work_cellar",
    Next.RESANITISE: "work_cellar",
    Next.SANITISE: "work_cellar",
    Next.DECIDE: "decide_release",
    Next.FILL: "fill_vessel",
    Next.PLATE: "decide_release",
    Next.PERMIT: "work_cellar",
}
MAY_BEGIN = {Next.RESANITISE: may_resanitise, Next.SANITISE: may_sanitise_before_filling}
WAITING_FOR: dict[str, str] = {
    "work_cellar": "the cellar",
    "fill_vessel": "the cellar",
    "decide_release": "the head brewer",
}


@lru_cache(maxsize=4096)
def address(name: str, *arguments: int) -> str:
    """A page's address. A board asks for the same few hundred every few seconds."""
    return reverse(name, args=arguments)


@dataclasses.dataclass(frozen=True)
class NextStep:
    """What comes next. ``url`` is empty where the person may not do it, or nothing is to do."""

    text: str
    url: str = ""
    waiting_for: str = ""
    why: str = ""


def next_step(
    state: VesselState, *, may: Callable[[str], bool], now: datetime, plate_pk: int | None = None
) -> NextStep:
    """What comes next for a vessel, and its address if ``may`` allows it. 0 queries.

    ``plate_pk`` is the open positive plate, where there is one.
    """
    status = state.status
    step, text, why = status.next, status.next_text, ""
    may_begin = MAY_BEGIN.get(step)
    if may_begin is not None and (refusal := may_begin(state.facts, now)) is not None:
        step, text, why = Next.CLEAN, "Re-clean", refusal
    if step == Next.NOTHING:
        return NextStep(text)
    needed = NEEDED[step]
    if not may(needed):
        return NextStep(text, waiting_for=WAITING_FOR[needed], why=why)
    return NextStep(text, url=_address(step, state, plate_pk), why=why)


def _address(step: Next, state: VesselState, plate_pk: int | None) -> str:
    if step == Next.EMPTY:
        return address("turnarounds:empty", state.vessel.pk)
    if step == Next.PLATE:
        return address("plates:plate", plate_pk) if plate_pk else address("plates:due")
    turnaround, facts = state.turnaround, state.facts.turnaround
    assert turnaround is not None
    assert facts is not None
    if step == Next.CONTINUE:
        running = next(c for c in facts.cleans if c.finished_at is None and c.stopped_at is None)
        return address("turnarounds:current_step", running.pk)
    if step == Next.SAMPLE:
        held = state.status.code == Code.HELD
        if held and (waiting := results_in_doubt(state.facts, facts)):
            return address("atp:sample", turnaround.pk, waiting[0].point_pk)
        due = missing_points(state.facts, facts)[0]
        point_pk = next(pk for pk, name in state.facts.required_points.items() if name == due)
        return address("atp:sample", turnaround.pk, point_pk)
    name = {
        Next.CLEAN: "turnarounds:regime",
        Next.DECIDE: "release:decide",
        Next.PERMIT: "turnarounds:permit",
        Next.RESANITISE: "release:resanitise",
        Next.SANITISE: "release:sanitise",
        Next.FILL: "release:fill",
    }[step]
    return address(name, turnaround.pk)
