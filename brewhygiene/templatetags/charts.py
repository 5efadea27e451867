"""What a page with a chart loads and shows.

``{% chart_styles %}`` among the styles, ``{% chart_scripts %}`` among the scripts, and
``{% figure fig %}`` where the chart stands.
"""

from typing import Any

from django import template
from django.templatetags.static import static
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from brewhygiene.bundles import plotly_style_ids
from brewhygiene.drawing.figure import Figure
from brewhygiene.drawing.marks import named
from brewhygiene.drawing.page import figure_data
from brewhygiene.drawing.svg import svg_of, swatch

register = template.Library()

PLOTLY = "plotly/plotly.min.js"
# Loaded one after the other, once somebody touches a figure.
PARTS = (
    PLOTLY,
    *(f"brewhygiene/figure/{name}.js" for name in ("words", "traces", "axes", "chart")),
)
NARROW_PX = 400  # about as wide as a phone, so that its words keep their size there


@register.simple_tag
def chart_styles() -> SafeString:
    """The static styles of a chart, under the names by which plotly sees that it need add none."""
    return format_html(
        '<link rel="stylesheet" href="{}" id="plotly.js-style-global" class="no-inline-styles">{}',
        static("brewhygiene/figure/chart.css"),
        format_html_join(
            "",
            '<meta id="{}" name="styles-not-needed" content="">',
            ((name,) for name in plotly_style_ids()),
        ),
    )


@register.simple_tag
def chart_scripts() -> SafeString:
    """The script that loads plotly, and what draws with it, when a figure is first touched."""
    return format_html(
        '<script src="{}" data-parts="{}" defer></script>',
        static("brewhygiene/figure/load.js"),
        " ".join(static(part) for part in PARTS),
    )


@register.simple_tag
def plotly_script() -> SafeString:
    """plotly with the page, for a script that draws at once."""
    return format_html('<script src="{}" defer></script>', static(PLOTLY))


@register.inclusion_tag("_figure.html")
def figure(shown: Figure) -> dict[str, Any]:
    """A figure: drawn by the server for a desk and for a phone, and in numbers below."""
    links = shown.table.links or [""] * len(shown.table.rows)
    marks = named(mark for panel in shown.panels for mark in panel.marks)
    return {
        "figure": shown,
        "data_id": f"{shown.name}-data",
        # Drawn by our own code, which escapes every word.
        "drawing": mark_safe(svg_of(shown)),  # noqa: S308
        "narrow": mark_safe(svg_of(shown, width_px=NARROW_PX, part="-narrow")),  # noqa: S308
        "keys": [(mark_safe(swatch(mark)), mark.name) for mark in marks],  # type: ignore[union-attr] # noqa: S308
        "data": figure_data(shown),
        "rows": list(zip(shown.table.rows, links, strict=True)),
    }
