"""A whole clean, evaluated: phases, rinse ends, lethality, plots."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.logger.buckets import Buckets
from brewhygiene.science.logger.evaluating import Evaluation, RinseRule, evaluate
from brewhygiene.science.logger.mapping import MappedColumn, Mapping
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.reading import LoggerFileReader
from brewhygiene.science.logger.windows import Bound, Window
from brewhygiene.science.tank.lethality import A0, PASTEURISATION, held

MAPPING = Mapping(
    time_columns=("s",),
    time_form="elapsed s",
    columns=(
        MappedColumn("temperature_c", "T", "°C"),
        MappedColumn("flow_l_min", "Q", "L/min"),
        MappedColumn("conductivity_ms_cm", "K", "mS/cm"),
    ),
)
# minutes, °C, L/min, mS/cm: an invented clean.
STAGES = (
    (5, 15, 120, 0.6),
    (20, 75, 120, 180),
    (10, 15, 120, 0.6),
    (10, 20, 120, 60),
    (8, 15, 120, 0.6),
    (6, 80, 110, 0.6),
    (4, 20, 0, 0.6),
)


def clean(every_s: int = 3, noise: float = 0.0) -> str:
    chance = np.random.default_rng(7)
    rows, second = ["s;T;Q;K"], 0
    for minutes, celsius, flow, conductivity in STAGES:
        for _ in range(minutes * 60 // every_s):
            shake = chance.normal(0, noise, 3) if noise else np.zeros(3)
            rows.append(
                f"{second};{celsius + shake[0]:.2f};{flow + shake[1]:.1f};"
                f"{max(conductivity + shake[2] / 50, 0):.3f}"
            )
            second += every_s
    return "\n".join(rows) + "\n"


def evaluated(text: str, **asked: object) -> Evaluation:
    return evaluate(LoggerFileReader(io.BytesIO(text.encode()), mapping=MAPPING), **asked)


@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_phases_of_a_clean_are_found(noise: float) -> None:
    phases = evaluated(clean(noise=noise)).phases
    assert [phase.kind for phase in phases] == [
        "water", "solution", "water", "solution", "water", "hot water", "standing",
    ]  # fmt: skip
    assert [round(phase.minutes) for phase in phases] == [stage[0] for stage in STAGES]
    assert phases[1].means["temperature_c"] == pytest.approx(75, abs=0.2)


def test_short_dip_is_no_phase() -> None:
    rows = clean().splitlines()
    rows[200] = rows[200].replace("75.00", "40.00")
    assert len(evaluated("\n".join(rows)).phases) == len(STAGES)


def test_ramp_is_one_phase_of_changing() -> None:
    rows = ["s;T;Q;K"]
    rows += [f"{s};15;120;0.6" for s in range(0, 600, 3)]
    rows += [f"{s};{15 + (s - 600) / 10:.1f};120;0.6" for s in range(600, 1200, 3)]
    rows += [f"{s};75;120;0.6" for s in range(1200, 1800, 3)]
    kinds = [phase.kind for phase in evaluated("\n".join(rows)).phases]
    assert kinds == ["water", "changing", "hot water"]


def test_gap_ends_a_phase() -> None:
    rows = clean().splitlines()
    del rows[200:300]
    phases = evaluated("\n".join(rows)).phases
    assert [phase.kind for phase in phases][:4] == ["water", "solution", "solution", "water"]


def test_rinse_ends_are_where_conductivity_comes_down_and_stays() -> None:
    found = evaluated(clean(), rinse=RinseRule(end_ms_cm=0.7, hold_s=60))
    assert [round(run.from_s / 60, 1) for run in found.rinse_ends] == [25.0, 45.0]
    assert found.began_rinsed


def test_rinse_that_does_not_stay_down_has_no_end() -> None:
    rows = ["s;T;Q;K"] + [f"{s};15;120;{90 if s % 30 == 0 else 0.5}" for s in range(0, 600, 3)]
    assert evaluated("\n".join(rows), rinse=RinseRule(0.7)).rinse_ends == ()


def test_lethality_is_that_of_the_hot_stages() -> None:
    found = evaluated(clean(), references=(PASTEURISATION, A0))
    assert [each.reference.unit for each in found.lethalities] == ["PU", "s"]
    hot = held(minutes=20, temperature_c=75) + held(minutes=6, temperature_c=80)
    assert found.lethalities[0].value == pytest.approx(hot, rel=0.01)


def test_lethality_of_a_span_leaves_the_rest_out() -> None:
    found = evaluated(clean(), lethal_from_s=10 * 60, lethal_until_s=20 * 60)
    assert found.lethalities[0].value == pytest.approx(held(minutes=10, temperature_c=75))


def test_logging_interval_does_not_matter() -> None:
    fine, coarse = (
        evaluated(clean(every_s), windows=[Window("hot", (Bound("temperature_c", 70, 85),))])
        for every_s in (3, 30)
    )
    # The steps between the stages are as steep as the interval: half a minute each at most.
    assert fine.windows[0].minutes_inside == pytest.approx(26, abs=0.2)
    assert coarse.windows[0].minutes_inside == pytest.approx(26, abs=1.5)


def test_window_of_a_quantity_without_a_column_is_refused() -> None:
    with pytest.raises(
        LoggerFileUnreadable, match="“acid” bounds pH, for which no column"
    ) as refused:
        evaluated(clean(), windows=[Window("acid", (Bound("ph", 6, 8),))])
    assert refused.value.field == "ph"


def test_rinse_without_conductivity_is_refused() -> None:
    mapping = Mapping(("s",), "elapsed s", MAPPING.columns[:2])
    reader = LoggerFileReader(io.BytesIO(clean().encode()), mapping=mapping)
    with pytest.raises(LoggerFileUnreadable, match="needs conductivity"):
        evaluate(reader, rinse=RinseRule(1))


def test_gap_of_no_time_is_refused() -> None:
    with pytest.raises(OutOfRange):
        evaluated(clean(), max_gap_s=0)


# --- thinning for pictures ---


@given(
    steps=st.lists(st.floats(0.1, 500), min_size=1, max_size=300),
    limit=st.integers(2, 20),
    cut=st.integers(0, 300),
)
def test_thinning_keeps_the_extremes_the_order_and_its_limit(
    steps: list[float], limit: int, cut: int
) -> None:
    seconds = np.cumsum(steps) - steps[0]
    values = {"ph": np.sin(seconds) * seconds}
    buckets = Buckets(quantities=("ph",), limit=limit)
    for part in (slice(0, cut), slice(cut, None)):
        buckets.add(seconds[part], {"ph": values["ph"][part]})
    thin = buckets.thinned("ph")
    assert len(thin.seconds) <= 4 * limit
    assert (thin.values.min(), thin.values.max()) == (values["ph"].min(), values["ph"].max())
    assert (np.diff(thin.seconds) > 0).all()
    # Every point drawn is a reading.
    assert set(zip(thin.seconds, thin.values, strict=True)) <= set(
        zip(seconds, values["ph"], strict=True)
    )


def test_spike_of_one_reading_still_shows() -> None:
    seconds = np.arange(0.0, 300_000.0, 3.0)
    celsius = np.full(len(seconds), 20.0)
    celsius[54_321] = 95.0
    buckets = Buckets(quantities=("temperature_c",), limit=100)
    buckets.add(seconds, {"temperature_c": celsius})
    thin = buckets.thinned("temperature_c")
    assert thin.seconds[thin.values == 95.0].tolist() == [54_321 * 3.0]
    coarser = buckets.coarser(10).thinned("temperature_c")
    assert 95.0 in coarser.values
    assert len(coarser.seconds) <= 20


def test_gap_is_not_drawn_over() -> None:
    seconds = np.concatenate((np.arange(0.0, 100.0, 5), np.arange(1000.0, 1100.0, 5)))
    buckets = Buckets(quantities=("ph",), limit=500)
    buckets.add(seconds, {"ph": np.full(len(seconds), 7.0)})
    thin = buckets.thinned("ph", max_gap_s=60)
    assert thin.seconds[thin.gap_before].tolist() == [1000.0]


def test_plots_of_a_clean_hold_its_extremes() -> None:
    found = evaluated(clean(noise=1.0), plot_buckets=50)
    for quantity, thin in found.plots.items():
        assert thin.values.max() == found.extremes[quantity].greatest
        assert thin.values.min() == found.extremes[quantity].least
