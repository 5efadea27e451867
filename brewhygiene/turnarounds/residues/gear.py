"""What skids and cleaning hoses still carry, of whatever vessel; and what must not meet it."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from functools import reduce
from operator import or_

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from brewhygiene.quantities.style import shown_moment
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.cautions import Caution
from brewhygiene.regimes.materials.fit import meeting_words, meets
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.materials.meetings import MEASURED_ENDS, RINSES, meeting_of
from brewhygiene.regimes.models import Agent, RegimeVersion, Step
from brewhygiene.skids.fit import harms_to_skid
from brewhygiene.skids.models import GearRinse, Skid
from brewhygiene.skids.questions import Carried
from brewhygiene.turnarounds.models import Clean, StepRecord

# The attribute under which a clean keeps what its gear carries, read once.
_KEPT = "_carried_by_gear"


def _cleared(column: str) -> QuerySet[StepRecord, int]:
    """The last step that proved a skid or a hose rinsed, for a query on skids."""
    return (
        StepRecord.objects.filter(
            **{column: OuterRef("pk")},
            left_out=False,
            end_criterion_met=True,
            step__kind__in=RINSES,
            step__end_criterion__in=MEASURED_ENDS,
        )
        .order_by("-pk")
        .values_list("pk", flat=True)[:1]
    )


def carried_by(gear: Collection[Skid]) -> Mapping[int, Sequence[Carried]]:
    """By skid or hose, each agent that no proved rinse has taken out, the latest first. 2 queries.

    A rinse counts where its end is measured and was reached, in a step that ran on the gear or
    of the gear by itself.
    """
    rows = Skid.objects.filter(pk__in=[one.pk for one in gear]).annotate(
        as_skid=Subquery(_cleared("skid")),
        as_hose=Subquery(_cleared("hose")),
        rinsed_at=Subquery(
            GearRinse.objects.filter(skid=OuterRef("pk"))
            .order_by()
            .values("skid")
            .annotate(at=Max("rinsed_at"))
            .values("at")
        ),
    )
    since: dict[int, tuple[int, datetime | None]] = {}
    wanted = []
    for row in rows:
        last = max(row.as_skid or 0, row.as_hose or 0)
        since[row.pk] = (last, row.rinsed_at)
        wanted.append((Q(skid=row.pk) | Q(hose=row.pk)) & Q(pk__gt=last))
    found: dict[int, dict[int, Carried]] = {pk: {} for pk in since}
    records = (
        StepRecord.objects.filter(
            reduce(or_, wanted, Q(pk__in=())), left_out=False, step__agent__isnull=False
        )
        .select_related("step__agent", "clean__turnaround__vessel")
        .order_by("pk")
    )
    for record in records:
        for pk in {record.skid_id or 0, record.hose_id or 0} & found.keys():
            last, rinsed_at = since[pk]
            if record.pk > last and (rinsed_at is None or record.started_at > rinsed_at):
                agent = record.step.agent
                assert agent is not None
                found[pk][agent.pk] = Carried(
                    agent, record.clean.turnaround.vessel.name, record.started_at
                )
    return {
        pk: sorted(by_agent.values(), key=lambda one: one.at, reverse=True)
        for pk, by_agent in found.items()
    }


def _of_clean(clean: Clean) -> list[tuple[Skid, Carried]]:
    """What the skid and the hose of a clean carry. 2 queries, once; none where it has neither."""
    if not clean.gear:
        return []
    kept: list[tuple[Skid, Carried]] | None = clean.__dict__.get(_KEPT)
    if kept is None:
        carried = carried_by(clean.gear)
        kept = [(gear, one) for gear in clean.gear for one in carried.get(gear.pk, ())]
        clean.__dict__[_KEPT] = kept
    return kept


def moment_of(at: datetime, *, now: datetime) -> str:
    """As '09:10', or '3 May, 09:10' of another day."""
    there, today = timezone.localtime(at), timezone.localtime(now)
    day = "" if there.date() == today.date() else f"{shown_moment(there, 'j F')}, "
    return f"{day}{shown_moment(there, 'H:i')}"


def last_words(gear: Skid, carried: Carried, *, now: datetime) -> str:
    """As 'Skid 1 last carried Hypo (invented), in FV 3 at 09:10, and was not rinsed.'"""
    at = moment_of(carried.at, now=now)
    return (
        f"{gear.name} last carried {carried.agent.name}, in {carried.vessel} at {at}, and was not "
        "rinsed."
    )


def _refuse_gear(
    gear: Iterable[Skid], steps: Sequence[Step], *, vessel: str, now: datetime
) -> None:
    """Refuse a skid or a hose that steps harm, or that carries what must not meet one of them.

    2 queries where there is any, 1 more where something is unfit.
    """
    listed = list(gear)
    if not listed:
        return
    carried, labels = carried_by(listed), Labels()
    for one in listed:
        field = "hose" if one.is_hose else "skid"
        for words in harms_to_skid(one, steps, labels):
            raise Refusal(
                f"{words} Choose another {one.get_kind_display()}.",
                field=field,
                code="unfit_material",
            )
        for left in carried.get(one.pk, ()):
            for harm in meets(steps, [left.agent]):
                step = steps[harm.position]
                if meeting_with(left.agent, step):
                    raise Refusal(
                        f"{last_words(one, left, now=now)} Step {step.order} in {vessel}: "
                        f"{harm.words} Rinse {one.name} and record its rinse, or choose another.",
                        field=field,
                        code="agents_meet",
                    )


def gear_for_clean(
    skid: Skid | None,
    hose: Skid | None,
    version: RegimeVersion,
    *,
    vessel: str,
    now: datetime,
    steps: Collection[int] | None = None,
) -> dict[str, Skid | None]:
    """A clean's skid and hose as they are now, in use and fit for it. 0 queries for none, else 3.

    1 query more where something is unfit. ``steps`` are the keys of those that are to come, where
    some have run.
    """
    wanted = {"skid": skid, "hose": hose}
    keys = [one.pk for one in wanted.values() if one is not None]
    chosen = Skid.objects.in_bulk(keys) if keys else {}
    found: dict[str, Skid | None] = {}
    for field, one in wanted.items():
        found[field] = None if one is None else chosen[one.pk]
        refuse_retired(found[field], field=field)
    to_come = [one for one in version.steps.all() if steps is None or one.pk in steps]
    _refuse_gear(chosen.values(), to_come, vessel=vessel, now=now)
    return found


def of_gear(ran_on: Clean | StepRecord) -> dict[str, str]:
    """What a clean or a step runs on, for the ledger: nothing where nothing is named."""
    named = {"skid": ran_on.skid, "hose": ran_on.hose}
    return {name: one.name for name, one in named.items() if one is not None}


def refuse_retired(gear: Skid | None, *, field: str) -> None:
    """Refuse gear that is retired, a hose for a skid, or a skid for a hose. 0 queries."""
    if gear is None:
        return
    if not gear.active:
        raise Refusal(f"{gear.name} is retired. Choose another.", field=field, code="retired")
    if gear.is_hose != (field == "hose"):
        raise Refusal(
            f"{gear.name} is a {gear.get_kind_display()}. Choose another.",
            field=field,
            code="other_kind",
        )


def meeting_with(before: Agent, step: Step) -> bool:
    """Whether a step's agent must not meet another."""
    if step.agent is None:
        return False
    meeting = meeting_of(before.active_substance, step.agent.active_substance)
    return meeting is not None and meeting.refused


def refuse_gear_for_step(clean: Clean, step: Step, *, now: datetime) -> None:
    """Refuse a step on a skid or a hose that it harms, or whose last agent it must not meet.

    2 queries where the clean has gear, 1 more where something is unfit.
    """
    for one in clean.gear:
        for words in harms_to_skid(one, [step]):
            raise Refusal(f"{words} Change the {one.get_kind_display()}.", code="unfit_material")
    for gear, left in _of_clean(clean):
        if step.agent is not None and meeting_with(left.agent, step):
            vessel = clean.turnaround.vessel.name
            raise Refusal(
                f"{last_words(gear, left, now=now)} {meeting_words(left.agent, step.agent)} "
                f"Nothing of it may reach {vessel}. Rinse {gear.name} until a pH or conductivity "
                "shows that it is gone and record its rinse, or change the skid.",
                code="agents_meet",
            )


def gear_cautions(clean: Clean, step: Step, *, known: Collection[int]) -> list[Caution]:
    """What a skid or a hose may still carry, and a step may meet only with care.

    ``known`` are the keys of the agents that are cautioned of in the vessel already. 2 queries
    where the clean has gear.
    """
    found: dict[str, Caution] = {}
    if step.agent is None or not clean.gear:
        return []
    orders = {one.pk: one.order for one in clean.version.steps.all()}
    if any(orders[record.step_id] > step.order for record in clean.step_records.all()):
        return []  # it is past, and what its gear carries now came after it
    for gear, left in _of_clean(clean):
        meeting = meeting_of(left.agent.active_substance, step.agent.active_substance)
        if meeting is None or meeting.refused or left.agent.pk in known:
            continue
        if left.agent.no_rinse_allowed:
            continue  # what a clean may leave without a rinse is no residue
        code = f"gear_meets_{left.agent.active_substance}"
        found.setdefault(
            code,
            Caution(
                code,
                f"{left.agent.name} may still be in {gear.name}",
                f"It last carried it in {left.vessel}, and no rinse was proved since. "
                f"{meeting_words(left.agent, step.agent)}",
            ),
        )
    return list(found.values())
