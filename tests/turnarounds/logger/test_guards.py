"""What keeps a logger file as it was looked at: whose it is, until when, and what it changes."""

from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.turnarounds.deviations.actions import dispose_deviation
from brewhygiene.turnarounds.logger import actions
from brewhygiene.turnarounds.logger.actions import (
    fingerprint,
    place_logger_file,
    write_logger_file_readings,
)
from brewhygiene.turnarounds.models import LoggerFile, LoggerMapping, StepReading, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import acting, make_vessel
from tests.turnarounds.floor import errors
from tests.turnarounds.logger.files import SEGMENTS, Logged, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Logged:
    return Logged()


def revision(scene: Logged) -> int:
    scene.clean.turnaround.refresh_from_db()
    return scene.clean.turnaround.revision


def test_a_file_is_stored_by_its_clean_and_the_first_signs_of_its_hash(scene: Logged) -> None:
    scene.send()
    kept = LoggerFile.objects.get()
    # Django adds a word where a file of that name is there already.
    assert kept.file.name.startswith(f"traces/{scene.clean.pk}-{kept.sha256[:12]}")
    assert kept.file.name.endswith(".log")


def test_a_file_that_is_sent_or_written_makes_a_page_of_before_stale(scene: Logged) -> None:
    record = scene.caustic()
    before = revision(scene)
    logger_file = scene.logger_file()
    assert revision(scene) == before + 1
    scene.write(logger_file, [record])
    assert revision(scene) == before + 2


def test_columns_told_with_the_file_are_remembered_with_it(scene: Logged) -> None:
    text = scene.csv().replace(",16,150,", ",OPEN,150,", 3)
    form = scene.send(text).context["form"].columns_form
    shown = {name: form[name].value() or "" for name in form.fields if name != "key"}
    scene.send(text, **shown | {"missing": "---; OPEN", "remember_as": "Panel"})
    kept = LoggerMapping.objects.get()
    assert (kept.name, kept.made_by) == ("Panel", scene.hand)
    assert kept.mapping == LoggerFile.objects.get().mapping


def test_where_the_steps_lie_is_in_the_ledger(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    place(scene, logger_file, **{f"step_{record.pk}": "none"})
    entry = Entry.objects.get(verb="place logger file")
    assert (entry.subject_id, entry.aggregate) == (
        logger_file.pk,
        f"turnaround:{scene.clean.turnaround_id}",
    )
    assert {kept["record"]: kept["choice"] for kept in entry.values["steps"]}[record.pk] == "none"


def test_who_does_not_work_in_the_cellar_neither_places_nor_writes(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    by = acting(scene.owner, now=clock.now())
    with pytest.raises(NotAllowed):
        place_logger_file(by=by, logger_file=logger_file, evaluation=logger_file.evaluation)
    with pytest.raises(NotAllowed):
        write_logger_file_readings(
            by=by, logger_file=logger_file, records=[record], seen=fingerprint(logger_file)
        )
    assert not StepReading.objects.filter(logger_file=logger_file).exists()


def test_once_the_vessel_was_filled_its_files_stay_as_they_are_read(scene: Logged) -> None:
    turnaround = scene.released(vessel=make_vessel(name="FV 99"))
    scene.clean = turnaround.cleans.get()
    logger_file = scene.logger_file()
    columns = reverse("turnarounds:logger_file_columns", args=[logger_file.pk])
    page = scene.client.get(columns)
    scene.filled(turnaround)
    closed = "FV 99 has been filled since. This turnaround is closed."
    assert errors(scene.post_columns(logger_file, page)) == {"__all__": [closed]}
    by = acting(scene.hand, now=clock.now())
    with pytest.raises(Refusal, match=closed):
        place_logger_file(by=by, logger_file=logger_file, evaluation={})
    kept = logger_file.evaluation
    logger_file.refresh_from_db()
    assert logger_file.evaluation == kept


def test_what_was_looked_at_is_the_same_in_whatever_order_it_is_stored(scene: Logged) -> None:
    scene.caustic()
    logger_file = scene.logger_file()
    seen = fingerprint(logger_file)
    logger_file.mapping = dict(reversed(logger_file.mapping.items()))
    assert fingerprint(logger_file) == seen
    logger_file.mapping = {**logger_file.mapping, "decimal": ","}
    assert fingerprint(logger_file) != seen


def test_what_somebody_evaluated_while_it_waited_for_its_turn_is_not_written(
    scene: Logged, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    seen = fingerprint(logger_file)
    lock = actions.lock_running_clean

    def once_it_is_free(clean: Any) -> Any:
        other = LoggerFile.objects.get(pk=logger_file.pk)
        other.evaluation = {**other.evaluation, "starts_at": scene.at(1).isoformat()}
        other.save(update_fields=["evaluation"])
        return lock(clean)

    monkeypatch.setattr(actions, "lock_running_clean", once_it_is_free)
    with pytest.raises(Refusal) as refused:
        write_logger_file_readings(
            by=acting(scene.hand, now=clock.now()),
            logger_file=logger_file,
            records=[record],
            seen=seen,
        )
    assert refused.value.code == "stale"
    assert not StepReading.objects.filter(logger_file=logger_file).exists()


def test_what_was_not_there_yet_is_written_beside_what_was(scene: Logged) -> None:
    """Minutes are told once a step has ended, after its other readings were written."""
    record = scene.caustic(ended=False)
    logger_file = scene.logger_file()
    scene.write(logger_file, [record])
    written = record.readings.filter(logger_file=logger_file)
    assert sorted(written.values_list("quantity", flat=True)) == ["flow_l_min", "temperature_c"]
    step_actions.end_step(by=acting(scene.hand, now=scene.at(40)), record=record)
    place(scene, logger_file)
    assert scene.write(logger_file, [record]).status_code == 302
    assert sorted(written.values_list("quantity", flat=True)) == [
        "flow_l_min",
        "temperature_c",
        "time_min",
    ]


def test_of_a_step_that_is_not_in_the_file_nothing_is_written(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    place(scene, logger_file, **{f"step_{record.pk}": "none"})
    assert errors(scene.write(logger_file, [record]), "writing") == {
        "records": ["2. caustic: the file has no reading to write."]
    }


def prolonged(scene: Logged) -> tuple[StepRecord, StepRecord]:
    """Caustic from minute 14 to 24, which is too short, and on from 26 to 38."""
    first = scene.running_step(scene.clean, 2, now=scene.at(14))
    for quantity, value in (("concentration", 2), ("temperature_c", 75), ("flow_l_min", 150)):
        basis = "ww" if quantity == "concentration" else ""
        scene.read(first, quantity, value, basis=basis, now=scene.at(15))
    step_actions.end_step(by=acting(scene.hand, now=scene.at(24)), record=first)
    dispose_deviation(
        by=acting(scene.hand, now=scene.at(24)),
        deviation=Deviation.objects.get(record=first),
        disposition="extend",
    )
    second = scene.running_step(scene.clean, 2, now=scene.at(26))
    step_actions.end_step(by=acting(scene.hand, now=scene.at(38)), record=second)
    return first, second


@pytest.mark.parametrize(("flow_l_min", "short"), [(150, False), (60, True)])
def test_a_flow_that_a_file_shows_as_lost_makes_the_contact_short(
    scene: Logged, flow_l_min: float, short: bool
) -> None:
    """The file tells no minutes of an attempt whose first part is not in it."""
    first, second = prolonged(scene)
    hot = [(16, 75, 150, 92), (10, 75, flow_l_min, 92)]
    logger_file = scene.logger_file(scene.csv([*SEGMENTS[:2], *hot, *SEGMENTS[3:]]))
    place(scene, logger_file, **{f"step_{first.pk}": "none", f"step_{second.pk}": "timed"})
    assert scene.write(logger_file, [second]).status_code == 302
    assert not second.readings.filter(quantity="time_min", logger_file=logger_file).exists()
    found = Deviation.objects.filter(record=second, quantity="time_min", kind="below")
    # From 15 to 24, and from 26 to the last reading with enough flow.
    assert [one.description for one in found] == (
        ["Contact time in window 12.8 min: below 20 min (timer 22 min)"] if short else []
    )
