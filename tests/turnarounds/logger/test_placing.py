"""Which stretch of a logger file is which step's."""

from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.logger.placing import Phase, fits
from brewhygiene.turnarounds.models import LoggerFile, StepRecord
from tests.factories import add_step, make_agent, make_version
from tests.turnarounds.floor import errors
from tests.turnarounds.logger.files import Logged, as_csv, cards_of, logged, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Logged:
    return Logged()


def by_order(logger_file: LoggerFile) -> dict[int, str]:
    logger_file.refresh_from_db()
    steps = {r.pk: r.step.order for r in StepRecord.objects.select_related("step")}
    return {steps[kept["record"]]: kept["choice"] for kept in logger_file.evaluation["steps"]}


def test_step_belongs_to_the_plateau_within_its_time(scene: Logged) -> None:
    scene.caustic()
    logger_file = scene.logger_file()
    # Heating up from minute 10 to 14 is no plateau of the caustic.
    assert by_order(logger_file) == {1: "phase:1", 2: "phase:3"}
    # To its last reading, 10 s before the rinse's first.
    assert cards_of(scene, logger_file)[2].stretch == (
        f"{scene.at(14):%H:%M} to {scene.at(39):%H:%M} (25.9 min)"
    )


def test_file_of_another_day_is_matched_by_order_and_says_so(scene: Logged) -> None:
    scene.caustic()
    early = as_csv(logged(scene.start - timedelta(days=3)))
    logger_file = scene.logger_file(early)
    assert by_order(logger_file) == {1: "phase:1", 2: "phase:3"}
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    assert page.context["screen"].notes == [
        (
            "The file's times do not overlap this clean, so steps are matched by order. Check that "
            "the file is the right one and the logger's clock was right."
        )
    ]


def test_wrong_clock_of_a_logger_is_put_right(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file(as_csv(logged(scene.start - timedelta(days=3))))
    place(scene, logger_file, starts_at=f"{scene.start:%Y-%m-%dT%H:%M}")
    logger_file.refresh_from_db()
    assert logger_file.evaluation["starts_at"] == scene.start.isoformat()
    place(scene, logger_file, **{f"step_{record.pk}": "timed"})
    logger_file.refresh_from_db()
    kept = next(k for k in logger_file.evaluation["steps"] if k["record"] == record.pk)
    assert (kept["choice"], kept["from_s"], kept["until_s"]) == ("timed", 600, 2400)


def test_other_stretch_is_chosen_by_hand(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    answer = place(scene, logger_file, **{f"step_{record.pk}": "phase:2"})
    assert answer.url == f"/logger-files/{logger_file.pk}/"
    assert by_order(logger_file) == {1: "phase:1", 2: "phase:2"}
    entry = Entry.objects.order_by("-id")[0]
    assert entry.verb == "place logger file"
    assert [step["choice"] for step in entry.values["steps"]] == ["phase:1", "phase:2"]


def test_stretch_that_the_file_has_not_is_refused(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    answer = place(scene, logger_file, **{f"step_{record.pk}": "phase:9"})
    assert errors(answer, "placing") == {
        f"step_{record.pk}": ["Choose one of the parts of this file."]
    }


def test_step_not_in_the_file_shows_nothing(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    place(scene, logger_file, **{f"step_{record.pk}": "none"})
    card = cards_of(scene, logger_file)[2]
    assert (card.stretch, card.readings, card.evidence.writable) == ("", (), False)


@pytest.mark.parametrize(
    "kind, windows, phase, fit",
    [
        (StepKind.CAUSTIC, {"temperature_c": (60, 85)}, "solution", True),
        (StepKind.CAUSTIC, {"temperature_c": (60, 85)}, "cold", False),
        (StepKind.CAUSTIC, {"temperature_c": (10, 30)}, "cold", True),
        (StepKind.CAUSTIC, {}, "water", False),
        (StepKind.RINSE, {}, "water", True),
        (StepKind.RINSE, {}, "solution", False),
        (StepKind.HOT_WATER, {"temperature_c": (80, None)}, "hot water", True),
        (StepKind.DRAIN, {}, "standing", False),
        (StepKind.RINSE, {}, "changing", False),
    ],
)
def test_phase_fits_a_step_by_its_kind(
    kind: str, windows: dict[str, tuple[float, float]], phase: str, fit: bool
) -> None:
    agent = make_agent() if kind == StepKind.CAUSTIC else None
    step = add_step(make_version(steps=False), kind, agent=agent, windows=windows)
    assert fits(step, Phase(1, phase, 0, 600, {})) is fit
