"""How a logger file is written, found from its first bytes."""

import pytest

from brewhygiene.science.logger.dialect import sniff
from brewhygiene.science.logger.mapping import MappedColumn, Mapping, from_json, propose
from brewhygiene.science.logger.problems import LoggerFileUnreadable

ROWS = (
    "2026-03-10 08:00:00;20,5;120,0\n2026-03-10 08:00:03;21,5;121,5\n2026-03-10 08:00:06;---;122\n"
)
GERMAN = "Zeit;Rücklauf (°C);Durchfluss (L/min)\n" + ROWS


def proposed(text: str, encoding: str = "utf-8") -> Mapping:
    return propose(sniff(text.encode(encoding), whole=True)).mapping


@pytest.mark.parametrize(
    "encoding, found",
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("cp1252", "cp1252"),
    ],
)
def test_encoding_is_found(encoding: str, found: str) -> None:
    dialect = sniff(GERMAN.encode(encoding), whole=True)
    assert dialect.encoding == found
    assert dialect.columns == ("Zeit", "Rücklauf (°C)", "Durchfluss (L/min)")


@pytest.mark.parametrize("separator", [";", "\t", "|"])
@pytest.mark.parametrize("decimal", [".", ","])
def test_separator_and_decimal_sign_are_found(separator: str, decimal: str) -> None:
    text = GERMAN.replace(";", separator)
    text = text if decimal == "," else text.replace(",", ".")
    dialect = sniff(text.encode(), whole=True)
    assert (dialect.separator, dialect.decimal) == (separator, decimal)


def test_comma_parts_cells_and_quoted_cells_keep_theirs() -> None:
    plain = sniff(GERMAN.replace(",", ".").replace(";", ",").encode(), whole=True)
    assert (plain.separator, plain.decimal) == (",", ".")
    quoted = 'time,"temp °C"\n' + "".join(f'"2026-03-10 08:00:0{n}","20,{n}"\n' for n in range(5))
    dialect = sniff(quoted.encode(), whole=True)
    assert (dialect.separator, dialect.decimal) == (",", ",")


def test_preamble_header_and_units_are_told_apart() -> None:
    text = (
        "sep=;\nLogger 7\nCellar;east\n\nDate;Clock;Return;Flow\n;;°F;gpm\n"
        "03/10/2026;8:00:00 AM;170;30\n03/11/2026;8:00:03 AM;171;30\n"
    )
    dialect = sniff(text.encode(), whole=True)
    assert (dialect.header_row, dialect.first_data_row) == (5, 7)
    assert propose(dialect).mapping == Mapping(
        time_columns=("Date", "Clock"),
        time_form="%m/%d/%Y %I:%M:%S %p",
        columns=(
            MappedColumn("temperature_c", "Return", "°F"),
            MappedColumn("flow_l_min", "Flow", "gpm"),
        ),
    )


def test_separator_at_the_end_of_the_readings_alone_makes_no_column() -> None:
    text = "time;temp °C\n0;20.5;;\n3;21.5;;\n6;;;\n"
    dialect = sniff(text.encode(), whole=True)
    assert (dialect.header_row, dialect.columns) == (1, ("time", "temp °C"))


def test_file_without_a_header_numbers_its_columns() -> None:
    dialect = sniff(ROWS.encode(), whole=True)
    assert (dialect.header_row, dialect.first_data_row) == (None, 1)
    assert dialect.columns == ("column 1", "column 2", "column 3")
    assert propose(dialect).doubts == (
        "No column was recognised by its name. Choose at least one.",
    )


def test_two_columns_named_alike_are_refused_by_name() -> None:
    text = GERMAN.replace("Durchfluss (L/min)", "Rücklauf  (°C)")
    with pytest.raises(LoggerFileUnreadable, match=r"named “Rücklauf \(°C\)” \(columns 2 and 3\)"):
        sniff(text.encode(), whole=True)


@pytest.mark.parametrize(
    "start, says",
    [
        (b"", "The file is empty"),
        (b"  \n\n", "The file is empty"),
        (b"PK\x03\x04....", "an Excel workbook"),
        (b"%PDF-1.7", "This is a PDF"),
        (b"\x1f\x8b\x08", "a compressed file"),
        (b"\x00\x01\x02\x00\x07 abc", "not a text file"),
        (b"Dear cellar,\nplease find the trace enclosed.\n", "No table was found"),
        (b"time;temp\n", "No table was found"),
        (b"time;temp\nnever;warm\n", "No table was found"),
    ],
)
def test_what_is_no_table_is_refused_with_what_to_do(start: bytes, says: str) -> None:
    with pytest.raises(LoggerFileUnreadable, match=says):
        sniff(start, whole=True)


@pytest.mark.parametrize(
    "written, form",
    [
        ("2026-03-10T08:00:00", "%Y-%m-%dT%H:%M:%S%.f"),
        ("2026-03-10T08:00:00.250+02:00", "%Y-%m-%dT%H:%M:%S%.f%z"),
        ("2026-03-10 08:00:00Z", "%Y-%m-%d %H:%M:%S%.f%z"),
        ("2026/03/10 08:00", "%Y/%m/%d %H:%M"),
        ("31.12.2026 08:00:00", "%d.%m.%Y %H:%M:%S%.f"),
        ("31.12.26 08:00", "%d.%m.%y %H:%M"),
        ("12/31/2026 8:00:00 PM", "%m/%d/%Y %I:%M:%S %p"),
        ("31/12/2026, 20:00", "%d/%m/%Y, %H:%M"),
        ("1770000000", "epoch s"),
        ("1770000000000", "epoch ms"),
        ("0", "elapsed s"),
        ("08:00:03", "clock"),
    ],
)
def test_time_form_is_found(written: str, form: str) -> None:
    text = f"time;temp (°C)\n{written};20.5\n{written};20.6\n"
    assert proposed(text).time_form == form


def test_day_and_month_are_told_apart_by_what_follows() -> None:
    """From 3 April to 4 April is a day, from 4 March to 4 April a month."""
    text = "time;temp °C\n03/04/2026 23:59:58;20\n04/04/2026 00:00:01;20\n"
    found = propose(sniff(text.encode(), whole=True))
    assert (found.mapping.time_form, found.doubts) == ("%d/%m/%Y %H:%M:%S%.f", ())
    american = text.replace("03/04", "04/03")
    assert proposed(american).time_form == "%m/%d/%Y %H:%M:%S%.f"


def test_day_and_month_that_cannot_be_told_apart_are_doubted() -> None:
    text = "time;temp °C\n03/04/2026 08:00:00;20\n03/04/2026 08:00:03;20\n"
    assert propose(sniff(text.encode(), whole=True)).doubts == (
        "“03/04/2026 08:00:00” may have the day or the month first. The day is assumed.",
    )


def test_return_is_preferred_to_supply_and_said() -> None:
    text = "time;Supply temp °C;Return temp °C;cond\n0;80;75;90.5\n3;80;75;90.5\n"
    found = propose(sniff(text.encode(), whole=True))
    assert [each.column for each in found.mapping.columns] == ["Return temp °C", "cond"]
    assert found.doubts == (
        "“Return temp °C” and “Supply temp °C” may both be temperature. “Return temp °C” is used.",
        "“cond” has no unit. mS/cm is assumed.",
    )


def test_file_without_a_time_is_refused() -> None:
    text = "temp °C;flow L/min\n80.5;120\n70.5;110\n"
    with pytest.raises(LoggerFileUnreadable, match="No column contains times") as refused:
        proposed(text)
    assert refused.value.field == "time_columns"


def test_mapping_comes_back_from_json() -> None:
    mapping = proposed(GERMAN)
    assert from_json(mapping.as_json()) == mapping
    with pytest.raises(LoggerFileUnreadable, match="saved mapping cannot be read"):
        from_json({"time_columns": ["a"]})


def changed(mapping: Mapping, **change: object) -> Mapping:
    return from_json(mapping.as_json() | change)


@pytest.mark.parametrize(
    "change, field, says",
    [
        ({"time_columns": []}, "time_columns", "Choose the column of the time"),
        ({"time_form": "%Q"}, "time_form", "not a known time format"),
        ({"columns": []}, "columns", "at least one column"),
        ({"columns": [["ph", "pH", "pH"]]}, "columns", "no column “pH” in this file"),
        ({"columns": [["colour", "Zeit", "red"]]}, "columns", "not a known quantity"),
        (
            {"columns": [["temperature_c", "Rücklauf (°C)", "bar"]]},
            "temperature_c",
            "not a unit of",
        ),
        ({"columns": [["temperature_c", "Zeit", "°C"]]}, "temperature_c", "already the time"),
        (
            {
                "columns": [
                    ["temperature_c", "Rücklauf (°C)", "°C"],
                    ["temperature_c", "Durchfluss (L/min)", "°C"],
                ]
            },
            "temperature_c",
            "Two columns are chosen as temperature",
        ),
        ({"decimal": "'"}, "decimal", "a point or a comma"),
    ],
)
def test_mapping_that_does_not_fit_is_refused_beside_its_field(
    change: dict[str, object], field: str, says: str
) -> None:
    dialect = sniff(GERMAN.encode(), whole=True)
    with pytest.raises(LoggerFileUnreadable, match=says) as refused:
        changed(propose(dialect).mapping, **change).check(dialect)
    assert refused.value.field == field
