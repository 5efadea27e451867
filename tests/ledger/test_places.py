"""What every table is to the ledger."""

import pytest
from django.apps import apps
from django.db import connection, models

from brewhygiene.ledger import triggers
from brewhygiene.ledger.places import Evidence, LedgerItself, Rebuildable, SetUp
from brewhygiene.ledger.rows.capture import bound_models
from brewhygiene.ledger.rows.shapes import CannotBeBound, kind_of, shape_of

PLACES = (Evidence, SetUp, Rebuildable, LedgerItself)
OWN = list(apps.get_app_config("brewhygiene").get_models())


@pytest.mark.parametrize("model", OWN, ids=lambda model: model.__name__)
def test_every_table_says_what_it_is_to_the_ledger(model: type[models.Model]) -> None:
    """A new one is made from one of the four; it has a place by that and by no list."""
    assert [place for place in PLACES if issubclass(model, place)].__len__() == 1


@pytest.mark.parametrize("model", bound_models(), ids=lambda model: model.__name__)
def test_every_column_of_a_bound_table_is_bound_or_declared_not_to_be(
    model: type[models.Model],
) -> None:
    shape = shape_of(model)
    names = {field.name for field in model._meta.get_fields() if not field.auto_created}
    names |= {model._meta.pk.name}
    assert model.unbound <= names
    expected = {f.column for f in model._meta.concrete_fields if f.name not in model.unbound}
    assert {name for name, *_ in shape.plain} == expected
    many = {field.name for field in model._meta.many_to_many if field.name not in model.unbound}
    # Django's own permissions of a person are given by roles, which are bound.
    assert {name for name, *_ in shape.many} == many
    assert shape.columns[0][:2] == (model._meta.pk.column, "integer")


@pytest.mark.parametrize(
    "model",
    [model for model in OWN if issubclass(model, Evidence)],
    ids=lambda model: model.__name__,
)
def test_what_evidence_may_change_are_columns_of_its_own(model: type[models.Model]) -> None:
    names = {field.name for field in model._meta.concrete_fields}
    assert model.set_once | model.may_change <= names
    assert not model.set_once & model.may_change
    # What no entry binds is free to change, and is no evidence.
    assert model.unbound <= model.may_change


def test_column_of_a_kind_without_a_canonical_text_is_refused() -> None:
    with pytest.raises(CannotBeBound):
        kind_of(models.DurationField())


@pytest.mark.django_db
def test_every_table_that_only_grows_is_guarded() -> None:
    """Read from the database itself, by what its own catalogue says."""
    assert triggers.missing() == []
    wanted = {"delete", "update"} | ({"truncate"} if connection.vendor == "postgresql" else set())
    standing = triggers.standing()
    for model in OWN:
        table = model._meta.db_table
        if issubclass(model, Evidence | LedgerItself):
            assert {f"keeps_{table}_{what}" for what in wanted} <= set(standing)
        else:
            assert not [name for name in standing if name.startswith(f"keeps_{table}_")]
