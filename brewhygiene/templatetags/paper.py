"""Template tags of what is printed."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from brewhygiene.reports.pdf.shapes import shape_svg
from brewhygiene.reports.record.words import person_words

register = template.Library()


@register.simple_tag
def mark(code: str, word: str = "") -> SafeString:
    """A status or verdict as its shape and its word."""
    return format_html(
        '<span class="mark">{}<span>{}</span></span>',
        shape_svg(code),
        word or str(code).replace("_", " "),
    )


register.filter("person", person_words)
