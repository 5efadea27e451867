"""Template tags of what is printed."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from brewhygiene.people.models import User
from brewhygiene.reports.pdf.shapes import shape_svg
from brewhygiene.reports.record.words import minutes_in_words

register = template.Library()


@register.simple_tag
def mark(code: str, word: str = "") -> SafeString:
    """A status or verdict as its shape and its word."""
    return format_html(
        '<span class="mark">{}<span>{}</span></span>',
        shape_svg(code),
        word or str(code).replace("_", " "),
    )


@register.filter
def person(user: User | None) -> str:
    """A person's name with the initials, as 'Jonas Feld (JF)'."""
    if user is None:
        return "not on record"
    return f"{user.display_name} ({user.initials})" if user.initials else user.display_name


@register.filter
def minutes_words(minutes: float | None) -> str:
    """Minutes as '32 min' or '1 h 5 min'."""
    return "" if minutes is None else minutes_in_words(minutes)
