"""Actions on skids, hoses and solution tanks as they are set up."""

import dataclasses

from django.db import models

from brewhygiene.ledger.changes import change, refuse_invalid
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.skids.models import Skid, SkidKind, SolutionTank


@dataclasses.dataclass(frozen=True)
class SkidValues:
    """What a skid or a hose is."""

    name: str
    kind: str
    material: str
    seal_material: str
    volume_hl: float | None = None
    active: bool = True
    note: str = ""


@dataclasses.dataclass(frozen=True)
class TankValues:
    """What a solution tank is, and by which rule its solution is dumped."""

    name: str
    material: str
    volume_hl: float
    most_uses: int | None = None
    most_days: int | None = None
    most_carbonate_percent: float | None = None
    dump_soiled: bool = True
    may_explain: bool = False
    rule_source: str = ""
    active: bool = True


def _check_name(name: str, others: models.QuerySet[Skid] | models.QuerySet[SolutionTank]) -> str:
    """A name that no other has, in whatever case. 1 query."""
    name = name.strip()
    if not name:
        raise Refusal("Enter a name.", field="name", code="no_name")
    if name.casefold() in {taken.casefold() for taken in others.values_list("name", flat=True)}:
        raise Refusal(
            f"Another has the name {name}. Enter a different name.", field="name", code="taken"
        )
    return name


@action("save skid")
def save_skid(
    *, by: Actor, values: SkidValues, skid: Skid | None = None, password: str
) -> Recorded[Skid]:
    """Add a skid or a cleaning hose, or change one. Its materials keep agents from it."""
    require(by, "edit_setup")
    if skid is not None:
        skid = Skid.objects.select_for_update().get(pk=skid.pk)
    name = _check_name(values.name, Skid.objects.exclude(pk=skid.pk if skid else 0))
    kept = skid or Skid()
    if values.kind == SkidKind.HOSE and skid is not None and skid.skid_tanks.exists():
        raise Refusal(
            f"{name} has solution tanks, so it is no hose. Choose another kind.",
            field="kind",
            code="has_tanks",
        )
    changed = change(kept, **{**dataclasses.asdict(values), "name": name})
    refuse_invalid(kept)
    sign(by=by, password=password, meaning=f"Saved {name}"[:200])
    kept.save()
    return Recorded(kept, {"name": kept.name, **changed})


@action("save solution tank")
def save_tank(
    *,
    by: Actor,
    skid: Skid,
    values: TankValues,
    tank: SolutionTank | None = None,
    password: str,
) -> Recorded[SolutionTank]:
    """Sign what a solution tank is and by which rule its solution is dumped."""
    require(by, "edit_setup")
    skid = Skid.objects.select_for_update().get(pk=skid.pk)
    if skid.is_hose:
        raise Refusal(f"{skid.name} is a hose and has no tanks.", code="no_tanks")
    if tank is not None:
        tank = SolutionTank.objects.select_for_update().get(pk=tank.pk)
    others = SolutionTank.objects.exclude(pk=tank.pk if tank else 0)
    name = _check_name(values.name, others)
    if not values.rule_source.strip():
        raise Refusal(
            "Enter where the dump rule is from, e.g. common practice, no source.",
            field="rule_source",
            code="no_source",
        )
    kept = tank or SolutionTank(skid=skid)
    full = tank is not None and tank.made_solutions.filter(dumped_at__isnull=True).exists()
    if full and not values.active:
        raise Refusal(
            f"{name} still contains a solution. Dump that first.", field="active", code="not_empty"
        )
    changed = change(
        kept,
        **{**dataclasses.asdict(values), "name": name, "rule_source": values.rule_source.strip()},
    )
    refuse_invalid(kept)
    sign(by=by, password=password, meaning=f"Saved {name} and its dump rule"[:200])
    kept.save()
    return Recorded(kept, {"name": kept.name, "skid": skid.name, **changed}, aggregate=skid)
