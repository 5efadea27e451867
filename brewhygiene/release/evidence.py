"""What was read in a turnaround, as short tables below the checks."""

import dataclasses
from collections.abc import Sequence

from django.utils import timezone

from brewhygiene.atp.models.readings import Result
from brewhygiene.quantities.style import shown_moment
from brewhygiene.regimes.models import StepWindow
from brewhygiene.release.queries import Dossier
from brewhygiene.turnarounds.models import Clean, StepReading
from brewhygiene.turnarounds.observations.asked import Observed, observed_in
from brewhygiene.turnarounds.progress import StepProgress


@dataclasses.dataclass(frozen=True)
class Reading:
    """One standing reading against its window."""

    step: str
    quantity: str
    typed: str
    stage: str
    window: StepWindow | None
    verdict: str
    verdict_word: str


@dataclasses.dataclass(frozen=True)
class CleanEvidence:
    """One clean that counts, with its readings and the photos of what was observed in it."""

    clean: Clean
    readings: Sequence[Reading]
    photos: Sequence[Observed] = ()


@dataclasses.dataclass(frozen=True)
class Sample:
    """One result; ``replaced`` by a correction, it is still shown."""

    result: Result
    replaced: bool
    without_control: bool = False
    late: bool = False

    @property
    def about(self) -> str:
        """Meter, stage, who and when, and whatever else has to be known of it."""
        found = self.result
        words = [
            found.meter.name,
            f"late, {found.moment_words}" if self.late else found.moment_words,
            f"{found.source_words}, recorded by {found.recorded_by}",
            shown_moment(timezone.localtime(found.taken_at), "D H:i"),
            "read again" if found.retest_of_id else "",
            "a sampling error is suspected" if found.suspected_slip else "",
            found.note,
            "unjudged: no passed control check before and after it" if self.without_control else "",
            "corrected by a later reading" if self.replaced else "",
            f"corrects the earlier reading: {found.correction_reason}" if found.corrects_id else "",
        ]
        return ", ".join(filter(None, words))


def cleans_of(dossier: Dossier) -> list[CleanEvidence]:
    """The cleans that count towards a release. 0 queries."""
    return [
        CleanEvidence(
            clean=progress.clean,
            readings=[
                _reading(item, reading) for item in progress.steps for reading in item.readings
            ],
            photos=[
                seen for item in progress.steps for seen in observed_in(item.attempts) if seen.photo
            ],
        )
        for progress in dossier.counted_cleans
    ]


def _reading(item: StepProgress, reading: StepReading) -> Reading:
    windows = {window.quantity: window for window in item.step.windows.all()}
    return Reading(
        step=str(item.step),
        quantity=reading.get_quantity_display(),
        typed=reading.typed,
        stage=reading.get_stage_display(),
        window=windows.get(reading.quantity),
        verdict=reading.verdict,
        verdict_word=reading.get_verdict_display(),
    )


def samples_of(dossier: Dossier) -> list[Sample]:
    """Every result of the cleans that count, corrected ones too. 0 queries."""
    counted = {progress.clean.pk for progress in dossier.counted_cleans}
    standing = {result.pk for result in dossier.standing_results}
    return [
        Sample(
            result=result,
            replaced=result.pk not in standing,
            without_control=dossier.without_control(result),
            late=dossier.taken_late(result),
        )
        for result in dossier.results
        if result.clean_id in counted
    ]
