"""What hands, scripts and accidents put into fields."""

from hypothesis import strategies as st

from tests.fuzz.pages import Field

MOMENTS = [
    "0001-01-01T00:00",
    "1000-02-30T12:00",
    "1899-12-31T23:59",
    "2026-03-29T02:30",
    "2026-10-25T02:30",
    "2026-10-25T02:30:00.000001",
    "9999-12-31T23:59",
    "+10000-01-01T00:00",
    "2026-13-01T00:00",
    "2026-03-14T24:00",
    "2026-03-14 06:30+14:00",
]
DAYS = ["0001-01-01", "9999-12-31", "2026-02-29", "2026-03-14", "-0001-01-01", "99999-01-01"]
NUMBERS = [
    "0",
    "-0",
    "-1",
    "1",
    "7",
    "0.0000001",
    "1e999",
    "-1e999",
    "NaN",
    "inf",
    "2147483648",
    "9223372036854775808",
    "9" * 30,
    "9" * 5000,
    "0x10",
    "1,5",
    "1.234,5",
    "1_000",
    "\u0663\u0664",
    "\u00bd",
    "1 000",
]
TEXTS = [
    "",
    " ",
    "\t\n",
    "ok",
    "\x00",
    "a\x00b",
    "\x1f\x7f",
    "x" * 300,
    "x" * 70_000,
    "\u202e\u200f",
    "\U0001f37a" * 40,
    "Z\u0351\u036b\u0343\u036a" * 20,
    "<script>alert(1)</script>",
    "{{ 7|add:7 }}{% now 'Y' %}",
    "'; DROP TABLE brewhygiene_entry; --",
    "../../../../etc/passwd",
    "=1+1",
    "\ufffe\uffff",
]
KINDS = ["on", "off", "true", "None", "null", "[]", "{}"]

anything = st.one_of(
    st.sampled_from(MOMENTS),
    st.sampled_from(DAYS),
    st.sampled_from(NUMBERS),
    st.sampled_from(TEXTS),
    st.sampled_from(KINDS),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
    st.integers().map(str),
    st.floats().map(str),
    st.datetimes().map(lambda moment: moment.isoformat()),
)


PLAUSIBLE = {"datetime-local": "2026-03-16T10:30", "date": "2026-12-31", "number": "7"}


def plausible(field: Field) -> list[str]:
    """What somebody in good faith would send."""
    offered = [one for one in field.offered if one]
    if field.kind == "checkbox":
        return offered
    if field.value or field.kind == "hidden":
        return [field.value]
    return [offered[0] if offered else PLAUSIBLE.get(field.kind, "ok")]


def spoiled(field: Field) -> st.SearchStrategy[list[str]]:
    """What nobody in good faith would send, and what else is offered."""
    likely = {
        "datetime-local": st.sampled_from(MOMENTS),
        "date": st.sampled_from(DAYS),
        "number": st.sampled_from(NUMBERS),
    }.get(field.kind, anything)
    ways = [
        likely.map(lambda one: [one]),
        likely.map(lambda one: [one]),
        st.lists(anything, max_size=3),
    ]
    if field.offered:
        ways.append(st.sampled_from(field.offered).map(lambda one: [one]))
    return st.one_of(anything.map(lambda one: [one]), *ways)
