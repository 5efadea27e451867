"""Actions of the agents and the regimes."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet

from brewhygiene.cellar.models import CleanLevel, Vessel, VesselKind
from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.about import About, AgentValues
from brewhygiene.regimes.drafts import StepDraft, as_values, drafts_of, fingerprint, write_steps
from brewhygiene.regimes.materials.fit import harms_to
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.models import ActiveSubstance, Agent, AgentKind, Regime, RegimeVersion
from brewhygiene.regimes.queries import versions_with_steps, was_ever_used
from brewhygiene.regimes.questions import cleans_by
from brewhygiene.regimes.rules.problems import Problem, problems_of

SUBSTANCES: dict[str, frozenset[str]] = {
    AgentKind.CAUSTIC: frozenset({ActiveSubstance.NAOH, ActiveSubstance.KOH}),
    AgentKind.ACID: frozenset(
        {ActiveSubstance.HNO3, ActiveSubstance.H3PO4, ActiveSubstance.HNO3_H3PO4}
    ),
    AgentKind.SANITISER: frozenset(
        {
            ActiveSubstance.PAA,
            ActiveSubstance.H2O2,
            ActiveSubstance.CHLORINE,
            ActiveSubstance.IODINE,
            ActiveSubstance.QUAT,
        }
    ),
}


class RegimeRefused(Refusal):
    """A regime that may not be run, with everything that is wrong with it."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        first = problems[0]
        where = f"Step {first.step + 1}: " if first.step is not None else ""
        super().__init__(where + first.message, code="not_runnable")
        self.problems = list(problems)


NAME_LENGTH = 80
NOTE_LENGTH = 200

# What a regime is worth to a clean; a clean already done must not gain or lose by an edit.
_SETTLED_BY_USE = ("level", "resanitises_only", "under_co2")


def content_mark(version: RegimeVersion) -> str:
    """The mark of a regime's content as an editor saw it; reads prefetched steps."""
    return fingerprint(dataclasses.asdict(About.of(version.regime)), drafts_of(version))


def _check_name(name: str, taken: QuerySet[Any], *, what: str) -> str:
    """The name as it is kept; refused where it is blank, too long or among those taken."""
    name = " ".join(name.split())
    if not name:
        raise Refusal("Enter a name.", field="name")
    if len(name) > NAME_LENGTH:
        raise Refusal(f"Enter at most {NAME_LENGTH} characters.", field="name")
    if taken.filter(name__iexact=name).exists():
        raise Refusal(
            f"{what} called {name} already exists. Enter another name.",
            field="name",
            code="name_taken",
        )
    return name


def _check_about(about: About) -> None:
    if not about.vessel_kinds:
        raise Refusal("Choose at least one kind of vessel.", field="vessel_kinds")
    if any(kind not in VesselKind.values for kind in about.vessel_kinds):
        raise Refusal("Choose from the kinds of vessel listed.", field="vessel_kinds")
    if about.level not in CleanLevel.values:
        raise Refusal("Choose a strength.", field="level")
    if about.under_co2 and about.level == CleanLevel.STRONG:
        raise Refusal(
            "A strong clean opens the vessel, so it cannot run under CO2.", field="under_co2"
        )


def _in_order(vessel_kinds: Sequence[str]) -> list[str]:
    """Kinds of vessel in one fixed order, so that ticking them anew is no change."""
    return [kind for kind in VesselKind.values if kind in vessel_kinds]


def _check_steps(steps: Sequence[StepDraft], about: About) -> None:
    problems = problems_of(
        steps,
        under_co2=about.under_co2,
        resanitises_only=about.resanitises_only,
        vessel_kinds=about.vessel_kinds,
    )
    if problems:
        raise RegimeRefused(problems)


def _check_preferring(regime: Regime, steps: Sequence[StepDraft]) -> None:
    """Refuse steps that harm a vessel which prefers the regime. 1 query."""
    labels = Labels()
    problems = [
        Problem(f"{harm.words} {vessel.name} prefers this regime.", harm.position, harm.field)
        for vessel in Vessel.objects.filter(default_regime=regime)
        for harm in harms_to(vessel, steps, labels)
    ]
    if problems:
        raise RegimeRefused(problems)


def _version_in_force(regime: Regime) -> RegimeVersion:
    """The version in force with its steps, locked, so that no clean starts on it meanwhile."""
    locked = versions_with_steps().select_for_update(of=("self",))
    version = locked.filter(regime=regime, current=True).first()
    if version is None:
        raise Refusal(f"{regime.name} has no version in force.", code="no_version")
    return version


def _add_version(
    regime: Regime,
    *,
    by: Actor,
    number: int,
    steps: Sequence[StepDraft],
    change_note: str = "",
    provenance: str = "",
) -> RegimeVersion:
    version = RegimeVersion.objects.create(
        regime=regime,
        number=number,
        created_at=by.now,
        created_by=by.person,
        change_note=change_note.strip(),
        provenance=provenance.strip(),
    )
    write_steps(version, steps)
    return version


@action("add regime")
def create_regime(
    *,
    by: Actor,
    about: About,
    steps: Sequence[StepDraft],
    password: str,
    provenance: str = "",
    shipped: bool = False,
) -> Recorded[Regime]:
    """Add a regime with its first version, signed.

    Raises :class:`RegimeRefused` when its steps may not be run as they stand.
    """
    require(by, "edit_setup")
    sign(by=by, password=password, meaning=f"Added the regime {about.name.strip()}"[:200])
    name = _check_name(about.name, Regime.objects.all(), what="A regime")
    _check_about(about)
    _check_steps(steps, about)
    regime = Regime.objects.create(
        name=name,
        vessel_kinds=_in_order(about.vessel_kinds),
        level=about.level,
        resanitises_only=about.resanitises_only,
        under_co2=about.under_co2,
        shipped=shipped,
    )
    _add_version(regime, by=by, number=1, steps=steps, provenance=provenance)
    return Recorded(
        regime,
        {**dataclasses.asdict(about), "steps": as_values(steps), "provenance": provenance},
    )


@action("change regime")
def save_regime_version(
    *,
    by: Actor,
    regime: Regime,
    about: About,
    steps: Sequence[StepDraft],
    password: str,
    change_note: str = "",
    provenance: str | None = None,
    seen: str | None = None,
) -> Recorded[RegimeVersion]:
    """Change a regime: its current version in place, or the next one where that was ever used.

    ``seen`` is the :func:`content_mark` on which the change was based; another's change since
    then is refused rather than overwritten. A next version needs a ``change_note``. Where the steps
    are from (``provenance``) stays as it is unless given.
    """
    user = require(by, "edit_setup")
    regime = Regime.objects.select_for_update().get(pk=regime.pk)
    sign(by=by, password=password, meaning=f"Edited the regime {regime}"[:200])
    current = _version_in_force(regime)
    if seen is not None and seen != content_mark(current):
        raise Refusal(
            f"{current.created_by or 'Somebody'} edited this regime since you opened it. "
            "Open it in "
            "another window and enter your edits again.",
            code="stale",
        )
    name = _check_name(about.name, Regime.objects.exclude(pk=regime.pk), what="A regime")
    _check_about(about)
    _check_steps(steps, about)
    _check_preferring(regime, steps)
    if len(change_note) > NOTE_LENGTH:
        raise Refusal(f"Enter at most {NOTE_LENGTH} characters.", field="change_note")
    before = as_values(drafts_of(current))
    ever_used = was_ever_used(regime)
    for field in _SETTLED_BY_USE:
        if ever_used and getattr(regime, field) != getattr(about, field):
            raise Refusal(
                "Vessels were cleaned by this regime, so this cannot be edited. Copy the regime "
                "and edit the copy.",
                field=field,
                code="settled_by_use",
            )
    values: dict[str, Any] = change(
        regime,
        **{
            **dataclasses.asdict(about),
            "name": name,
            "vessel_kinds": _in_order(about.vessel_kinds),
        },
    )
    regime.save()
    if as_values(steps) == before:
        version = current
        current.change_note = change_note.strip() or current.change_note
        current.save(update_fields=["change_note"])
    elif cleans_by(current).exists():
        if not change_note.strip():
            raise Refusal(
                f"Version {current.number} was used, so this becomes version "
                f"{current.number + 1}. Enter what changed and why.",
                field="change_note",
                code="no_change_note",
            )
        RegimeVersion.objects.filter(pk=current.pk).update(current=False)
        version = _add_version(
            regime,
            by=by,
            number=current.number + 1,
            steps=steps,
            change_note=change_note,
            provenance=current.provenance if provenance is None else provenance,
        )
    else:
        version = current
        version.created_at, version.created_by = by.now, user
        version.change_note = change_note.strip()
        version.provenance = version.provenance if provenance is None else provenance
        version.save(update_fields=["created_at", "created_by", "change_note", "provenance"])
        write_steps(version, steps)
    values.update(
        version=version.number,
        change_note=version.change_note,
        steps_before=before,
        steps=as_values(steps),
    )
    return Recorded(version, values, aggregate=regime)


@action("copy regime")
def copy_regime(*, by: Actor, regime: Regime, name: str, password: str) -> Recorded[Regime]:
    """Start a new regime from the current version of another."""
    require(by, "edit_setup")
    sign(by=by, password=password, meaning=f"Copied the regime {regime}"[:200])
    name = _check_name(name, Regime.objects.all(), what="A regime")
    source = _version_in_force(regime)
    copied = Regime.objects.create(
        name=name,
        vessel_kinds=source.regime.vessel_kinds,
        level=source.regime.level,
        resanitises_only=source.regime.resanitises_only,
        under_co2=source.regime.under_co2,
    )
    _add_version(
        copied,
        by=by,
        number=1,
        steps=drafts_of(source),
        provenance=f"Copied from {source}. {source.provenance}".strip()[:300],
    )
    return Recorded(copied, {"name": name, "copied_from": str(source)})


@action("retire regime")
def retire_regime(*, by: Actor, regime: Regime, password: str) -> Recorded[Regime]:
    """Take a regime out of use: no longer proposed or chosen; what it did stays on record."""
    return _set_active(by=by, regime=regime, active=False, password=password)


@action("reinstate regime")
def reinstate_regime(*, by: Actor, regime: Regime, password: str) -> Recorded[Regime]:
    """Bring a retired regime back, if its steps may still be run as they stand."""
    require(by, "edit_setup")
    current = _version_in_force(regime)
    _check_steps(drafts_of(current), About.of(current.regime))
    _check_preferring(regime, drafts_of(current))
    return _set_active(by=by, regime=regime, active=True, password=password)


def _set_active(*, by: Actor, regime: Regime, active: bool, password: str) -> Recorded[Regime]:
    require(by, "edit_setup")
    regime = Regime.objects.select_for_update().get(pk=regime.pk)
    did = "Reinstated" if active else "Retired"
    sign(by=by, password=password, meaning=f"{did} the regime {regime}"[:200])
    if regime.active == active:
        raise Refusal(
            f"{regime.name} is already {'in use' if active else 'retired'}.", code="no_change"
        )
    regime.active = active
    regime.save(update_fields=["active"])
    return Recorded(regime, {"name": regime.name, "active": active})


def _check_agent(values: AgentValues) -> None:
    if values.kind not in AgentKind.values:
        raise Refusal("Choose caustic, acid or sanitiser.", field="kind")
    if values.active_substance not in SUBSTANCES[values.kind]:
        raise Refusal(
            f"Choose an active substance of a {AgentKind(values.kind).label}.",
            field="active_substance",
            code="wrong_substance",
        )
    if not 0 < values.concentrate_strength_ww <= 100:
        raise Refusal("Enter a strength above 0 and up to 100 %.", field="concentrate_strength_ww")
    if values.price_kg is not None and values.price_kg < 0:
        raise Refusal("Enter a price of 0 or more.", field="price_kg")
    if not 0 <= values.recovered_share <= 1:
        raise Refusal("Enter a share of 0 to 100 %.", field="recovered_share")
    if not values.no_rinse_allowed:
        return
    if values.kind != AgentKind.SANITISER:
        raise Refusal(
            "Only a sanitiser may be left without a rinse.",
            field="no_rinse_allowed",
            code="never_left",
        )
    if values.no_rinse_max_mg_l is None or values.no_rinse_max_mg_l <= 0:
        raise Refusal(
            "Enter the maximum without a rinse, in mg/L active.",
            field="no_rinse_max_mg_l",
        )
    if not values.no_rinse_source.strip():
        raise Refusal(
            "Enter the source of that maximum: the label, or the code.", field="no_rinse_source"
        )


@action("save agent")
def save_agent(*, by: Actor, values: AgentValues, agent: Agent | None = None) -> Recorded[Agent]:
    """Add an agent, or change one.

    What an agent is (kind and substance) is settled once a regime uses it.
    """
    require(by, "edit_setup")
    if agent is not None:
        agent = Agent.objects.select_for_update().get(pk=agent.pk)
    others = Agent.objects.exclude(pk=agent.pk) if agent else Agent.objects.all()
    name = _check_name(values.name, others, what="An agent")
    _check_agent(values)
    if agent is None:
        agent = Agent()
    elif (agent.kind, agent.active_substance) != (values.kind, values.active_substance):
        using = Regime.objects.filter(versions__steps__agent=agent).distinct()
        if names := ", ".join(using.values_list("name", flat=True)[:3]):
            raise Refusal(
                f"{agent.name} is used in regimes ({names}), so its kind and substance "
                "cannot be edited. "
                "Add the other agent under its own name.",
                field="kind" if agent.kind != values.kind else "active_substance",
                code="agent_in_use",
            )
    if values.gtin and others.filter(gtin=values.gtin).exists():
        raise Refusal("Another agent has this product number.", field="gtin", code="taken")
    changed = change(agent, **{**dataclasses.asdict(values), "name": name})
    agent.save()
    return Recorded(agent, {"name": agent.name, **changed})
