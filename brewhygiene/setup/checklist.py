"""What a brewery has set up, and what its first release still needs."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import date

from django.contrib.auth.models import Permission
from django.db.models import Count, Exists, OuterRef, Q

from brewhygiene.atp.limits.days import due_sentences
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import (
    Beer,
    HoldClock,
    SampleKind,
    SamplingPoint,
    Vessel,
    VesselKind,
)
from brewhygiene.cellar.queries import vessels_for_setup
from brewhygiene.people.models import User
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion, Step
from brewhygiene.release.gates import GATE_TITLES

MOST_NAMES = 4


@dataclasses.dataclass(frozen=True)
class Stop:
    """One thing to set up: where, what is there, what a release still needs, what is advised."""

    title: str
    address: str
    there: str
    missing: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()


@dataclasses.dataclass(frozen=True)
class Group:
    title: str
    stops: tuple[Stop, ...]


def _names(names: Iterable[str]) -> str:
    """'FV 1, FV 2 and 3 more'."""
    listed = list(names)
    shown, more = listed[:MOST_NAMES], len(listed) - MOST_NAMES
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def _counted(count: int, thing: str, things: str = "") -> str:
    return f"{count} {thing if count == 1 else things or thing + 's'}"


def _brewery(brewery: Brewery) -> Stop:
    named = not brewery._state.adding
    return Stop(
        "The brewery",
        "brewery:edit",
        f"{brewery.name}, {brewery.time_zone}",
        () if named else ("It has no name and no time zone yet.",),
    )


def _people(brewery: Brewery) -> Stop:
    """2 queries."""
    active = User.objects.filter(is_active=True).count()
    able = Permission.objects.filter(
        content_type__app_label="brewhygiene",
        codename__in=("work_cellar", "decide_release"),
        group__user__is_active=True,
    ).values_list("codename", "group__user")
    workers = {user for codename, user in able if codename == "work_cellar"}
    deciders = {user for codename, user in able if codename == "decide_release"}
    missing = []
    if not workers:
        missing.append("Nobody has the cellar role.")
    if not deciders:
        missing.append("Nobody may release: give somebody the head brewer role.")
    elif len(workers | deciders) < 2 and not brewery.self_release_allowed:
        missing.append("One person cannot both clean and release by your rules of release.")
    return Stop("People", "people:list", _counted(active, "person", "people"), tuple(missing))


def _release_rules(brewery: Brewery) -> Stop:
    waivable = len([code for code in brewery.waivable_gates if code in GATE_TITLES])
    allowed = "allowed" if brewery.self_release_allowed else "not allowed"
    return Stop(
        "Rules of release",
        "setup:release_rules",
        f"{_counted(waivable, 'gate')} may be waived, self-release {allowed}",
    )


def _prices(brewery: Brewery) -> Stop:
    known = [
        word
        for word, price in (
            ("water", brewery.water_price_hl),
            ("effluent", brewery.effluent_price_hl),
            ("load", brewery.load_price_kg_naoh),
            ("energy", brewery.energy_price_kwh),
            ("time", brewery.minute_price),
        )
        if price is not None
    ]
    there = f"{', '.join(known).capitalize()}, in {brewery.currency}" if known else "none given"
    return Stop("Prices", "brewery:prices", there)


def _vessels(vessels: list[Vessel]) -> Stop:
    missing = []
    if not vessels:
        missing.append("No vessel yet.")
    bare = [v.name for v in vessels if not v.points_required and v.out_of_service_since is None]  # type: ignore[attr-defined]
    if bare:
        missing.append(f"No point required for release: {_names(bare)}.")
    points = sum(v.points_in_use for v in vessels)  # type: ignore[attr-defined]
    return Stop(
        "Vessels and sampling points",
        "cellar:vessels",
        f"{_counted(len(vessels), 'vessel')}, {_counted(points, 'point')}",
        tuple(missing),
    )


def _beers() -> Stop:
    """1 query."""
    beers = Beer.objects.filter(active=True).count()
    missing = () if beers else ("No beer yet: nothing can be filled.",)
    return Stop("Beers", "cellar:beers", _counted(beers, "beer"), missing)


def _clocks() -> Stop:
    """1 query."""
    own = HoldClock.objects.count()
    there = (
        f"{_counted(own, 'kind')} of vessel with hours of your own"
        if own
        else "24, 24 and 4 h for every kind of vessel"
    )
    return Stop("Hold clocks", "cellar:clocks", there)


def _agents() -> Stop:
    """1 query."""
    kinds = list(Agent.objects.filter(active=True).values_list("kind", flat=True))
    return Stop(
        "Cleaning agents",
        "regimes:agents",
        _counted(len(kinds), "agent"),
        () if kinds else ("No agent yet. The starting regimes bring theirs along.",),
    )


def _regimes(vessels: list[Vessel]) -> Stop:
    """1 query."""
    steps = Step.objects.filter(version=OuterRef("pk"))
    usable = RegimeVersion.objects.filter(Exists(steps), regime=OuterRef("pk"), current=True)
    regimes = list(Regime.objects.filter(Exists(usable), active=True))
    kinds = {v.kind for v in vessels if v.out_of_service_since is None}
    full = {k for r in regimes if not r.resanitises_only for k in r.vessel_kinds}
    again = {k for r in regimes if r.resanitises_only for k in r.vessel_kinds}
    missing, advice = [], []
    if not regimes:
        missing.append("No regime yet. Bring in the starting regimes.")
    else:
        without = [VesselKind(k).label for k in VesselKind.values if k in kinds - full]
        lasting = [VesselKind(k).label for k in VesselKind.values if k in (kinds & full) - again]
        if without:
            missing.append(f"No regime for: {_names(without)}.")
        if lasting:
            advice.append(f"Nothing to re-sanitise with after a lapse: {_names(lasting)}.")
    there = f"{_counted(len(regimes), 'regime')} in use"
    return Stop("Regimes", "regimes:regimes", there, tuple(missing), tuple(advice))


def _meters(meters: list[Meter]) -> Stop:
    missing = () if meters else ("No meter yet.",)
    return Stop("Meters", "atp:setup_meters", _counted(len(meters), "meter"), missing)


def _needed_kinds() -> list[str]:
    """The sample kinds that required points ask for. 1 query."""
    asked = set(
        SamplingPoint.objects.filter(
            active=True, required_for_release=True, vessel__out_of_service_since__isnull=True
        ).values_list("sample_kind", flat=True)
    )
    return [kind for kind in SampleKind.values if kind in asked]


def _sticks(types: Sequence[AtpTest], needed: list[str]) -> Stop:
    stocked = {t.sample_kind for t in types if t.lots_in_date}  # type: ignore[attr-defined]
    missing = [
        f"No {SampleKind(kind).label} sticks in date." for kind in needed if kind not in stocked
    ]
    if not types:
        missing = ["No stick type yet."]
    lots = sum(t.lots_in_date for t in types)  # type: ignore[attr-defined]
    there = f"{_counted(len(types), 'type')}, {_counted(lots, 'lot')} in date"
    return Stop("Sticks", "atp:setup_sticks", there, tuple(missing))


def _limits(meters: list[Meter], types: Sequence[AtpTest], needed: list[str], today: date) -> Stop:
    """1 query."""
    sets = list(
        LimitSet.objects.filter(retired_at__isnull=True).select_related(
            "meter", "atp_test", "point__vessel"
        )
    )
    signed = [each for each in sets if each.approved_at is not None]
    approved = {(each.meter_id, each.atp_test_id) for each in signed if not each.run_out_on(today)}
    waiting = len(sets) - len(signed)
    pairs = [(meter, stick) for meter in meters for stick in types if stick.lots_in_date]  # type: ignore[attr-defined]
    judged = {stick.sample_kind for meter, stick in pairs if (meter.pk, stick.pk) in approved}
    missing = [
        f"No approved limits for {SampleKind(kind).label} samples: they stay unjudged, and that "
        "blocks a release."
        for kind in needed
        if kind not in judged
    ]
    advice = [
        f"No limits for {meter.name} with {stick.name}: its readings stay unjudged."
        for meter, stick in pairs
        if (meter.pk, stick.pk) not in approved
    ]
    advice += due_sentences(signed, today=today)
    if waiting:
        advice.append(f"{_counted(waiting, 'set')} of limits waiting to be approved.")
    there = f"{_counted(len(sets) - waiting, 'set')} approved"
    return Stop("Limits", "atp:setup_limits", there, tuple(missing), tuple(advice))


def checklist(*, brewery: Brewery, today: date) -> list[Group]:
    """Everything to set up, in the order in which a new brewery would. 11 queries.

    ``today`` is the brewery's own day, by which sticks are in date or not.
    """
    vessels = list(vessels_for_setup())
    meters = list(Meter.objects.filter(active=True))
    in_date = Q(lots__active=True, lots__expires_on__gte=today)
    types = list(AtpTest.objects.annotate(lots_in_date=Count("lots", filter=in_date)))
    needed = _needed_kinds()
    return [
        Group(
            "The house",
            (_brewery(brewery), _people(brewery), _release_rules(brewery), _prices(brewery)),
        ),
        Group("The cellar", (_vessels(vessels), _beers(), _clocks())),
        Group("Cleaning", (_agents(), _regimes(vessels))),
        Group(
            "Proving it clean",
            (_meters(meters), _sticks(types, needed), _limits(meters, types, needed, today)),
        ),
    ]


def next_stop(groups: list[Group]) -> Stop | None:
    """The first stop at which something is missing, or ``None``."""
    return next((stop for group in groups for stop in group.stops if stop.missing), None)
