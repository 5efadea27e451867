"""What the steps of a regime do to a vessel: its wall, its seals, its spray device."""

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.models import SprayDevice, Vessel, VesselKind
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.cautions import Caution
from brewhygiene.regimes.drafts import StepDraft
from brewhygiene.regimes.materials.heat import HeatLimit, heat_limit
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.materials.meetings import clears, meeting_of
from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits
from brewhygiene.regimes.materials.table import HEAT, Judged, Row, Verdict, basis_of, verdict_on
from brewhygiene.regimes.models import ActiveSubstance, Agent, Basis, Quantity, Step, StepKind
from brewhygiene.science.solutions.density import OutOfRange
from brewhygiene.science.solutions.strength import NotConvertible, convert_strength

# A material that is only half known is what all of these have in common.
MEANT: dict[str, tuple[str, ...]] = {
    Material.UNKNOWN: (),
    Material.NONE: (),
    Material.PLASTIC: (Material.POLYETHYLENE, Material.POLYPROPYLENE, Material.PVC),
}


@dataclasses.dataclass(frozen=True)
class Finding:
    """What one step does to one part of a vessel."""

    code: str
    part: str
    material: str
    agent: str
    judged: Judged
    label: MaterialLabel | None = None  # the one that allows what is unfit

    @property
    def refused(self) -> bool:
        return self.judged.verdict == Verdict.NOT and self.label is None

    @property
    def limited(self) -> bool:
        """Whether it may be within limits, without any label."""
        return self.judged.verdict == Verdict.LIMITED

    @property
    def words(self) -> str:
        """Which pair, why, and the source."""
        row = self.judged.row
        why = f"{row.limit}{gas_words(row) if row.gas and self.refused else ''}"
        if self.judged.beyond:
            why = f"beyond what is known{f' ({row.limit})' if row.limit else ''}"
        return f"{self.agent} on {Material(self.material).label}: {why}. Source: {row.source_words}"


def gas_words(row: Row) -> str:
    """Which gas forms, as the end of a sentence."""
    return f", and {row.gas} form{'' if ' and ' in row.gas or row.gas.endswith('s') else 's'}"


def highest(step: Step | StepDraft, quantity: str) -> float | None:
    """The highest bound that a step gives for a quantity; the maximum where there is one."""
    window = step.window(quantity)
    if window is None:
        return None
    known = (window.maximum, window.target, window.minimum)
    return next((value for value in known if value is not None), None)


def highest_strength(step: Step | StepDraft, agent: Agent) -> float | None:
    """The highest strength of a step in the table's basis; ``None`` where it is not known."""
    value = highest(step, Quantity.CONCENTRATION)
    window = step.window(Quantity.CONCENTRATION)
    if value is None or window is None:
        return None
    try:
        return convert_strength(
            value=value,
            basis=window.basis,
            to_basis=basis_of(agent.active_substance),
            substance=agent.active_substance,
            product_strength_ww=agent.concentrate_strength_ww,
            product_density_kg_l=agent.concentrate_density_kg_l,
        )
    except (NotConvertible, OutOfRange):
        return None


def _in_common(judged: Sequence[Judged]) -> Judged | None:
    """The verdict on a material that is one of several: unfit only where all of them are."""
    if not judged:
        return None
    worst = max(judged, key=lambda one: one.verdict)
    if worst.verdict == Verdict.NOT and any(one.verdict != Verdict.NOT for one in judged):
        return dataclasses.replace(worst, verdict=Verdict.LIMITED)
    return worst


def _on_material(step: Step | StepDraft, material: str) -> Judged | None:
    """What a step does to one known material."""
    celsius = highest(step, Quantity.TEMPERATURE_C)
    if step.kind == StepKind.HOT_WATER:
        return verdict_on(substance=HEAT, material=material, highest_c=celsius)
    if step.agent is None:
        return None
    judged = verdict_on(
        substance=step.agent.active_substance,
        material=material,
        strength=highest_strength(step, step.agent),
        highest_c=celsius,
    )
    if celsius is not None:
        # What melts in hot water melts in a hot solution.
        hot = verdict_on(substance=HEAT, material=material, highest_c=celsius)
        if hot is not None and hot.verdict == Verdict.NOT:
            return hot if judged is None or not judged.row.gas else judged
    return judged


def parts_of(vessel: Vessel) -> Iterator[tuple[str, str, str]]:
    """Code, words and material of each part of a vessel that an agent touches."""
    yield "vessel", "The vessel", vessel.material
    yield "seals", "A seal", vessel.seal_material
    if vessel.spray_device != SprayDevice.NONE:
        yield "spray_device", "The spray device", vessel.spray_device_material


def unfit(agent: Agent, material: str) -> Judged | None:
    """The worst that an agent does to a material at any strength and heat that is known."""
    meant = [
        verdict_on(substance=agent.active_substance, material=one)
        for one in MEANT.get(material, (material,))
    ]
    return _in_common([one for one in meant if one is not None])


def _label_for(
    judged: Judged, step: Step | StepDraft, material: str, labels: Labels
) -> MaterialLabel | None:
    """The label that allows what is unfit: never where a gas forms, nor for heat itself."""
    if judged.verdict != Verdict.NOT or judged.row.gas or judged.row.agent == HEAT:
        return None
    assert step.agent is not None
    return labels.that_allows(step.agent, material, highest_strength(step, step.agent))


def findings(step: Step | StepDraft, vessel: Vessel, labels: Labels | None = None) -> list[Finding]:
    """Everything that a step does to a vessel beyond what its materials stand.

    ``step`` with its agent and windows loaded. 1 query for all steps with the same ``labels``,
    and that only where something is unfit.
    """
    return findings_on(step, parts_of(vessel), labels or Labels())


def findings_on(
    step: Step | StepDraft, parts: Iterable[tuple[str, str, str]], labels: Labels
) -> list[Finding]:
    """As :func:`findings`, on parts of anything: code, words and material of each."""
    agent = "Heat"
    if step.kind != StepKind.HOT_WATER:
        if step.agent is None:
            return []
        agent = f"{step.agent.name} ({ActiveSubstance(step.agent.active_substance).label})"
    found = []
    for code, part, material in parts:
        meant = [_on_material(step, one) for one in MEANT.get(material, (material,))]
        judged = _in_common([one for one in meant if one is not None])
        if judged is not None and judged.verdict != Verdict.SUITABLE:
            label = _label_for(judged, step, material, labels)
            found.append(Finding(code, part, material, agent, judged, label))
    return found


def limit_words(step: Step, finding: Finding) -> str:
    """One limit as it is signed: the step, the part and the pair."""
    return f"Step {step.order}, {finding.part.lower()}: {finding.words}."


def _allowed_words(label: MaterialLabel) -> str:
    """What a label says and up to which strength."""
    bound = ""
    if label.max_strength is not None:
        basis = Basis(basis_of(label.agent.active_substance)).label
        bound = f", up to {show_number(label.max_strength)} {basis}"
    return f"The label of {label.agent.name} allows it{bound}: {label.says}"


def material_cautions(
    step: Step, found: Iterable[Finding], signed: Mapping[str, SignedLimits]
) -> list[Caution]:
    """Those findings of a step that are within limits, or by a label, to be heeded before it.

    ``signed`` has the limits that somebody has signed; they and labels ask for no tick.
    """
    cautions = []
    for finding in found:
        material = Material(finding.material).label
        if finding.refused:
            continue
        if (label := finding.label) is not None:
            cautions.append(
                Caution(
                    f"material_{finding.code}",
                    f"{finding.part}: {material} is allowed by a label",
                    f"{finding.words}. {_allowed_words(label)}",
                    signed=label.signature.printed_name,
                )
            )
            continue
        by = signed.get(limit_words(step, finding))
        cautions.append(
            Caution(
                f"material_{finding.code}",
                f"{finding.part}: {material} is limited",
                f"{finding.words}. Stay within the limits and rinse afterwards.",
                signed=by.signature.printed_name if by is not None else "",
            )
        )
    return cautions


@dataclasses.dataclass(frozen=True)
class Harm:
    """Why a step may not be run: its position from 0, in words, and in which of its fields."""

    position: int
    words: str
    field: str = "agent"


def too_hot(step: Step | StepDraft, vessel_kinds: Iterable[str]) -> HeatLimit | None:
    """The heat limit that a step is above, where it is above the one that is refused."""
    celsius = highest(step, Quantity.TEMPERATURE_C)
    if step.agent is None or celsius is None:
        return None
    limit = heat_limit(step.agent.active_substance, vessel_kinds)
    return limit if limit is not None and celsius > limit.never_above_c else None


def heat_words(agent: Agent, limit: HeatLimit) -> str:
    return (
        f"{agent.name} must not be hotter than {digits(limit.never_above_c, 'g')} °C: {limit.why}. "
        f"Source: {limit.source_words}"
    )


def harms_to(
    vessel: Vessel, steps: Sequence[Step | StepDraft], labels: Labels | None = None
) -> Iterator[Harm]:
    """Every step that a vessel must not see, with the pair, the reason and the source.

    1 query for all vessels with the same ``labels``, and that only where something is unfit.
    """
    labels = labels or Labels()
    for position, step in enumerate(steps):
        for finding in findings(step, vessel, labels):
            if finding.refused:
                yield Harm(position, f"{finding.part} of {vessel.name} is unfit. {finding.words}.")
        if step.agent is not None and (limit := too_hot(step, [VesselKind(vessel.kind)])):
            yield Harm(position, f"{heat_words(step.agent, limit)}.")


def meets(steps: Sequence[Step | StepDraft], left: Sequence[Agent] = ()) -> Iterator[Harm]:
    """Every step whose agent must not meet one that is still in the vessel.

    ``left`` are the agents in the vessel before the first step. A rinse with a measured end
    takes them away.
    """
    inside = list(left)
    for position, step in enumerate(steps):
        if clears(step.kind, step.end_criterion):
            inside = []
        if step.agent is None:
            continue
        for before in inside:
            meeting = meeting_of(before.active_substance, step.agent.active_substance)
            if meeting is not None and meeting.refused:
                yield Harm(position, meeting_words(before, step.agent))
                break
        inside.append(step.agent)


def meeting_words(before: Agent, after: Agent) -> str:
    """Which pair, why, and the source."""
    meeting = meeting_of(before.active_substance, after.active_substance)
    assert meeting is not None
    return (
        f"{after.name} must not meet {before.name}. {meeting.what_happens} "
        f"Source: {meeting.source_words}."
    )
