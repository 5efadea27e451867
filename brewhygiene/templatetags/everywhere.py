"""Template tags for what every page shows: fields, flags, quantities, times."""

from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from django import template
from django.forms import BoundField, CheckboxInput, HiddenInput, RadioSelect
from django.forms.widgets import CheckboxSelectMultiple
from django.template import defaultfilters
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.utils import dateformat, timezone
from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import PLAIN, moment_form, shown_moment, signed, style
from brewhygiene.quantities.style import own_words as style_own_words
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.quantities.words import span_words

register = template.Library()


@register.inclusion_tag("_field.html")
def field(bound: BoundField, **options: Any) -> dict[str, Any]:
    """A form field with its label, unit, help and errors, tied together for screen readers.

    ``tiles=True`` shows the choices of a group as tiles to aim at.
    """
    widget = bound.field.widget
    return {
        "field": bound,
        "unit": options.get("unit", getattr(widget, "unit", "")),
        "is_checkbox": isinstance(widget, CheckboxInput)
        and not isinstance(widget, CheckboxSelectMultiple),
        "is_group": isinstance(widget, RadioSelect | CheckboxSelectMultiple),
        "is_hidden": isinstance(widget, HiddenInput),
        "label": options.get("label", bound.label),
        "tiles": options.get("tiles", False),
    }


@lru_cache(maxsize=256)
def _flag(code: str, label: str, kind: str, shapes: str) -> SafeString:
    return render_to_string("_flag.html", {"code": code, "label": label, "kind": kind})


@register.simple_tag
def flag(code: str, label: str = "", kind: str = "status") -> SafeString:
    """A status or verdict as a shape, a colour and a word.

    A board shows hundreds of the same few, so each is rendered once; ``shapes`` is among the
    key's parts because the address of the shapes changes with the file.
    """
    word = label or str(code).replace("_", " ")
    return _flag(str(code), str(word), kind, static("brewhygiene/shapes.svg"))


@register.inclusion_tag("_shape.html")
def shape(code: str) -> dict[str, str]:
    """The bare shape of a status or verdict, for where its word stands beside it anyway."""
    return {"code": code}


@register.filter
def number(value: float | None, significant: int = 4) -> str:
    return "" if value is None else show_number(float(value), significant=significant)


def _shown(value: float | None, stored: str, unit: str) -> str:
    if value is None:
        return ""
    return f"{show_number(convert(value, stored, unit))} {LABELS[unit]}"


@register.simple_tag
def volume(value_hl: float | None, brewery: Brewery) -> str:
    """A volume stored in hL, in the brewery's unit."""
    return _shown(value_hl, "hL", brewery.volume_unit)


@register.simple_tag
def solution(value_l: float | None, brewery: Brewery) -> str:
    """A volume of cleaning solution stored in L, in the brewery's unit for it."""
    return _shown(value_l, "L", brewery.solution_unit)


@register.simple_tag
def temperature(value_c: float | None, brewery: Brewery) -> str:
    """A temperature stored in °C, in the brewery's unit."""
    return _shown(value_c, "C", brewery.temperature_unit)


@register.simple_tag
def flow(value_l_min: float | None, brewery: Brewery) -> str:
    """A flow stored in L/min, in the brewery's unit."""
    return _shown(value_l_min, "L/min", brewery.flow_unit)


@register.filter(expects_localtime=True, is_safe=False)
def date(value: Any, form: str | None = None) -> str:
    """Django's own filter, with our formats as the person who looks writes dates."""
    return str(defaultfilters.date(value, moment_form(form) if form else form))


@register.filter(expects_localtime=True, is_safe=False)
def time(value: Any, form: str | None = None) -> str:
    """Django's own filter, in the same way."""
    return str(defaultfilters.time(value, moment_form(form) if form else form))


@register.filter(is_safe=True)
def floatformat(value: Any, form: int | str = -1) -> str:
    """Django's own filter, with the decimal sign in force; unlocalised ones are for machines."""
    text = defaultfilters.floatformat(value, form)
    return text if "u" in str(form) else mark_safe(signed(str(text)))  # noqa: S308 (digits)


@register.filter(is_safe=True)
def own_words(text: str) -> str:
    """A fixed sentence of ours with its figures in the style; never what was typed."""
    return style_own_words(text)


@register.filter(is_safe=True)
def filesizeformat(size: Any) -> str:
    """Django's own filter, with the decimal sign in force."""
    return signed(defaultfilters.filesizeformat(size))


@register.simple_tag(name="now")
def now_tag(form: str) -> str:
    """Django's own tag, as the person who looks writes dates."""
    return dateformat.format(timezone.localtime(), moment_form(form))


@register.simple_tag
def style_marks() -> SafeString:
    """What scripts read of the style in force; nothing where it is the plain one."""
    return format_html_join(
        "",
        ' data-{}="{}"',
        (
            (name, value)
            for name, value, plain in (
                ("decimal", style().decimal, PLAIN.decimal),
                ("dates", style().dates, PLAIN.dates),
            )
            if value != plain
        ),
    )


@register.filter
def ago(moment: datetime | None) -> str:
    """How long something has been so, or '' where no time is known."""
    return "" if moment is None else span_words(timezone.now() - moment)


@register.filter
def due_words(moment: datetime | None) -> str:
    """'in 2 h' before a moment, '2 h overdue' after it."""
    if moment is None:
        return ""
    left = moment - timezone.now()
    return f"in {span_words(left)}" if left > timedelta(0) else f"{span_words(left)} overdue"


# Within so many days the name of a weekday means one day only.
NAMED = timedelta(days=6)


@register.filter
def due_day(moment: datetime | None) -> str:
    """'Tue 17:23' within six days of now, '15 Dec' where that could be another week."""
    if moment is None:
        return ""
    near = abs(moment - timezone.now()) <= NAMED
    return shown_moment(timezone.localtime(moment), "D H:i" if near else "j M")


@register.filter
def is_past(moment: datetime | None) -> bool:
    return moment is not None and moment < timezone.now()


@register.filter
def get_item(mapping: dict[Any, Any], key: Any) -> Any:
    return mapping.get(key)


@register.filter
def field_named(form: Any, name: str) -> Any:
    """A form's field by a name worked out in the template."""
    return form[name] if name in form.fields else None
