"""The usual sampling points of each kind of vessel, offered with one tap.

Which points, how many and when: common practice, no source. The area of a swab, 10 × 10 cm or the
whole of a small part: common practice, no source.
"""

from typing import NamedTuple

from brewhygiene.cellar.models import SampleKind, VesselKind
from brewhygiene.cellar.moments import SamplingMoment

PROVENANCE = "common practice, no source"
WHOLE_AREA_CM2 = 100.0


class UsualPoint(NamedTuple):
    """A point as it is offered; ``area_cm2`` is the swabbed area of a surface sample."""

    name: str
    sample_kind: str
    where_to_find: str
    area_cm2: float | None = None
    required_for_release: bool = True
    moment: str = SamplingMoment.BEFORE_SANITISER


def _rinse(name: str, where: str, *, required: bool = True) -> UsualPoint:
    return UsualPoint(name, SampleKind.RINSE, where, None, required)


def _surface(
    name: str, where: str, *, area_cm2: float = WHOLE_AREA_CM2, required: bool = False
) -> UsualPoint:
    return UsualPoint(name, SampleKind.SURFACE, where, area_cm2, required)


_MANWAY = _surface("Manway gasket", "The inner edge of the gasket and its groove.")
_SPRAY = _surface("Under the spray device", "In its shadow, on the wall or the pipe.")
_STONE = _surface("Carbonation stone", "The stone and its holder, taken out.", area_cm2=25)
_VALVES = _surface(
    "Pressure-relief and vacuum valve", "The seats, with the valve taken off.", area_cm2=25
)
_SAMPLE_VALVE = _surface(
    "Sample valve", "The outlet, after a steady stream has flushed it.", area_cm2=10, required=True
)
_CONE = _rinse("Last rinse at the cone", "From the outlet at the bottom, the last of the drain.")
_OUTLET = _rinse("Last rinse at the outlet", "From the lowest outlet, the last of the drain.")
_TANK = (_OUTLET, _SAMPLE_VALVE, _MANWAY)


def _at(moment: str, *points: UsualPoint) -> tuple[UsualPoint, ...]:
    return tuple(point._replace(moment=moment) for point in points)


USUAL_POINTS: dict[str, tuple[UsualPoint, ...]] = {
    VesselKind.FERMENTER: (
        _CONE,
        _SAMPLE_VALVE,
        _surface("Racking arm", "Inside the arm, as far as the swab reaches.", area_cm2=25),
        _MANWAY,
        _SPRAY,
        _STONE,
        _VALVES,
        _surface("Blow-off", "Inside the pipe, at its flange.", area_cm2=25),
    ),
    VesselKind.BRIGHT_TANK: (
        _OUTLET,
        _SAMPLE_VALVE,
        _MANWAY,
        _surface("Sight glass", "Inside, at both ends.", area_cm2=25),
        _STONE,
    ),
    VesselKind.MIXING_TANK: _TANK,
    VesselKind.LIQUOR_TANK: _TANK,
    VesselKind.YEAST_VESSEL: (
        _OUTLET,
        _SAMPLE_VALVE,
        _MANWAY._replace(required_for_release=True),
    ),
    VesselKind.SERVING_TANK: _TANK,
    VesselKind.KEG: _at(
        SamplingMoment.BEFORE_HEAT,
        _rinse("Last rinse of one keg in the run", "From the spear, into a clean cup."),
        _surface("Keg neck and spear", "The seal and the top of the spear.", area_cm2=25),
    ),
    VesselKind.KEG_LINE: _at(
        SamplingMoment.BEFORE_HEAT,
        _rinse("Last rinse at the filler", "From a filling head, the last of the rinse."),
        _surface("Filling head", "The seal of one head.", area_cm2=25),
    ),
    VesselKind.FILLER: _at(
        SamplingMoment.BEFORE_HEAT,
        _rinse("Last rinse at the filler", "From a filling valve, the last of the rinse."),
        _surface(
            "Filling valve", "The seal of one valve, another each time.", area_cm2=25, required=True
        ),
        _surface(
            "Second filling valve", "The seal of another, in rotation.", area_cm2=25, required=True
        ),
    ),
    VesselKind.DRAUGHT_LINE: _at(
        SamplingMoment.RINSE_PROVED,
        _rinse("Last rinse at the tap", "From the tap, after the line's own volume has run."),
        _surface("Tap spout", "Inside the spout.", area_cm2=10),
    ),
    VesselKind.HEAT_EXCHANGER: _at(
        SamplingMoment.BEFORE_HEAT,
        _rinse("Last rinse at the outlet", "At the wort outlet, the last of the rinse."),
    ),
    VesselKind.HOSE_SET: (
        _rinse("Last rinse at the far end", "From the end that goes on the vessel."),
        _surface("Coupling", "The seal and its groove.", area_cm2=25),
    ),
    VesselKind.DRY_HOP_GEAR: (
        _OUTLET,
        _surface(
            "Lid gasket", "The gasket and its groove, with the lid off.", area_cm2=25, required=True
        ),
        _surface("Outlet valve", "Inside the valve, where hops lodge.", area_cm2=25),
    ),
}


def still_offered(kind: str, taken: set[str]) -> list[UsualPoint]:
    """The usual points of a kind of vessel that it has not by name. 0 queries."""
    names = {name.casefold() for name in taken}
    return [point for point in USUAL_POINTS.get(kind, ()) if point.name.casefold() not in names]
