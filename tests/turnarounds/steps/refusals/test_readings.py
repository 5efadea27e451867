"""What a step's reading is refused for, judged by and corrected with."""

from typing import Any

import pytest

from brewhygiene.turnarounds.models import Clean, Deviation, StepReading
from brewhygiene.turnarounds.quantities import MeterReading, Titration
from brewhygiene.turnarounds.readings.actions import correct_reading
from tests.factories import NOW, Cellar, acting
from tests.turnarounds.steps.refusals.doing import LATER, decide, end, read, refusal_of, started

# ---- readings ----


def test_only_what_is_read_by_hand_is_read_and_somewhere(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)

    def refused(quantity: str, value: Any = 70, **values: Any) -> tuple[str | None, str]:
        return refusal_of(lambda: read(cellar, record, quantity, value, **values))

    assert refused("time_min") == ("quantity", "refused")
    assert refused("colour") == ("quantity", "refused")
    assert refused("temperature_c", stage="elsewhere") == ("stage", "refused")
    assert refused("temperature_c", None) == ("value", "refused")
    assert refused("concentration", 2) == ("basis", "refused")
    assert StepReading.objects.count() == 0
    reading = read(cellar, record, "temperature_c", 70, basis="ww")
    assert (reading.basis, reading.stage, reading.titration) == ("", "return", None)
    assert (reading.taken_at, reading.taken_by, reading.judged_value) == (NOW, cellar.hand, 70)


def test_a_titration_or_a_meter_gives_only_a_strength_and_only_of_an_agent(
    cellar: Cellar, clean: Clean
) -> None:
    titration = Titration(titrant_ml=5, titrant_normality=1, sample_ml=10)
    meter = MeterReading(conductivity_ms_cm=50, temperature_c=20)
    record = started(cellar, clean)
    for how in ({"titration": titration}, {"meter": meter}):
        assert read(cellar, record, "temperature_c", 70, **how).titration is None
    end(cellar, record)
    for deviation in Deviation.objects.all():
        decide(cellar, deviation, "accept", reason="Known")
    rinse = started(cellar, clean, 2)
    for how, field in (({"titration": titration}, "titrant_ml"), ({"meter": meter}, None)):
        refused = refusal_of(lambda how=how: read(cellar, rinse, "concentration", None, **how))
        assert refused == (field or "conductivity_ms_cm", "refused")


def test_an_attempt_that_another_followed_is_read_no_more(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)
    end(cellar, record, 21)
    # Ended, and still the latest: what was read late may be written.
    assert read(cellar, record, "temperature_c", 70).verdict == "within"
    decide(cellar, Deviation.objects.first(), "repeat")
    again = started(cellar, clean, now=LATER)
    assert again.attempt == 2
    refused = refusal_of(lambda: read(cellar, record, "temperature_c", 71))
    assert refused == (None, "attempt_over")
    assert read(cellar, again, "temperature_c", 71).record == again


@pytest.mark.parametrize("value, kind", [(59, "below"), (86, "above"), (60, None), (85, None)])
def test_a_reading_outside_its_window_is_a_deviation_with_the_bound_that_it_missed(
    cellar: Cellar, clean: Clean, value: float, kind: str | None
) -> None:
    reading = read(cellar, started(cellar, clean), "temperature_c", value)
    found = [(d.kind, d.reading, d.quantity, d.found_at) for d in Deviation.objects.all()]
    assert found == ([] if kind is None else [(kind, reading, "temperature_c", NOW)])
    bound = {"below": "60 °C", "above": "85 °C"}.get(kind or "")
    assert all(d.description.endswith(f"{kind} {bound}") for d in Deviation.objects.all())


def test_a_quantity_without_a_window_is_read_and_not_judged(cellar: Cellar, clean: Clean) -> None:
    reading = read(cellar, started(cellar, clean), "flow_l_min", 120)
    assert (reading.verdict, reading.judged_value) == ("no_window", None)
    assert Deviation.objects.count() == 0


def test_a_reading_is_corrected_once_for_a_reason(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)
    first = read(cellar, record, "temperature_c", 7)
    read(cellar, record, "temperature_c", 71, stage="start")

    def correct(reading: StepReading, reason: str = f" {'x' * 300} ") -> StepReading:
        return correct_reading(by=acting(cellar.hand), reading=reading, value=70, reason=reason)

    assert refusal_of(lambda: correct(first, "  ")) == ("reason", "refused")
    corrected = correct(first)
    assert (corrected.corrects, corrected.correction_reason) == (first, "x" * 200)
    assert (corrected.stage, corrected.quantity, corrected.verdict) == (
        "return",
        "temperature_c",
        "within",
    )
    assert refusal_of(lambda: correct(first)) == (None, "already_corrected")
    assert correct(corrected).corrects == corrected
