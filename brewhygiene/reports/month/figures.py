"""The monthly report's small charts: each vessel's readings as a share of their action limit."""

from brewhygiene.atp.models.readings import Verdict
from brewhygiene.drawing.figure import Axis, Dots, Figure, Ink, Level, Panel, Shape, Table
from brewhygiene.reports.month.build import VesselMonth, charted_since
from brewhygiene.trends.turns.periods import Period

# What is beyond is drawn at the top edge, pointing up.
MOST_PERCENT = 150.0
LOOKS: dict[str, tuple[str, Ink, Shape, float]] = {
    Verdict.CLEAR: ("clear", "blue", "disc", 4.0),
    Verdict.ALERT: ("alert", "purple", "diamond", 6.0),
    Verdict.ACTION: ("action", "vermilion", "square", 6.0),
}


def chart_keys() -> list[Dots]:
    """What the small charts' marks mean, for the key above them."""
    looks = [
        Dots(x=(), y=(), name=name, ink=ink, shape=shape, size=size + 2)
        for name, ink, shape, size in LOOKS.values()
    ]
    beyond = f"beyond {MOST_PERCENT:.0f} %"
    return [*looks, Dots(x=(), y=(), name=beyond, ink="vermilion", shape="up", size=8)]


def vessel_figure(line: VesselMonth, period: Period) -> Figure | None:
    """The small chart of one vessel, or ``None`` where nothing judged was read."""
    if not line.charted:
        return None
    marks: list[Dots | Level] = [Level(y=100, ink="vermilion")]
    for verdict, (name, ink, shape, size) in LOOKS.items():
        own = [reading for reading in line.charted if reading.verdict == verdict]
        within = [reading for reading in own if reading.share * 100 <= MOST_PERCENT]
        beyond = [reading for reading in own if reading.share * 100 > MOST_PERCENT]
        if within:
            marks.append(
                Dots(
                    x=[reading.taken_at for reading in within],
                    y=[reading.share * 100 for reading in within],
                    name=name,
                    ink=ink,
                    shape=shape,
                    size=size,
                )
            )
        if beyond:
            marks.append(
                Dots(
                    x=[reading.taken_at for reading in beyond],
                    y=[MOST_PERCENT - 4.0] * len(beyond),
                    name=name,
                    ink=ink,
                    shape="up",
                    size=6.0,
                )
            )
    return Figure(
        name=f"vessel-{line.vessel.pk}",
        caption=line.vessel.name,
        says=f"{len(line.charted)} readings as a share of their action limit.",
        panels=[
            Panel(
                x=Axis(kind="time", low=charted_since(period), high=period.until),
                y=Axis(
                    low=0,
                    high=MOST_PERCENT,
                    ticks=((0.0, "0"), (50.0, "50"), (100.0, "100 %"), (150.0, "")),
                ),
                marks=marks,
            )
        ],
        table=Table(headings=(), rows=()),
        height_px=104,
    )
