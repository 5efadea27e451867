"""Whether a vessel's spray device, or a line's widest bore, gets enough flow. No queries."""

import dataclasses
from typing import Literal

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SprayDevice, Vessel, VesselKind
from brewhygiene.cellar.vessels.actions import BORES
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import own_words
from brewhygiene.regimes.measures import site_label, to_site
from brewhygiene.regimes.models import Quantity
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.flow import (
    LEAST_VELOCITY_M_S,
    bore_area_m2,
    flow_for_velocity_l_min,
    velocity_m_s,
)
from brewhygiene.science.tank.wall import spray_need
from brewhygiene.science.working import WorkingLine, shown
from brewhygiene.turnarounds.models import StepReading

# What is judged by the velocity in its widest bore.
LINES = BORES | {VesselKind.HEAT_EXCHANGER}
ROTARY = frozenset({SprayDevice.ROTARY_SPRAY, SprayDevice.ROTARY_JET})
SPRAY_SOURCE = (
    "25 L/min per metre of wall: Seiberling 2008. The upper end, 37, is from memory. For static "
    "spray devices on vertical vessels."
)
LINE_SOURCE = "1.5 m/s (5 ft/s) in the widest bore: 3-A accepted practice, from memory."

Verdict = Literal["within", "below", "above", "no_window"]


@dataclasses.dataclass(frozen=True)
class FlowNeed:
    """What flow a vessel needs and whether the one read is enough.

    ``verdict`` is ``no_window`` where nothing was read or no rule holds; ``word`` says it.
    ``need`` is the range in words, ``sentence`` what was found, ``least_l_min`` L/min.
    """

    verdict: Verdict
    word: str
    sentence: str
    need: str = ""
    least_l_min: float | None = None
    most_l_min: float | None = None
    source: str = ""
    working: tuple[WorkingLine, ...] = ()


def _flow(value_l_min: float, brewery: Brewery) -> str:
    value = to_site(value_l_min, quantity=Quantity.FLOW_L_MIN, brewery=brewery) or 0.0
    return show_number(value, significant=3)


def _flow_with_unit(value_l_min: float, brewery: Brewery) -> str:
    unit = site_label(quantity=Quantity.FLOW_L_MIN, brewery=brewery)
    return f"{_flow(value_l_min, brewery)} {unit}"


def flow_need(
    vessel: Vessel,
    *,
    brewery: Brewery,
    flow_l_min: float | None = None,
    velocity_read_m_s: float | None = None,
) -> FlowNeed | None:
    """The flow that ``vessel`` needs, and whether the one that was read is enough.

    ``flow_l_min`` L/min or, for a line, ``velocity_read_m_s`` m/s, where one was read.
    ``None`` for a vessel that is filled or circulated without a spray device. 0 queries.
    """
    try:
        if vessel.kind in LINES:
            return _line(vessel, flow_l_min, velocity_read_m_s, brewery)
        return _spray(vessel, flow_l_min, brewery)
    except OutOfRange as refused:
        return FlowNeed("no_window", "Not judged", str(refused))


def flow_of(vessel: Vessel, reading: StepReading | None, *, brewery: Brewery) -> FlowNeed | None:
    """As :func:`flow_need`, by a reading of flow or velocity, where there is one. 0 queries."""
    value = reading.value if reading else None
    is_flow = reading is not None and reading.quantity == Quantity.FLOW_L_MIN
    return flow_need(
        vessel,
        brewery=brewery,
        flow_l_min=value if is_flow else None,
        velocity_read_m_s=None if is_flow else value,
    )


def _spray(vessel: Vessel, flow_l_min: float | None, brewery: Brewery) -> FlowNeed | None:
    if vessel.spray_device == SprayDevice.NONE:
        return None
    if vessel.spray_device in ROTARY:
        read = (
            f" {_flow_with_unit(flow_l_min, brewery)} was the last reading." if flow_l_min else ""
        )
        return FlowNeed(
            "no_window",
            "See maker's curve",
            "Look up flow and pressure in the maker's curve. A rotary head has no rule of "
            f"thumb.{read}",
        )
    if vessel.diameter_m is None:
        return FlowNeed(
            "no_window",
            "Not known",
            "The diameter is not on record, so the flow needed cannot be calculated.",
        )
    # A flow of 0 is a real reading; the sum starts above it.
    given = flow_l_min if flow_l_min else None
    need = spray_need(diameter_m=vessel.diameter_m, flow_l_min=given)
    unit = site_label(quantity=Quantity.FLOW_L_MIN, brewery=brewery)
    span = f"{_flow(need.least_l_min, brewery)} to {_flow(need.most_l_min, brewery)} {unit}"
    verdict: Verdict
    if flow_l_min is None:
        verdict, word, sentence = "no_window", "Not read", "No flow reading yet."
    else:
        read = _flow_with_unit(flow_l_min, brewery)
        if flow_l_min < need.least_l_min:
            verdict, word = "below", "Not enough"
            sentence = f"{read} of at least {_flow_with_unit(need.least_l_min, brewery)}."
        elif flow_l_min > need.most_l_min:
            verdict, word = "within", "Enough"
            sentence = (
                f"{read}, more than the usual {span}. Check that the outlet keeps up and no pool "
                "forms."
            )
        else:
            verdict, word, sentence = "within", "Enough", f"{read}."
    return FlowNeed(
        verdict=verdict,
        word=word,
        sentence=sentence,
        need=f"The static spray device needs {span}.",
        least_l_min=need.least_l_min,
        most_l_min=need.most_l_min,
        source=SPRAY_SOURCE,
        working=need.working,
    )


def _line(
    vessel: Vessel, flow_l_min: float | None, velocity_read: float | None, brewery: Brewery
) -> FlowNeed:
    least = f"{show_number(LEAST_VELOCITY_M_S)} m/s"
    if vessel.diameter_m is None and velocity_read is None:
        return FlowNeed(
            "no_window",
            "Not known",
            "The bore is not on record, so the velocity cannot be calculated.",
            need=f"A line needs {least} in its widest bore.",
            source=own_words(LINE_SOURCE),
        )
    needed = None
    working: tuple[WorkingLine, ...] = ()
    need = f"A line needs {least} in its widest bore."
    if vessel.diameter_m is not None:
        bore_mm = vessel.diameter_m * 1000
        needed = flow_for_velocity_l_min(bore_mm=bore_mm)
        area_m2 = bore_area_m2(bore_mm=bore_mm)
        need = (
            f"{least} in a bore of {show_number(bore_mm, significant=3)} mm takes "
            f"{_flow_with_unit(needed, brewery)}."
        )
        working = (
            WorkingLine("cross-section", "π D² / 4", f"π × {shown(vessel.diameter_m)}² / 4",
                        area_m2, "m²"),
            WorkingLine("least flow", "velocity × cross-section × 60 000",
                        f"{shown(LEAST_VELOCITY_M_S)} × {shown(area_m2)} × 60 000", needed,
                        "L/min"),
        )  # fmt: skip
        if velocity_read is None and flow_l_min is not None:
            velocity_read = velocity_m_s(flow_l_min=flow_l_min, bore_mm=bore_mm)
            working += (
                WorkingLine("velocity", "flow / 60 000 / cross-section",
                            f"{shown(flow_l_min)} / 60 000 / {shown(area_m2)}", velocity_read,
                            "m/s"),
            )  # fmt: skip
    if velocity_read is None:
        return FlowNeed(
            "no_window", "Not read", "No flow reading yet.", need, needed, None,
            own_words(LINE_SOURCE), working,
        )  # fmt: skip
    enough = velocity_read >= LEAST_VELOCITY_M_S * (1 - 1e-9)
    read = f"{show_number(velocity_read, significant=3)} m/s"
    if flow_l_min is not None:
        read += f" at {_flow_with_unit(flow_l_min, brewery)}"
    return FlowNeed(
        verdict="within" if enough else "below",
        word="Enough" if enough else "Not enough",
        sentence=f"{read}." if enough else f"{read}, of at least {least}.",
        need=need,
        least_l_min=needed,
        source=own_words(LINE_SOURCE),
        working=working,
    )
