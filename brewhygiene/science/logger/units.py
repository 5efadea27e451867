"""What a logger may write, in which units, and what could be so at all.

Factors are exact by definition: the US gallon is 3.785411784 L, the foot 0.3048 m, the psi
6.894757293168361 kPa.
"""

import dataclasses

GALLON_L = 3.785411784


@dataclasses.dataclass(frozen=True)
class LoggedQuantity:
    """A quantity that a logger writes; its key ends in the unit that it is kept in.

    ``units`` maps a unit's name to factor and offset: kept = written · factor + offset. A value
    outside ``least`` to ``most`` (in the kept unit) is a fault of the sensor, not a reading.
    """

    key: str
    label: str
    unit: str
    least: float
    most: float
    units: dict[str, tuple[float, float]]


_ALL = (
    LoggedQuantity(
        "temperature_c", "temperature", "°C", -50, 250,
        {"°C": (1, 0), "°F": (5 / 9, -160 / 9), "K": (1, -273.15)},
    ),
    LoggedQuantity(
        "flow_l_min", "flow", "L/min", -10_000, 100_000,
        {
            "L/min": (1, 0), "L/h": (1 / 60, 0), "L/s": (60, 0), "hL/h": (100 / 60, 0),
            "m³/h": (1000 / 60, 0), "gpm": (GALLON_L, 0),
        },
    ),
    LoggedQuantity(
        "conductivity_ms_cm", "conductivity", "mS/cm", -1, 2000,
        {"mS/cm": (1, 0), "µS/cm": (0.001, 0), "S/m": (10, 0), "mS/m": (0.01, 0)},
    ),
    LoggedQuantity("ph", "pH", "", -2, 16, {"pH": (1, 0)}),
    LoggedQuantity(
        "velocity_m_s", "line velocity", "m/s", -50, 50, {"m/s": (1, 0), "ft/s": (0.3048, 0)}
    ),
    LoggedQuantity(
        "pressure_bar", "pressure", "bar", -2, 200,
        {
            "bar": (1, 0), "mbar": (0.001, 0), "kPa": (0.01, 0), "Pa": (1e-5, 0),
            "psi": (0.06894757293168361, 0),
        },
    ),
    LoggedQuantity("concentration", "strength", "%", -1, 100, {"%": (1, 0)}),
)  # fmt: skip

QUANTITIES: dict[str, LoggedQuantity] = {quantity.key: quantity for quantity in _ALL}
