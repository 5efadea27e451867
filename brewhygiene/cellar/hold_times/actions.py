"""The action on the three hold times."""

from collections.abc import Mapping
from typing import NamedTuple

from brewhygiene.cellar.models import HoldClock, VesselKind
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal

LEAST_H = 0.25
MOST_H = 24.0 * 365


class Hours(NamedTuple):
    """The three hold times, in hours."""

    dirty_hold_h: float
    clean_hold_h: float
    sanitised_hold_h: float


DEFAULT_HOURS = Hours(24.0, 24.0, 4.0)
SOURCE = (
    "24, 24 and 4 h: Craft Brewer's Guide to Best Practices vol. 2 (Master Brewers / ASBC), "
    "one author's rule of thumb, not law"
)

# Common practice, no source: a practised brewer's judgement, offered to be filled in, never set
# by itself. Of two figures the stricter; the note has the other.
USUAL_HOURS: dict[str, Hours] = {
    VesselKind.FERMENTER: Hours(12, 24, 4),
    VesselKind.BRIGHT_TANK: Hours(12, 72, 12),
    VesselKind.SERVING_TANK: Hours(12, 72, 12),
    VesselKind.YEAST_VESSEL: Hours(2, 24, 2),
    VesselKind.HEAT_EXCHANGER: Hours(1, 24, 2),
    VesselKind.HOSE_SET: Hours(1, 24, 4),
    VesselKind.FILLER: Hours(1, 24, 4),
    VesselKind.KEG_LINE: Hours(1, 24, 4),
    VesselKind.DRY_HOP_GEAR: Hours(1, 24, 4),
}
USUAL_NOTES: dict[str, str] = {
    VesselKind.FERMENTER: "Dirty 4 h after fruit or dry hops. Clean 48 h if sealed.",
    VesselKind.BRIGHT_TANK: "Dirty 48 h if sealed under CO2. Clean if sealed, sanitised under CO2.",
    VesselKind.SERVING_TANK: "Dirty 48 h if sealed under CO2. Clean if sealed, sanitised under "
    "CO2.",
    VesselKind.HEAT_EXCHANGER: "Sanitised 2 h, or kept filled hot.",
    VesselKind.HOSE_SET: "Dirty 1 h, rinsed.",
    VesselKind.FILLER: "Dirty 1 h, rinsed.",
    VesselKind.KEG_LINE: "Dirty 1 h, rinsed.",
    VesselKind.DRY_HOP_GEAR: "Dirty 1 h, rinsed.",
}


def hours_of(clock: HoldClock) -> Hours:
    return Hours(clock.dirty_hold_h, clock.clean_hold_h, clock.sanitised_hold_h)


@action("set hold clocks")
def set_hold_times(
    *, by: Actor, hold_times: Mapping[str, Hours], password: str
) -> Recorded[HoldClock]:
    """Set the hold times of some kinds of vessel, at once for every open turnaround.

    ``hold_times`` is by kind. Refused as a whole if one of them is out of range.
    """
    require(by, "edit_setup")
    sign(by=by, password=password, meaning="Set hold times")
    if not hold_times:
        raise Refusal("No hold time was changed.", code="unchanged")
    values = {}
    written = HoldClock()
    for kind, hours in hold_times.items():
        if kind not in VesselKind.values:
            raise Refusal(f"“{kind}” is not a kind of vessel.")
        for name, value in zip(Hours._fields, hours, strict=True):
            if not LEAST_H <= value <= MOST_H:
                with told():
                    raise Refusal(
                        f"Enter {LEAST_H} h to {digits(MOST_H, 'g')} h (a year).",
                        field=f"{kind}-{name}",
                        code="out_of_range",
                    )
        stored = HoldClock.objects.select_for_update().filter(vessel_kind=kind).first()
        before = hours_of(stored) if stored else DEFAULT_HOURS
        written = stored or HoldClock(vessel_kind=kind)
        written.dirty_hold_h, written.clean_hold_h, written.sanitised_hold_h = hours
        written.save()
        values[kind] = {"before": before._asdict(), "after": hours._asdict()}
    return Recorded(written, values)
