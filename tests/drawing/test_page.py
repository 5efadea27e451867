"""The data of a figure for the page's script, and the tag that shows it."""

import json
import re
import zoneinfo
from datetime import UTC, datetime, timedelta

import pytest
from django.template import Context, Template
from django.utils import timezone

from brewhygiene.drawing.figure import Axis, Cells, Dots, Figure, Line, Moment, Panel, Table
from brewhygiene.drawing.page import figure_data
from tests.drawing.gallery import gallery, readings

START = datetime(2026, 3, 28, 12, tzinfo=UTC)


@pytest.mark.parametrize("figure", gallery(), ids=lambda figure: str(figure.name))
def test_data_of_every_figure_is_strict_json(figure: Figure) -> None:
    text = json.dumps(figure_data(figure, zone=UTC), allow_nan=False)
    assert json.loads(text)["name"] == figure.name


def test_times_are_sent_as_the_wall_clock_shows_them() -> None:
    """Summer time began in Austria on 29 March 2026: noon UTC is 13:00, a day later 14:00."""
    figure = Figure(
        "times",
        "c",
        "s",
        [
            Panel(
                x=Axis(kind="time"),
                y=Axis(),
                marks=[
                    Dots(x=[START, START + timedelta(days=1)], y=[1.23456789, None]),
                    Moment(x=START),
                ],
            )
        ],
        Table(("a",), []),
    )
    dots, moment = figure_data(figure, zone=zoneinfo.ZoneInfo("Europe/Vienna"))["panels"][0][
        "marks"
    ]
    shown = [datetime.fromtimestamp(second, UTC) for second in dots["x"]]
    assert [(each.day, each.hour) for each in shown] == [(28, 13), (29, 14)]
    assert dots["y"] == [1.23457, None]
    assert moment["x"] == dots["x"][0]


def test_cells_are_sent_as_columns_of_what_they_hold() -> None:
    figure = Figure(
        "cells",
        "c",
        "s",
        [
            Panel(
                x=Axis(kind="category", categories=("a", "b")),
                y=Axis(kind="category", categories=("u", "v")),
                marks=[
                    Cells(
                        values=[[None, 10], [0, None]],
                        low=0,
                        high=10,
                        words=[["ua", "ub"], ["va", "vb"]],
                    )
                ],
            )
        ],
        Table(("a",), []),
    )
    (cells,) = figure_data(figure, zone=UTC)["panels"][0]["marks"]
    assert cells == {
        "kind": "cells",
        "row": [0, 1],
        "column": [1, 0],
        "share": [1.0, 0.06],
        "words": ["ub", "va"],
    }


def test_line_says_what_it_is_drawn_with() -> None:
    figure = readings(count=4)
    line = figure_data(figure, zone=UTC)["panels"][0]["marks"][1]
    assert isinstance(figure.panels[0].marks[1], Line)
    assert line == {
        "kind": "line",
        "ink": "soft",
        "dash": "solid",
        "width": 1,
        "x": line["x"],
        "y": [line["y"][0], line["y"][1], None, line["y"][3]],
    }


def shown(figure: Figure) -> str:
    page = Template("{% load charts %}{% figure fig %}").render(Context({"fig": figure}))
    return str(page)


def test_tag_shows_drawing_data_and_numbers() -> None:
    with timezone.override(UTC):
        page = shown(readings(count=3))
    assert page.count("<svg") == 2 + 3  # for a desk, for a phone, and three in the key
    assert '<script id="readings-data" type="application/json">' in page
    assert page.count("<tr>") == 1 + 3
    row = '<th scope="row"><a href="/atp-readings/1/">02 Mar 2026</a></th><td>0</td>'
    assert row in re.sub(r">\s+<", "><", page)
    ids = re.findall(r'<clipPath id="([^"]+)">', page)
    assert ids == ["readings-0-clip", "readings-narrow-0-clip"]
    assert 'id="readings-says">Steady around 30 RLU' in page


def test_words_of_a_figure_are_escaped_everywhere() -> None:
    figure = Figure(
        "bad",
        "<script>alert(1)</script>",
        "</figcaption>",
        [
            Panel(
                x=Axis(title="<x>"),
                y=Axis(title="<y>"),
                marks=[Dots(x=[1], y=[1], name="<n>", words=["</title></svg><script>"])],
            )
        ],
        Table(("<h>",), [("<r>",)]),
    )
    page = shown(figure)
    assert page.count("<script") == 1  # the data's own
    assert page.count("</script>") == 1
    for words in ("<x>", "<y>", "<n>", "<h>", "<r>"):
        assert words not in page


def test_scripts_of_a_chart_are_named_for_later_and_only_their_loader_is_in_the_page() -> None:
    page = str(Template("{% load charts %}{% chart_scripts %}").render(Context()))
    assert re.findall(r'<script src="([^"]+)"', page) == ["/static/brewhygiene/figure/load.js"]
    (parts,) = re.findall(r'data-parts="([^"]+)"', page)
    assert parts.split(" ") == [
        "/static/plotly/plotly.min.js",
        "/static/brewhygiene/figure/words.js",
        "/static/brewhygiene/figure/traces.js",
        "/static/brewhygiene/figure/axes.js",
        "/static/brewhygiene/figure/chart.js",
    ]
