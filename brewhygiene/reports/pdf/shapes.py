"""The shapes of statuses and verdicts, for paper: the drawings and colours of the screens."""

from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree as ET

from django.contrib.staticfiles import finders
from django.utils.safestring import SafeString, mark_safe

INK = "#13252b"
# As on a light screen: paper has no dark one. A test holds them against the screens' own sheet.
COLOURS: dict[str, str] = {
    "in_use": "#009e73",
    "cleaning": "#56b4e9",
    "to_sample": "#f0e442",
    "to_decide": "#cc79a7",
    "held": "#d55e00",
    "released": "#0072b2",
    "lapsed": "#e69f00",
    "clear": "#0072b2",
    "within": "#0072b2",
    "yes": "#0072b2",
    "negative": "#0072b2",
    "alert": "#cc79a7",
    "explain": "#cc79a7",
    "action": "#d55e00",
    "no": "#d55e00",
    "below": "#d55e00",
    "above": "#d55e00",
    "positive": "#d55e00",
}
# Lines drawn on a dark colour.
INK_ON: dict[str, str] = {"released": "#fff"}


@lru_cache(maxsize=1)
def _drawings() -> ET.Element:
    """The screens' own sheet of shapes, taken out of its namespace: in a page SVG needs none.

    The prefixes under which namespaces are written belong to the whole process, and what
    writes PDFs changes them.
    """
    found = finders.find("brewhygiene/shapes.svg")
    if not isinstance(found, str):
        raise FileNotFoundError("shapes.svg")
    text = Path(found).read_text(encoding="utf-8")
    return ET.fromstring(text.replace(' xmlns="http://www.w3.org/2000/svg"', ""))  # noqa: S314 - our own


@lru_cache(maxsize=64)
def shape_svg(code: str) -> SafeString:
    """The drawing of a shape, coloured, as SVG that stands in the page itself.

    Raises ``KeyError`` for a code that has no shape.
    """
    sheet = _drawings()
    symbol = {symbol.get("id"): symbol for symbol in sheet.iter("symbol")}[code]
    drawing = ET.Element(
        "svg", {**sheet.attrib, "viewBox": symbol.get("viewBox", ""), "class": "shape"}
    )
    drawing.extend(symbol)
    text = ET.tostring(drawing, encoding="unicode")
    for variable, colour in (
        ("var(--mark)", COLOURS.get(code, "none")),
        ("var(--mark-ink)", INK_ON.get(code, INK)),
        ("currentColor", INK),
    ):
        text = text.replace(variable, colour)
    return mark_safe(text)  # noqa: S308 - our own drawing, with colours of our own
