"""What agents are still in a vessel, and what must not be put to them or to its materials."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.cautions import Caution, heat_left
from brewhygiene.regimes.materials.fit import (
    findings,
    harms_to,
    material_cautions,
    meeting_words,
    meets,
)
from brewhygiene.regimes.materials.labels import signed_limits
from brewhygiene.regimes.materials.meetings import clears, meeting_of
from brewhygiene.regimes.models import Agent, Quantity, RegimeVersion, Step
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.residues.gear import gear_cautions

RINSE_FIRST = "Rinse first, until a pH or conductivity shows that it is gone."


def _left_by(records: Iterable[StepRecord], steps: Mapping[int, Step]) -> dict[int, Agent]:
    """The agents that records in their order leave in a vessel, by id."""
    inside: dict[int, Agent] = {}
    for record in records:
        step = steps[record.step_id]
        if record.left_out:
            continue
        if step.agent is not None:
            inside[step.agent.pk] = step.agent
        elif record.end_criterion_met and clears(step.kind, step.end_criterion):
            inside = {}
    return inside


def agents_inside(turnaround: Turnaround, *, at: datetime | None = None) -> list[Agent]:
    """The agents that no proved rinse has taken out of a vessel since it was emptied. 1 query.

    Over all cleans of the turnaround, those that were stopped too. A rinse counts where its end
    is measured and was reached. ``at`` an earlier moment, of the steps that were begun by then.
    """
    begun = StepRecord.objects.filter(clean__turnaround=turnaround)
    if at is not None:
        begun = begun.filter(started_at__lte=at)
    records = list(begun.select_related("step__agent").order_by("pk"))
    return list(_left_by(records, {record.step_id: record.step for record in records}).values())


def _before(clean: Clean, step: Step) -> tuple[list[StepRecord], dict[int, Step]]:
    """All records before a step of a clean in its turnaround, and their steps by id.

    At most 3 queries, for all steps of a clean. Reads prefetched steps and records.
    """
    steps = {one.pk: one for one in clean.version.steps.all()}
    before = [r for r in clean.step_records.all() if steps[r.step_id].order < step.order]
    records = [*clean.earlier_records, *sorted(before, key=lambda record: record.pk)]
    for record in clean.earlier_records:
        steps.setdefault(record.step_id, record.step)
    return records, steps


def agents_before(clean: Clean, step: Step) -> list[Agent]:
    """The agents still in the vessel when a step of a clean comes. At most 3 queries."""
    return list(_left_by(*_before(clean, step)).values())


def _hot_after(records: Iterable[StepRecord], steps: Mapping[int, Step]) -> bool:
    """Whether records in their order leave a vessel hot; reads prefetched readings."""
    ran = [record for record in records if not record.left_out]
    read_c: dict[int, float] = {}
    for record in ran:
        for reading in record.readings.all():
            if reading.quantity == Quantity.TEMPERATURE_C:
                read_c[record.step_id] = max(reading.value, read_c.get(record.step_id, 0))
    return heat_left((steps[record.step_id] for record in ran), read_c=read_c)


def left_inside(turnarounds: Iterable[int]) -> dict[int, str]:
    """What is still in vessels, as "Caustic liquor 50 %, hot", by the turnaround's id.

    At most 3 queries, whatever the number of turnarounds; none where there are none.
    """
    wanted = list(turnarounds)
    if not wanted:
        return {}
    by_turnaround: dict[int, list[StepRecord]] = defaultdict(list)
    for record in (
        StepRecord.objects.filter(clean__turnaround__in=wanted)
        .select_related("clean", "step__agent")
        .prefetch_related("step__windows", "readings")
        .order_by("pk")
    ):
        by_turnaround[record.clean.turnaround_id].append(record)
    found = {}
    for pk, records in by_turnaround.items():
        steps = {record.step_id: record.step for record in records}
        unfinished = {r.step.agent_id for r in records if r.clean.finished_at is None}
        # What a finished clean may leave without a rinse is no residue.
        parts = [
            agent.name
            for agent in _left_by(records, steps).values()
            if not agent.no_rinse_allowed or agent.pk in unfinished
        ]
        if _hot_after(records, steps):
            parts.append("hot")
        if parts:
            found[pk] = ", ".join(parts)
    return found


def hot_before(clean: Clean, step: Step) -> bool:
    """Whether the vessel is still hot when a step of a clean comes. At most 3 queries.

    Over all cleans of the turnaround, those that were stopped too.
    """
    return _hot_after(*_before(clean, step))


def refuse_unsafe_clean(turnaround: Turnaround, version: RegimeVersion) -> None:
    """Refuse a regime that harms the vessel's materials, or meets what is still in it. 1 query.

    ``version`` with its steps, agents and windows loaded.
    """
    steps = list(version.steps.all())
    for harm in harms_to(turnaround.vessel, steps):
        raise Refusal(
            f"Step {harm.position + 1}: {harm.words} Choose another regime.",
            field="version",
            code="unfit_material",
        )
    for harm in meets(steps, agents_inside(turnaround)):
        raise Refusal(
            f"Step {harm.position + 1}: {harm.words} Choose a regime that rinses before it, until "
            "a pH or conductivity shows that the agent is gone.",
            field="version",
            code="agents_meet",
        )


def refuse_unsafe_step(clean: Clean, step: Step) -> None:
    """Refuse a step that harms the vessel's materials, or meets what is still in it. 1 query.

    ``step`` with its agent and windows loaded.
    """
    vessel = clean.turnaround.vessel
    for harm in harms_to(vessel, [step]):
        raise Refusal(
            f"{harm.words} Stop this clean and choose another regime.", code="unfit_material"
        )
    for harm in meets([step], agents_before(clean, step)):
        raise Refusal(
            f"{harm.words} {RINSE_FIRST} Repeat the rinse, or stop this clean and choose a regime "
            "that begins with one.",
            code="agents_meet",
        )


def cautions_at_hand(clean: Clean, step: Step) -> list[Caution]:
    """What a step may do to this vessel, or to what is still in it, only with care.

    1 query; 1 more where its materials are limited, and 1 where a label may allow them; 2 more
    where the clean runs on a skid or through a hose.
    """
    vessel = clean.turnaround.vessel
    harms = findings(step, vessel)
    limited = any(harm.limited for harm in harms)
    signed = signed_limits(clean.version, vessel) if limited else {}
    found = material_cautions(step, harms, signed)
    if step.agent is None:
        return found
    inside = agents_before(clean, step)
    for before in inside:
        meeting = meeting_of(before.active_substance, step.agent.active_substance)
        if meeting is not None and not meeting.refused:
            found.append(
                Caution(
                    f"meets_{before.active_substance}",
                    f"{before.name} may still be in the vessel",
                    f"No rinse was proved since. {meeting_words(before, step.agent)}",
                )
            )
    return [*found, *gear_cautions(clean, step, known={agent.pk for agent in inside})]
