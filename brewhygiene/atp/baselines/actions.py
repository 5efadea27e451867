"""Actions of baselines: choose readings, exclude some with a reason, propose limits."""

from collections.abc import Iterable
from datetime import date

from brewhygiene.atp.baselines.queries import baseline_to_study, chosen_results
from brewhygiene.atp.baselines.study import Study, snapshot, study_of
from brewhygiene.atp.baselines.words import TITLES
from brewhygiene.atp.limits.days import check_limit_days
from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.limits import LimitSet, LimitSource
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SamplingPoint, VesselKind
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Regime
from brewhygiene.science.limits.asked import Asked


@action("choose baseline")
def create_baseline(
    *,
    by: Actor,
    name: str,
    meter: Meter,
    atp_test: AtpTest,
    since: date,
    until: date,
    points: Iterable[SamplingPoint] = (),
    regimes: Iterable[Regime] = (),
    vessel_kind: str = "",
) -> Recorded[Baseline]:
    """Choose the readings of one scale from which limits are calculated.

    ``since`` and ``until`` are days of the brewery, both included. No points or no regimes mean
    all of them; with ``vessel_kind`` all points of that kind of vessel.
    """
    user = require(by, "approve_limits")
    name = " ".join(name.split())
    points, regimes = list(points), list(regimes)
    if not name:
        raise Refusal("Enter a name.", field="name")
    if Baseline.objects.filter(name__iexact=name).exists():
        raise Refusal(
            f"There is already a baseline called {name}. Enter another name.",
            field="name",
            code="taken",
        )
    if until < since:
        raise Refusal("Enter a last day on or after the first day.", field="until")
    if since > brewery_day(by.now, Brewery.current()):
        raise Refusal("Enter a first day up to today.", field="since")
    if vessel_kind and vessel_kind not in VesselKind.values:
        raise Refusal("Choose a kind of vessel from the list.", field="vessel_kind")
    if vessel_kind and points:
        raise Refusal(
            "Choose the kind of vessel or single sampling points, not both.",
            field="vessel_kind",
            code="points_and_kind",
        )
    for point in points:
        if point.sample_kind != atp_test.sample_kind:
            raise Refusal(
                f"{point} is a {point.sample_kind} point, and {atp_test.name} is a "
                f"{atp_test.kind}. Choose another point.",
                field="points",
            )
    baseline = Baseline.objects.create(
        name=name,
        meter=meter,
        atp_test=atp_test,
        vessel_kind=vessel_kind,
        since=since,
        until=until,
        made_at=by.now,
        made_by=user,
    )
    baseline.points.set(points)
    baseline.regimes.set(regimes)
    return Recorded(
        baseline,
        {
            "name": name,
            "meter": meter.name,
            "atp_test": atp_test.name,
            "since": since,
            "until": until,
            "points": [str(point) for point in points] or "all",
            **({"vessel_kind": vessel_kind} if vessel_kind else {}),
            "regimes": [regime.name for regime in regimes] or "any",
        },
    )


def _member(baseline: Baseline, result: Result) -> Result:
    found = chosen_results(
        baseline,
        points=list(baseline.points.all()),
        regimes=list(baseline.regimes.all()),
        brewery=Brewery.current(),
    )
    member = found.filter(pk=result.pk).first()
    if member is None:
        raise Refusal("This reading does not belong to this baseline.", code="no_member")
    return member


def _reason(text: str) -> str:
    text = " ".join(text.split())
    if not text:
        raise Refusal("Enter a reason.", field="reason")
    return text[:200]


@action("keep result out of baseline")
def exclude_result(
    *, by: Actor, baseline: Baseline, result: Result, reason: str
) -> Recorded[BaselineExclusion]:
    """Exclude a reading from a baseline, with the reason; the reading itself is unchanged."""
    user = require(by, "approve_limits")
    baseline = Baseline.objects.select_for_update(of=("self",)).get(pk=baseline.pk)
    reason = _reason(reason)
    result = _member(baseline, result)
    if baseline.exclusions.filter(result=result, readmitted_at__isnull=True).exists():
        raise Refusal("This reading is already excluded.", code="already_excluded")
    exclusion = BaselineExclusion.objects.create(
        baseline=baseline, result=result, reason=reason, excluded_at=by.now, excluded_by=user
    )
    return Recorded(
        exclusion,
        {
            "baseline": baseline.name,
            "result": result.pk,
            "point": str(result.point),
            "rlu": result.rlu,
            "reason": reason,
        },
    )


@action("take result back into baseline")
def readmit_result(
    *, by: Actor, baseline: Baseline, result: Result, reason: str
) -> Recorded[BaselineExclusion]:
    """Include an excluded reading again; its exclusion stays on record."""
    user = require(by, "approve_limits")
    reason = _reason(reason)
    exclusion = (
        baseline.exclusions.select_for_update(of=("self",))
        .filter(result=result, readmitted_at__isnull=True)
        .first()
    )
    if exclusion is None:
        raise Refusal("This reading is not excluded.", code="not_excluded")
    exclusion.readmitted_at = by.now
    exclusion.readmitted_by = user
    exclusion.save(update_fields=["readmitted_at", "readmitted_by"])
    return Recorded(
        exclusion,
        {
            "baseline": baseline.name,
            "result": result.pk,
            "rlu": result.rlu,
            "was_out_because": exclusion.reason,
            "reason": reason,
        },
    )


def _limits_of(
    study: Study, method: str, seen: tuple[int, int] | None
) -> tuple[int, int, dict[str, object]]:
    """Alert level, action limit and figures of a usable method."""
    if study.why_none:
        raise Refusal(study.why_none, code="no_limits")
    row = next((row for row in study.rows if row.method.code == method), None)
    if row is None:
        raise Refusal("Choose a method from the table.", field="method")
    found = row.method
    if not found.usable or found.alert is None or found.action is None:
        raise Refusal(f"{row.title}: {found.why_not}", code="not_applicable")
    if max(found.alert.rlu, found.action.rlu) > MAX_RLU:
        raise Refusal(
            f"{row.title} gives a limit above {MAX_RLU} RLU, which no meter shows. Choose another "
            "method."
        )
    if seen is not None and seen != (found.alert.rlu, found.action.rlu):
        raise Refusal(
            "The baseline has changed since you opened this page. The method now gives "
            f"{found.alert.rlu} and {found.action.rlu} RLU. Open the baseline again.",
            code="changed_since",
        )
    return found.alert.rlu, found.action.rlu, snapshot(study, row)


def _moment_of(results: Iterable[Result]) -> SamplingMoment:
    """The one moment at which readings were taken; limits of several would judge none rightly."""
    moments = {SamplingMoment(result.moment) for result in results}
    if len(moments) > 1:
        raise Refusal(
            "The readings of this baseline were taken at different moments: "
            + ", ".join(sorted(str(moment.label) for moment in moments))
            + ". Choose points or days with one moment, then propose again.",
            code="several_moments",
        )
    return moments.pop()


@action("propose limits from baseline")
def propose_from_baseline(
    *,
    by: Actor,
    baseline: Baseline,
    method: str,
    review_on: date,
    valid_until: date | None,
    asked: Asked | None = None,
    point: SamplingPoint | None = None,
    seen: tuple[int, int] | None = None,
) -> Recorded[LimitSet]:
    """Propose the limits of one method; a head brewer must still approve them.

    ``seen`` are the alert level and action limit, RLU, of the page; it is refused if they have
    changed since. The figures of the method are kept with the limits.
    """
    user = require(by, "approve_limits")
    baseline = baseline_to_study().get(pk=baseline.pk)
    check_limit_days(
        today=brewery_day(by.now, Brewery.current()), review_on=review_on, valid_until=valid_until
    )
    study = study_of(baseline, asked=asked or Asked(), now=by.now)
    alert_rlu, action_rlu, figures = _limits_of(study, method, seen)
    if point is not None and point.pk not in {r.point_id for r in study.members.counted}:
        raise Refusal(
            f"This baseline has no reading from {point}. Choose another point.", field="point"
        )
    # Limits of every kind would judge vessels that this baseline knows nothing of.
    vessel_kind = baseline.vessel_kind if point is None else ""
    moment = _moment_of(r for r in study.members.counted if point in (None, r.point))
    limits = LimitSet.objects.create(
        meter=baseline.meter,
        atp_test=baseline.atp_test,
        sample_kind=baseline.atp_test.sample_kind,
        point=point,
        vessel_kind=vessel_kind,
        moment=moment,
        alert_rlu=alert_rlu,
        action_rlu=action_rlu,
        source=LimitSource.BASELINE,
        source_note=(
            f"{len(study.members.counted)} readings of “{baseline.name}”, {TITLES[method]}"
        ),
        proposed_at=by.now,
        proposed_by=user,
        review_on=review_on,
        valid_until=valid_until,
        baseline=baseline,
        figures=figures,
    )
    return Recorded(
        limits,
        {
            "baseline": baseline.name,
            "meter": baseline.meter.name,
            "atp_test": baseline.atp_test.name,
            "point": str(point) if point else "all points",
            **({"vessel_kind": vessel_kind} if vessel_kind else {}),
            "moment": moment,
            "alert_rlu": alert_rlu,
            "action_rlu": action_rlu,
            "review_on": review_on,
            "valid_until": valid_until,
            "figures": figures,
        },
    )
