"""What a trace shows within stretches of it."""

import io

import pytest

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.logger.evaluating import RinseRule, evaluate
from brewhygiene.science.logger.mapping import MappedColumn, Mapping
from brewhygiene.science.logger.reading import LoggerFileReader
from brewhygiene.science.logger.spans import Last, Span, SpanResult, measure
from brewhygiene.science.logger.windows import Bound, Window
from brewhygiene.science.tank.lethality import A0, PASTEURISATION, held

MAPPING = Mapping(
    ("t",),
    "elapsed s",
    (
        MappedColumn("temperature_c", "temp", "°C"),
        MappedColumn("conductivity_ms_cm", "cond", "mS/cm"),
    ),
)


def reader(
    rows: list[tuple[float, object, object]], *, part_bytes: int = 1 << 20
) -> LoggerFileReader:
    text = "t,temp,cond\n" + "".join(f"{s},{t},{c}\n" for s, t, c in rows)
    return LoggerFileReader(io.BytesIO(text.encode()), mapping=MAPPING, part_bytes=part_bytes)


def steady(temperature: float, minutes: int, conductivity: float = 0.5) -> list[tuple]:
    return [(s, temperature, conductivity) for s in range(0, minutes * 60 + 1, 10)]


def one(rows: list[tuple], span: Span, **values: object) -> SpanResult:
    (found,) = measure(reader(rows), spans=[span], **values)
    return found


def test_bounds_are_judged_alone_and_together() -> None:
    # 10 min: warm enough in the first 6, clean enough in the last 6.
    rows = [(s, 80 if s <= 360 else 20, 5 if s < 240 else 0.5) for s in range(0, 601, 10)]
    span = Span(0, 600, (Bound("temperature_c", 60), Bound("conductivity_ms_cm", None, 1)))
    found = one(rows, span)
    # Lines between two readings: the crossings lie inside the 10 s from one row to the next.
    assert found.alone["temperature_c"].minutes_inside == pytest.approx(6 + 10 / 60 / 3)
    assert found.alone["conductivity_ms_cm"].minutes_inside == pytest.approx(6 + 10 / 60 / 9)
    assert found.together.minutes_inside == pytest.approx(2 + 10 / 60 / 3 + 10 / 60 / 9)


def test_span_is_judged_as_a_window_of_that_span_is() -> None:
    rows = [(s, 40 + s % 70, 1) for s in range(0, 1201, 7)]
    bound = Bound("temperature_c", 60, 90)
    found = one(rows, Span(100, 900, (bound,)))
    (same,) = evaluate(reader(rows), windows=[Window("w", (bound,), 100, 900)]).windows
    assert found.alone["temperature_c"].minutes_inside == pytest.approx(same.minutes_inside)
    assert found.seen["temperature_c"].extremes == same.extremes


def test_spans_do_not_depend_on_how_the_file_is_cut() -> None:
    rows = [(s, 40 + s % 70, s % 11) for s in range(0, 6001, 7)]
    spans = [Span(50, 3000, (Bound("temperature_c", 60),)), Span(2500, 6000, (), RinseRule(20))]
    whole = measure(reader(rows), spans=spans, references=[PASTEURISATION])
    parts = measure(reader(rows, part_bytes=256), spans=spans, references=[PASTEURISATION])
    for one_way, other in zip(whole, parts, strict=True):
        assert one_way.seen == other.seen
        assert one_way.last == other.last
        assert one_way.lethalities[0].value == pytest.approx(other.lethalities[0].value)


def test_lethality_is_of_the_span_alone() -> None:
    rows = [(s, 80 if s >= 600 else 20, 1) for s in range(0, 1801, 10)]
    found = one(rows, Span(600, 1200), references=[PASTEURISATION, A0])
    # 10 min at 80 °C; ISO 15883-1 defines A0 as seconds at 80 °C (from memory).
    assert [heat.value for heat in found.lethalities] == [
        pytest.approx(held(minutes=10, temperature_c=80)),
        pytest.approx(600),
    ]


def test_last_reading_of_a_span_passes_over_gaps() -> None:
    rows = [(0, 20, 1), (10, 21, 2), (20, "", 3), (30, 25, 4)]
    assert one(rows, Span(0, 20)).last == {
        "temperature_c": Last(21, 10),
        "conductivity_ms_cm": Last(3, 20),
    }


def test_rinse_ends_at_its_last_stay_below() -> None:
    # Down, up again with a slug of caustic, down for good.
    rows = [(s, 20, 0.5 if 100 <= s < 300 or s >= 500 else 20) for s in range(0, 1001, 10)]
    found = one(rows, Span(0, 1000, (), RinseRule(1, hold_s=60)))
    assert found.rinsed.from_s == pytest.approx(500 - 10 * 0.5 / 19.5)
    assert found.rinsed.from_s + found.rinsed.length_s == 1000


def test_rinse_that_never_comes_down_has_no_end() -> None:
    assert one(steady(20, 5, conductivity=9), Span(0, 300, (), RinseRule(1))).rinsed is None


def test_span_outside_the_file_is_empty() -> None:
    found = one(steady(20, 5), Span(1000, 2000, (Bound("temperature_c", 10),)),
                references=[PASTEURISATION])  # fmt: skip
    assert found.seen["temperature_c"].readings == 0
    assert (found.together.minutes_inside, found.last, found.lethalities) == (0, {}, ())


def test_bound_of_a_quantity_that_is_not_logged_is_left_out() -> None:
    found = one(steady(20, 5), Span(0, 300, (Bound("flow_l_min", 100),)))
    assert (found.alone, found.together) == ({}, None)


def test_rinse_end_of_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange, match="conductivity of a rinse's end"):
        one(steady(20, 5), Span(0, 300, (), RinseRule(0)))


def below(rows: list[tuple[float, float]]) -> object:
    """The stretches below a minimum of 120 in ten minutes."""
    span = Span(0, 600, (Bound("temperature_c", 120),), followed=frozenset({"temperature_c"}))
    return one([(s, value, 1) for s, value in rows], span).below["temperature_c"]


def test_stretch_below_a_minimum_is_told_from_where_to_where() -> None:
    rows = [(s, 60 if 200 <= s < 400 else 150) for s in range(0, 601, 10)]
    # Lines between two rows: a third of the way down, two thirds of the way up.
    assert below(rows) == (pytest.approx((190 + 10 / 3, 390 + 20 / 3)),)


def test_what_reads_the_minimum_itself_is_not_below_it() -> None:
    assert below([(s, 120) for s in range(0, 601, 10)]) == ()
    assert below([(s, 119.99) for s in range(0, 601, 10)]) == (pytest.approx((0, 600)),)


def test_stretch_goes_on_over_a_gap_and_ends_where_it_is_seen_back() -> None:
    gap = [s for s in range(0, 601, 10) if not 300 < s < 400]
    assert below([(s, 60) for s in gap]) == (pytest.approx((0, 600)),)
    assert below([(s, 60 if s <= 300 else 150) for s in gap]) == (pytest.approx((0, 300)),)
    # Seen back in between: two stretches.
    twice = [(s, 60 if s < 200 or s > 400 else 150) for s in range(0, 601, 10)]
    assert len(below(twice)) == 2


def test_more_stretches_than_are_kept_are_none() -> None:
    rows = [(s, 60 if s % 10 else 150) for s in range(0, 601, 5)]
    assert below(rows) is None


def test_quantity_that_is_not_followed_has_no_stretches() -> None:
    rows = [(s, 60, 1) for s in range(0, 601, 10)]
    assert one(rows, Span(0, 600, (Bound("temperature_c", 120),))).below == {}
    only_most = Span(
        0, 600, (Bound("temperature_c", None, 50),), None, frozenset({"temperature_c"})
    )
    assert one(rows, only_most).below == {}
