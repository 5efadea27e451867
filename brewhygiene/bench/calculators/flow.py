"""Flow: over a vessel's wall, and through a line."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Table, Working, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.tank_gas import vessel_field
from brewhygiene.bench.measures import FLOW, SOLUTION
from brewhygiene.cellar.models import SprayDevice, Vessel
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.models import ActiveSubstance
from brewhygiene.science.tank.flow import (
    HYGIENIC_TUBE_MM,
    LEAST_VELOCITY_M_S,
    Circuit,
    Section,
    circuit_flow,
)
from brewhygiene.science.tank.wall import SprayNeed, falling_film, spray_need
from brewhygiene.science.tank.water import STRONGEST_FLUID_WW, Fluid, fluid

FLUIDS = "Water by IAPWS-95 and R12-08, a solution by its density and the CRC Handbook's viscosity."
LIQUIDS = [
    ("", "water"),
    *(choice for choice in ActiveSubstance.choices if choice[0] in ("NaOH", "KOH", "HNO3",
                                                                    "H3PO4")),
]  # fmt: skip
_FLOW_WORDS = {"short": "too little flow", "enough": "enough flow", "above": "more than needed"}
_FLOW_VERDICT = {"short": "below", "enough": "within", "above": "explain", "": ""}


class WithLiquid(Calculator):
    """A flow of water, or of a dilute solution."""

    temperature = fields.temperature("Temperature")
    substance = fields.choice("Liquid", LIQUIDS, required=False, wide=True)
    strength = fields.number(
        "Strength of the liquid", unit="% w/w", high=100, initial=2,
        hint=f"To {digits(STRONGEST_FLUID_WW, 'g')} %. Not used for water.",
    )  # fmt: skip

    @staticmethod
    def fluid(given: dict[str, Any]) -> Fluid:
        """The liquid as it flows."""
        return fluid(
            temperature_c=given["temperature"],
            solute=given["substance"],
            strength_ww=given["strength"] if given["substance"] else 0.0,
        )


class Spray(WithLiquid):
    """What a spray device needs, and the film on the wall."""

    slug = "spray"
    title = "Flow of a spray device"
    about = "Flow needed, and the film on the wall"
    fieldsets = (
        ("Vessel", ("vessel", "diameter", "device")),
        ("Flow", ("flow", "temperature", "substance", "strength")),
    )
    method = (
        (
            "25 L/min per metre of circumference (2 US gal/min per foot): Seiberling (ed.), "
            "Clean-in-Place for Biopharmaceutical Processes (2008), p. 162. The upper end, "
            "37 L/min, from memory."
        ),
        "Film by Nusselt, Z. VDI 60 (1916) 541 (from memory). " + FLUIDS,
    )
    valid_for = (
        (
            "Static spray devices in vertical, round vessels. Film thickness up to a film Reynolds "
            "number of 1600."
        ),
    )
    refusal_fields = (
        ("rotary", ("device",)),
        ("diameter", ("diameter",)),
        ("flow", ("flow",)),
        ("strength", ("strength",)),
        ("temperature", ("temperature",)),
    )

    vessel = vessel_field("Optional. Fills in its diameter and its spray device.")
    diameter = fields.number("Inside diameter", unit="m", high=100, initial=2)
    device = fields.choice(
        "Spray device",
        [("static", "Static spray ball"), ("rotary", "Rotary head")],
        initial="static",
    )
    flow = fields.flow("Flow", required=False, hint="Optional. If blank, only the flow needed.")

    def from_vessel(self, vessel: Vessel) -> dict[str, Any]:
        turns = vessel.spray_device in (SprayDevice.ROTARY_SPRAY, SprayDevice.ROTARY_JET)
        return {"diameter": vessel.diameter_m, "device": "rotary" if turns else "static"}

    def calculate(self, given: dict[str, Any]) -> Answer:
        need = spray_need(
            diameter_m=given["diameter"], kind=given["device"], flow_l_min=given["flow"]
        )
        figures = [
            Figure("minimum flow", *self.site.shown(need.least_l_min, FLOW)),
            Figure("maximum flow", *self.site.shown(need.most_l_min, FLOW)),
            figure("circumference", need.circumference_m, "m"),
        ]
        working = [Working("Flow needed", need.working)]
        warnings: tuple[str, ...] = ()
        if given["flow"] is not None:
            film = falling_film(
                flow_l_min=given["flow"], diameter_m=given["diameter"], fluid=self.fluid(given)
            )
            figures += [
                figure("wetting", film.wetting_l_min_m, "L/min per m"),
                figure("film Reynolds number", film.reynolds),
            ]
            if film.thickness_mm is not None and film.velocity_m_s is not None:
                figures += [
                    figure("film thickness", film.thickness_mm, "mm", significant=2),
                    figure("film velocity, mean", film.velocity_m_s, "m/s", significant=2),
                ]
            else:
                warnings = (
                    "The film is turbulent, and thicker than a laminar one. No thickness is given.",
                )
            working.append(Working("Film", film.working))
        return Answer(
            figures=tuple(figures),
            verdict=_FLOW_VERDICT[need.verdict],
            verdict_words=_FLOW_WORDS.get(need.verdict, ""),
            sentences=self._sentence(need),
            working=tuple(working),
            warnings=warnings,
        )

    def _sentence(self, need: SprayNeed) -> tuple[str, ...]:
        if need.flow_l_min is None:
            return ()
        has = self.site.words(need.flow_l_min, FLOW)
        least, most = (self.site.words(each, FLOW) for each in (need.least_l_min, need.most_l_min))
        match need.verdict:
            case "short":
                return (f"{has} is below the minimum of {least}. Parts of the wall may stay dry.",)
            case "above":
                return (f"{has} is above the maximum of {most}. Check that the outlet keeps up.",)
        return (f"{has} is between {least} and {most}.",)


PLACES = (1, 2, 3, 4)
BORES = (
    ("Line", ("bore_1", "length_1")),
    (
        "More bores in series",
        tuple(f"{name}_{n}" for n in PLACES[1:] for name in ("bore", "length")),
    ),
)


def bore_fields(place: int, bore_mm: float | None, length_m: float | None) -> tuple[Any, Any]:
    """Bore and length of one of the lengths; the first is needed."""
    needed = place == 1
    return (
        fields.number(f"Inside bore {place}", unit="mm", high=5000, initial=bore_mm,
                      required=needed),
        fields.number(f"Length {place}", unit="m", high=100_000, initial=length_m,
                      required=needed),
    )  # fmt: skip


class WithBores(Calculator):
    """A line of up to four lengths, each with its bore."""

    optional = frozenset({"More bores in series"})
    refusal_fields = (
        ("bore", tuple(f"bore_{place}" for place in PLACES)),
        ("length", tuple(f"length_{place}" for place in PLACES)),
        ("roughness", ("roughness",)),
        ("velocity", ("least",)),
        ("margin", ("margin",)),
        ("flow", ("flow",)),
        ("strength", ("strength",)),
        ("temperature", ("temperature",)),
    )

    bore_1, length_1 = bore_fields(1, 50, 20)
    bore_2, length_2 = bore_fields(2, None, None)
    bore_3, length_3 = bore_fields(3, None, None)
    bore_4, length_4 = bore_fields(4, None, None)

    def clean(self) -> dict[str, Any]:
        for n in PLACES:
            self.need_both(f"bore_{n}", f"length_{n}", "Enter both bore and length, or neither.")
        return self.cleaned_data

    def sections(self, given: dict[str, Any]) -> list[Section]:
        """The lengths that were given."""
        return [
            Section(given[f"bore_{place}"], given[f"length_{place}"])
            for place in PLACES
            if given[f"bore_{place}"] is not None
        ]


class LineFlow(WithBores, WithLiquid):
    """Velocity, Reynolds number and pressure drop of a line, and the velocity wanted."""

    slug = "line-flow"
    title = "Flow in a line"
    about = "Velocity, pressure drop and the flow needed"
    fieldsets = (
        ("Flow", ("flow", "temperature", "substance", "strength")),
        *BORES,
        ("Target", ("least", "roughness")),
    )
    method = (
        "Darcy and Weisbach with Colebrook's friction factor (J. Inst. Civ. Eng. 11 (1939) 133). "
        + FLUIDS,
        "1.5 m/s (5 ft/s) in the widest bore: 3-A accepted practice, from memory.",
    )
    valid_for = (
        (
            "A straight line. Bends, valves and height are extra. Laminar to Re 2000, turbulent "
            "from 4000, no friction factor between. Enter the inside bore, not the nominal size."
        ),
    )

    flow = fields.flow("Flow", initial=200.0)
    least = fields.number("Minimum velocity", unit="m/s", high=100, initial=LEAST_VELOCITY_M_S)
    roughness = fields.number("Wall roughness", unit="mm", high=10,
                              initial=HYGIENIC_TUBE_MM,
                              hint="0.0015 mm for drawn, pickled stainless tube.")  # fmt: skip

    def calculate(self, given: dict[str, Any]) -> Answer:
        circuit = circuit_flow(
            sections=self.sections(given),
            flow_l_min=given["flow"],
            fluid=self.fluid(given),
            least_velocity_m_s=given["least"],
            roughness_mm=given["roughness"],
        )
        several = len(circuit.sections) > 1
        where = "in the widest bore" if several else "in the line"
        figures = [
            figure(f"velocity {where}", circuit.slowest_m_s, "m/s", significant=3),
            Figure("flow needed", *self.site.shown(circuit.needed_l_min, FLOW)),
            figure("Reynolds number", self._widest(circuit).reynolds),
            *self._drops(circuit),
            Figure("line volume", *self.site.shown(circuit.volume_l, SOLUTION)),
            figure("residence time", circuit.residence_s, "s", significant=3),
        ]
        need = self.site.words(circuit.needed_l_min, FLOW)
        return Answer(
            figures=tuple(figures),
            verdict="within" if circuit.enough else "below",
            verdict_words="fast enough" if circuit.enough else "too slow",
            sentences=(
                (
                    f"The velocity in {show_number(circuit.widest_bore_mm)} mm is "
                    f"{show_number(circuit.slowest_m_s, significant=3)} m/s. "
                    f"{show_number(given['least'])} m/s takes {need}."
                ),
            ),
            tables=(self._table(circuit),) if several else (),
            working=tuple(
                Working(
                    f"{show_number(line.bore_mm)} mm, {show_number(line.length_m)} m", line.working
                )
                for line in circuit.sections
            ),
            warnings=()
            if circuit.pressure_drop_kpa is not None
            else (
                (
                    "In one bore the flow changes between laminar and turbulent (Re 2000 to 4000). "
                    "No pressure drop can be given. Increase the flow to clean."
                ),
            ),
        )

    @staticmethod
    def _widest(circuit: Circuit) -> Any:
        return max(circuit.sections, key=lambda line: line.bore_mm)

    @staticmethod
    def _drops(circuit: Circuit) -> list[Figure]:
        if circuit.pressure_drop_kpa is None:
            return []
        smooth = sum(line.smooth_pressure_drop_kpa or 0.0 for line in circuit.sections)
        return [
            figure("pressure drop", circuit.pressure_drop_kpa / 100, "bar", significant=3,
                   note=f"smooth wall: {show_number(smooth / 100, significant=3)} bar"),
        ]  # fmt: skip

    def _table(self, circuit: Circuit) -> Table:
        rows = []
        for line in circuit.sections:
            drop = line.pressure_drop_kpa
            rows.append(
                (
                    show_number(line.bore_mm),
                    show_number(line.length_m),
                    show_number(line.velocity_m_s, significant=3),
                    show_number(line.reynolds),
                    line.kind,
                    "none" if drop is None else show_number(drop / 100, significant=3),
                )
            )
        head = ("Bore, mm", "Length, m", "m/s", "Re", "Flow", "Drop, bar")
        return Table("Each bore", head, tuple(rows))
