"""Whether the tool finds what was wrong in the demonstration's paper year, how soon, and how often
it gives a false alarm.

``python -m tests.simulation.faults`` writes ``fixtures/simulation/faults.md`` anew. The records are
looked at as they stood on the evening of every day: what was read, repaired or checked later is
taken away first, and the pages' own queries are asked.
"""

import contextlib
import dataclasses
import os
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brewhygiene.atp.phases.series import PointPhase
    from brewhygiene.demo.paper_year.faults import Fault
    from brewhygiene.trends.signals.suspects import Compared

TABLE = Path(__file__).parents[2] / "fixtures" / "simulation" / "faults.md"
NOW = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
EVENING = timedelta(hours=21)


@dataclasses.dataclass(frozen=True)
class Found:
    """A fault and the first page that names it: what it says, and after how many cleans.

    ``charted`` is the first control chart that said something, with its rule and its cleans.
    """

    fault: str
    page: str
    signal: str
    cleans: int
    days: int
    charted: str


@dataclasses.dataclass(frozen=True)
class Alarms:
    """Points that signalled while nothing was wrong, and how many were to be expected."""

    points: int
    readings: int
    alarmed: tuple[str, ...]
    expected: float
    suspects: tuple[str, ...]
    evenings: int


@contextlib.contextmanager
def as_of(moment: datetime) -> Iterator[None]:
    """The records without what was read, repaired or checked after ``moment``."""
    from django.db import connection, transaction

    from brewhygiene.ledger import triggers

    with transaction.atomic():
        triggers.remove()  # until the rollback below
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM brewhygiene_pointstanding")
            for table, column in (
                ("result", "taken_at"),
                ("partwork", "done_at"),
                ("controlcheck", "checked_at"),
            ):
                cursor.execute(
                    f"DELETE FROM brewhygiene_{table} WHERE {column} > %s",  # noqa: S608
                    [moment.astimezone(UTC).replace(tzinfo=None)],
                )
        yield
        transaction.set_rollback(True)


def evening(days_ago: int) -> datetime:
    return NOW.replace(hour=0, minute=0) + EVENING - timedelta(days=days_ago)


def _compared(moment: datetime) -> "Compared":
    from brewhygiene.trends.signals.standing import standings
    from brewhygiene.trends.signals.suspects import compare

    return compare(standings(moment), until=moment)


def _named(factor: str, level: str, *, low: bool = False) -> Callable[[datetime], str]:
    """Whether the pages of signals name a level of what is shared, and in which words."""

    def look(moment: datetime) -> str:
        from brewhygiene.trends.signals.suspects import suspect_words

        compared = _compared(moment)
        suspects = compared.shapes.suspects if compared.shapes else ()
        for suspect in compared.low if low else suspects:
            for rise in (suspect.rise, *suspect.alike):
                if rise.factor == factor and level in rise.level:
                    way = "reads too low: " if low else ""
                    title = suspect_words(suspect, low=low).title
                    return f"{way}{title} ({factor.replace('_', ' ')})"
        return ""

    return look


def _worse(point: str) -> Callable[[datetime], str]:
    """Whether the page of signals ranks a point among those that get worse, by which rule."""

    def look(moment: datetime) -> str:
        from brewhygiene.trends.signals.standing import standings

        for row in standings(moment):
            if str(row.point) == point and row.evidence > 1:
                return f"One point: {point} ({row.rule.upper()})"
        return ""

    return look


def _drifts(meter: str) -> Callable[[datetime], str]:
    def look(moment: datetime) -> str:
        from brewhygiene.atp.meters.drift import check_charts
        from brewhygiene.atp.models.meters import Meter

        found = Meter.objects.get(name=meter)
        return "; ".join(
            f"{one.side} control reads {'lower' if one.direction == 'down' else 'higher'}"
            for one in check_charts([found], now=moment)[found.pk].drifts
        )

    return look


def touched(fault: "Fault") -> list[tuple[datetime, int]]:
    """When a reading that a fault touches was taken, and after which clean; in time order."""
    from brewhygiene.atp.models.readings import Result
    from brewhygiene.demo.paper_year.faults import Code

    found = Result.objects.filter(
        turnaround__opened_at__gt=NOW - timedelta(days=fault.begins + 1),
        turnaround__opened_at__lt=NOW - timedelta(days=fault.ends - 1),
    )
    if fault.vessel:
        found = found.filter(point__vessel__name=fault.vessel)
    if fault.point:
        found = found.filter(point__name=fault.point)
    if fault.agent_lot:
        found = found.filter(clean__step_records__agent_lot=fault.agent_lot)
    if fault.test_lot:
        found = found.filter(test_lot__lot=fault.test_lot)
    if fault.code == Code.METER:
        found = found.filter(meter__name="Meter A (cellar)")
    rows = found.order_by("taken_at").values_list("taken_at", "clean_id", "turnaround__opened_at")
    return [(taken, clean) for taken, clean, opened in rows if fault.on_at(_days_ago(opened))]


def _days_ago(moment: datetime) -> int:
    from django.utils import timezone

    return (timezone.localtime(NOW).date() - timezone.localtime(moment).date()).days


def search() -> list[Found]:
    """Every fault, with the first evening on which a page names it."""
    from brewhygiene.demo.paper_year.faults import FAULTS, Code

    looks: dict[str, tuple[str, Callable[[datetime], str]]] = {
        Code.SPRAY: ("signals", _named("vessel", "FV 4")),
        Code.GASKET: ("signals", _worse("BT 2, Manway gasket")),
        Code.CAUSTIC: ("signals", _named("agent_lot", "C-0417")),
        Code.STICKS: ("signals", _named("test_lot", "S-0388", low=True)),
        Code.SEAT: ("signals", _worse("BT 1, Sample valve")),
        Code.METER: ("meters", _drifts("Meter A (cellar)")),
    }
    found = []
    for fault in FAULTS:
        page, look = looks[fault.code]
        readings = touched(fault)
        onset = readings[0][0]
        for days_ago in range(fault.begins, max(-1, fault.ends - 15), -1):
            moment = min(evening(days_ago), NOW)
            if moment < onset:
                continue
            with as_of(moment):
                signal = look(moment)
            if signal:
                cleans = len({clean for taken, clean in readings if taken <= moment})
                days = (moment - onset).days
                found.append(Found(fault.words, page, signal, cleans, days, charted(fault)))
                break
        else:
            found.append(Found(fault.words, page, "NOT FOUND", 0, 0, charted(fault)))
    return [*found, search_swap()]


def search_swap() -> Found:
    """Meter B in the place of meter A: readings of another scale, which nobody has limits for."""
    from brewhygiene.atp.models.readings import Result
    from brewhygiene.demo.paper_year.faults import METER_AWAY, METER_BACK
    from brewhygiene.trends.turns.facts import Why, turn_facts

    swapped = list(
        Result.objects.filter(
            meter__name="Meter B (lab)",
            turnaround__opened_at__gt=NOW - timedelta(days=METER_AWAY + 1),
            turnaround__opened_at__lt=NOW - timedelta(days=METER_BACK - 1),
        )
        .order_by("taken_at")
        .values_list("taken_at", "clean_id")
    )
    onset = swapped[0][0]
    words = "a meter swap: meter B, whose scale is another, in the place of meter A"
    for days_ago in range(METER_AWAY + 1, METER_BACK, -1):
        moment = evening(days_ago)
        if moment < onset:
            continue
        with as_of(moment):
            facts = turn_facts(since=onset - timedelta(days=1), until=moment)
        if unjudged := [fact for fact in facts if fact.why == Why.UNJUDGED]:
            signal = f"not judged, {unjudged[0].vessel_name}: {Why.UNJUDGED.words}"
            cleans = len({clean for taken, clean in swapped if taken <= moment})
            days = (moment - onset).days
            return Found(words, "overview", signal, cleans, days, "a scale and phase of its own")
    return Found(words, "overview", "NOT FOUND", 0, 0, "")


def charted(fault: "Fault") -> str:
    """The first signal that began with it on a touched point's own chart, and at which clean."""
    touched_at = {taken for taken, _ in touched(fault)}
    down = fault.times < 1
    firsts = []
    for phase, judged in _charts():
        ours = [n for n, reading in enumerate(phase.readings) if reading.taken_at in touched_at]
        if not ours:
            continue
        for signal in judged.signals:
            began = ours[0] <= signal.since and signal.found <= ours[-1]
            if began and signal.direction == ("down" if down else "up"):
                reading = phase.readings[signal.found]
                cleans = sum(n <= signal.found for n in ours)
                firsts.append((reading.taken_at, cleans, signal.rule, reading.point_id))
    if not firsts:
        return "none"
    from brewhygiene.cellar.models import SamplingPoint

    _, cleans, rule, point_id = min(firsts)
    number = len({point for *_, point in firsts})
    point = SamplingPoint.objects.select_related("vessel").get(pk=point_id)
    return f"{point}: {rule}, clean {cleans} ({number} point{'s' if number > 1 else ''} in all)"


def _charts() -> Iterator[tuple["PointPhase", object]]:
    from brewhygiene.atp.phases.series import series_of_points
    from brewhygiene.cellar.models import SamplingPoint
    from brewhygiene.trends.charting import charts_of

    for series in series_of_points(SamplingPoint.objects.values_list("pk", flat=True)):
        for chart in charts_of(series):
            if chart.judged is not None:
                yield chart.phase, chart.judged


def false_alarms() -> Alarms:
    """Upward signals of points while nothing touched them, and suspects that were none."""
    from brewhygiene.cellar.models import SamplingPoint
    from brewhygiene.demo.paper_year.faults import BASELINE_ENDS, FAULTS, PAPER_ENDS, SLIPS
    from brewhygiene.science.control.run_length import false_alarm_chance

    at_fault = {(taken, clean) for fault in FAULTS for taken, clean in touched(fault)}
    bad = {taken for taken, _ in at_fault}
    slips = {(slip.vessel, slip.point) for slip in SLIPS}
    names = {
        point.pk: (point.vessel.name, point.name)
        for point in SamplingPoint.objects.select_related("vessel")
    }
    until = NOW - timedelta(days=PAPER_ENDS - 1)
    points = readings = 0
    expected, alarmed = 0.0, []
    for phase, judged in _charts():
        name = names[phase.readings[0].point_id]
        good = [
            n
            for n, reading in enumerate(phase.readings)
            if n >= judged.judged_from and reading.taken_at not in bad and reading.taken_at < until
        ]
        if not good or name in slips:
            continue
        points += 1
        readings += len(good)
        expected += false_alarm_chance(readings=len(good), baseline=judged.limits.used)
        rules = sorted(
            {
                signal.rule
                for signal in judged.signals
                if signal.direction == "up"
                and set(range(signal.since, signal.found + 1)) <= set(good)
            }
        )
        if rules:
            alarmed.append(f"{', '.join(name)} ({', '.join(rules)})")
    suspects, evenings = set(), 0
    guilty = ("C-0417", "S-0388", "FV 4", "BT 2, Manway gasket", "BT 1, Sample valve")
    for days_ago in range(BASELINE_ENDS, PAPER_ENDS, -7):
        evenings += 1
        with as_of(evening(days_ago)):
            compared = _compared(evening(days_ago))
        for one in (*(compared.shapes.suspects if compared.shapes else ()), *compared.low):
            levels = [rise.level for rise in (one.rise, *one.alike)]
            if not any(name in level for name in guilty for level in levels):
                suspects.add(f"{one.rise.factor} {one.rise.level}")
    return Alarms(points, readings, tuple(alarmed), expected, tuple(sorted(suspects)), evenings)


def alarm_words(alarms: Alarms) -> str:
    return (
        f"False alarms: {len(alarms.alarmed)} of {alarms.points} points signalled, though nothing "
        f"was wrong with their {alarms.readings} judged readings. By their run lengths "
        f"(`science/control/run_length.py`) at most {alarms.expected:.1f} are expected."
    )


def suspect_words(alarms: Alarms) -> str:
    named = "; ".join(alarms.suspects) or "none"
    return (
        f"Looked at once a week on {alarms.evenings} evenings, the signals suspected what was not "
        f"at fault: {named}."
    )


def table(found: list[Found], alarms: Alarms) -> str:
    """Both outcomes as a page of Markdown."""
    lines = [
        "# What finds the faults of the demonstration's paper year",
        "",
        "Invented data; the faults are in `brewhygiene/demo/paper_year/faults.py`. Written by",
        "`python -m tests.simulation.faults`; a test in `tests/demo/` holds it up to date.",
        "",
        "| fault | page | what it says first | cleans after onset | days | first control chart |",
        "|---|---|---|---:|---:|---|",
        *(
            f"| {one.fault} | {one.page} | {one.signal} | {one.cleans} | {one.days} "
            f"| {one.charted} |"
            for one in found
        ),
        "",
        alarm_words(alarms),
        "",
        *(f"- {one}" for one in alarms.alarmed),
        "",
        suspect_words(alarms),
        "",
    ]
    return "\n".join(lines)


def main() -> None:
    """Fill an empty database with the demonstration, search it and write the page."""
    with tempfile.TemporaryDirectory(prefix="brewhygiene-faults-") as folder:
        os.environ |= {"DATA_DIR": folder, "DATABASE_URL": ""}
        os.environ["DJANGO_SETTINGS_MODULE"] = "brewhygiene.settings"
        import django

        django.setup()
        from django.core.management import call_command
        from django.utils import timezone

        from brewhygiene.demo.brewery import TIME_ZONE
        from brewhygiene.demo.seeding import seed

        call_command("migrate", verbosity=0)
        seed(now=NOW, say=lambda line: None)
        timezone.activate(TIME_ZONE)
        TABLE.write_text(table(search(), false_alarms()))


if __name__ == "__main__":
    main()
