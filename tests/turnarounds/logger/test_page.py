"""What the page of a logger file shows: of each step, as a picture and in numbers."""

import re
from datetime import UTC, datetime

import pytest
from django.urls import reverse

from brewhygiene.turnarounds.logger.words import LoggerClock
from brewhygiene.turnarounds.models import StepRecord
from tests.turnarounds.logger.files import Logged, as_csv, cards_of, logged, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Logged:
    return Logged()


def test_step_shows_its_minutes_gaps_and_lethality(scene: Logged) -> None:
    scene.caustic()
    card = cards_of(scene, scene.logger_file())[2]
    lines = {line.title: (line.inside, line.extremes) for line in card.lines}
    inside = "25.9 min of 25.9 min, 25.9 min at a stretch"
    assert lines == {
        "Temperature": (inside, "75 °C"),
        "Flow": (inside, "150 L/min"),
        "Conductivity": ("no window", "92 mS/cm"),
    }
    assert {line.longest_gap for line in card.lines} == {"0.2 min"}
    assert card.together == inside
    # PU = t · 1.393^(T − 60) (Del Vecchio and others, Proc. ASBC 1951), for 25.83 min at 75 °C;
    # A0 by its definition, 10^((75 − 80) / 10) s each second (ISO 15883-1, from memory).
    minutes = 155 / 6
    assert dict(card.facts) == {
        "Pasteurisation units": f"{minutes * 1.393**15:.0f} PU",
        "A0": f"{minutes * 60 * 10**-0.5:.0f} s",
    }


def test_cold_step_has_no_lethality(scene: Logged) -> None:
    scene.caustic()
    assert cards_of(scene, scene.logger_file())[1].facts == []


def test_rinse_end_is_found_by_the_taps_conductivity(scene: Logged) -> None:
    scene.caustic()
    scene.run_step(scene.clean, 3, now=scene.at(38), minutes=11)
    logger_file = scene.logger_file()
    record = StepRecord.objects.get(step__order=3)
    place(scene, logger_file, rinse_end_ms_cm="0.6", **{f"step_{record.pk}": "timed"})
    fact = dict(cards_of(scene, logger_file)[3].facts)["Rinse end"]
    # The last caustic reading came at 39:50, the first of the rinse at 40:00.
    assert fact == f"at or below 0.6 mS/cm from {scene.at(39):%H:%M} on, for 9 min"


def test_strength_in_another_basis_is_not_compared(scene: Logged) -> None:
    scene.caustic()
    scene.run_step(scene.clean, 3, now=scene.at(40), minutes=9)
    scene.running_step(scene.clean, 4, now=scene.at(50))
    head = "Time,Conc (%),Temp (°C)\n"
    rows = [f"{scene.at(n / 6):%Y-%m-%d %H:%M:%S},1,20" for n in range(360)]
    card = cards_of(scene, scene.logger_file(head + "\n".join(rows)))[4]
    assert card.silent_words == (
        "Strength is logged in % w/w and set in mg/L active: not compared."
    )


def test_picture_holds_the_readings_and_shades_the_windows(scene: Logged) -> None:
    scene.brewery.temperature_unit = "F"
    scene.brewery.save()
    scene.caustic()
    logger_file = scene.logger_file()
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    chart = page.context["screen"].chart
    assert chart["start"] == f"{scene.start:%Y-%m-%dT%H:%M:%S}"
    assert [(p["title"], p["unit"]) for p in chart["panels"]] == [
        ("Temperature", "°F"), ("Flow", "L/min"), ("Conductivity", "mS/cm"),
    ]  # fmt: skip
    # 16 °C is 60.8 °F and 75 °C is 167 °F, by definition.
    values = chart["panels"][0]["values"]
    assert (min(values), max(values)) == (60.8, 167)
    caustic = chart["steps"][1]
    assert (caustic["label"], caustic["from"], caustic["until"]) == ("2. caustic", 600, 2400)
    assert caustic["windows"] == {
        "temperature_c": [pytest.approx(140), pytest.approx(185)],
        "flow_l_min": [120, None],
    }


def test_picture_does_not_bridge_gaps(scene: Logged) -> None:
    rows = logged(scene.start)
    logger_file = scene.logger_file(as_csv([*rows[:100], *rows[160:]]))
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    values = page.context["screen"].chart["panels"][0]["values"]
    assert values.count(None) == 1
    assert page.context["screen"].notes[0] == (
        "Temperature: 1 gap of more than 60 s. Nothing is drawn or counted across gaps."
    )


def test_table_says_the_same_in_numbers(scene: Logged) -> None:
    page = scene.client.get(reverse("turnarounds:logger_file", args=[scene.logger_file().pk]))
    table = page.context["screen"].table
    assert (table.pace_min, table.titles) == (1, ["Temperature", "Flow", "Conductivity"])
    assert len(table.rows) == 60
    assert table.rows[0] == (f"{scene.start:%H:%M}", ["16 °C", "150 L/min", "0.5 mS/cm"])
    assert table.rows[20][1] == ["75 °C", "150 L/min", "92 mS/cm"]


def test_page_loads_the_bundle_only_where_there_is_a_picture(scene: Logged) -> None:
    rows = [f"{scene.at(n / 6):%Y-%m-%d %H:%M:%S},{7 + n % 2}" for n in range(60)]
    drawn, bare = scene.logger_file(), scene.logger_file("Time,pH\n" + "\n".join(rows))
    found = [
        re.findall(
            r"plotly\.min\.js",
            scene.client.get(
                reverse("turnarounds:logger_file", args=[logger_file.pk])
            ).content.decode(),
        )
        for logger_file in (drawn, bare)
    ]
    assert found == [["plotly.min.js"], []]


def test_page_takes_the_same_queries_for_one_step_and_three(
    scene: Logged, django_assert_num_queries: object
) -> None:
    logger_file = scene.logger_file()
    url = reverse("turnarounds:logger_file", args=[logger_file.pk])
    with django_assert_num_queries(13):
        scene.client.get(url)
    scene.caustic()
    scene.run_step(scene.clean, 3, now=scene.at(40), minutes=9)
    place(scene, logger_file)
    scene.write(logger_file, [StepRecord.objects.get(step__order=2)])
    with django_assert_num_queries(13):
        assert len(scene.client.get(url).context["screen"].cards) == 3


def test_steps_begun_since_are_told(scene: Logged) -> None:
    logger_file = scene.logger_file()
    scene.caustic()
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    assert page.context["screen"].notes == [
        "Steps have started since this file was evaluated. Evaluate the file again below."
    ]


def test_time_on_another_day_than_the_first_says_its_day() -> None:
    clock = LoggerClock(datetime(2026, 3, 10, 23, 30, tzinfo=UTC))
    assert clock.span_words(0, 3600) == "23:30 to 11 Mar 00:30"
    assert LoggerClock(None).span_words(30, 3600) == "minute 0.5 to minute 60"
