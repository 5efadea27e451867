"""The invented brewery's paper year: what was carried over, and what the head brewer made of it."""

from collections import Counter
from datetime import timedelta

import pytest
from django.db.models import Count, Q

from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.moments import STATED_MOMENTS, SamplingMoment
from brewhygiene.demo.paper_year.faults import (
    CAUSTIC_LOT,
    FAULTS,
    METER_AWAY,
    METER_BACK,
    Code,
    fault_of,
)
from brewhygiene.ledger.models import Entry
from brewhygiene.plates.models import Plate
from brewhygiene.turnarounds.models import Clean, LoggerFile, StepReading, StepRecord, Turnaround
from tests.demo.conftest import NOW

pytestmark = pytest.mark.usefixtures("said")
PAPER = Q(emptying__note__startswith="Carried over")


def test_every_line_of_the_log_is_one_entry_of_the_ledger() -> None:
    entries = Entry.objects.filter(verb="carry over from paper")
    lines = Turnaround.objects.filter(PAPER)
    assert lines.count() >= 300
    assert sorted(entries.values_list("aggregate", flat=True)) == sorted(
        f"turnaround:{pk}" for pk in lines.values_list("pk", flat=True)
    )
    (first,) = entries.order_by("id")[:1]
    assert first.values["page"] == "page 1, line 2"


def test_every_line_was_emptied_cleaned_sampled_released_and_filled() -> None:
    lines = Turnaround.objects.filter(PAPER).annotate(
        finished=Count("cleans", filter=Q(cleans__finished_at__isnull=False), distinct=True),
        released=Count("decisions", filter=Q(decisions__outcome="release"), distinct=True),
    )
    assert {(line.finished in (1, 2), line.released) for line in lines} == {(True, 1)}
    assert lines.filter(closed_at=None).count() == 0
    order = [
        line.emptying.fill is None or line.emptying.fill.filled_at < line.opened_at
        for line in lines.select_related("emptying__fill")
    ]
    assert all(order)


def test_turn_over_the_limit_was_held_cleaned_again_and_its_cause_written_down() -> None:
    over = Turnaround.objects.filter(PAPER, results__verdict="action").distinct()
    assert over.count() >= 5
    for line in over:
        assert [decision.outcome for decision in line.decisions.all()] == ["hold", "release"]
        assert line.found_causes.count() == 1
        assert line.cleans.count() == 2


def test_clean_places_read_low_with_many_zeros() -> None:
    """Days before the first fault; common practice, no source."""
    before = NOW - timedelta(days=FAULTS[0].begins + 1)
    read = list(Result.objects.filter(taken_at__lt=before).values_list("rlu", flat=True))
    assert len(read) > 500
    assert sum(rlu <= 6 for rlu in read) / len(read) > 0.85
    assert 0.1 < sum(rlu == 0 for rlu in read) / len(read) < 0.4
    mean = sum(read) / len(read)
    assert sum((rlu - mean) ** 2 for rlu in read) / len(read) > 2 * mean


def test_weak_caustic_was_titrated_low_on_every_vessel_of_its_week() -> None:
    fault = fault_of(Code.CAUSTIC)
    records = StepRecord.objects.filter(agent_lot=CAUSTIC_LOT)
    begins, ends = (NOW - timedelta(days=day) for day in (fault.begins, fault.ends))
    assert {begins <= record.started_at <= ends for record in records} == {True}
    vessels = {record.clean.turnaround.vessel.name for record in records}
    assert {"FV 1", "FV 2", "FV 3", "FV 4", "FV 5"} <= vessels
    strengths = StepReading.objects.filter(record__in=records, quantity="concentration")
    assert {reading.value < 2 for reading in strengths} == {True}


def test_meter_b_was_used_while_meter_a_was_away_and_nothing_was_judged() -> None:
    away = Result.objects.filter(
        turnaround__opened_at__gt=NOW - timedelta(days=METER_AWAY),
        turnaround__opened_at__lt=NOW - timedelta(days=METER_BACK + 1),
    )
    assert set(away.values_list("meter__name", "verdict")) == {("Meter B (lab)", "unjudged")}
    dim = fault_of(Code.METER)
    last = ControlCheck.objects.filter(
        meter__name="Meter A (cellar)",
        checked_at__gt=NOW - timedelta(days=dim.ends + 7),
        checked_at__lt=NOW - timedelta(days=dim.ends - 1),
    )
    usual = ControlCheck.objects.filter(
        meter__name="Meter A (cellar)", checked_at__lt=NOW - timedelta(days=dim.begins)
    )
    low, high = (
        sum(check.positive_rlu for check in checks) / len(checks) for checks in (last, usual)
    )
    assert 0.65 < low / high < 0.85


def test_plates_agree_with_the_swabs_and_disagree() -> None:
    pairs = Counter(
        (plate.state, bool(plate.over))
        for plate in Plate.objects.filter(
            turnaround__emptying__note__startswith="Carried over"
        ).annotate(
            over=Count("turnaround__results", filter=Q(turnaround__results__verdict="action"))
        )
    )
    assert set(pairs) == {
        ("negative", False),
        ("negative", True),
        ("positive", False),
        ("positive", True),
    }
    assert pairs["negative", False] > sum(pairs.values()) / 2


def test_limits_from_two_baselines_are_in_force_and_signed() -> None:
    in_force = LimitSet.objects.filter(
        retired_at=None, moment=SamplingMoment.BEFORE_SANITISER
    ).order_by("sample_kind")
    assert [(one.sample_kind, one.source, one.meter.name) for one in in_force] == [
        ("rinse", "baseline", "Meter A (cellar)"),
        ("surface", "baseline", "Meter A (cellar)"),
    ]
    # The maker's for the other moments: of readings there this baseline says nothing.
    others = LimitSet.objects.filter(retired_at=None).exclude(pk__in=in_force)
    assert {one.source for one in others} == {"maker"}
    assert {one.moment for one in others} == {m for m, _ in STATED_MOMENTS} - {"before_sanitiser"}
    assert {one.approval.user.username for one in in_force if one.approval} == {"mara"}
    assert {one.baseline_id is not None and one.figures is not None for one in in_force} == {True}
    assert LimitSet.objects.filter(source="maker").exclude(retired_at=None).count() == 2


def test_bridge_between_the_meters_waits_to_be_signed() -> None:
    bridge = Bridge.objects.get()
    assert (bridge.reference_meter.name, bridge.new_meter.name) == (
        "Meter A (cellar)",
        "Meter B (lab)",
    )
    assert bridge.approved_at is None
    whole = bridge.pairs.filter(reference_rlu__isnull=False, new_rlu__isnull=False)
    assert (whole.count(), bridge.pairs.count()) == (36, 37)
    assert set(Meter.objects.values_list("active", flat=True)) == {True}


def test_one_clean_of_today_has_its_loggers_file() -> None:
    logger_file = LoggerFile.objects.get()
    assert logger_file.clean == Clean.objects.get(
        turnaround__vessel__name="FV 5", pk=logger_file.clean_id
    )
    placed = [step["choice"].split(":")[0] for step in logger_file.evaluation["steps"]]
    assert placed.count("phase") == 6
    assert logger_file.evaluation["rows"]["kept"] > 600
