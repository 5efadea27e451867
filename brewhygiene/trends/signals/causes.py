"""What to look at first, in the order in which a brewer looks. Common practice, no source."""

from brewhygiene.science.control.shapes import Factor

SOURCE = "Common practice, no source. In the order in which a brewer looks."

POINT = (
    "gasket",
    "valve not pulsed or opened during the clean",
    "dead leg",
    "shadow of the spray device",
    "damaged weld",
)
VESSEL = (
    "spray device blocked or its flow too low",
    "wrong pump setting",
    "temperature lost in a big vessel",
    "soil dried on: dirty-hold time",
)
ALL_VESSELS = (
    "solution weak or carbonated",
    "titrant or strip wrong",
    "water",
    "regime changed",
)
METER_OR_LOT = ("meter", "lot of ATP tests", "storage of the ATP tests", "control check")
PERSON = ("sampling technique, steps skipped: look at the method together",)
CREEP = ("beerstone: acid interval", "fouled heat exchanger", "worn seals")
LOW_TESTS = (
    "ATP tests kept too warm or too long: read a fresh lot beside it",
    "ATP tests read cold, before they had warmed up",
)
LOW_METER = ("meter gone dim or its window dirty: control check", "temperature of the meter")
LOW_CLEAN = ("residue of detergent or sanitiser that dims the light: look at the end of the rinse",)
FALL = (
    "residue of detergent or sanitiser that dims the light: look at the end of the rinse",
    "meter or ATP tests: control check, storage",
    "an improvement that nobody recorded: then start a new phase",
)

BY_FACTOR: dict[Factor, tuple[str, ...]] = {
    "point": POINT,
    "vessel": VESSEL,
    "agent_lot": ALL_VESSELS,
    "regime": ALL_VESSELS,
    "week": ALL_VESSELS,
    "brewery": (*ALL_VESSELS, *METER_OR_LOT),
    "meter": METER_OR_LOT,
    "test_lot": METER_OR_LOT,
    "person": PERSON,
}

SHAPES: dict[Factor, str] = {
    "point": "one point of one vessel",
    "vessel": "all points of one vessel",
    "agent_lot": "all vessels, one agent lot",
    "regime": "all vessels, one regime",
    "week": "all vessels, one week",
    "brewery": "all vessels",
    "meter": "all vessels, one meter",
    "test_lot": "all vessels, one lot of ATP tests",
    "person": "how samples are taken",
}


def causes_of(factor: Factor, *, creeping: bool) -> tuple[str, ...]:
    """What to check, the likeliest first; what creeps comes before the rest where it is slow."""
    found = BY_FACTOR[factor]
    return (*CREEP, *found) if creeping and factor in ("point", "vessel", "brewery") else found


def low_causes_of(factor: Factor) -> tuple[str, ...]:
    """What to check where all that share something read too low: it may mask dirt."""
    own: dict[Factor, tuple[str, ...]] = {
        "test_lot": (*LOW_TESTS, *LOW_METER),
        "meter": (*LOW_METER, *LOW_TESTS),
        "agent_lot": LOW_CLEAN,
        "regime": LOW_CLEAN,
        "person": PERSON,
    }
    return own.get(factor, (*LOW_METER, *LOW_TESTS, *LOW_CLEAN))
