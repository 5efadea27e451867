"""How the pages of baselines write numbers."""

from django import template

from brewhygiene.atp.baselines.words import p_words, rlu_words
from brewhygiene.quantities.style import digits

register = template.Library()


@register.filter
def rlu(value: float) -> str:
    """RLU that need not be whole."""
    return rlu_words(value)


@register.filter
def whole(value: int | None) -> str:
    """Whole RLU with its thousands told apart; a dash for none."""
    return "—" if value is None else f"{digits(value, ',')}"


@register.filter
def p_value(value: float) -> str:
    return p_words(value)
