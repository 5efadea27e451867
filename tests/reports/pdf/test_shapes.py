"""The shapes on paper are those of the screens."""

import re
from pathlib import Path

import pytest

from brewhygiene.atp.models.readings import Verdict
from brewhygiene.plates.models import PlateState
from brewhygiene.release.gates import Answer
from brewhygiene.release.status import Code
from brewhygiene.reports.pdf.paper import pdf_of
from brewhygiene.reports.pdf.shapes import COLOURS, shape_svg
from brewhygiene.turnarounds.models import WindowVerdict

STYLES = Path(__file__).parents[3] / "static" / "brewhygiene"
CODES = [
    *Code,
    *Verdict.values,
    *WindowVerdict.values,
    *Answer,
    *PlateState.values,
]


@pytest.mark.parametrize("code", sorted({str(code) for code in CODES}))
def test_every_status_and_verdict_has_a_shape_without_variables(code: str) -> None:
    svg = shape_svg(code)
    assert svg.startswith("<svg ")
    assert (svg.count("var("), svg.count("currentColor"), svg.count("xmlns")) == (0, 0, 0)


def test_unknown_code_has_no_shape() -> None:
    with pytest.raises(KeyError):
        shape_svg("no_such_status")


def test_shape_first_drawn_after_a_pdf_is_the_same() -> None:
    """What writes PDFs changes how the whole process writes the names of SVG."""
    shape_svg.cache_clear()
    before = shape_svg("held")
    pdf_of(f'<html lang="en"><p>{before}</p></html>', styles=["paper/sheet.css"])
    shape_svg.cache_clear()
    assert shape_svg("held") == before


def test_colours_are_those_of_the_screens() -> None:
    statuses = (STYLES / "parts" / "status.css").read_text(encoding="utf-8")
    light = (STYLES / "tokens.css").read_text(encoding="utf-8").split("@media")[0]
    named = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6});", light))
    found = {
        selector.strip().removeprefix(".status-").removeprefix(".verdict-"): named[colour]
        for selectors, colour in re.findall(r"([^{}]+)\{ --mark: var\(--([a-z]+)\)", statuses)
        for selector in selectors.split(",")
    }
    assert found == COLOURS
