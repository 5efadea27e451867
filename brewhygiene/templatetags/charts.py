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
from brewhygiene.drawing.page import plain_of
from brewhygiene.drawing.svg import svg_of, swatch

register = template.Library()


@register.simple_tag
def chart_styles() -> SafeString:
    """The static styles of a chart, under the names by which plotly sees that it need add none."""
    return format_html(
        '<link rel="stylesheet" href="{}" id="plotly.js-style-global" class="no-inline-styles">{}',
        static("brewhygiene/chart.css"),
        format_html_join(
            "",
            '<meta id="{}" name="styles-not-needed" content="">',
            ((name,) for name in plotly_style_ids()),
        ),
    )


@register.simple_tag
def chart_scripts() -> SafeString:
    """plotly, before the script that draws a page's figures with it."""
    return format_html(
        '<script src="{}" defer></script><script src="{}" defer></script>',
        static("plotly/plotly.min.js"),
        static("brewhygiene/figure.js"),
    )


@register.inclusion_tag("_figure.html")
def figure(shown: Figure) -> dict[str, Any]:
    """A figure: drawn by the server, made touchable by ``figure.js``, and in numbers below."""
    links = shown.table.links or [""] * len(shown.table.rows)
    marks = named(mark for panel in shown.panels for mark in panel.marks)
    return {
        "figure": shown,
        "data_id": f"{shown.name}-data",
        # Drawn by our own code, which escapes every word.
        "drawing": mark_safe(svg_of(shown)),  # noqa: S308
        "keys": [(mark_safe(swatch(mark)), mark.name) for mark in marks],  # type: ignore[union-attr] # noqa: S308
        "data": plain_of(shown),
        "rows": list(zip(shown.table.rows, links, strict=True)),
    }
