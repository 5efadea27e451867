"""What a running clean goes on with: another skid, another hose."""

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.queries import versions_with_steps
from brewhygiene.skids.models import Skid
from brewhygiene.turnarounds.actions import lock_running_clean, raise_revision
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.residues.gear import gear_for_clean, of_gear


@action("change skid of clean")
def change_gear(
    *, by: Actor, clean: Clean, skid: Skid | None = None, hose: Skid | None = None
) -> Recorded[Clean]:
    """Say which skid and hose the steps to come run on. Those that ran keep what they ran on."""
    require(by, "work_cellar")
    clean = lock_running_clean(clean)
    current = progress_of(clean).current
    if current is not None and current.state == "running":
        raise Refusal(
            f"{current.step.get_kind_display().capitalize()} is running. End the step first.",
            code="step_running",
        )
    before = of_gear(clean)
    version = versions_with_steps().get(pk=clean.version_id)
    vessel = clean.turnaround.vessel.name
    gear = gear_for_clean(skid, hose, version, vessel=vessel, now=by.now, steps=_to_come(clean))
    clean.skid, clean.hose = gear["skid"], gear["hose"]
    clean.save(update_fields=["skid", "hose"])
    raise_revision(clean.turnaround)
    return Recorded(clean, {"before": before, "after": of_gear(clean)}, aggregate=clean.turnaround)


def _to_come(clean: Clean) -> set[int]:
    """The steps of a clean that are not settled, by their keys. 0 queries."""
    return {item.step.pk for item in progress_of(clean).steps if not item.settled}
