"""What a table is to the ledger; every model says so by the class that it is made from.

``Evidence``: what happened. Bound to its entry, and the database itself refuses to change it, but
for columns named ``set_once`` (from nothing to a value) and ``may_change``.
``SetUp``: what was agreed. Bound to its entry, and changed by another.
``Rebuildable``: worked out from the others; emptying it loses nothing.
``LedgerItself``: entries and what belongs to them. Never changed at all.
"""

from collections.abc import Iterable
from typing import Any, ClassVar, TypeVar

from django.db import models

from brewhygiene.ledger.rows.capture import was_made, will_update
from brewhygiene.ledger.rows.shown import was_read
from brewhygiene.quantities.sorting import keys_with, natural_key

M = TypeVar("M", bound=models.Model)


class BoundQuerySet(models.QuerySet[M]):
    """Rows whose writes are bound to an entry, whether written one by one or at once."""

    def update(self, **values: Any) -> int:
        for source, key in keys_with(self.model, values).items():
            values[key] = natural_key(values[source])
        will_update(self, values)
        return super().update(**values)

    def bulk_create(self, objs: Iterable[M], *args: Any, **options: Any) -> list[M]:
        made = super().bulk_create(objs, *args, **options)
        was_made(made)
        return made


class BoundManager(models.Manager[M]):
    """The rows of a bound table."""

    def get_queryset(self) -> models.QuerySet[M]:
        return BoundQuerySet(self.model, using=self._db, hints=self._hints)  # type: ignore[attr-defined]


class Bound(models.Model):
    """A table whose rows entries bind, all columns but those in ``unbound``."""

    unbound: ClassVar[frozenset[str]] = frozenset()

    objects = BoundManager()

    class Meta:
        abstract = True

    def save(self, *args: Any, update_fields: Iterable[str] | None = None, **options: Any) -> None:
        if update_fields is not None:
            names = set(update_fields)
            update_fields = names | set(keys_with(type(self), names).values())
        super().save(*args, update_fields=update_fields, **options)

    @classmethod
    def from_db(cls, *args: Any, **options: Any) -> Any:
        record = super().from_db(*args, **options)
        was_read(record)
        return record


class Evidence(Bound):
    """What happened: appended, never changed but as it says itself."""

    set_once: ClassVar[frozenset[str]] = frozenset()
    may_change: ClassVar[frozenset[str]] = frozenset()

    class Meta:
        abstract = True


class SetUp(Bound):
    """What was agreed: changed by an action, which its entry tells."""

    class Meta:
        abstract = True


class Rebuildable(models.Model):
    """Worked out from other tables; emptying it loses nothing."""

    class Meta:
        abstract = True


class LedgerItself(models.Model):
    """Entries and what belongs to them: appended, and never changed at all."""

    class Meta:
        abstract = True
