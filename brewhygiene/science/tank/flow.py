"""Flow through a line: velocity, residence, pressure drop, and whether it is enough to clean.

References
----------
.. [1] Colebrook C.F., J. Inst. Civ. Eng. 11 (1939) 133; the library ``fluids`` solves it.
.. [2] 1.5 m/s (5 ft/s) in the widest bore: 3-A accepted practice for cleaned-in-place lines,
   from memory; quoted as a minimum by many.
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import Literal

from brewhygiene.quantities.style import digits
from brewhygiene.science.arrays import pointwise
from brewhygiene.science.errors import Numbers, OutOfRange, require
from brewhygiene.science.tank.water import Fluid
from brewhygiene.science.working import WorkingLine, shown

LEAST_VELOCITY_M_S = 1.5
LAMINAR_TO_RE = 2000.0
TURBULENT_FROM_RE = 4000.0
# Drawn, welded and pickled stainless tube; the roughness of the worked cases.
HYGIENIC_TUBE_MM = 0.0015

FlowKind = Literal["laminar", "undefined", "turbulent"]


def bore_area_m2(*, bore_mm: Numbers) -> Numbers:
    """Cross-section of a round bore, m²; ``bore_mm`` mm inside, above 0 to 500.

    Take the bore, not the nominal size. Raises :class:`OutOfRange`.

    >>> round(bore_area_m2(bore_mm=50.0), 7)
    0.0019635
    """
    require("bore", bore_mm, unit="mm", minimum=0, maximum=500, above=True)
    return bore_mm * bore_mm * (math.pi / 4e6)


def velocity_m_s(*, flow_l_min: Numbers, bore_mm: Numbers) -> Numbers:
    """Mean velocity in a line, m/s, of ``flow_l_min`` L/min from 0 in a bore of ``bore_mm`` mm.

    Raises :class:`OutOfRange`.

    >>> round(velocity_m_s(flow_l_min=176.715, bore_mm=50.0), 4)
    1.5
    """
    require("flow", flow_l_min, unit="L/min", minimum=0)
    return flow_l_min / 60_000 / bore_area_m2(bore_mm=bore_mm)


def flow_for_velocity_l_min(
    *, bore_mm: Numbers, velocity_m_s: float = LEAST_VELOCITY_M_S
) -> Numbers:
    """Flow, L/min, that gives ``velocity_m_s`` m/s (above 0 to 10) in a bore of ``bore_mm`` mm.

    Raises :class:`OutOfRange`.

    >>> round(flow_for_velocity_l_min(bore_mm=50.0), 3)
    176.715
    """
    require("velocity", velocity_m_s, unit="m/s", minimum=0, maximum=10, above=True)
    return bore_area_m2(bore_mm=bore_mm) * (velocity_m_s * 60_000)


def pipe_reynolds(*, velocity_m_s: Numbers, bore_mm: Numbers, fluid: Fluid) -> Numbers:
    """Reynolds number in a pipe, ρ v D / μ; ``velocity_m_s`` m/s from 0, ``bore_mm`` mm.

    ``fluid`` as of :func:`~brewhygiene.science.tank.water.fluid`. Raises :class:`OutOfRange`.

    >>> hot = Fluid(temperature_c=70, density_kg_m3=977.765, viscosity_mpa_s=0.40355)
    >>> round(pipe_reynolds(velocity_m_s=1.5, bore_mm=50, fluid=hot), -3)
    182000.0
    """
    require("velocity", velocity_m_s, unit="m/s", minimum=0)
    require("bore", bore_mm, unit="mm", minimum=0, maximum=500, above=True)
    return velocity_m_s * bore_mm * (fluid.density_kg_m3 / fluid.viscosity_mpa_s)


def flow_kind(*, reynolds: float) -> FlowKind:
    """*laminar* to Re 2000, *turbulent* from 4000; between the two it is *undefined*.

    ``reynolds`` from 0 (no unit). Raises :class:`OutOfRange` below 0.

    >>> flow_kind(reynolds=182000)
    'turbulent'
    """
    require("Reynolds number", reynolds, minimum=0)
    if reynolds <= LAMINAR_TO_RE:
        return "laminar"
    return "turbulent" if reynolds >= TURBULENT_FROM_RE else "undefined"


def friction_factor(*, reynolds: Numbers, relative_roughness: float = 0.0) -> Numbers:
    """Darcy's friction factor: 64 / Re while laminar, Colebrook and White's [1]_ when turbulent.

    ``reynolds`` above 0 to 1e8, but not between 2000 and 4000, where the flow flips from one to
    the other and no factor holds; ``relative_roughness`` ε / D, 0 (smooth) to 0.05. Fanning's
    factor is a quarter of it. Raises :class:`OutOfRange`.

    >>> round(friction_factor(reynolds=1e5, relative_roughness=1e-4), 10)
    0.0185138661
    """
    require("Reynolds number", reynolds, minimum=0, maximum=1e8, above=True)
    require("relative roughness", relative_roughness, minimum=0, maximum=0.05)
    return pointwise(lambda re: _darcy(re, relative_roughness), reynolds)


def _darcy(reynolds: float, relative_roughness: float) -> float:
    if reynolds <= LAMINAR_TO_RE:
        return 64 / reynolds
    if reynolds < TURBULENT_FROM_RE:
        raise OutOfRange(
            f"At a Reynolds number of {shown(reynolds)} the flow changes between laminar and "
            "turbulent. There is no friction factor from 2000 to 4000.",
            quantity="Reynolds number",
            value=reynolds,
        )
    from fluids.friction import Colebrook  # it brings SciPy, which few pages need

    return float(Colebrook(reynolds, relative_roughness))


@dataclasses.dataclass(frozen=True)
class LineFlow:
    """Flow in one length of line. Friction and pressure drop are ``None`` where undefined."""

    bore_mm: float
    length_m: float
    flow_l_min: float
    area_m2: float
    velocity_m_s: float
    reynolds: float
    kind: FlowKind
    volume_l: float
    residence_s: float
    friction_factor: float | None
    pressure_drop_kpa: float | None
    smooth_pressure_drop_kpa: float | None
    working: tuple[WorkingLine, ...]


def line_flow(
    *,
    bore_mm: float,
    length_m: float,
    flow_l_min: float,
    fluid: Fluid,
    roughness_mm: float = HYGIENIC_TUBE_MM,
) -> LineFlow:
    """Velocity, Reynolds number, hold-up, residence time and pressure drop of a straight line.

    Darcy and Weisbach: Δp = f (L / D) ρ v² / 2, for the rough and for the smooth pipe.

    ``bore_mm`` mm inside, above 0 to 500; ``length_m`` m, above 0 to 5000; ``flow_l_min`` L/min,
    above 0; ``fluid`` as of :func:`~brewhygiene.science.tank.water.fluid`; ``roughness_mm`` mm,
    0 to 1. Bends, valves and height are extra. Raises :class:`OutOfRange`.

    >>> water = Fluid(temperature_c=20, density_kg_m3=998.207, viscosity_mpa_s=1.0016)
    >>> line = line_flow(bore_mm=50, length_m=50, flow_l_min=176.715, fluid=water)
    >>> round(line.pressure_drop_kpa, 2), round(line.residence_s, 1)
    (21.64, 33.3)
    """
    require("length", length_m, unit="m", minimum=0, maximum=5000, above=True)
    require("flow", flow_l_min, unit="L/min", minimum=0, above=True)
    require("roughness", roughness_mm, unit="mm", minimum=0, maximum=1)
    bore_mm, flow_l_min = float(bore_mm), float(flow_l_min)
    area_m2 = bore_area_m2(bore_mm=bore_mm)
    velocity = velocity_m_s(flow_l_min=flow_l_min, bore_mm=bore_mm)
    reynolds = pipe_reynolds(velocity_m_s=velocity, bore_mm=bore_mm, fluid=fluid)
    kind = flow_kind(reynolds=reynolds)
    volume_l = area_m2 * length_m * 1000
    residence_s = length_m / velocity
    working = [
        WorkingLine("cross-section", "π D² / 4", f"π × {shown(bore_mm / 1000)}² / 4", area_m2,
                    "m²"),
        WorkingLine("velocity", "flow / cross-section",
                    f"{shown(flow_l_min / 60_000)} m³/s / {shown(area_m2)}", velocity, "m/s"),
        WorkingLine("Reynolds number", "ρ v D / μ",
                    f"{shown(fluid.density_kg_m3)} × {shown(velocity)} × {shown(bore_mm / 1000)} "
                    f"/ {shown(fluid.viscosity_mpa_s / 1000)}", reynolds),
        WorkingLine("volume", "cross-section × length",
                    f"{shown(area_m2)} × {shown(length_m)} × 1000", volume_l, "L"),
        WorkingLine("residence time", "length / velocity",
                    f"{shown(length_m)} / {shown(velocity)}", residence_s, "s"),
    ]  # fmt: skip
    factor = drop = smooth_drop = None
    if kind != "undefined":
        dynamic_kpa = fluid.density_kg_m3 * velocity**2 / 2000 * length_m / (bore_mm / 1000)
        factor = friction_factor(reynolds=reynolds, relative_roughness=roughness_mm / bore_mm)
        drop = factor * dynamic_kpa
        smooth_drop = friction_factor(reynolds=reynolds) * dynamic_kpa
        rule = "64 / Re" if kind == "laminar" else "Colebrook"
        working += [
            WorkingLine("friction factor (Darcy)", rule,
                        f"Re {shown(reynolds)}, roughness {shown(roughness_mm)} / {shown(bore_mm)}",
                        factor),
            WorkingLine("pressure drop", "f (L / D) ρ v² / 2",
                        f"{shown(factor)} × {shown(dynamic_kpa)} kPa", drop, "kPa"),
        ]  # fmt: skip
    return LineFlow(
        bore_mm=bore_mm,
        length_m=length_m,
        flow_l_min=flow_l_min,
        area_m2=area_m2,
        velocity_m_s=velocity,
        reynolds=reynolds,
        kind=kind,
        volume_l=volume_l,
        residence_s=residence_s,
        friction_factor=factor,
        pressure_drop_kpa=drop,
        smooth_pressure_drop_kpa=smooth_drop,
        working=tuple(working),
    )


@dataclasses.dataclass(frozen=True)
class Section:
    """A length of line of one bore: mm inside and m."""

    bore_mm: float
    length_m: float


@dataclasses.dataclass(frozen=True)
class Circuit:
    """A circuit of lines in series, judged in its widest bore."""

    sections: tuple[LineFlow, ...]
    widest_bore_mm: float
    slowest_m_s: float
    needed_l_min: float
    enough: bool
    sentence: str
    volume_l: float
    residence_s: float
    pressure_drop_kpa: float | None


def circuit_flow(
    *,
    sections: Sequence[Section],
    flow_l_min: float,
    fluid: Fluid,
    least_velocity_m_s: float = LEAST_VELOCITY_M_S,
    roughness_mm: float = HYGIENIC_TUBE_MM,
) -> Circuit:
    """Whether one flow is enough for a whole circuit: the widest bore must reach the velocity.

    ``sections`` at least one, each as in :func:`line_flow`; ``flow_l_min`` L/min above 0;
    ``fluid`` as of :func:`~brewhygiene.science.tank.water.fluid`; ``least_velocity_m_s`` m/s,
    above 0 to 10, 1.5 by [2]_ (from memory); ``roughness_mm`` mm. ``pressure_drop_kpa`` is ``None``
    where one section's is undefined. Raises :class:`OutOfRange`, ``ValueError`` for no section.

    >>> water = Fluid(temperature_c=20, density_kg_m3=998.207, viscosity_mpa_s=1.0016)
    >>> circuit = circuit_flow(sections=[Section(50, 20), Section(65, 5)], flow_l_min=200,
    ...                        fluid=water)
    >>> circuit.enough, round(circuit.slowest_m_s, 2), round(circuit.needed_l_min)
    (False, 1.0, 299)
    """
    if not sections:
        raise ValueError("Enter at least one length of line.")
    lines = tuple(
        line_flow(
            bore_mm=section.bore_mm,
            length_m=section.length_m,
            flow_l_min=flow_l_min,
            fluid=fluid,
            roughness_mm=roughness_mm,
        )
        for section in sections
    )
    widest = max(lines, key=lambda line: line.bore_mm)
    needed = flow_for_velocity_l_min(bore_mm=widest.bore_mm, velocity_m_s=least_velocity_m_s)
    # The allowance keeps a flow that was computed from the rule from failing the rule.
    enough = widest.velocity_m_s >= least_velocity_m_s * (1 - 1e-9)
    drops = [line.pressure_drop_kpa for line in lines]
    known = [drop for drop in drops if drop is not None]
    return Circuit(
        sections=lines,
        widest_bore_mm=widest.bore_mm,
        slowest_m_s=widest.velocity_m_s,
        needed_l_min=needed,
        enough=enough,
        sentence=(
            f"{'Fast enough' if enough else 'Too slow'}: "
            f"{digits(widest.velocity_m_s, '.2f')} m/s in the "
            f"widest bore ({shown(widest.bore_mm)} mm). {shown(least_velocity_m_s)} m/s takes "
            f"{math.ceil(needed - 1e-9)} L/min."
        ),
        volume_l=sum(line.volume_l for line in lines),
        residence_s=sum(line.residence_s for line in lines),
        pressure_drop_kpa=sum(known) if len(known) == len(drops) else None,
    )
