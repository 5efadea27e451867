"""How numbers and moments are written, in each style; and that what is written is read back."""

import re
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.quantities.parsing import parse_number, show_number
from brewhygiene.quantities.style import (
    DATES,
    DECIMALS,
    FORMS,
    PLAIN,
    Style,
    digits,
    moment_form,
    own_words,
    shown_moment,
    shown_to,
    style,
    told,
    written_in,
)

ROOT = Path(__file__).parents[2]
STYLES = [Style(decimal, dates) for decimal in DECIMALS for dates in DATES]
COMMA = Style(",", "month_first")
MOMENT = datetime(2026, 6, 7, 14, 5, 9, tzinfo=UTC)


@given(
    value=st.floats(-1e9, 1e9, allow_nan=False).filter(lambda n: n == 0 or abs(n) > 1e-9),
    chosen=st.sampled_from(STYLES),
    significant=st.integers(2, 8),
)
def test_number_is_read_back_as_it_was_shown(value: float, chosen: Style, significant: int) -> None:
    plain = parse_number(show_number(value, significant=significant))
    with written_in(chosen):
        assert parse_number(show_number(value, significant=significant)) == plain


@given(value=st.floats(0, 1e9, allow_nan=False))
def test_thousands_beside_a_comma_are_read_back(value: float) -> None:
    with written_in(COMMA):
        words = digits(value, ",.2f")
        assert parse_number(words) == float(format(value, ".2f"))
    assert "." not in words


@pytest.mark.parametrize(
    ("dates", "form", "words"),
    [
        ("day_first", "j M Y, H:i", "7 Jun 2026, 14:05"),
        ("month_first", "j M Y, H:i", "Jun 7, 2026, 2:05 PM"),
        ("iso", "j M Y, H:i", "2026-06-07 14:05"),
        ("day_first", "D H:i", "Sun 14:05"),
        ("month_first", "D H:i", "Sun 2:05 PM"),
        ("month_first", "D j M", "Sun, Jun 7"),
        ("iso", "D j M Y H:i", "Sun 2026-06-07 14:05"),
        ("month_first", "H:i:s", "2:05:09 PM"),
        ("iso", "F Y", "2026-06"),
        ("day_first", "d M Y", "07 Jun 2026"),
    ],
)
def test_moment_is_written_in_each_style(dates: str, form: str, words: str) -> None:
    with written_in(Style(dates=dates)):
        assert shown_moment(MOMENT, form) == words


@pytest.mark.parametrize(("hour", "words"), [(0, "12:05 AM"), (12, "12:05 PM"), (13, "1:05 PM")])
def test_clock_of_twelve_hours_has_its_twelves(hour: int, words: str) -> None:
    with written_in(COMMA):
        assert shown_moment(MOMENT.replace(hour=hour), "H:i") == words


def test_form_of_no_table_is_no_form() -> None:
    with pytest.raises(KeyError):
        shown_moment(MOMENT, "c")
    with written_in(COMMA):
        assert moment_form("c") == "c"


@pytest.mark.parametrize("chosen", STYLES)
@pytest.mark.parametrize("form", sorted(FORMS))
def test_templates_and_python_write_the_same(form: str, chosen: Style) -> None:
    with written_in(chosen):
        page = Template("{{ at|date:form }}").render(Context({"at": MOMENT, "form": form}))
        assert page == shown_moment(MOMENT, form)


def test_every_format_of_a_template_has_its_styles() -> None:
    """But those for machines: the name of a file, and a moment with its offset."""
    used = set()
    for template in (ROOT / "templates").rglob("*.html"):
        text = template.read_text(encoding="utf-8")
        used |= set(re.findall(r"(?:\|(?:date|time):|% now )[\"']([^\"']+)", text))
    assert used - FORMS.keys() == {"c", "Ymd"}


def test_filters_of_templates_write_in_the_style() -> None:
    page = Template(
        "{{ n|number }} {{ n|floatformat:2 }} {{ n|floatformat:'1u' }} {{ size|filesizeformat }}"
    )
    values = Context({"n": 2.25, "size": 13_824})
    assert page.render(values) == "2.25 2.25 2.3 13.5\xa0KB"
    with written_in(COMMA):
        assert page.render(values) == "2,25 2,25 2.3 13,5\xa0KB"


def test_sentence_of_ours_keeps_what_is_no_figure() -> None:
    with written_in(COMMA):
        words = own_words("Below 0.05 by 21 CFR 178.1010, e-Handbook 6.3.2, at 192.0.2.7, 2.")
    assert words == "Below 0,05 by 21 CFR 178.1010, e-Handbook 6.3.2, at 192.0.2.7, 2."


def test_style_ends_with_what_it_was_for_and_a_refusal_is_the_persons() -> None:
    assert style() == PLAIN
    with shown_to(COMMA):
        with written_in(PLAIN):
            assert show_number(2.5) == "2.5"
            with told():
                assert show_number(2.5) == "2,5"
            assert show_number(2.5) == "2.5"
        assert show_number(2.5) == "2,5"
    with told():
        assert style() == PLAIN


def test_day_without_a_clock_is_written() -> None:
    with written_in(COMMA):
        assert shown_moment(date(2026, 3, 1), "j F Y") == "March 1, 2026"
