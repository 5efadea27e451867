"""The gates on the samples of a clean and on what they were read with."""

from functools import partial

from brewhygiene.atp.models.readings import Result, RinseEnd, Verdict
from brewhygiene.atp.recovery.dimming import not_proved
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.release.gates.answers import NO_CLEAN, NO_SAMPLES, Answer, Found
from brewhygiene.release.queries import Dossier
from brewhygiene.release.standing.clocks import (
    actions_since_full_clean,
    counted_from,
    missing_points,
)


def _counted(dossier: Dossier) -> list[Result]:
    """Standing results of the last clean and of what followed it."""
    cleans = {c.clean.pk for c in dossier.counted_cleans}
    return [result for result in dossier.standing_results if result.clean_id in cleans]


def points_sampled(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    if facts is None or dossier.last_finished is None:
        return NO_CLEAN
    missing = missing_points(dossier.facts, facts)
    if missing:
        return Answer.NO, [f"{name}: not sampled" for name in missing]
    if not dossier.facts.required_points:
        return Answer.NO, ["No sampling point is required for release. Add one in the set-up"]
    since = counted_from(dossier.facts, facts)
    return Answer.YES, [
        f"{r.point.name}: {r.rlu} RLU, {r.get_verdict_display()}, "
        + ("late, after its sample step, " if dossier.taken_late(r) else "")
        + r.moment_words
        for r in dossier.standing_results
        if since is not None and r.clean_id >= since.samples_pk
    ]


def rinse_end_checked(dossier: Dossier) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    unknown = [r for r in results if r.rinse_end == RinseEnd.NOT_CHECKED]
    if unknown:
        return Answer.EXPLAIN, [
            f"{r.point.name}: rinse end not checked, residue can lower the reading" for r in unknown
        ]
    return Answer.YES, [f"{r.point.name}: {r.get_rinse_end_display()}" for r in results]


def controls_passed(dossier: Dossier) -> Found:
    """Whether a passed control check stands before and after each reading.

    One without is answered by a fresh sample at the same point under a control that holds.
    """
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    unjudged = [r for r in results if dossier.without_control(r)]
    judged = [r for r in results if r not in unjudged]
    again = {
        r.pk
        for r in unjudged
        if any(j.point.pk == r.point.pk and j.taken_at > r.taken_at for j in judged)
    }
    waiting = [r for r in unjudged if r.pk not in again]
    if waiting:
        return Answer.NO, [
            f"{r.point.name}: unjudged, {r.meter.name} failed or missed its control check. Pass a "
            "fresh control check or use another meter, then sample again"
            for r in waiting
        ]
    shown = {
        f"{r.meter.name} on {r.control_check.checked_on}: blank {r.control_check.blank_rlu}, "
        f"positive {r.control_check.positive_rlu} RLU"
        for r in judged
        if r.control_check is not None
    }
    replaced = [
        f"{r.point.name}: {r.rlu} RLU unjudged, sampled again" for r in unjudged if r.pk in again
    ]
    return Answer.YES, [*sorted(shown), *replaced]


def tests_in_date(dossier: Dossier, brewery: Brewery) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    late = [r for r in results if r.test_lot.expires_on < brewery_day(r.taken_at, brewery)]
    if late:
        return Answer.NO, [f"{r.point.name}: {r.test_lot} was out of date" for r in late]
    return Answer.YES, sorted(
        {f"{r.test_lot}, in date until {r.test_lot.expires_on}" for r in results}
    )


def limits_approved(dossier: Dossier) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    unjudged = [r for r in results if r.verdict == Verdict.UNJUDGED]
    if unjudged:
        return Answer.NO, [
            f"{r.point.name}: {r.rlu} RLU unjudged, {r.meter.name} has no approved limits for "
            f"{r.test_lot.atp_test.name}, {r.moment_words}"
            for r in unjudged
        ]
    return Answer.YES, sorted({str(r.limits) for r in results})


def nothing_over_action(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    results = _counted(dossier)
    if facts is None or not results:
        return NO_SAMPLES
    over = actions_since_full_clean(facts)
    if over:
        return Answer.NO, [f"{r.point}: {r.rlu} RLU, over the action limit" for r in over]
    return Answer.YES, [f"Highest reading {max(r.rlu for r in results)} RLU"]


def alerts_explained(dossier: Dossier) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    alerts = [r for r in results if r.verdict == Verdict.ALERT]
    if alerts:
        return Answer.EXPLAIN, [
            f"{r.point.name}: {r.rlu} RLU, over the alert level" + (f": {r.note}" if r.note else "")
            for r in alerts
        ]
    return Answer.YES, ["No reading over the alert level"]


def recovery_proved(dossier: Dossier, brewery: Brewery) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    inside = [r for r in results if r.moment == SamplingMoment.IN_SANITISER]
    if not inside:
        return Answer.YES, ["No reading was taken in a sanitiser"]
    cleans, day_of = dossier.counted_cleans, partial(brewery_day, brewery=brewery)
    if missing := not_proved(cleans, inside, dossier.recovery_studies, day_of=day_of):
        return Answer.EXPLAIN, missing
    return Answer.YES, [f"{r.point.name}: proved not to be dimmed" for r in inside]
