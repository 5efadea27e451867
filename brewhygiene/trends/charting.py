"""A point's phases with their control charts, or why there is none yet."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.atp.phases.series import PointPhase, PointSeries
from brewhygiene.quantities.words import one_or_many
from brewhygiene.science.control.individuals import LEAST_FOR_LIMITS
from brewhygiene.science.control.judging import (
    BASELINE,
    USUAL,
    Design,
    Phase,
    judge_phase,
    least_sigma_of_counts,
)
from brewhygiene.science.errors import TooFewReadings


@dataclasses.dataclass(frozen=True)
class PhaseChart:
    """A phase of a point; ``judged`` is ``None`` where ``why_not`` says why there are no limits."""

    phase: PointPhase
    judged: Phase | None
    why_not: str = ""

    @property
    def baseline_words(self) -> str:
        """Which readings made the limits, in words."""
        if self.judged is None:
            return ""
        limits = self.judged.limits
        words = f"Limits from the first {self.judged.judged_from} readings of the phase"
        if self.phase.baseline is not None:
            words = f"Limits from the {self.judged.judged_from} readings of the stated baseline"
        elif self.judged.provisional:
            words = (
                f"Provisional limits from all {self.judged.judged_from} readings so far, "
                f"final with {BASELINE}"
            )
        aside = len(limits.set_aside)
        if aside:
            are = one_or_many(aside, "is", "are")
            words += f". {aside} outside the limits of the rest {are} excluded"
        left_out = sum(
            reading.result_id in self.phase.left_out
            for reading in self.phase.readings[: self.judged.judged_from]
        )
        if left_out:
            words += f". {left_out} excluded by the approved baseline"
        if self.judged.unsteady:
            words += (
                ". They drift, so these limits are not reliable: start a new phase where the "
                "readings were steady"
            )
        return f"{words}. {limits.why}".strip()


def chart_of_phase(phase: PointPhase, *, design: Design = USUAL) -> PhaseChart:
    """The control chart of one phase of a point."""
    stated = phase.baseline
    # An approved baseline may hold few readings of one point; its first ones are used then.
    if phase.begin.kind == "baseline" and (stated or 0) < LEAST_FOR_LIMITS:
        stated = None
    if not phase.readings:
        return PhaseChart(
            phase,
            None,
            f"No reading since ({phase.begin.words}). Limits need {LEAST_FOR_LIMITS} readings.",
        )
    places = range(len(phase.readings))
    try:
        judged = judge_phase(
            phase.logs,
            baseline=stated,
            left_out=[i for i in places if phase.readings[i].result_id in phase.left_out],
            least_sigma=least_sigma_of_counts(phase.logs[: stated or BASELINE]),
            design=design,
        )
    except TooFewReadings as too_few:
        return PhaseChart(phase, None, str(too_few))
    return PhaseChart(phase, judged)


def charts_of(series: PointSeries, *, design: Design = USUAL) -> Sequence[PhaseChart]:
    """The control charts of a point's phases, in the order in which they began."""
    return [chart_of_phase(phase, design=design) for phase in series.phases]
