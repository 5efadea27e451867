"""Streaming a logger file: every dialect, gaps, order, refusals, bounded parts."""

import datetime as dt
import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brewhygiene.science.logger.dialect import sniff
from brewhygiene.science.logger.mapping import MappedColumn, Mapping, propose
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.reading import LoggerFileReader, sniff_file

TWO = Mapping(
    time_columns=("t",),
    time_form="elapsed s",
    columns=(MappedColumn("temperature_c", "T", "°C"), MappedColumn("flow_l_min", "Q", "L/min")),
)


def read(
    text: str | bytes, mapping: Mapping | None = TWO, **options: object
) -> tuple[np.ndarray, dict[str, np.ndarray], LoggerFileReader]:
    """Seconds, values and the reader itself, of a whole file."""
    raw = text.encode() if isinstance(text, str) else text
    source = io.BytesIO(raw)
    chosen = mapping or propose(sniff_file(source)).mapping
    reader = LoggerFileReader(source, mapping=chosen, **options)
    parts = list(reader)
    seconds = np.concatenate([part.seconds for part in parts])
    values = {
        each.quantity: np.concatenate([part.values[each.quantity] for part in parts])
        for each in chosen.columns
    }
    return seconds, values, reader


# --- any dialect gives the same numbers ---

STAMPS = {
    "%Y-%m-%d %H:%M:%S%.f": "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%dT%H:%M:%S%.f": "%Y-%m-%dT%H:%M:%S",
    "%d.%m.%Y %H:%M:%S%.f": "%d.%m.%Y %H:%M:%S",
    "%m/%d/%Y %I:%M:%S %p": "%m/%d/%Y %I:%M:%S %p",
    "%Y-%m-%dT%H:%M:%S%.f%z": "%Y-%m-%dT%H:%M:%SZ",
    "epoch s": None,
}
START = dt.datetime(2026, 3, 10, 8, tzinfo=dt.UTC)
READINGS = st.lists(
    st.tuples(
        st.integers(1, 90),
        st.none() | st.integers(-400, 2400),
        st.none() | st.integers(0, 99_999),
    ),
    min_size=2,
    max_size=25,
).filter(lambda rows: any(row[1] is not None or row[2] is not None for row in rows))


@given(
    readings=READINGS,
    separator=st.sampled_from([";", "\t", "|", ","]),
    decimal=st.sampled_from([".", ","]),
    form=st.sampled_from(list(STAMPS)),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoted=st.booleans(),
    split=st.booleans(),
    preamble=st.sampled_from(["", "Logger 7\n", "sep=x\nA;b\n\n"]),
    missing=st.sampled_from(["", "---", "NaN", "off"]),
    padded=st.booleans(),
    part_bytes=st.sampled_from([200, 4096, 1 << 20]),
)
def test_any_dialect_gives_the_same_numbers(
    readings: list, separator: str, decimal: str, form: str, encoding: str, line_end: str,
    quoted: bool, split: bool, preamble: str, missing: str, padded: bool, part_bytes: int,
) -> None:  # fmt: skip
    quoted = quoted or separator == decimal
    split = split and form.count(" ") == 1 and "%p" not in form and form != "epoch s"

    def cell(text: str) -> str:
        text = f" {text} " if padded and not quoted and text else text
        return f'"{text}"' if quoted else text

    def number(tenths: int | None) -> str:
        return missing if tenths is None else f"{tenths / 10:.1f}".replace(".", decimal)

    seconds = np.cumsum([row[0] for row in readings]).tolist()
    lines = [["day", "clock"] if split else ["time"]]
    lines[0] += ["return °C", "flow (hL/h)"]
    for second, (_, temperature, flow) in zip(seconds, readings, strict=True):
        moment = START + dt.timedelta(seconds=second)
        pattern = STAMPS[form]
        stamp = f"{moment.timestamp():.0f}" if pattern is None else moment.strftime(pattern)
        lines.append([*(stamp.split(" ") if split else [stamp]), number(temperature), number(flow)])
    text = preamble + "".join(separator.join(map(cell, line)) + "\n" for line in lines)
    raw = text.replace("\n", line_end).encode(encoding)
    names = ("day", "clock") if split else ("time",)
    mapping = Mapping(
        time_columns=names,
        time_form=form,
        columns=(
            MappedColumn("temperature_c", "return °C", "°C"),
            MappedColumn("flow_l_min", "flow (hL/h)", "hL/h"),
        ),
        decimal=decimal,
        missing=("", "---", "NaN", "off"),
    )
    # How the file is written is known here; what a short sample suggests is tested elsewhere.
    found = sniff(raw, whole=True)
    assume((found.separator, found.columns) == (separator, tuple(lines[0])))
    got_s, values, reader = read(raw, mapping, part_bytes=part_bytes)
    assert got_s.tolist() == pytest.approx([second - seconds[0] for second in seconds])
    expected_c = [np.nan if row[1] is None else row[1] / 10 for row in readings]
    expected_flow = [np.nan if row[2] is None else row[2] / 10 * 100 / 60 for row in readings]
    np.testing.assert_allclose(values["temperature_c"], expected_c, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(values["flow_l_min"], expected_flow, rtol=1e-12)
    start = reader.tally.start
    assert start.replace(tzinfo=dt.UTC) == START + dt.timedelta(seconds=seconds[0])
    assert (start.tzinfo is not None) == (form.endswith("%z") or form == "epoch s")


@pytest.mark.parametrize("part_bytes", [20, 64, 1 << 20])
def test_parts_do_not_change_what_is_read(part_bytes: int) -> None:
    text = "t;T;Q\n" + "".join(f"{n};{20 + n / 10:.1f};{n}\n" for n in range(200))
    seconds, values, _ = read(text, part_bytes=part_bytes)
    assert seconds.tolist() == list(range(200))
    assert values["flow_l_min"].tolist() == list(range(200))


# --- order ---


def test_duplicate_and_backward_times_are_left_out_and_counted() -> None:
    seconds, values, reader = read("t;T;Q\n0;20;1\n3;21;1\n3;99;9\n2;98;9\n6;22;1\n;23;1\n9;24;1\n")
    assert seconds.tolist() == [0, 3, 6, 9]
    assert values["temperature_c"].tolist() == [20, 21, 22, 24]
    tally = reader.tally
    assert (tally.rows, tally.kept, tally.duplicates, tally.backwards, tally.without_time) == (
        7, 4, 1, 1, 1,
    )  # fmt: skip


@pytest.mark.parametrize("part_bytes", [16, 1 << 20])
def test_order_is_kept_over_parts(part_bytes: int) -> None:
    _, _, reader = read("t;T;Q\n0;20;1\n9;21;1\n3;99;9\n9;98;9\n12;22;1\n", part_bytes=part_bytes)
    assert (reader.tally.duplicates, reader.tally.backwards, reader.tally.kept) == (1, 1, 3)


def test_newest_first_is_refused() -> None:
    text = "t;T;Q\n" + "".join(f"{n};20;1\n" for n in range(100, 0, -1))
    with pytest.raises(LoggerFileUnreadable, match="99 of 100 rows have a time before"):
        read(text)


def test_clock_without_a_date_goes_on_over_midnight() -> None:
    mapping = Mapping(("t",), "clock", (MappedColumn("temperature_c", "T", "°C"),))
    text = "t;T\n23:59:57;20\n00:00:00;21\n00:00:03,5;22\n"
    seconds, _, reader = read(text, mapping)
    assert seconds.tolist() == [0, 3, 6.5]
    assert reader.tally.start is None


# --- units and gaps ---


@pytest.mark.parametrize(
    "quantity, unit, written, kept",
    [
        ("temperature_c", "°F", "212", 100),
        ("temperature_c", "K", "373.15", 100),
        ("flow_l_min", "gpm", "10", 37.85411784),
        ("flow_l_min", "m³/h", "6", 100),
        ("conductivity_ms_cm", "µS/cm", "1500", 1.5),
        ("conductivity_ms_cm", "S/m", "1", 10),
        ("pressure_bar", "psi", "10", 0.6894757293168361),
    ],
)
def test_units_become_the_kept_ones(quantity: str, unit: str, written: str, kept: float) -> None:
    mapping = Mapping(("t",), "elapsed s", (MappedColumn(quantity, "T", unit),))
    _, values, _ = read(f"t;T\n0;{written}\n1;{written}\n", mapping)
    assert values[quantity][0] == pytest.approx(kept, rel=1e-9)


def test_missing_marks_are_gaps_and_counted() -> None:
    _, values, reader = read("t;T;Q\n0;20;\n1;---;1\n2;NaN\n3;21;4\n")
    assert np.isnan(values["temperature_c"]).tolist() == [False, True, True, False]
    assert reader.tally.missing == {"temperature_c": 2, "flow_l_min": 2}
    assert reader.tally.readings == {"temperature_c": 2, "flow_l_min": 2}


def test_surplus_empty_cells_and_blank_lines_are_no_matter() -> None:
    seconds, _, reader = read("t;T;Q\n0;20;1\n1;21;1;;\n\n;;\n2;22;1\n")
    assert seconds.tolist() == [0, 1, 2]
    assert reader.tally.rows == 3


def test_line_end_inside_quotation_marks_is_no_row() -> None:
    mapping = Mapping(("t",), "elapsed s", (MappedColumn("temperature_c", "T", "°C"),))
    text = 't;note;T\n0;"a\nb";20\n1;"c\n\nd";21\n2;;22\n'
    for part_bytes in (12, 1 << 20):
        _, values, _ = read(text, mapping, part_bytes=part_bytes)
        assert values["temperature_c"].tolist() == [20, 21, 22]


# --- refusals ---


def test_cells_that_are_no_numbers_are_named_with_row_and_column() -> None:
    bad = "".join(f"{n};x{n};1\n" for n in range(3, 10))
    with pytest.raises(LoggerFileUnreadable) as refused:
        read("t;T;Q\n0;20;1\n1;20;1\n2;20;1\n" + bad)
    assert [(cell.row, cell.column, cell.text) for cell in refused.value.cells] == [
        (5, "T", "x3"), (6, "T", "x4"), (7, "T", "x5"), (8, "T", "x6"), (9, "T", "x7"),
    ]  # fmt: skip
    assert refused.value.count == 7
    assert str(refused.value).startswith(
        "7 cells cannot be read: row 5, “T”: “x3” is not a number; row 6"
    )
    assert "and 2 more in the same part of the file" in str(refused.value)


def test_rows_are_counted_through_all_parts_and_blank_lines() -> None:
    good = "".join(f"{n};20;1\n\n" for n in range(500))
    with pytest.raises(LoggerFileUnreadable) as refused:
        read("t;T;Q\n" + good + "500;warm;1\n", part_bytes=256)
    assert [(cell.row, cell.text) for cell in refused.value.cells] == [(1002, "warm")]


@pytest.mark.parametrize(
    "cell, says",
    [
        ("20,5", "decimal comma, choose that"),
        ("1.234,5", "is not a number"),
        ("inf", "is not a number"),
        ("850", "cannot be a temperature in °C"),
        ("-9999", "cannot be a temperature in °C"),
        ("20 °C", "is not a number"),
        ("1_000", "is not a number"),
    ],
)
def test_cell_that_is_no_reading_is_refused_with_advice(cell: str, says: str) -> None:
    with pytest.raises(LoggerFileUnreadable, match=says):
        read(f"t;T;Q\n0;20;1\n1;{cell};1\n2;20;1\n")


def test_point_in_a_file_of_decimal_commas_is_refused() -> None:
    """1.234 could be a thousand and more there."""
    mapping = Mapping(("t",), "elapsed s", TWO.columns, decimal=",")
    with pytest.raises(LoggerFileUnreadable, match=r"“1\.234” is not a number"):
        read("t;T;Q\n0;20,5;1\n1;1.234;1\n2;20,5;1\n", mapping)


def test_declared_mark_makes_a_gap_of_an_impossible_number() -> None:
    mapping = Mapping(("t",), "elapsed s", TWO.columns, missing=("-9999",))
    _, values, _ = read("t;T;Q\n0;20;1\n1;-9999;1\n2;20;1\n", mapping)
    assert np.isnan(values["temperature_c"]).tolist() == [False, True, False]


def test_comma_between_cells_and_for_decimals_is_refused() -> None:
    """The second half of 20,5 must not be dropped in silence."""
    raw = b"t,T\n" + b"".join(b"%d,20\n" % n for n in range(20)) + b"20,20,5\n"
    mapping = Mapping(("t",), "elapsed s", (MappedColumn("temperature_c", "T", "°C"),))
    with pytest.raises(LoggerFileUnreadable, match="If commas separate cells and decimals"):
        read(raw, mapping)


def test_time_that_is_none_is_refused() -> None:
    mapping = Mapping(("t",), "%Y-%m-%d %H:%M:%S%.f", TWO.columns)
    text = "t;T;Q\n2026-02-27 08:00:00;20;1\n2026-02-30 08:00:00;20;1\n"
    with pytest.raises(
        LoggerFileUnreadable, match="row 3, “t”: “2026-02-30 08:00:00” is not a time"
    ):
        read(text, mapping)


@pytest.mark.parametrize(
    "text, says",
    [
        ("t;T;Q\n0;20;1\n", "only one row with a time of its own"),
        ("t;T;Q\n0;20;1\n0;21;1\n", "only one row with a time of its own"),
        ("t;T;Q\n0;---;\n1;---;NaN\n2;---;\n", "All 3 rows are gaps"),
    ],
)
def test_trace_that_says_nothing_is_refused(text: str, says: str) -> None:
    with pytest.raises(LoggerFileUnreadable, match=says):
        read(text)


def test_saved_mapping_of_another_file_names_the_missing_column() -> None:
    with pytest.raises(
        LoggerFileUnreadable, match=r"no column “Q” in this file\. It has: “t”, “T”"
    ):
        read("t;T\n0;20\n1;21\n")


def test_file_above_the_limit_is_refused_before_it_is_read() -> None:
    with pytest.raises(LoggerFileUnreadable, match=r"The file has 2 MB\. Upload at most 1 MB\."):
        read("t;T;Q\n" + "0;20;1\n" * 300_000, largest_bytes=1_000_000)


def test_quotation_mark_that_is_never_closed_is_refused() -> None:
    text = 't;T;Q\n0;20;1\n1;20;1\n2;"20;1\n' + "3;20;1\n" * 2000
    with pytest.raises(LoggerFileUnreadable):
        read(text, part_bytes=1024)


def test_utf_16_that_is_cut_off_is_refused() -> None:
    raw = ("t;T;Q\n" + "".join(f"{n};20;1\n" for n in range(50_000))).encode("utf-16")[:-1]
    with pytest.raises(LoggerFileUnreadable, match="cut off"):
        read(raw)


def test_progress_ends_at_the_whole(tmp_path: Path) -> None:
    path = tmp_path / "trace.csv"
    path.write_text("t;T;Q\n" + "".join(f"{n};20;1\n" for n in range(1000)))
    seen = []
    reader = LoggerFileReader(
        path, mapping=TWO, on_progress=lambda done, total: seen.append((done, total)),
        part_bytes=1024,
    )  # fmt: skip
    assert sum(len(part.seconds) for part in reader) == 1000
    size = path.stat().st_size
    assert seen[-1] == (size, size)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
