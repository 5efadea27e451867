"""Quantities in the units that the site chose, converted to the stored ones and back."""

import dataclasses
import re

from brewhygiene.brewery.models import Brewery, FlowUnit, TemperatureUnit, VolumeUnit
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import DECIMALS, style
from brewhygiene.quantities.units import LABELS, convert


@dataclasses.dataclass(frozen=True)
class Measure:
    """A quantity whose unit the site chooses; ``stored`` is the unit that is computed with."""

    stored: str

    @property
    def label(self) -> str:
        """The stored unit, as it is written."""
        return f"per {LABELS['hL']}" if self is PER_VESSEL else LABELS[self.stored]


TEMPERATURE = Measure("C")
FLOW = Measure("L/min")
VESSEL = Measure("hL")
# Money for so much of a volume.
PER_VESSEL = Measure("1/hL")
# Cleaning solutions are a hundredth of what is brewed: litres where vessels are in hL.
SOLUTION = Measure("L")

# By the decimal sign that a sentence is written with.
_IN_TEXT = {
    sign: re.compile(rf"(?P<number>[0-9][0-9{sign}]*) (?P<unit>L/min|hL|L|°C)(?![\w/·(])")
    for sign in DECIMALS
}
_MEASURE_OF = {measure.label: measure for measure in (TEMPERATURE, FLOW, VESSEL, SOLUTION)}


class SiteUnits:
    """The units of one site."""

    def __init__(self, brewery: Brewery) -> None:
        self.brewery = brewery

    @classmethod
    def named(cls, name: str) -> "SiteUnits | None":
        """The units called ``name`` (as :attr:`name` gives it), or ``None`` where it is none."""
        parts = name.split("_")
        known = (TemperatureUnit.values, VolumeUnit.values, FlowUnit.values)
        if len(parts) != len(known) or not all(
            part in values for part, values in zip(parts, known, strict=True)
        ):
            return None
        temperature, volume, flow = parts
        return cls(Brewery(temperature_unit=temperature, volume_unit=volume, flow_unit=flow))

    @property
    def name(self) -> str:
        """What an address says its numbers are in, as ``C_hL_L/min``."""
        chosen = self.brewery
        return f"{chosen.temperature_unit}_{chosen.volume_unit}_{chosen.flow_unit}"

    def unit(self, measure: Measure) -> str:
        """The key of the site's unit of ``measure``."""
        match measure.stored:
            case "C":
                return self.brewery.temperature_unit
            case "L/min":
                return self.brewery.flow_unit
            case "hL":
                return self.brewery.volume_unit
            case "1/hL":
                return f"1/{self.brewery.volume_unit}"
        return "L" if self.brewery.volume_unit == VolumeUnit.HL else "gal"

    def label(self, measure: Measure) -> str:
        """The site's unit of ``measure``, as it is written."""
        if measure is PER_VESSEL:
            return f"per {LABELS[self.brewery.volume_unit]}"
        return LABELS[self.unit(measure)]

    def differs(self, measure: Measure) -> bool:
        """Whether the site reads ``measure`` in another unit than the stored one."""
        return self.unit(measure) != measure.stored

    def to_site(self, value: float, measure: Measure) -> float:
        """A stored value in the site's unit."""
        if measure is PER_VESSEL:
            return value * convert(1, self.brewery.volume_unit, "hL")
        return convert(value, measure.stored, self.unit(measure))

    def from_site(self, value: float, measure: Measure) -> float:
        """A value in the site's unit as it is stored."""
        if measure is PER_VESSEL:
            return value / convert(1, self.brewery.volume_unit, "hL")
        return convert(value, self.unit(measure), measure.stored)

    def shown(self, value: float, measure: Measure) -> tuple[str, str]:
        """A stored value as number and unit of the site; small solutions in mL."""
        if measure is SOLUTION and not self.differs(measure) and 0 < abs(value) < 1:
            return show_number(value * 1000), "mL"
        return show_number(self.to_site(value, measure)), self.label(measure)

    def words(self, value: float, measure: Measure) -> str:
        """A stored value as the site writes it: ``264.2 US gal``."""
        return " ".join(self.shown(value, measure))

    def difference(self, kelvin: float) -> tuple[str, str]:
        """A difference of temperature as number and unit of the site."""
        if self.differs(TEMPERATURE):
            return show_number(kelvin * 1.8, significant=3), "°F"
        return show_number(kelvin, significant=3), "K"

    def with_own_units(self, text: str) -> str:
        """A sentence, with the site's own unit in brackets where it differs."""

        def bracketed(match: re.Match[str]) -> str:
            measure = _MEASURE_OF[match["unit"]]
            if not self.differs(measure):
                return match[0]
            number = float(match["number"].rstrip(sign).replace(sign, "."))
            return f"{match[0]} ({self.words(number, measure)})"

        sign = style().decimal
        return _IN_TEXT[sign].sub(bracketed, text)
