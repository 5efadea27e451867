"""What the air in a vessel must be before anybody enters it."""

import dataclasses


@dataclasses.dataclass(frozen=True)
class GasLimit:
    """The readings with which nobody enters: below ``low`` or above ``high``, both in %."""

    field: str
    name: str
    low: float
    high: float
    why: str
    source: str


# OSHA's figures. A local code may be stricter, and governs.
ATMOSPHERE = "29 CFR 1910.146, from memory"
GAS_LIMITS = (
    GasLimit(
        "oxygen_pct",
        "Oxygen",
        19.5,
        23.5,
        "Below 19.5 % people faint without warning. Above 23.5 % things burn.",
        ATMOSPHERE,
    ),
    GasLimit(
        "co2_pct",
        "CO2",
        0,
        0.5,
        "CO2 makes people unconscious even where there is oxygen enough.",
        "29 CFR 1910.1000, 5,000 ppm over a shift, from memory",
    ),
    GasLimit(
        "explosive_pct",
        "Flammable gas",
        0,
        10,
        "From 10 % of its lower explosive limit nobody enters.",
        ATMOSPHERE,
    ),
)


def unsafe_gas(readings: dict[str, float]) -> GasLimit | None:
    """The first limit that readings in % break, or ``None``; ``readings`` by field.

    The bounds themselves are safe, but for flammable gas, which has to be below its limit.
    """
    for limit in GAS_LIMITS:
        value = readings[limit.field]
        at_most = value < limit.high if limit.field == "explosive_pct" else value <= limit.high
        if not (value >= limit.low and at_most):
            return limit
    return None
