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
from brewhygiene.changeovers.models import Validation
from brewhygiene.people.models import Tablet, User
from brewhygiene.quantities.words import counted
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion, Step
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE
from brewhygiene.release.powers.rules import looser_than_shipped
from brewhygiene.release.starts.queries import vessels_not_on_record
from brewhygiene.skids.models import Skid

MOST_NAMES = 4
TEST_WORDS: dict[str, str] = {SampleKind.RINSE: "rinse sampler", SampleKind.SURFACE: "swab"}


@dataclasses.dataclass(frozen=True)
class Stop:
    """One thing to set up: where, what is there, what a release still needs, what is advised."""

    title: str
    address: str
    there: str
    missing: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()

    @property
    def noun(self) -> str:
        """The title within a sentence."""
        return self.title if self.title.startswith("ATP") else self.title.lower()


@dataclasses.dataclass(frozen=True)
class Group:
    title: str
    stops: tuple[Stop, ...]


def _names(names: Iterable[str]) -> str:
    """'FV 1, FV 2 and 3 more'."""
    listed = list(names)
    shown, more = listed[:MOST_NAMES], len(listed) - MOST_NAMES
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def _brewery(brewery: Brewery) -> Stop:
    named = not brewery._state.adding
    return Stop(
        "Brewery",
        "brewery:edit",
        f"{brewery.name}, {brewery.time_zone}",
        () if named else ("The brewery has no name and no time zone yet.",),
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
        missing.append("Nobody can release. Give somebody the head brewer role.")
    elif len(workers | deciders) < 2 and not brewery.self_release_allowed:
        missing.append(
            "The release rules do not let one person both clean and release. Add a second person, "
            "or allow self-release."
        )
    return Stop("People", "people:list", counted(active, "person", "people"), tuple(missing))


def _tablets() -> Stop:
    """1 query."""
    enrolled = Tablet.objects.filter(retired_at__isnull=True).count()
    return Stop(
        "Tablets",
        "people:tablets",
        f"{counted(enrolled, 'tablet')} enrolled" if enrolled else "none enrolled",
        advice=()
        if enrolled
        else (
            "Enrol each tablet of the floor: then the ledger names it, and only these take PINs.",
        ),
    )


def _release_rules(brewery: Brewery) -> Stop:
    offered = GATE_TITLES.keys() - NEVER_WAIVABLE
    waivable = len([code for code in brewery.waivable_gates if code in offered])
    allowed = "allowed" if brewery.self_release_allowed else "not allowed"
    return Stop(
        "Release rules",
        "setup:release_rules",
        f"{counted(waivable, 'check')} can be waived, self-release {allowed}",
        advice=tuple(looser_than_shipped(brewery)),
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
    there = f"{', '.join(known).capitalize()}, in {brewery.currency}" if known else "no price yet"
    return Stop("Prices", "brewery:prices", there)


def _vessels(vessels: list[Vessel]) -> Stop:
    missing = []
    if not vessels:
        missing.append("No vessel yet.")
    bare = [v.name for v in vessels if not v.points_required and v.out_of_service_since is None]  # type: ignore[attr-defined]
    if bare:
        missing.append(f"No sampling point is required for release: {_names(bare)}.")
    points = sum(v.points_in_use for v in vessels)  # type: ignore[attr-defined]
    return Stop(
        "Vessels and sampling points",
        "cellar:vessels",
        f"{counted(len(vessels), 'vessel')}, {counted(points, 'sampling point')}",
        tuple(missing),
    )


def _beers() -> Stop:
    """1 query."""
    beers = Beer.objects.filter(active=True).count()
    missing = () if beers else ("No beer yet. Nothing can be filled.",)
    return Stop("Beers", "cellar:beers", counted(beers, "beer"), missing)


def _changeovers() -> Stop:
    """1 query."""
    standing = Validation.objects.filter(retired_at__isnull=True, version__current=True).count()
    return Stop(
        "Allergen changeovers", "changeovers:validations", f"{counted(standing, 'clean')} validated"
    )


def _skids() -> Stop:
    """1 query."""
    tanks = Count("skid_tanks", filter=Q(skid_tanks__active=True))
    found = list(Skid.objects.filter(active=True).annotate(tanks=tanks).values_list("tanks"))
    there = (
        f"{counted(len(found), 'skid or hose', 'skids and hoses')}, "
        f"{counted(sum(number for (number,) in found), 'solution tank')}"
        if found
        else "None. Only needed if solutions are recovered"
    )
    return Stop("Skids and solutions", "skids:skids", there)


def _starts(vessels: list[Vessel]) -> Stop:
    """1 query."""
    waiting = {vessel.pk for vessel in vessels_not_on_record()}
    names = [vessel.name for vessel in vessels if vessel.pk in waiting]
    advice: tuple[str, ...] = ()
    if names:
        advice = (f"Not on record yet: {_names(names)}. Put them on record as they stand.",)
    there = f"{len(vessels) - len(names)} of {counted(len(vessels), 'vessel')} on record"
    return Stop("Vessels as they stand", "setup:starts", there, advice=advice)


def _hold_times() -> Stop:
    """1 query."""
    own = HoldClock.objects.count()
    there = (
        f"{counted(own, 'kind')} of vessel with its own hold times"
        if own
        else "24, 24 and 4 h for every kind of vessel"
    )
    return Stop("Hold times", "cellar:hold_times", there)


def _agents() -> Stop:
    """1 query."""
    kinds = list(Agent.objects.filter(active=True).values_list("kind", flat=True))
    return Stop(
        "Cleaning agents",
        "regimes:agents",
        counted(len(kinds), "agent"),
        () if kinds else ("No agent yet. The starting regimes include their agents.",),
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
        missing.append("No regime yet. Add the starting regimes.")
    else:
        without = [VesselKind(k).label for k in VesselKind.values if k in kinds - full]
        lasting = [VesselKind(k).label for k in VesselKind.values if k in (kinds & full) - again]
        if without:
            missing.append(f"No regime for: {_names(without)}.")
        if lasting:
            advice.append(f"No regime to re-sanitise: {_names(lasting)}.")
    there = f"{counted(len(regimes), 'regime')} in use"
    return Stop("Regimes", "regimes:regimes", there, tuple(missing), tuple(advice))


def _meters(meters: list[Meter]) -> Stop:
    missing = () if meters else ("No meter yet.",)
    return Stop("Meters", "atp:setup_meters", counted(len(meters), "meter"), missing)


def _needed_kinds() -> list[str]:
    """The sample kinds that required points ask for. 1 query."""
    asked = set(
        SamplingPoint.objects.filter(
            active=True, required_for_release=True, vessel__out_of_service_since__isnull=True
        ).values_list("sample_kind", flat=True)
    )
    return [kind for kind in SampleKind.values if kind in asked]


def _atp_tests(types: Sequence[AtpTest], needed: list[str]) -> Stop:
    stocked = {t.sample_kind for t in types if t.lots_in_date}  # type: ignore[attr-defined]
    missing = [f"No {TEST_WORDS[kind]} in date." for kind in needed if kind not in stocked]
    if not types:
        missing = ["No ATP test yet."]
    lots = sum(t.lots_in_date for t in types)  # type: ignore[attr-defined]
    there = f"{counted(len(types), 'ATP test')}, {counted(lots, 'lot')} in date"
    return Stop("ATP tests", "atp:setup_atp_tests", there, tuple(missing))


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
    pairs = [(meter, test) for meter in meters for test in types if test.lots_in_date]  # type: ignore[attr-defined]
    judged = {test.sample_kind for meter, test in pairs if (meter.pk, test.pk) in approved}
    missing = [
        f"No approved limits for {SampleKind(kind).label} readings. "
        "Without them a release is blocked."
        for kind in needed
        if kind not in judged
    ]
    advice = [
        f"No limits for {meter.name} with {test.name}. Its readings stay unjudged."
        for meter, test in pairs
        if (meter.pk, test.pk) not in approved
    ]
    advice += due_sentences(signed, today=today)
    if waiting:
        advice.append(f"{counted(waiting, 'set')} of limits to approve.")
    there = f"{counted(len(sets) - waiting, 'set')} approved"
    return Stop("Limits", "atp:setup_limits", there, tuple(missing), tuple(advice))


def checklist(*, brewery: Brewery, today: date) -> list[Group]:
    """Everything to set up, in the order in which a new brewery would. 13 queries.

    ``today`` is the brewery's own day, by which ATP tests are in date or not.
    """
    vessels = list(vessels_for_setup())
    meters = list(Meter.objects.filter(active=True))
    in_date = Q(lots__active=True, lots__expires_on__gte=today)
    types = list(AtpTest.objects.annotate(lots_in_date=Count("lots", filter=in_date)))
    needed = _needed_kinds()
    return [
        Group(
            "Brewery and people",
            (
                _brewery(brewery),
                _people(brewery),
                _tablets(),
                _release_rules(brewery),
                _prices(brewery),
            ),
        ),
        Group("Cellar", (_vessels(vessels), _beers(), _hold_times(), _starts(vessels))),
        Group("Cleaning", (_agents(), _regimes(vessels), _skids(), _changeovers())),
        Group(
            "ATP",
            (_meters(meters), _atp_tests(types, needed), _limits(meters, types, needed, today)),
        ),
    ]


def next_stop(groups: list[Group]) -> Stop | None:
    """The first stop at which something is missing, or ``None``."""
    return next((stop for group in groups for stop in group.stops if stop.missing), None)
