"""What the record says of a vessel's materials, and of what was limited or allowed by a label."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.materials.fit import Finding, findings, limit_words, parts_of
from brewhygiene.regimes.materials.labels import Labels, labels_on_record
from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits
from brewhygiene.regimes.models import Step
from brewhygiene.turnarounds.progress import CleanProgress
from brewhygiene.turnarounds.steps.safety import acknowledged_codes


@dataclasses.dataclass(frozen=True)
class Allowed:
    """One limit or label of a clean: the pair in words, and who saw to it."""

    words: str
    how: str
    label: MaterialLabel | None = None


def materials_of(vessel: Vessel) -> list[str]:
    """Each part of a vessel that an agent touches, with its material."""
    return [f"{part}: {Material(material).label}" for _, part, material in parts_of(vessel)]


class AllowedInCleans:
    """What was limited or allowed by a label in the cleans of one vessel. 2 queries for all."""

    def __init__(self, vessel: Vessel, cleans: Sequence[CleanProgress]) -> None:
        self.vessel = vessel
        steps = [step for one in cleans for step in one.clean.version.steps.all()]
        agents = {step.agent_id for step in steps if step.agent_id}
        self.labels = list(labels_on_record().filter(agent__in=agents))
        self.signed = list(
            SignedLimits.objects.filter(
                vessel=vessel, version__in={one.clean.version_id for one in cleans}
            ).select_related("signature")
        )

    def of(self, progress: CleanProgress) -> list[Allowed]:
        """Of one clean, by its steps, as labels stood when it was started. 0 queries."""
        labels = Labels(progress.clean.started_at, among=self.labels)
        return [
            self._allowed(progress, step, finding)
            for step in progress.clean.version.steps.all()
            for finding in findings(step, self.vessel, labels)
            if not finding.refused
        ]

    def _allowed(self, progress: CleanProgress, step: Step, finding: Finding) -> Allowed:
        words = limit_words(step, finding)
        if (label := finding.label) is not None:
            how = f"Allowed by its label: {label.says} Signed by {label.signature.printed_name}."
            return Allowed(words, how, label)
        clean = progress.clean
        ended = clean.finished_at or clean.stopped_at
        for one in self.signed:
            if (
                one.version_id == clean.version_id
                and words in one.limit_words
                and (ended is None or one.signed_at <= ended)
            ):
                return Allowed(words, f"Limited. Signed by {one.signature.printed_name}.")
        if f"material_{finding.code}" in acknowledged_codes(clean, step):
            return Allowed(words, "Limited. Confirmed before its step.")
        return Allowed(words, "Limited. Not confirmed.")
