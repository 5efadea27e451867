"""Whether a tank is purged of carbon dioxide: by the air driven through it, or by its reading.

References
----------
.. [1] An ideally mixed volume swept by n volumes of air keeps the share e^-n of what was in it
   (mass balance; the same sum as :func:`brewhygiene.science.tank.tank_gas.purge_volumes`).
.. [2] That five volumes are asked for, and 1 % at the bottom outlet: common practice, no source.
"""

import math
from collections.abc import Sequence

from brewhygiene.quantities.style import digits
from brewhygiene.science.errors import require
from brewhygiene.science.tank.against_supply import Judgement

# Five tank volumes leave e^-5, 0.7 %, when mixed [1]_, [2]_.
VOLUMES_ASKED = 5.0
# Read at the bottom outlet, where carbon dioxide lies longest, % by volume [2]_.
MOST_CO2_PCT = 1.0


def share_left(volumes: float) -> float:
    """Share of carbon dioxide left after ``volumes`` tank volumes of air, ideally mixed [1]_.

    ``volumes`` from 0. Raises :class:`OutOfRange`.

    >>> round(100 * share_left(5), 2)  # %
    0.67
    """
    require("volumes of air", volumes, minimum=0)
    return math.exp(-volumes)


def minutes_to_purge(*, volume_hl: float, air_m3_h: float) -> float:
    """Minutes for five tank volumes of air, min, at a steady flow.

    ``volume_hl`` hL above 0; ``air_m3_h`` m³/h above 0, as the fan or the flow meter shows it.
    Raises :class:`OutOfRange`.

    >>> minutes_to_purge(volume_hl=60, air_m3_h=180)  # 30 m³
    10.0
    """
    require("volume", volume_hl, unit="hL", minimum=0, above=True)
    require("flow of air", air_m3_h, unit="m³/h", minimum=0, above=True)
    return VOLUMES_ASKED * volume_hl / 10 / air_m3_h * 60


def air_through_m3(readings: Sequence[tuple[float, float]], *, until_s: float) -> float:
    """Air driven through by ``until_s`` (s), m³: each reading counts until the next one.

    ``readings`` are moments in s and flows in m³/h, in order; before the first nothing counts.

    >>> air_through_m3([(0, 60), (600, 30)], until_s=1800)  # 10 m³ and 10 m³
    20.0
    """
    if not readings:
        return 0.0
    ends = [*(at_s for at_s, _ in readings[1:]), until_s]
    return sum(
        max(0.0, min(end, until_s) - at_s) * flow / 3600
        for (at_s, flow), end in zip(readings, ends, strict=True)
    )


def purged(*, volume_hl: float, air_m3: float | None, co2_pct: float | None) -> Judgement:
    """Whether a tank of ``volume_hl`` (hL, above 0) is purged.

    ``co2_pct`` is what was read last at the bottom outlet, % by volume, and counts where it was
    read; else ``air_m3``, m³ of air driven through since its flow was read. ``None`` is not read.
    """
    require("volume", volume_hl, unit="hL", minimum=0, above=True)
    if co2_pct is not None:
        if co2_pct <= MOST_CO2_PCT:
            return Judgement("met")
        return Judgement("not_met", f"above {digits(MOST_CO2_PCT, 'g')} % CO2 at the bottom outlet")
    if air_m3 is None:
        return Judgement("not_met", "neither CO2 nor the air flow was read")
    volumes = air_m3 / (volume_hl / 10)
    # Floats of seconds: five volumes to the last litre are five.
    if round(volumes, 6) >= VOLUMES_ASKED:
        return Judgement("met")
    return Judgement(
        "not_met",
        # Never upwards: five volumes are not said before they are through.
        f"{digits(math.floor(volumes * 10) / 10, 'g')} of {digits(VOLUMES_ASKED, 'g')} tank "
        "volumes of air so far, "
        f"which leaves {digits(100 * share_left(volumes), '.1f')} % CO2 when mixed",
    )
