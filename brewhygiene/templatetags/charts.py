"""What a page with a chart loads: ``{% chart_styles %}`` and ``{% chart_scripts %}``."""

from django import template
from django.templatetags.static import static
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from brewhygiene.bundles import plotly_style_ids

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
    """plotly, before the page's own script that draws with it."""
    return format_html('<script src="{}" defer></script>', static("plotly/plotly.min.js"))
