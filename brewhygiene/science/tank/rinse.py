"""How much water a rinse takes: pushed out as a plug, stirred down, or in bursts.

A real vessel is none of the three: a film on the wall neither mixes nor drains at once. Show the
models side by side, and end a rinse by its conductivity, not by its sum.

References
----------
.. [1] Levenspiel O., Chemical Reaction Engineering, 3rd ed. (1999), ch. 13: ideal mixed and plug
   flow. From memory.
"""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.arrays import pointwise
from brewhygiene.science.errors import Numbers, require
from brewhygiene.science.tank.flow import Section, bore_area_m2
from brewhygiene.science.working import WorkingLine, shown

PLUG_MARGIN = 1.3  # swept volumes in practice; common practice, no source


@dataclasses.dataclass(frozen=True)
class PlugRinse:
    """Pushing a line's contents out with water."""

    volume_l: float
    margin: float
    water_l: float
    volume_s: float
    time_s: float
    working: tuple[WorkingLine, ...]


def plug_rinse(
    *, sections: Sequence[Section], flow_l_min: float, margin: float = PLUG_MARGIN
) -> PlugRinse:
    """Swept volume and time to displace what stands in a line: V / Q, times a margin.

    ``sections`` at least one length of line, mm and m; ``flow_l_min`` L/min, above 0; ``margin``
    volumes pushed through, 1 to 10 (1.3 is common practice, no source). Volumes in L, times in
    s. Raises :class:`~brewhygiene.science.errors.OutOfRange`, ``ValueError`` for no section.

    >>> rinse = plug_rinse(sections=[Section(bore_mm=50, length_m=60)], flow_l_min=176.7146)
    >>> round(rinse.volume_l, 2), round(rinse.time_s, 1), round(rinse.water_l, 1)
    (117.81, 52.0, 153.2)
    """
    if not sections:
        raise ValueError("Enter at least one length of line.")
    require("flow", flow_l_min, unit="L/min", minimum=0, above=True)
    require("margin", margin, minimum=1, maximum=10)
    volume_l = 0.0
    working = []
    for section in sections:
        require("length", section.length_m, unit="m", minimum=0, maximum=5000, above=True)
        held_l = bore_area_m2(bore_mm=float(section.bore_mm)) * section.length_m * 1000
        volume_l += held_l
        working.append(
            WorkingLine(f"volume of {shown(section.length_m)} m", "π D² / 4 × length",
                        f"π × {shown(section.bore_mm / 1000)}² / 4 × {shown(section.length_m)} "
                        "× 1000", held_l, "L")
        )  # fmt: skip
    volume_s = volume_l / flow_l_min * 60
    working += [
        WorkingLine("time for one line volume", "60 × volume / flow",
                    f"60 × {shown(volume_l)} / {shown(flow_l_min)}", volume_s, "s"),
        WorkingLine("water, with margin", "margin × volume",
                    f"{shown(margin)} × {shown(volume_l)}", margin * volume_l, "L"),
        WorkingLine("time, with margin", "margin × time",
                    f"{shown(margin)} × {shown(volume_s)}", margin * volume_s, "s"),
    ]  # fmt: skip
    return PlugRinse(
        volume_l=volume_l,
        margin=margin,
        water_l=margin * volume_l,
        volume_s=volume_s,
        time_s=margin * volume_s,
        working=tuple(working),
    )


def stirred_fraction_left(*, volumes: Numbers) -> Numbers:
    """What is left of a residue after ``volumes`` (from 0) of water through a stirred vessel.

    c / c₀ = exp(−Q t / V) = exp(−volumes). Raises
    :class:`~brewhygiene.science.errors.OutOfRange` below 0.

    >>> round(25 * stirred_fraction_left(volumes=20 * 10 / 200), 5)  # 25 lb, 10 of 200 gal/min
    9.19699
    """
    require("volumes of water", volumes, minimum=0)
    return pointwise(lambda each: math.exp(-each), volumes)


def stirred_volumes(*, reduction: Numbers) -> Numbers:
    """Volumes of water that bring a residue down ``reduction``-fold (1 or more), ideally mixed.

    ln(c₀ / c). Raises :class:`~brewhygiene.science.errors.OutOfRange` below 1.

    >>> round(stirred_volumes(reduction=1000), 5)
    6.90776
    """
    require("reduction", reduction, minimum=1)
    return pointwise(math.log, reduction)


@dataclasses.dataclass(frozen=True)
class StirredRinse:
    """Rinsing a full, stirred vessel through by a steady flow."""

    volumes: float
    water_l: float
    time_min: float
    working: tuple[WorkingLine, ...]


def stirred_rinse(*, volume_l: float, flow_l_min: float, reduction: float) -> StirredRinse:
    """Water (L) and minutes to bring a residue down ``reduction``-fold in a stirred vessel.

    ``volume_l`` L that stand in it and ``flow_l_min`` L/min through it, above 0; ``reduction``
    1 or more. Raises :class:`~brewhygiene.science.errors.OutOfRange`.

    >>> round(stirred_rinse(volume_l=200, flow_l_min=10, reduction=100).time_min, 1)
    92.1
    """
    require("volume", volume_l, unit="L", minimum=0, above=True)
    require("flow", flow_l_min, unit="L/min", minimum=0, above=True)
    volumes = stirred_volumes(reduction=float(reduction))
    water_l = volumes * volume_l
    minutes = water_l / flow_l_min
    return StirredRinse(
        volumes=volumes,
        water_l=water_l,
        time_min=minutes,
        working=(
            WorkingLine("volumes", "ln(c₀ / c)", f"ln({shown(reduction)})", volumes),
            WorkingLine("water", "volumes × volume", f"{shown(volumes)} × {shown(volume_l)}",
                        water_l, "L"),
            WorkingLine("time", "water / flow", f"{shown(water_l)} / {shown(flow_l_min)}", minutes,
                        "min"),
        ),
    )  # fmt: skip


@dataclasses.dataclass(frozen=True)
class BurstRinse:
    """Rinsing in bursts, drained in between, each mixing with what stayed behind."""

    bursts: int
    fraction_per_burst: float
    fraction_left: float
    reduction: float
    water_l: float
    working: tuple[WorkingLine, ...]


def burst_rinse(*, residual_l: float, burst_l: float, bursts: int) -> BurstRinse:
    """What is left after bursts: c / c₀ = (r / (r + R))ⁿ.

    ``residual_l`` r, L that stay on the wall and in the bottom after draining, above 0;
    ``burst_l`` R, L of each burst, above 0; ``bursts`` n, 1 to 100. Raises
    :class:`~brewhygiene.science.errors.OutOfRange`.

    >>> rinse = burst_rinse(residual_l=10, burst_l=100, bursts=3)
    >>> round(rinse.fraction_left, 9), rinse.water_l
    (0.000751315, 300)
    """
    require("residue after draining", residual_l, unit="L", minimum=0, above=True)
    require("burst", burst_l, unit="L", minimum=0, above=True)
    require("number of bursts", bursts, minimum=1, maximum=100)
    each = residual_l / (residual_l + burst_l)
    left = each**bursts
    return BurstRinse(
        bursts=bursts,
        fraction_per_burst=each,
        fraction_left=left,
        reduction=1 / left,
        water_l=bursts * burst_l,
        working=(
            WorkingLine("share left after one burst", "r / (r + R)",
                        f"{shown(residual_l)} / ({shown(residual_l)} + {shown(burst_l)})", each),
            WorkingLine(f"share left after {bursts}", "that to the power n",
                        f"{shown(each)}^{bursts}", left),
            WorkingLine("water", "n × R", f"{bursts} × {shown(burst_l)}", bursts * burst_l, "L"),
        ),
    )  # fmt: skip


def bursts_for_reduction(*, residual_l: float, burst_l: float, reduction: float) -> int:
    """Whole bursts that bring a residue down at least ``reduction``-fold.

    ``residual_l`` and ``burst_l`` in L as in :func:`burst_rinse`; ``reduction`` 1 to 1e12.
    Raises :class:`~brewhygiene.science.errors.OutOfRange`, also where it takes more than 100.

    >>> bursts_for_reduction(residual_l=10, burst_l=100, reduction=1000)
    3
    """
    require("residue after draining", residual_l, unit="L", minimum=0, above=True)
    require("burst", burst_l, unit="L", minimum=0, above=True)
    require("reduction", reduction, minimum=1, maximum=1e12)
    # A reduction that is exactly that of n bursts must not become n + 1 by rounding.
    exact = math.log(reduction) / math.log1p(burst_l / residual_l)
    bursts = max(1, math.ceil(exact * (1 - 1e-12)))
    require("number of bursts needed", bursts, maximum=100)
    return bursts
