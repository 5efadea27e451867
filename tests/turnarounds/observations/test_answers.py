"""What is answered at the end of a step: nothing is missing, and a no is a deviation."""

import hashlib
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.deviations.actions import dispose_deviation
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.observations import StepPhoto
from brewhygiene.turnarounds.observations.keeping import Seen
from brewhygiene.turnarounds.steps import actions
from tests import clock
from tests.factories import acting, add_step, make_version
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db
WELL = [Seen("looks_clean", yes=True), Seen("smells_clean", yes=True)]


@pytest.fixture
def floor() -> Floor:
    return Floor()


def running(floor: Floor, kind: str = "rinse", **values: Any) -> StepRecord:
    """A clean of one step, which runs for five minutes."""
    floor.version = make_version(steps=False)
    add_step(floor.version, StepKind(kind), **values)
    then = clock.now() - timedelta(minutes=5)
    return floor.running_step(floor.started(floor.emptied(now=then), now=then), 1, now=then)


def end(floor: Floor, record: StepRecord, *seen: Seen, **values: Any) -> StepRecord:
    by = acting(floor.hand, now=clock.now())
    return actions.end_step(by=by, record=record, observations=seen, **values)


def refusal(floor: Floor, record: StepRecord, *seen: Seen, **values: Any) -> Refusal:
    """Having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        end(floor, record, *seen, **values)
    record.refresh_from_db()
    assert (record.ended_at, record.observations) == (None, None)
    assert (Entry.objects.count(), StepPhoto.objects.count()) == (before, 0)
    return refused.value


@pytest.mark.parametrize(
    ("seen", "field", "message"),
    [
        ([], "looks_clean", "Choose Yes or No: looks clean."),
        (WELL[:1], "smells_clean", "Choose Yes or No: smells clean."),
        ([WELL[1]], "looks_clean", "Choose Yes or No: looks clean."),
        (
            [WELL[0], Seen("smells_clean", yes=None, note="Typed")],
            "smells_clean",
            "Choose Yes or No: smells clean.",
        ),
        (
            [WELL[0], Seen("smells_clean", yes=False, note="  ")],
            "smells_clean_note",
            "Enter what you found.",
        ),
    ],
)
def test_what_is_missing_is_refused_beside_its_field(
    floor: Floor, seen: list[Seen], field: str, message: str
) -> None:
    refused = refusal(floor, running(floor), *seen)
    assert (refused.field, refused.message) == (field, message)


@pytest.mark.parametrize("more", [WELL[0], Seen("drains_free", yes=True)])
def test_what_is_not_asked_or_given_twice_is_refused(floor: Floor, more: Seen) -> None:
    assert refusal(floor, running(floor), *WELL, more).code == "not_asked"


def test_yes_to_each_is_kept_and_is_no_deviation(floor: Floor) -> None:
    record = end(floor, running(floor), WELL[1], WELL[0])
    kept = [
        {"observation": name, "yes": True, "note": "", "photo": None}
        for name in ("looks_clean", "smells_clean")
    ]
    assert record.observations == kept
    assert Entry.objects.get(verb="end step").values["observations"] == kept
    assert Deviation.objects.count() == 0


def test_a_step_that_asks_for_none_keeps_none(floor: Floor) -> None:
    record = end(floor, running(floor, "pre_rinse"))
    assert record.observations is None


def test_every_no_is_a_deviation_that_is_decided_like_others(floor: Floor) -> None:
    found = [
        Seen("looks_clean", yes=False, note=" Film at the cone "),
        Seen("smells_clean", yes=False, note="Hop oil"),
    ]
    record = end(floor, running(floor), *found)
    assert [(d.kind, d.description, d.disposition) for d in Deviation.objects.all()] == [
        ("observed", "Does not look clean: Film at the cone", ""),
        ("observed", "Does not smell clean: Hop oil", ""),
    ]
    assert floor.progress(record.clean).of(record.step).state == "deviation"
    by = acting(floor.hand, now=clock.now())
    dispose_deviation(by=by, deviation=Deviation.objects.first(), disposition="repeat")
    assert floor.progress(record.clean).of(record.step).state == "again"
    again = floor.running_step(record.clean, 1, now=clock.now())
    assert refusal(floor, again).code == "not_observed"


def test_a_longest_note_fits_its_deviation(floor: Floor) -> None:
    record = running(floor, "drain")
    end(floor, record, Seen("drains_free", yes=False, note="x" * 300))
    assert Deviation.objects.get().description == f"Does not drain free: {'x' * 120}"


def test_parts_that_do_not_look_clean_are_not_inspected_and_clean(floor: Floor) -> None:
    record = running(floor, "hand_clean", end_criterion="inspected")
    dirty = Seen("looks_clean", yes=False, note="Hop resin in the arm")
    refused = refusal(floor, record, dirty, end_criterion_met=True)
    assert (refused.field, refused.code) == ("end_criterion_met", "end_contradicted")
    end(floor, record, dirty, end_criterion_met=False)
    assert [d.kind for d in Deviation.objects.all()] == ["end_not_met", "observed"]


def test_parts_that_look_clean_are(floor: Floor) -> None:
    record = running(floor, "hand_clean", end_criterion="inspected")
    end(floor, record, WELL[0], end_criterion_met=True)
    assert Deviation.objects.count() == 0


def test_another_end_does_not_contradict_how_a_rinse_looks(floor: Floor) -> None:
    record = running(floor, end_criterion="runs_clear")
    dirty = Seen("looks_clean", yes=False, note="Streaks on the wall")
    end(floor, record, dirty, WELL[1], end_criterion_met=True)
    assert [d.kind for d in Deviation.objects.all()] == ["observed"]


def test_a_photo_is_kept_with_its_hash(floor: Floor) -> None:
    content = b"a photograph, as prepared"
    seen = Seen("looks_clean", yes=True, photo=ContentFile(content))
    record = end(floor, running(floor), seen, WELL[1])
    photo = StepPhoto.objects.get()
    assert (photo.record, photo.observation) == (record, "looks_clean")
    assert (photo.taken_at, photo.taken_by) == (clock.now(), floor.hand)
    with photo.photo.open() as kept:
        assert kept.read() == content
    looks, smells = record.observations
    assert looks["photo"] == {"id": photo.pk, "sha256": hashlib.sha256(content).hexdigest()}
    assert smells["photo"] is None


def test_a_step_that_was_stated_takes_them_too(floor: Floor) -> None:
    floor.version = make_version(steps=False)
    add_step(floor.version, StepKind.RINSE)
    then = clock.now() - timedelta(minutes=30)
    clean = floor.started(floor.emptied(now=then), now=then)
    step = clean.version.steps.get()
    times = {"started_at": then, "ended_at": clock.now() - timedelta(minutes=10)}
    by = acting(floor.hand, now=clock.now())
    with pytest.raises(Refusal) as refused:
        actions.state_step(by=by, clean=clean, step=step, **times)
    assert refused.value.field == "looks_clean"
    assert StepRecord.objects.count() == 0
    bad = [Seen("looks_clean", yes=False, note="Film"), WELL[1]]
    record = actions.state_step(by=by, clean=clean, step=step, observations=bad, **times)
    assert [one["yes"] for one in record.observations] == [False, True]
    assert sorted(d.kind for d in Deviation.objects.all()) == ["observed", "stated"]
