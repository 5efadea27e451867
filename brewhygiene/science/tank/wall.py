"""Flow over a vessel's wall: what a spray device needs, and the film that runs down.

References
----------
.. [1] Seiberling D.A. (ed.), Clean-in-Place for Biopharmaceutical Processes (2008), p. 162:
   2 US gal/min per foot of circumference for static spray devices on vertical vessels, which
   is 25 L/min per metre. Its upper end, 3 US gal/min per foot, is from memory.
.. [2] Nusselt W., Z. VDI 60 (1916) 541: thickness of a laminar falling film. From memory.
.. [3] Films of 1190 < Re < 3110 were measured by Fuchs et al. (2015); read second-hand.
"""

import dataclasses
import math
from typing import Literal

from brewhygiene.science.errors import Numbers, OutOfRange, require
from brewhygiene.science.tank.water import Fluid
from brewhygiene.science.working import WorkingLine, shown

STATIC_SPRAY_L_MIN_M = (25.0, 37.0)
LAMINAR_FILM_TO_RE = 1600.0
G_M_S2 = 9.80665

SprayKind = Literal["static", "rotary"]
SprayVerdict = Literal["", "enough", "short", "above"]


@dataclasses.dataclass(frozen=True)
class SprayNeed:
    """Flow that a static spray device needs, and what a given flow does on the wall.

    ``verdict``: *enough*, *short* or *above* the usual range; empty where no flow was given.
    """

    diameter_m: float
    circumference_m: float
    least_l_min: float
    most_l_min: float
    flow_l_min: float | None
    wetting_l_min_m: float | None
    verdict: SprayVerdict
    sentence: str
    working: tuple[WorkingLine, ...]


def circumference_m(*, diameter_m: Numbers) -> Numbers:
    """Circumference of a round vessel, m, of inner ``diameter_m`` above 0 to 20 m.

    Raises :class:`OutOfRange`.

    >>> round(circumference_m(diameter_m=2.0), 4)
    6.2832
    """
    require("diameter", diameter_m, unit="m", minimum=0, maximum=20, above=True)
    return diameter_m * math.pi


def spray_need(
    *, diameter_m: float, kind: SprayKind = "static", flow_l_min: float | None = None
) -> SprayNeed:
    """Flow that the spray device of a vertical vessel needs: 25 to 37 L/min per metre of wall.

    ``diameter_m`` m inside, above 0 to 20; ``kind`` static only; ``flow_l_min`` L/min that it
    gets, above 0 to 10 000, where known. Source: [1]_ of this module (the upper end from
    memory). Raises :class:`OutOfRange`, also for a rotary head, whose flow and pressure stand
    in its maker's curve and in no rule.

    >>> need = spray_need(diameter_m=2.0)
    >>> round(need.least_l_min), round(need.most_l_min)
    (157, 232)
    """
    if kind != "static":
        raise OutOfRange(
            "There is no rule of thumb for a rotary head. See its maker's curve for flow and "
            "pressure."
        )
    around_m = circumference_m(diameter_m=diameter_m)
    least, most = (rate * around_m for rate in STATIC_SPRAY_L_MIN_M)
    working = [
        WorkingLine("circumference", "π × diameter", f"π × {shown(diameter_m)}", around_m, "m"),
        WorkingLine(
            "minimum flow", "25 L/min per metre", f"25 × {shown(around_m)}", least, "L/min"
        ),
        WorkingLine("maximum flow", "37 L/min per metre", f"37 × {shown(around_m)}", most, "L/min"),
    ]
    sentence = f"A static spray device here needs {least:.0f} to {most:.0f} L/min."
    verdict: SprayVerdict = ""
    wetting = None
    if flow_l_min is not None:
        require("flow", flow_l_min, unit="L/min", minimum=0, maximum=10_000, above=True)
        wetting = flow_l_min / around_m
        working.append(
            WorkingLine("wetting", "flow / circumference",
                        f"{shown(flow_l_min)} / {shown(around_m)}", wetting, "L/(min m)")
        )  # fmt: skip
        if flow_l_min < least:
            verdict = "short"
            sentence = f"Too little: {flow_l_min:.0f} L/min of at least {least:.0f} L/min."
        elif flow_l_min > most:
            verdict = "above"
            sentence = (
                f"More than needed: {flow_l_min:.0f} L/min of {least:.0f} to {most:.0f} L/min. "
                "Check that the outlet keeps up and no pool stands."
            )
        else:
            verdict = "enough"
            sentence = f"Enough: {flow_l_min:.0f} of {least:.0f} to {most:.0f} L/min."
    return SprayNeed(
        diameter_m=diameter_m,
        circumference_m=around_m,
        least_l_min=least,
        most_l_min=most,
        flow_l_min=flow_l_min,
        wetting_l_min_m=wetting,
        verdict=verdict,
        sentence=sentence,
        working=tuple(working),
    )


@dataclasses.dataclass(frozen=True)
class Film:
    """A film running down a wall. ``thickness_mm`` and ``velocity_m_s`` only while laminar."""

    wetting_kg_s_m: float
    wetting_l_min_m: float
    reynolds: float
    laminar: bool
    thickness_mm: float | None
    velocity_m_s: float | None
    working: tuple[WorkingLine, ...]


def film_reynolds(*, flow_l_min: Numbers, width_m: float, fluid: Fluid) -> Numbers:
    """Reynolds number of a falling film: Re = 4 Γ / μ, Γ the mass flow per metre of wall.

    ``flow_l_min`` L/min from 0; ``width_m`` m of wetted wall (a vessel's circumference), above
    0; ``fluid`` with its density and viscosity. Some authors write Γ / μ, a quarter of it.
    Raises :class:`OutOfRange`.

    >>> water = Fluid(temperature_c=20, density_kg_m3=998.2, viscosity_mpa_s=1.0016)
    >>> round(film_reynolds(flow_l_min=25, width_m=1, fluid=water))
    1661
    """
    require("flow", flow_l_min, unit="L/min", minimum=0)
    require("wetted width", width_m, unit="m", minimum=0, above=True)
    mass_kg_s = flow_l_min * (fluid.density_kg_m3 / 60_000)
    return mass_kg_s * (4 / width_m / (fluid.viscosity_mpa_s / 1000))


def falling_film(*, flow_l_min: float, diameter_m: float, fluid: Fluid) -> Film:
    """Wetting rate, Reynolds number and, while laminar, thickness of the film on a round wall.

    ``flow_l_min`` L/min above 0, spread over the circumference of ``diameter_m`` m; ``fluid`` as
    of :func:`~brewhygiene.science.tank.water.fluid`. Thickness (3 μ Γ / (ρ² g))^(1/3) [2]_ up to
    Re 1600; above, waves and turbulence make it thicker than that and ``None`` is given. Raises
    :class:`OutOfRange`.

    >>> water = Fluid(temperature_c=20, density_kg_m3=998.2, viscosity_mpa_s=1.0016)
    >>> round(falling_film(flow_l_min=40, diameter_m=1, fluid=water).thickness_mm, 2)
    0.4
    """
    require("flow", flow_l_min, unit="L/min", minimum=0, above=True)
    around_m = circumference_m(diameter_m=diameter_m)
    wetting_l_min_m = flow_l_min / around_m
    wetting_kg_s_m = wetting_l_min_m * fluid.density_kg_m3 / 60_000
    viscosity_pa_s = fluid.viscosity_mpa_s / 1000
    reynolds = film_reynolds(flow_l_min=float(flow_l_min), width_m=around_m, fluid=fluid)
    working = [
        WorkingLine("circumference", "π × diameter", f"π × {shown(diameter_m)}", around_m, "m"),
        WorkingLine("wetting", "flow / circumference", f"{shown(flow_l_min)} / {shown(around_m)}",
                    wetting_l_min_m, "L/(min m)"),
        WorkingLine("wetting by mass, Γ", "wetting × density / 60 000",
                    f"{shown(wetting_l_min_m)} × {shown(fluid.density_kg_m3)} / 60 000",
                    wetting_kg_s_m, "kg/(s m)"),
        WorkingLine("Reynolds number of the film", "4 Γ / μ",
                    f"4 × {shown(wetting_kg_s_m)} / {shown(viscosity_pa_s)}", reynolds),
    ]  # fmt: skip
    thickness_mm = velocity_m_s = None
    laminar = reynolds <= LAMINAR_FILM_TO_RE
    if laminar:
        cube = 3 * viscosity_pa_s * wetting_kg_s_m / (fluid.density_kg_m3**2 * G_M_S2)
        thickness_m = cube ** (1 / 3)
        thickness_mm = thickness_m * 1000
        velocity_m_s = wetting_kg_s_m / fluid.density_kg_m3 / thickness_m
        working += [
            WorkingLine("thickness", "(3 μ Γ / (ρ² g))^(1/3)",
                        f"({shown(cube)})^(1/3) × 1000", thickness_mm, "mm"),
            WorkingLine("mean velocity", "Γ / (ρ × thickness)",
                        f"{shown(wetting_kg_s_m)} / ({shown(fluid.density_kg_m3)} × "
                        f"{shown(thickness_m)})", velocity_m_s, "m/s"),
        ]  # fmt: skip
    return Film(
        wetting_kg_s_m=wetting_kg_s_m,
        wetting_l_min_m=wetting_l_min_m,
        reynolds=reynolds,
        laminar=laminar,
        thickness_mm=thickness_mm,
        velocity_m_s=velocity_m_s,
        working=tuple(working),
    )
