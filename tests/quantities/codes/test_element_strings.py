"""Element strings: what is read, what is refused, and why."""

from datetime import date

import pytest
from biip import parse
from biip.gs1_messages import GS1Message
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.quantities.codes.element_strings import (
    LONGEST_CODE,
    Code,
    Unreadable,
    looks_like_code,
    plain_text,
    read_code,
)
from brewhygiene.quantities.codes.identifiers import IDENTIFIERS, PREDEFINED, identifier_at
from brewhygiene.quantities.codes.numbers import check_digit

GS = "\x1d"
GTIN = "0109506000134352"
END_2027 = date(2027, 12, 31)


def read(text: str, *, year: int = 2026) -> Code:
    return read_code(text, year=year)


def refusal(text: str) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        read(text)
    return caught.value


@pytest.mark.parametrize("kind", ["]C1", "]e0", "]d2", "]Q3", "]J1", "", GS, f"]d2{GS}"])
def test_every_kind_of_code_of_elements_is_read_alike(kind: str) -> None:
    code = read(f"{kind}{GTIN}1727120010LOT42")
    assert (code.gtin, code.lot, code.expires_on) == ("09506000134352", "LOT42", END_2027)


@pytest.mark.parametrize("kind", ["]C0", "]d1", "]Q1", "]J0", "]A0"])
def test_text_of_other_codes_is_not_taken_for_fields(kind: str) -> None:
    assert refusal(f"{kind}{GTIN}10LOT42").about == "kind"
    assert plain_text(f"{kind}FV 5\r\n") == "FV 5"


@pytest.mark.parametrize(
    "text", ["]E09506000134352", "]E440170725", "9506000134352", "614141000036", "40170725\n"]
)
def test_bare_product_number(text: str) -> None:
    code = read(text)
    assert code.gtin.endswith(plain_text(text))
    assert len(code.gtin) == 14
    assert (code.lot, code.expires_on) == ("", None)


def test_line_below_the_code_is_read_by_its_brackets() -> None:
    code = read("(01)09506000134352 (17)271231(10)A(2)(99B")
    assert code.values == {"01": "09506000134352", "17": "271231", "10": "A(2)(99B"}
    assert code.expires_on == END_2027


@pytest.mark.parametrize(
    "link",
    [
        "https://id.gs1.org/01/09506000134352/10/LOT%2F42?17=271231",
        "HTTPS://brand.invalid/some/path/01/9506000134352/10/LOT%2F42?17=271231&lang=en#top",
    ],
)
def test_digital_link(link: str) -> None:
    code = read(link)
    assert (code.gtin, code.lot, code.expires_on) == ("09506000134352", "LOT/42", END_2027)


@pytest.mark.parametrize(
    "fields, until",
    [
        ("15271231", END_2027),
        ("16271231", END_2027),
        ("1528010117271231", END_2027),
        ("70032712311330", END_2027),
        ("11271231", None),
        ("13271231", None),
    ],
)
def test_which_date_ends_the_use(fields: str, until: date | None) -> None:
    assert read(GTIN + fields).expires_on == until


def test_number_inside_a_case_is_its_product() -> None:
    assert read(f"02{GTIN[2:]}3712").gtin == "09506000134352"


@pytest.mark.parametrize(
    "text, about, words",
    [
        ("0109506000134353", "check digit of AI 01", "it should be 2"),
        ("9506000134353", "check digit of AI 01", "it should be 2"),
        ("00106141412345678900", "check digit of AI 00", "it should be 8"),
        (f"{GTIN}0510", "unknown AI", "not known here: 0510"),
        ("(01)09506000134352(05)1", "length of AI 01", "too long: 09506000134352(05)1"),
        ("(05)1", "unknown AI", "not known here: (05)1"),
        ("https://id.gs1.org/01/09506000134352/05/1", "unknown AI", "not known here: 05"),
        ("hello", "unknown AI", "not known here: hell"),
        ("01095060001343", "check digit of AI 01", "wrong"),
        ("]C101095060001343", "length of AI 01", "cut short"),
        (f"{GTIN}172712", "length of AI 17", "cut short"),
        (f"{GTIN}1727{GS}1231", "length of AI 17", "cut short"),
        (f"{GTIN}10", "length of AI 10", "The lot in the barcode is cut short"),
        (f"{GTIN}10{'A' * 21}", "length of AI 10", "too long"),
        (f"{GTIN}10LOT 42", "characters of AI 10", "The lot"),
        (f"{GTIN}10LÖT", "characters of AI 10", "The lot"),
        (f"{GTIN}3012A", "characters of AI 30", "The count"),
        (f"{GTIN}17270229", "day in AI 17", "no day of the calendar: 270229"),
        (f"{GTIN}17271301", "day in AI 17", "no day of the calendar: 271301"),
        (f"{GTIN}17٢٧١٢٣١", "characters of AI 17", "The expiry date"),
        (f"{GTIN}10A{GS}10B", "repeated AI 10", "two values for the lot"),
        ("]C1", "empty", "empty"),
        (GS, "empty", "empty"),
        ("123456789", "length of AI 01", "8, 12, 13 or 14 digits"),
        ("]E0ABC", "length of AI 01", "8, 12, 13 or 14 digits"),
        ("]C1" + "A" * LONGEST_CODE, "length", "longer than a barcode"),
    ],
)
def test_refused_whole_and_in_words(text: str, about: str, words: str) -> None:
    error = refusal(text)
    assert error.about == about
    assert words in error.words


def test_the_same_value_twice_is_said_once() -> None:
    assert read(f"{GTIN}10A{GS}10A").lot == "A"


def test_longest_lot_and_longest_code() -> None:
    assert read(f"{GTIN}10{'A' * 20}").lot == "A" * 20
    assert len(read(f"91{'A' * 90}").values["91"]) == 90


@pytest.mark.parametrize(
    "lot, doubtful",
    [
        ("A17280105", True),
        ("A11250105", True),
        ("17280105", False),
        ("A18280105", False),
        ("A17281305", False),
        ("A17361231", True),
        ("A17370101", False),
        ("A17160101", True),
        ("A17151231", False),
        ("A172801", False),
        ("A1728010X", False),
    ],
)
def test_lot_that_may_have_swallowed_a_date(lot: str, doubtful: bool) -> None:
    code = read(f"{GTIN}10{lot}")
    assert code.lot == lot
    assert bool(code.doubt(year=2026)) is doubtful


def test_doubt_says_both_readings() -> None:
    assert read(f"{GTIN}10A17280105").doubt(year=2026) == (
        "The scanner may have joined two fields: A17280105 could be lot A with the expiry date "
        "5 January 2028. Compare the lot with the package."
    )
    assert read(f"{GTIN}17280105").doubt(year=2026) == ""


@pytest.mark.parametrize(
    "text, is_one",
    [
        (f"]d2{GTIN}", True),
        (f"  {GS}{GTIN}", True),
        ("(10)LOT42", True),
        ("(05)LOT42", False),
        ("(A)1", False),
        (f"{GTIN}10LOT42", True),
        ("0109506000134353", False),
        ("0109506000134353A", False),
        ("010950600013435310LOT42", True),
        ("https://id.gs1.org/01/09506000134352", True),
        ("https://id.gs1.org/10/LOT42", False),
        ("]C0LOT42", False),
        ("9506000134352", False),
        ("10LOT42", False),
        ("C-0417", False),
        ("", False),
    ],
)
def test_what_is_a_code_and_what_a_lot(text: str, is_one: bool) -> None:
    assert looks_like_code(text) is is_one


# --- against an independent reader -------------------------------------------------------------

WIDELY_USED = (
    "01",
    "10",
    "11",
    "13",
    "15",
    "17",
    "20",
    "21",
    "30",
    "240",
    "3102",
    "420",
    "422",
    "91",
)
CHARACTERS = "ABCxyz019!\"%&'()*+,-./:;<=>?_"


def test_no_identifier_begins_another() -> None:
    for number in IDENTIFIERS:
        assert identifier_at(number + "0000") == number


def _theirs(text: str) -> GS1Message:
    read_there = parse(text)
    assert read_there.gs1_message is not None, read_there.gs1_message_error
    return read_there.gs1_message


def _longest(number: str) -> str:
    """An element of this identifier, as long as it may be."""
    field = IDENTIFIERS[number]
    if field.is_date:
        return "271231"[: field.digits].ljust(field.digits, "0")
    digits = "1" * (field.digits or field.text)
    if not field.digits:
        return digits
    if field.checked:
        digits = digits[:-1] + str(check_digit(digits[:-1]))
    return digits + "1" * field.text


@pytest.mark.parametrize("number", sorted(IDENTIFIERS))
def test_longest_value_and_its_end_are_as_an_independent_reader_has_them(number: str) -> None:
    value = _longest(number)
    # What needs no separator is followed at once.
    last = "98" if number == "99" else "99"
    text = f"{number}{value}{'' if number[:2] in PREDEFINED else GS}{last}END"
    theirs = [(e.ai.ai, e.value) for e in _theirs(f"]C1{text}").element_strings]
    assert list(read(f"]C1{text}").values.items()) == theirs
    if number[:2] not in PREDEFINED:
        assert parse(f"]C1{number}{value}1").gs1_message is None
        assert refusal(f"]C1{number}{value}1").about == f"length of AI {number}"


@st.composite
def elements(draw: st.DrawFn) -> dict[str, str]:
    """Fields as a package may carry them, each once, in any order."""
    values = {}
    for number in draw(st.permutations(WIDELY_USED))[: draw(st.integers(1, 8))]:
        field = IDENTIFIERS[number]
        if field.is_date:
            day = draw(st.dates(date(2000, 1, 1), date(2060, 12, 31)))
            values[number] = day.strftime("%y%m%d")
        elif field.checked:
            body = draw(st.text("0123456789", min_size=field.digits - 1, max_size=field.digits - 1))
            values[number] = f"{body}{check_digit(body)}"
        elif field.digits:
            values[number] = draw(
                st.text("0123456789", min_size=field.digits, max_size=field.digits)
            )
        else:
            signs = "0123456789" if number == "30" else CHARACTERS
            values[number] = draw(st.text(signs, min_size=1, max_size=field.text))
    return values


def element_string(values: dict[str, str]) -> str:
    text = ""
    for number, value in values.items():
        text += number + value + ("" if number[:2] in PREDEFINED else GS)
    return text.rstrip(GS)


@given(elements())
def test_what_was_written_is_read(values: dict[str, str]) -> None:
    assert read(f"]d2{element_string(values)}").values == values


@given(elements())
def test_an_independent_reader_reads_the_same(values: dict[str, str]) -> None:
    text = f"]d2{element_string(values)}"
    ours, theirs = read(text), {e.ai.ai: e for e in _theirs(text).element_strings}
    assert ours.values == {number: element.value for number, element in theirs.items()}
    # Their reference year is today's, so only the day and the month are compared.
    for number, day in ours.days.items():
        assert theirs[number].date is not None
        assert (theirs[number].date.month, theirs[number].date.day) == (day.month, day.day)


@given(elements(), st.data())
def test_a_code_cut_anywhere_is_read_to_there_or_refused(
    values: dict[str, str], data: st.DataObject
) -> None:
    text = element_string(values)
    cut = text[: data.draw(st.integers(0, len(text)))]
    try:
        found = read(f"]d2{cut}").values
    except Unreadable as error:
        said = error.words
        assert said
    else:
        # Only the last field may be shorter than it was written.
        for number, value in found.items():
            assert values[number].startswith(value)


@given(st.text(max_size=80))
def test_no_text_at_all_breaks_the_reader(text: str) -> None:
    try:
        read(text)
    except Unreadable as error:
        said = (error.words, error.about)
        assert all(said)
    looks_like_code(text)
