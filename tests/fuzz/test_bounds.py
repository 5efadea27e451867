"""Every form of the product takes days and times by the fields that know their bounds."""

from collections.abc import Iterator

from django import forms
from django.urls import get_resolver

from brewhygiene.people.forms import ActionForm
from brewhygiene.people.signing_in.forms import BareForm
from brewhygiene.quantities.days import DayField, MomentField

# Bounded when they are made, in the form's own ``__init__``.
BOUNDED_WHEN_MADE = (ActionForm, BareForm)
# Looked at by contributors alone, and sent nowhere.
SHOWN_ONLY = {"PartsForm"}


def forms_of_ours(above: type[forms.BaseForm] = forms.BaseForm) -> Iterator[type[forms.BaseForm]]:
    for form in above.__subclasses__():
        if form.__module__.startswith("brewhygiene."):
            yield form
        yield from forms_of_ours(form)


def fields_of_ours() -> Iterator[tuple[type[forms.BaseForm], str, forms.Field]]:
    """Every field of every form; the addresses are asked first, which load every view."""
    assert get_resolver().url_patterns
    for form in set(forms_of_ours()):
        if form.__name__ not in SHOWN_ONLY:
            for name, field in getattr(form, "base_fields", {}).items():
                yield form, name, field


def test_walk_finds_the_forms() -> None:
    assert len({form for form, _, _ in fields_of_ours()}) > 80


def test_every_day_and_time_is_taken_by_the_same_two_fields() -> None:
    other = {
        f"{form.__name__}.{name}"
        for form, name, field in fields_of_ours()
        if isinstance(field, forms.DateField | forms.DateTimeField | forms.TimeField)
        and not isinstance(field, DayField | MomentField)
    }
    assert other == set()


def test_every_text_has_a_longest_length() -> None:
    unbounded = {
        f"{form.__name__}.{name}"
        for form, name, field in fields_of_ours()
        if type(field) is forms.CharField
        and field.max_length is None
        and not issubclass(form, BOUNDED_WHEN_MADE)
    }
    assert unbounded == set()


def test_no_number_is_taken_by_a_field_that_reads_it_otherwise() -> None:
    other = {
        f"{form.__name__}.{name}"
        for form, name, field in fields_of_ours()
        if isinstance(field, forms.FloatField | forms.DecimalField)
    }
    assert other == set()
