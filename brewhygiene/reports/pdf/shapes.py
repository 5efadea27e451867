"""The shapes of statuses and verdicts, for paper: the drawings and colours of the screens."""

from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree as ET

from django.contrib.staticfiles import finders
from django.utils.safestring import SafeString, mark_safe

INK = "#13252b"
# As on a light screen: paper has no dark one. A test holds them against the screens' own sheet.
ATTENTION, WAITING, RUNNING, READY, IDLE = "#d55e00", "#b0578a", "#2a8bc4", "#0072b2", "#75848a"
COLOURS: dict[str, str] = {
    **dict.fromkeys(("held", "action", "no", "below", "above", "positive"), ATTENTION),
    **dict.fromkeys(("to_sample", "to_decide", "lapsed", "alert", "explain"), WAITING),
    "cleaning": RUNNING,
    **dict.fromkeys(("released", "clear", "within", "yes", "negative"), READY),
    "in_use": IDLE,
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
