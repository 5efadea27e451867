"""The invented brewery: its vessels, beers, regimes, meters, swabs and limits."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cache
from itertools import product

from brewhygiene.atp.limits.actions import approve_limits, propose_limits
from brewhygiene.atp.meters.actions import (
    AtpTestLotValues,
    AtpTestValues,
    MeterValues,
    save_atp_test,
    save_meter,
    save_test_lot,
)
from brewhygiene.atp.models.limits import LimitSource
from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.brewery.actions import PriceValues, edit_brewery, edit_prices
from brewhygiene.brewery.models import Brewery, default_waivable_gates
from brewhygiene.cellar.beers.actions import BeerValues, add_beer
from brewhygiene.cellar.hold_times.actions import Hours, set_hold_times
from brewhygiene.cellar.models import Beer, Vessel, VesselKind
from brewhygiene.cellar.moments import STATED_MOMENTS
from brewhygiene.cellar.points.actions import add_point
from brewhygiene.cellar.usual_points import USUAL_POINTS
from brewhygiene.cellar.vessels.actions import VesselValues, add_vessel
from brewhygiene.demo.people import DEMO_NAMES, DEMO_PASSWORDS, DEMO_PINS, DEMO_SIGN_INS
from brewhygiene.demo.skids import set_up_skids
from brewhygiene.demo.stage import Stage
from brewhygiene.demo.vessels import OTHER_VESSELS, VESSELS, VesselPlan
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.actions import (
    add_person,
    change_own_password,
    edit_person,
    set_own_pin,
)
from brewhygiene.people.models import User
from brewhygiene.regimes.about import AgentValues
from brewhygiene.regimes.actions import save_agent
from brewhygiene.regimes.library.install import install_library
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion
from brewhygiene.regimes.queries import current_versions
from brewhygiene.setup.actions import set_release_rules, set_up_first_person

NAME = "Quenlarrow & Ombry Brewery"
ADDRESS = "2 Millrace, Tolvenhythe (invented)"
TIME_ZONE = "Europe/Copenhagen"


# Invented, of a size that a small brewery would know.
PRICES = PriceValues(
    currency="EUR",
    water_price_hl=0.42,
    effluent_price_hl=0.38,
    load_price_kg_naoh=0.55,
    energy_price_kwh=0.11,
    minute_price=0.6,
    supply_water_c=11,
    heat_efficiency=0.8,
    missed_tank_cost=4200,
    needless_clean_cost=65,
)
# By active substance: money per kg of concentrate, and the share kept for the next clean.
AGENT_PRICES: Mapping[str, tuple[float, float]] = {
    "NaOH": (0.9, 0.7),
    "HNO3+H3PO4": (1.6, 0.0),
    "PAA": (3.4, 0.0),
    "chlorine": (1.1, 0.0),
    "iodine": (6.5, 0.0),
}

BEERS: Mapping[str, tuple[str, BeerValues]] = {
    "pale": ("Ambrellow Pale", BeerValues()),
    "lager": ("Skellavine Lager", BeerValues()),
    "sour": ("Druvaquill Sour", BeerValues(sour_or_mixed=True)),
    "saison": ("Pembraille Saison", BeerValues(diastatic=True)),
    "fruited": ("Yarrimelle Custard", BeerValues(fruit_or_heavy_hops=True, allergen="lactose")),
    "free": ("Lumevarr 0.3", BeerValues(strict_before=True)),
    "oat": ("Mirrowend Oat Stout", BeerValues(allergens=["oats"])),
}

CLOCKS: Mapping[str, Hours] = {
    VesselKind.FERMENTER: Hours(24, 36, 12),
    VesselKind.BRIGHT_TANK: Hours(36, 36, 12),
    VesselKind.YEAST_VESSEL: Hours(12, 24, 4),
    VesselKind.HEAT_EXCHANGER: Hours(8, 24, 4),
    VesselKind.HOSE_SET: Hours(24, 24, 8),
}

METERS: Mapping[str, MeterValues] = {
    "a": MeterValues(
        name="Meter A (cellar)",
        serial="A-20417",
        blank_max_rlu=3,
        positive_min_rlu=180,
        positive_max_rlu=320,
        scale_note="Reads 0 for clean rinse water; a touched tip reads in the tens.",
    ),
    "b": MeterValues(
        name="Meter B (lab)",
        serial="B-0093",
        blank_max_rlu=25,
        positive_min_rlu=1600,
        positive_max_rlu=2900,
        scale_note="Another make: its numbers are some nine times those of meter A.",
    ),
}
# Kind, lot, and days to the last on which one may be used: one has gone out of date.
LOTS = (("rinse", "R-0917", -18), ("rinse", "R-1122", 160), ("surface", "S-0633", 95))


# Nobody moves a beer before.
FERMENTS = timedelta(days=3)


class InventedBrewery:
    """What was set up, by short names."""

    def __init__(self) -> None:
        self.people: dict[str, User] = {}
        self.beers: dict[str, Beer] = {}
        self.vessels: dict[str, Vessel] = {}
        self.meters: dict[str, Meter] = {}
        self.positive_rlu: dict[str, tuple[int, int]] = {}
        self.lots: list[AtpTestLot] = []
        self._batches = 31
        self._brewed: dict[str, list[tuple[str, datetime]]] = {}

    @cache  # noqa: B019 - one brewery, which lives as long as the play
    def version(self, name: str) -> RegimeVersion:
        """The version in force of a regime."""
        return current_versions().get(regime__name=name)

    def brewed(self, beer: str, *, at: datetime) -> str:
        """The number of a new batch of a beer."""
        self._batches += 1
        number = f"{at.year % 100}-{self._batches:03d}"
        self._brewed.setdefault(beer, []).append((number, at))
        return number

    def at_hand(self, beer: str, *, at: datetime) -> str:
        """The newest batch of a beer that has fermented, as it is moved from vessel to vessel."""
        brewed = self._brewed.get(beer, [])
        fermented = [number for number, since in brewed if at - since >= FERMENTS]
        if fermented:
            return fermented[-1]
        return brewed[0][0] if brewed else self.brewed(beer, at=at)


def furnish(stage: Stage) -> InventedBrewery:
    """Set the whole brewery up, six weeks ago, through the actions of the set-up."""
    brewery = InventedBrewery()
    stage.moment = stage.at(45, "08:00")
    _people(stage, brewery)
    mara = stage.by(brewery.people["mara"])
    password = DEMO_PASSWORDS["mara"]
    install_library(by=mara, password=password)
    _prices(mara)
    set_hold_times(by=mara, hold_times=CLOCKS, password=password)
    # Looser than shipped: she brews alone at some weekends.
    set_release_rules(
        by=mara,
        self_release_allowed=True,
        waivable_gates=default_waivable_gates(),
        password=password,
    )
    for short, (name, values) in BEERS.items():
        brewery.beers[short] = add_beer(by=mara, name=name, **values)
    regimes = {regime.name: regime for regime in Regime.objects.all()}
    for order, plan in enumerate(VESSELS, start=1):
        by = stage.by(brewery.people["mara"])
        brewery.vessels[plan.name] = _vessel(plan, by=by, order=order, regimes=regimes)
    for order, plan in enumerate(OTHER_VESSELS, start=len(VESSELS) + 1):
        brewery.vessels[plan.name] = _vessel(plan, by=mara, order=order, regimes=regimes)
    set_up_skids(by=mara, password=password)
    _meters(stage, brewery)
    return brewery


def _prices(mara: Actor) -> None:
    """What a clean's cost follows from."""
    edit_prices(by=mara, **PRICES)
    for agent in Agent.objects.all():
        if agent.active_substance in AGENT_PRICES:
            price_kg, recovered_share = AGENT_PRICES[agent.active_substance]
            known = {name: getattr(agent, name) for name in AgentValues.__dataclass_fields__}
            values = known | {"price_kg": price_kg, "recovered_share": recovered_share}
            save_agent(by=mara, agent=agent, values=AgentValues(**values))


@action("mark as demonstration")
def mark_as_demonstration(*, by: Actor) -> Recorded[Brewery]:
    """Say that the brewery is invented. Nobody says this of a brewery of their own."""
    Brewery.objects.update(is_demo=True)
    return Recorded(Brewery.current(), {"is_demo": True})


def _people(stage: Stage, brewery: InventedBrewery) -> None:
    """The head brewer first, as in any new brewery; she lets the others in."""
    first, *others = DEMO_SIGN_INS
    username, password, role = first
    full_name, initials = DEMO_NAMES[username]
    mara = set_up_first_person(
        by=stage.by(None),
        brewery_name=NAME,
        time_zone=TIME_ZONE,
        username=username,
        full_name=full_name,
        initials=initials,
        new_password=password,
    )
    mark_as_demonstration(by=stage.by(mara))
    edit_brewery(by=stage.by(mara), address=ADDRESS)
    brewery.people[username] = mara
    for name, its_password, its_role in others:
        its_full_name, its_initials = DEMO_NAMES[name]
        brewery.people[name] = add_person(
            by=stage.by(mara),
            username=name,
            full_name=its_full_name,
            initials=its_initials,
            roles=[its_role],
            new_password=f"{its_password}-first",
            password=password,
        )
        change_own_password(
            by=stage.by(brewery.people[name]),
            new_password=its_password,
            password=f"{its_password}-first",
        )
        brewery.people[name].refresh_from_db()
    # The first person holds every role until there is an owner.
    edit_person(
        by=stage.by(brewery.people["tomas"]),
        person=mara,
        full_name=full_name,
        initials=initials,
        roles=[role],
        is_active=True,
        password=DEMO_PASSWORDS["tomas"],
    )
    for name, person in brewery.people.items():
        # A password is checked slowly, on purpose: once for each person is enough here.
        person.check_password = cache(person.check_password)  # type: ignore[method-assign]
        if name in DEMO_PINS:
            set_own_pin(by=stage.by(person), new_pin=DEMO_PINS[name], password=DEMO_PASSWORDS[name])


def _vessel(plan: VesselPlan, *, by: Actor, order: int, regimes: Mapping[str, Regime]) -> Vessel:
    more = VesselValues(**plan.more, order=order)
    if plan.regime:
        more["default_regime"] = regimes[plan.regime]
    vessel = add_vessel(by=by, name=plan.name, kind=plan.kind, volume_hl=plan.volume_hl, **more)
    for usual in USUAL_POINTS[plan.kind]:
        if usual.sample_kind == "rinse" or usual.name in plan.surfaces:
            add_point(
                by=by,
                vessel=vessel,
                password=DEMO_PASSWORDS["mara"],
                name=usual.name,
                sample_kind=usual.sample_kind,
                area_cm2=usual.area_cm2,
                where_to_find=usual.where_to_find,
                required_for_release=usual.sample_kind == "rinse" or usual.name in plan.required,
                moment=usual.moment,
            )
    return vessel


def _meters(stage: Stage, brewery: InventedBrewery) -> None:
    """Two meters on scales of their own; limits for the first only."""
    mara = stage.by(brewery.people["mara"])
    today = stage.now.astimezone(stage.zone).date()
    brewery.meters = {name: save_meter(by=mara, values=values) for name, values in METERS.items()}
    brewery.positive_rlu = {"a": (215, 290), "b": (1900, 2600)}
    swabs = {
        kind: save_atp_test(by=mara, values=AtpTestValues(name, kind, "2 to 8 °C"))
        for kind, name in (("rinse", "Rinse sampler"), ("surface", "Surface swab"))
    }
    for kind, lot, days_left in LOTS:
        values = AtpTestLotValues(swabs[kind], lot, today + timedelta(days=days_left))
        brewery.lots.append(save_test_lot(by=mara, values=values))
    levels = {"rinse": (10, 30), "surface": (20, 60)}
    for (kind, (alert_rlu, action_rlu)), (moment, _) in product(levels.items(), STATED_MOMENTS):
        limits = propose_limits(
            by=mara,
            meter=brewery.meters["a"],
            atp_test=swabs[kind],
            moment=moment,
            alert_rlu=alert_rlu,
            action_rlu=action_rlu,
            source=LimitSource.MAKER,
            source_note="The leaflet that came with meter A (invented)",
            review_on=today + timedelta(days=320),
        )
        approve_limits(by=mara, limits=limits, password=DEMO_PASSWORDS["mara"])
