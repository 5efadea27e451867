"""The invented brewery's vessels, of materials that suit their regimes."""

import dataclasses

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.models import CleanLevel, SprayDevice, VesselKind
from brewhygiene.cellar.vessels.actions import VesselValues


@dataclasses.dataclass(frozen=True)
class VesselPlan:
    """A vessel to be set up; ``surfaces`` are swabbed, those in ``required`` for every release."""

    name: str
    kind: str
    volume_hl: float
    more: VesselValues
    required: frozenset[str] = frozenset()
    surfaces: frozenset[str] = frozenset()
    regime: str = ""


TANK = VesselValues(
    material=Material.STAINLESS_304,
    seal_material=Material.EPDM,
    spray_device_material=Material.STAINLESS_316,
)
FERMENTER = VesselValues(
    **TANK, diameter_m=1.4, pressure_rating_bar=2, vacuum_rating_mbar=30, solution_l=250
)
BIG_FERMENTER = VesselValues(
    **TANK,
    diameter_m=1.8,
    pressure_rating_bar=2,
    vacuum_rating_mbar=20,
    spray_device=SprayDevice.ROTARY_SPRAY,
    solution_l=400,
)
# The acid under CO2 is stronger than EPDM is known to stand.
BRIGHT = VesselValues(
    material=Material.STAINLESS_304,
    seal_material=Material.PTFE,
    spray_device_material=Material.STAINLESS_316,
    diameter_m=1.4,
    pressure_rating_bar=3,
    vacuum_rating_mbar=50,
    solution_l=220,
    least_level=CleanLevel.LIGHT,
    caustic_every_n=10,
)
# The regime for hoses has no acid step: none is ever asked for.
HOSE = VesselValues(
    material=Material.EPDM,
    seal_material=Material.EPDM,
    spray_device=SprayDevice.NONE,
    diameter_m=0.04,
    solution_l=120,
    acid_every_n=1000,
)
TAP_LINE = VesselValues(
    material=Material.POLYETHYLENE,
    seal_material=Material.EPDM,
    spray_device=SprayDevice.NONE,
    solution_l=15,
    acid_every_n=7,
)
SAMPLE_VALVE = frozenset({"Sample valve"})
FERMENTER_SURFACES = frozenset({"Sample valve", "Racking arm", "Manway gasket"})
BRIGHT_SURFACES = frozenset({"Sample valve", "Manway gasket"})

VESSELS: tuple[VesselPlan, ...] = (
    *(
        VesselPlan(
            f"FV {number}",
            VesselKind.FERMENTER,
            30 if number < 4 else 60,
            FERMENTER if number < 4 else BIG_FERMENTER,
            SAMPLE_VALVE,
            FERMENTER_SURFACES,
            "Fermenter, hot caustic",
        )
        for number in range(1, 6)
    ),
    *(
        VesselPlan(
            f"BT {number}",
            VesselKind.BRIGHT_TANK,
            30,
            BRIGHT,
            SAMPLE_VALVE,
            BRIGHT_SURFACES,
            "Bright tank, acid only under CO2",
        )
        for number in (1, 2)
    ),
    VesselPlan(
        "YV 1",
        VesselKind.YEAST_VESSEL,
        4,
        VesselValues(
            **TANK, diameter_m=0.7, pressure_rating_bar=1, vacuum_rating_mbar=20, solution_l=90
        ),
        SAMPLE_VALVE,
        SAMPLE_VALVE,
        "Yeast vessel, hot caustic",
    ),
    VesselPlan(
        "HX 1",
        VesselKind.HEAT_EXCHANGER,
        0.6,
        VesselValues(
            material=Material.STAINLESS_316,
            seal_material=Material.EPDM,
            spray_device=SprayDevice.NONE,
            diameter_m=0.05,
            acid_every_n=3,
            solution_l=200,
        ),
    ),
    VesselPlan("Hose set A", VesselKind.HOSE_SET, 0.2, HOSE, surfaces=frozenset({"Coupling"})),
    VesselPlan(
        "Tap line 3",
        VesselKind.DRAUGHT_LINE,
        0.05,
        TAP_LINE,
        regime="Draught line, circulating, every 14 days",
    ),
    VesselPlan(
        "Keg run",
        VesselKind.KEG,
        12,
        VesselValues(
            material=Material.STAINLESS_304,
            seal_material=Material.EPDM,
            spray_device=SprayDevice.NONE,
        ),
    ),
)
# They have no part in the play of the others.
OTHER_VESSELS: tuple[VesselPlan, ...] = (
    VesselPlan(
        "ST 1",
        VesselKind.SERVING_TANK,
        5,
        VesselValues(
            **TANK, diameter_m=0.75, pressure_rating_bar=2, vacuum_rating_mbar=30, solution_l=100
        ),
        SAMPLE_VALVE,
        SAMPLE_VALVE,
        "Fermenter, hot caustic",
    ),
    VesselPlan(
        "Hop doser",
        VesselKind.DRY_HOP_GEAR,
        1,
        VesselValues(**TANK, diameter_m=0.5, pressure_rating_bar=3),
        regime="Dry-hop gear",
    ),
)
