"""Figures as SVG: well-formed, to scale, escaped, for the screen and for paper."""

import dataclasses
import re
from collections.abc import Sequence
from datetime import UTC
from xml.etree import ElementTree as ET

import pytest

from brewhygiene.drawing.figure import (
    Axis,
    Bars,
    Cells,
    Dots,
    Figure,
    Level,
    Line,
    Mark,
    Panel,
    Spread,
    Table,
)
from brewhygiene.drawing.inks import PAPER
from brewhygiene.drawing.svg import svg_of
from tests.drawing.gallery import gallery, readings, shares

SVG = "{http://www.w3.org/2000/svg}"


def of(*marks: Mark, x: Axis | None = None, y: Axis | None = None, name: str = "one") -> Figure:
    panel = Panel(x=x or Axis(low=0, high=10), y=y or Axis(low=0, high=10), marks=marks)
    return Figure(name, "Caption", "It says.", [panel], Table(("a",), []))


def parsed(figure: Figure, *, paper: bool = False) -> ET.Element:
    return ET.fromstring(svg_of(figure, paper=paper, zone=UTC))  # noqa: S314 - our own


def clipped(root: ET.Element) -> ET.Element:
    (found,) = [g for g in root.iter(f"{SVG}g") if g.get("clip-path")]
    return found


def area(root: ET.Element) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of the plotting area."""
    box = next(iter(root.iter(f"{SVG}clipPath")))[0]
    x, y, w, h = (float(box.get(name, "")) for name in ("x", "y", "width", "height"))
    return x, y, x + w, y + h


def numbers_in(path: str) -> list[float]:
    return [float(each) for each in re.findall(r"-?[\d.]+", path)]


@pytest.mark.parametrize("paper", [False, True], ids=["screen", "paper"])
@pytest.mark.parametrize("figure", gallery(), ids=lambda figure: str(figure.name))
def test_every_figure_is_well_formed_and_without_styles(figure: Figure, paper: bool) -> None:
    root = parsed(figure, paper=paper)
    assert root.tag == f"{SVG}svg"
    attributes = {name for element in root.iter() for name in element.attrib}
    assert not attributes & {"style", "onclick", "class"}
    assert "nan" not in svg_of(figure, paper=paper, zone=UTC)


def test_line_runs_from_corner_to_corner() -> None:
    root = parsed(of(Line(x=[0, 10], y=[0, 10])))
    left, top, right, bottom = area(root)
    (path,) = clipped(root)
    assert numbers_in(path.get("d", "")) == pytest.approx([left, bottom, right, top], abs=0.11)


def test_missing_value_leaves_a_gap() -> None:
    (path,) = clipped(parsed(of(Line(x=[1, 2, 3, 4, 5], y=[1, 2, None, 4, 5]))))
    assert re.sub(r"[^ML]", "", path.get("d", "")) == "MLML"


def test_steps_go_level_then_up() -> None:
    (path,) = clipped(parsed(of(Line(x=[1, 2], y=[1, 5], steps=True))))
    assert re.sub(r"[^MLHV]", "", path.get("d", "")) == "MHV"


def test_few_dots_carry_their_words_and_links() -> None:
    root = parsed(of(Dots(x=[1, 2], y=[3, None], words=["<b>&", "gone"], links=["/a?b=1&c", ""])))
    (link,) = root.iter(f"{SVG}a")
    assert link.get("href") == "/a?b=1&c"
    (title,) = root.iter(f"{SVG}title")
    assert title.text == "<b>&"


def test_many_dots_are_one_path() -> None:
    root = parsed(of(Dots(x=list(range(1000)), y=[1.0] * 1000, words=["w"] * 1000)))
    (path,) = clipped(root)
    assert path.get("d", "").count("M") == 1000
    assert path.get("stroke-linecap") == "round"


def test_dots_of_missing_values_are_not_drawn() -> None:
    assert len(clipped(parsed(of(Dots(x=[1, 2], y=[None, None]))))) == 0


def test_bars_stand_on_zero_and_sideways_bars_too() -> None:
    upright = parsed(of(Bars(at=[5], length=[5], width=2)))
    left, top, right, bottom = area(upright)
    box = next(clipped(upright).iter(f"{SVG}rect"))
    assert float(box.get("y", "")) + float(box.get("height", "")) == pytest.approx(bottom, abs=0.2)
    assert float(box.get("width", "")) == pytest.approx((right - left) / 5, abs=0.2)
    lying = parsed(
        of(
            Bars(at=["b"], length=[10], sideways=True, width=1),
            y=Axis(kind="category", categories=("a", "b")),
        )
    )
    left, top, right, bottom = area(lying)
    box = next(clipped(lying).iter(f"{SVG}rect"))
    assert float(box.get("x", "")) == pytest.approx(left, abs=0.1)
    assert float(box.get("width", "")) == pytest.approx(right - left, abs=0.2)
    # Categories are read downwards: the second is the lower one.
    assert float(box.get("y", "")) == pytest.approx((top + bottom) / 2, abs=0.2)


def test_interval_without_ends_is_a_dot() -> None:
    root = parsed(of(Spread(at=[1, 2], low=[1, None], middle=[2, 3], high=[3, None])))
    assert len(list(clipped(root).iter(f"{SVG}path"))) == 3


def test_cells_are_darker_the_more_they_hold() -> None:
    axis = Axis(kind="category", categories=("a", "b", "c"))
    root = parsed(
        of(
            Cells(
                values=[[0, 5, 10], [None, None, 20]], low=0, high=10, shown=[["0", "", "x"]] * 2
            ),
            x=axis,
            y=Axis(kind="category", categories=("u", "v")),
        )
    )
    boxes = list(clipped(root).iter(f"{SVG}rect"))
    assert [float(box.get("fill-opacity", "")) for box in boxes] == [0.06, 0.53, 1.0, 1.0]
    assert [each.text for each in clipped(root).iter(f"{SVG}text")] == ["0", "x", "x"]


def test_words_of_two_near_levels_do_not_touch() -> None:
    root = parsed(of(Level(y=9.9, words="action"), Level(y=9.8, words="alert")))
    at = {
        each.text: float(each.get("y", ""))
        for each in root.iter(f"{SVG}text")
        if each.text in ("action", "alert")
    }
    assert at["alert"] - at["action"] >= 13
    assert at["action"] > area(root)[1]


def test_screen_takes_the_pages_colours_and_paper_fixed_ones() -> None:
    screen = svg_of(shares(), zone=UTC)
    assert "var(--chart-ink)" in screen
    assert "#" not in re.sub(r"url\(#[^)]*\)", "", screen)
    paper = svg_of(shares(), paper=True, zone=UTC)
    assert "var(" not in paper
    assert PAPER["ink"] in paper
    # The key stands on the page beside the screen's drawing, and within that of paper.
    assert ("share and 95 % interval" in screen, "share and 95 % interval" in paper) == (
        False,
        True,
    )


def test_drawing_is_as_wide_and_high_as_asked() -> None:
    root = ET.fromstring(svg_of(shares(), width_px=300, height_px=150, zone=UTC))  # noqa: S314
    assert (root.get("width"), root.get("height")) == ("300", "150")
    assert root.get("viewBox") == "0 0 300 150"


def test_two_figures_on_a_page_have_names_of_their_own() -> None:
    names = [
        each.get("id")
        for figure in (of(Level(y=1), name="a"), of(Level(y=1), name="b"))
        for each in parsed(figure).iter(f"{SVG}clipPath")
    ]
    assert names == ["a-0-clip", "b-0-clip"]


def texts(root: ET.Element) -> Sequence[str]:
    return ["".join(each.itertext()) for each in root.iter(f"{SVG}text")]


def test_words_are_escaped() -> None:
    figure = readings(count=5)
    assert "Point 1 <valve> & hose, RLU" in texts(parsed(figure))
    assert "&lt;valve&gt; &amp; hose" in svg_of(figure, zone=UTC)


def test_long_chart_of_five_panels_stays_small() -> None:
    assert len(svg_of(readings(count=1000, panels=5), zone=UTC)) < 200_000


def test_figure_with_nothing_known_is_still_drawn() -> None:
    figure = dataclasses.replace(of(Dots(x=[], y=[])), panels=[Panel(Axis(), Axis(), [])])
    assert parsed(figure).tag == f"{SVG}svg"


def test_paper_is_drawn_by_the_printer() -> None:
    import io

    import weasyprint
    from pypdf import PdfReader

    html = "".join(svg_of(figure, paper=True, zone=UTC, width_px=640) for figure in gallery())
    pdf = weasyprint.HTML(string=f"<html><body>{html}</body></html>").write_pdf()
    pages = PdfReader(io.BytesIO(pdf)).pages
    text = "".join(page.extract_text() for page in pages)
    for words in ("action limit 80", "FV-02", "caustic too weak", "down, purple", "New gasket"):
        assert words in text
    # Drawn as lines: no picture of dots.
    assert all(not page.images for page in pages)
