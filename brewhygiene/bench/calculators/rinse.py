"""Rinses: pushing a line out, and a vessel stirred through or rinsed in bursts."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.flow import BORE_PARTS, WithBores, bore_fields
from brewhygiene.bench.measures import SOLUTION
from brewhygiene.science.tank.rinse import (
    PLUG_MARGIN,
    burst_rinse,
    bursts_for_reduction,
    plug_rinse,
    stirred_rinse,
)

REAL = (
    "A real vessel is none of the models: a film on the wall neither mixes nor drains at once. "
    "End the rinse by its conductivity, not by its sum."
)
LEVENSPIEL = "Levenspiel, Chemical Reaction Engineering, 3rd ed. (1999), ch. 13 (from memory)."


class PlugRinse(WithBores):
    """Pushing a line's contents out."""

    slug = "rinse-line"
    title = "Push a line out with water"
    question = "How long, and how much water, to push a line out?"
    parts = (
        ("The flow", ("flow", "margin")),
        ("The line, up to four bores in a row", BORE_PARTS),
    )
    method = ("Plug flow, V / Q. " + LEVENSPIEL, "1.3 volumes: common practice, no source.")

    flow = fields.flow("Flow", initial=200.0)
    margin = fields.number("Volumes to push through", high=100, initial=PLUG_MARGIN)
    bore_1, length_1 = bore_fields(1, 50, 60)
    bore_2, length_2 = bore_fields(2, None, None)
    bore_3, length_3 = bore_fields(3, None, None)
    bore_4, length_4 = bore_fields(4, None, None)

    def work(self, given: dict[str, Any]) -> Answer:
        rinse = plug_rinse(
            sections=self.sections(given), flow_l_min=given["flow"], margin=given["margin"]
        )
        return Answer(
            figures=(
                figure("time, with margin", rinse.time_s, "s", significant=3),
                Figure("water, with margin", *self.site.shown(rinse.water_l, SOLUTION)),
                Figure("the line holds", *self.site.shown(rinse.volume_l, SOLUTION)),
                figure("one volume takes", rinse.volume_s, "s", significant=3),
            ),
            working=(Sum("The sum", rinse.working),),
            warnings=(REAL,),
        )


class VesselRinse(Calculator):
    """Stirred through against bursts."""

    slug = "rinse-vessel"
    title = "Rinse a vessel: run through, or in bursts"
    question = "How much water does a rinse take: run through, or in bursts?"
    parts = (
        ("What is wanted", ("reduction",)),
        ("Run through a pool that stays", ("standing", "flow")),
        ("In bursts, drained in between", ("residual", "burst")),
    )
    method = ("Ideal mixing: ln(c₀ / c) volumes, and (r / (r + R))ⁿ for bursts. " + LEVENSPIEL,)
    blame = (
        ("reduction", ("reduction",)),
        ("number of bursts", ("burst",)),
        ("residue", ("residual",)),
        ("burst", ("burst",)),
        ("volume", ("standing",)),
        ("flow", ("flow",)),
    )

    reduction = fields.number("Bring the residue down", unit="-fold", high=1e12, initial=1000)
    standing = fields.solution("Liquid that stands in it", initial=200)
    flow = fields.flow("Flow through it", initial=100.0)
    residual = fields.solution("Stays behind after draining", initial=10,
                               hint="On the wall and in the bottom.")  # fmt: skip
    burst = fields.solution("Water in one burst", initial=100)

    def work(self, given: dict[str, Any]) -> Answer:
        stirred = stirred_rinse(
            volume_l=given["standing"], flow_l_min=given["flow"], reduction=given["reduction"]
        )
        number = bursts_for_reduction(
            residual_l=given["residual"], burst_l=given["burst"], reduction=given["reduction"]
        )
        bursts = burst_rinse(residual_l=given["residual"], burst_l=given["burst"], bursts=number)
        return Answer(
            figures=(
                figure("bursts", number, significant=3,
                       note=f"{self.site.words(bursts.water_l, SOLUTION)} of water"),
                figure("they bring it down", bursts.reduction, "-fold"),
                Figure("run through, water", *self.site.shown(stirred.water_l, SOLUTION)),
                figure("run through, time", stirred.time_min, "min", significant=3),
            ),
            working=(Sum("Run through", stirred.working), Sum("In bursts", bursts.working)),
            warnings=(REAL,),
        )  # fmt: skip
