"""Rinses: a line pushed out, and a vessel rinsed continuously or in bursts."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.flow import BORES, WithBores, bore_fields
from brewhygiene.bench.measures import SOLUTION
from brewhygiene.science.tank.rinse import (
    PLUG_MARGIN,
    burst_rinse,
    bursts_for_reduction,
    plug_rinse,
    stirred_rinse,
)

REAL = (
    "A film on the wall neither mixes nor drains at once, so a real rinse takes longer. End the "
    "rinse by its conductivity."
)
LEVENSPIEL = "Levenspiel, Chemical Reaction Engineering, 3rd ed. (1999), ch. 13 (from memory)."


class PlugRinse(WithBores):
    """A line's contents pushed out with water."""

    slug = "rinse-line"
    title = "Rinse of a line"
    about = "Time and water to push a line out"
    fieldsets = (
        ("Flow", ("flow", "margin")),
        *BORES,
    )
    method = ("Plug flow, V / Q. " + LEVENSPIEL, "1.3 volumes: common practice, no source.")

    flow = fields.flow("Flow", initial=200.0)
    margin = fields.number("Line volumes to push through", high=100, initial=PLUG_MARGIN)
    bore_1, length_1 = bore_fields(1, 50, 60)

    def calculate(self, given: dict[str, Any]) -> Answer:
        rinse = plug_rinse(
            sections=self.sections(given), flow_l_min=given["flow"], margin=given["margin"]
        )
        return Answer(
            figures=(
                figure("time, with margin", rinse.time_s, "s", significant=3),
                Figure("water, with margin", *self.site.shown(rinse.water_l, SOLUTION)),
                Figure("line volume", *self.site.shown(rinse.volume_l, SOLUTION)),
                figure("time for one line volume", rinse.volume_s, "s", significant=3),
            ),
            working=(Working("Calculation", rinse.working),),
            warnings=(REAL,),
        )


class VesselRinse(Calculator):
    """A continuous rinse against bursts."""

    slug = "rinse-vessel"
    title = "Rinse of a vessel"
    about = "Water for a continuous rinse, or one in bursts"
    fieldsets = (
        ("Target", ("reduction",)),
        ("Continuous rinse", ("standing", "flow")),
        ("Bursts, drained in between", ("residual", "burst")),
    )
    method = ("Ideal mixing: ln(c₀ / c) volumes, and (r / (r + R))ⁿ for bursts. " + LEVENSPIEL,)
    refusal_fields = (
        ("reduction", ("reduction",)),
        ("number of bursts", ("burst",)),
        ("residue", ("residual",)),
        ("burst", ("burst",)),
        ("volume", ("standing",)),
        ("flow", ("flow",)),
    )

    reduction = fields.number("Reduction of the residue", unit="-fold", high=1e12, initial=1000)
    standing = fields.solution("Liquid standing in the vessel", initial=200)
    flow = fields.flow("Flow through the vessel", initial=100.0)
    residual = fields.solution("Liquid left after draining", initial=10,
                               hint="On the wall and at the bottom.")  # fmt: skip
    burst = fields.solution("Water per burst", initial=100)

    def calculate(self, given: dict[str, Any]) -> Answer:
        stirred = stirred_rinse(
            volume_l=given["standing"], flow_l_min=given["flow"], reduction=given["reduction"]
        )
        number = bursts_for_reduction(
            residual_l=given["residual"], burst_l=given["burst"], reduction=given["reduction"]
        )
        bursts = burst_rinse(residual_l=given["residual"], burst_l=given["burst"], bursts=number)
        return Answer(
            figures=(
                figure("number of bursts", number, significant=3,
                       note=f"{self.site.words(bursts.water_l, SOLUTION)} of water"),
                figure("reduction reached", bursts.reduction, "-fold"),
                Figure("continuous rinse, water", *self.site.shown(stirred.water_l, SOLUTION)),
                figure("continuous rinse, time", stirred.time_min, "min", significant=3),
            ),
            working=(Working("Continuous rinse", stirred.working),
                     Working("Bursts", bursts.working)),
            warnings=(REAL,),
        )  # fmt: skip
