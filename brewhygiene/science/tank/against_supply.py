"""Whether a rinse has reached its end: its pH or conductivity beside the supply water's."""

import dataclasses
from typing import Literal

from brewhygiene.quantities.style import digits

Decision = Literal["met", "not_met", "ask_supply", "question_supply"]

# As far as a rinse may differ from its supply. Common practice, no source; that it is compared
# with the supply at all is asked by the draught manual, which wants the tap's own pH.
PH_TOLERANCE = 0.5
CONDUCTIVITY_TOLERANCE_MS_CM = 0.05
# EU drinking water, indicator parameter: Directive (EU) 2020/2184, Annex I, part C (from memory;
# the same values of 98/83/EC were read in a water authority's list).
LEGAL_SUPPLY_PH = (6.5, 9.5)
# Craft Brewer's Guide to Best Practices, vol. 2: the last rinse at pH 6 to 8.
NEUTRAL_PH = (6.0, 8.0)
# A rinse is the supply and what is left in it: much less means other water or a wrong meter.
# Common practice, no source.
LEAST_SHARE_OF_SUPPLY = 0.8


@dataclasses.dataclass(frozen=True)
class Judgement:
    """What was decided, and why in words ('' where the end is met)."""

    says: Decision
    why: str = ""


def neutral(ph: float) -> Judgement:
    """By the window of 6 to 8 alone; ``ph`` is the pH read of the rinse (pH, no unit).

    >>> neutral(7.2).says, neutral(11.3).says
    ('met', 'not_met')
    """
    low, high = NEUTRAL_PH
    if ph > high:
        return Judgement("not_met", f"above {digits(high, 'g')}: caustic is left")
    if ph < low:
        return Judgement("not_met", f"below {digits(low, 'g')}: acid is left")
    return Judgement("met")


def same_ph(ph: float, *, supply_ph: float | None) -> Judgement:
    """Beside the supply's of the same day.

    ``ph`` and ``supply_ph`` are pH as read (no unit); ``supply_ph`` is ``None`` if it was not.
    """
    if supply_ph is None:
        return Judgement("ask_supply", "the supply water's pH of today is not read")
    low, high = LEGAL_SUPPLY_PH
    if not low <= supply_ph <= high:
        return Judgement(
            "question_supply",
            f"the supply read pH {digits(supply_ph, 'g')}; drinking water is "
            f"{digits(low, '')} to {digits(high, '')}",
        )
    # Floats of one decimal: 7.6 and 7.1 are 0.5 apart.
    if round(abs(ph - supply_ph), 6) <= PH_TOLERANCE:
        return Judgement("met")
    left = "caustic" if ph > supply_ph else "acid"
    return Judgement(
        "not_met",
        f"more than {digits(PH_TOLERANCE, 'g')} from the supply's pH {digits(supply_ph, 'g')}: "
        f"{left} is left",
    )


def same_conductivity(conductivity_ms_cm: float, *, supply_ms_cm: float | None) -> Judgement:
    """By how far ``conductivity_ms_cm`` lies above ``supply_ms_cm`` of the same day, in mS/cm.

    ``supply_ms_cm`` is ``None`` if it was not read.

    +0.05 mS/cm is 8 to 14 mg/L of sodium hydroxide, but over 100 mg/L of nitric acid while
    bicarbonate lasts (computed for a closed carbonate system at 25 °C): an acid rinse is better
    judged by its pH.
    """
    if supply_ms_cm is None:
        return Judgement("ask_supply", "the supply water's conductivity of today is not read")
    if conductivity_ms_cm < LEAST_SHARE_OF_SUPPLY * supply_ms_cm:
        return Judgement(
            "question_supply",
            f"well below the supply's {digits(supply_ms_cm, 'g')} mS/cm: other water, or a "
            "wrong meter",
        )
    if round(conductivity_ms_cm - supply_ms_cm, 6) <= CONDUCTIVITY_TOLERANCE_MS_CM:
        return Judgement("met")
    return Judgement(
        "not_met",
        f"more than {digits(CONDUCTIVITY_TOLERANCE_MS_CM, 'g')} mS/cm above the supply's "
        f"{digits(supply_ms_cm, 'g')}",
    )
