"""Noticing which bound rows a page or a paper was made from."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import models

Key = tuple[type[models.Model], int]


class _Local(threading.local):
    rows: set[Key] | None = None


_local = _Local()


def was_read(record: models.Model) -> None:
    """A bound row came from the database."""
    if _local.rows is not None:
        _local.rows.add((type(record)._meta.concrete_model or type(record), record.pk))


@contextmanager
def noticing() -> Iterator[set[Key]]:
    """Every bound row that is read from here on, by model and key."""
    rows: set[Key] = set()
    outer, _local.rows = _local.rows, rows
    try:
        yield rows
    finally:
        _local.rows = outer
