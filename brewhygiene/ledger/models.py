"""The append-only record of every write."""

import hashlib
import json
from typing import Any, NoReturn, TypeVar

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from brewhygiene.ledger.hashing.canonical import canonical
from brewhygiene.ledger.places import LedgerItself
from brewhygiene.ledger.rows.shapes import moment_text

# How an entry's hash is made: 1 by its own values only, 2 with its number and the rows it binds.
FORMAT = 2
ENTRY_PREFIX = "brewhygiene entry 2\n"


class LedgerIsAppendOnly(Exception):
    """Raised by an attempt to change or delete a ledger entry through the models."""


M = TypeVar("M", bound=models.Model)


class AppendedQuerySet(models.QuerySet[M]):
    def update(self, **kwargs: Any) -> NoReturn:
        raise LedgerIsAppendOnly("A ledger entry is never changed; write another.")

    def delete(self) -> NoReturn:
        raise LedgerIsAppendOnly("A ledger entry is never deleted.")


class AppendedManager(models.Manager[M]):
    """The rows of a table that is only appended to."""

    def get_queryset(self) -> models.QuerySet[M]:
        return AppendedQuerySet(self.model, using=self._db, hints=self._hints)  # type: ignore[attr-defined]


class Appended(LedgerItself):
    """A row of the ledger itself: written once."""

    objects = AppendedManager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise LedgerIsAppendOnly("A ledger entry is never changed; write another.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise LedgerIsAppendOnly("A ledger entry is never deleted.")


class Entry(Appended):
    """Who did what, when, to which record, from where, with which values.

    Each entry's hash covers its own content, the hashes of the rows that it wrote and the hash of
    the entry before it, so that a row changed behind the application's back shows.
    """

    number = models.PositiveBigIntegerField(unique=True, help_text="From 1, without a gap.")
    format = models.PositiveSmallIntegerField(default=FORMAT, help_text="How its hash is made.")

    recorded_at = models.DateTimeField()
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    user_name = models.CharField(
        max_length=150, blank=True, help_text="As it was then, in entries of the first format."
    )
    verb = models.CharField(max_length=60)
    subject_type = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()
    subject_label = models.CharField(max_length=200)
    aggregate = models.CharField(
        max_length=60, blank=True, help_text="What the subject hangs on, as 'turnaround:12'."
    )
    values = models.JSONField(encoder=DjangoJSONEncoder)
    address = models.CharField(max_length=100, blank=True, help_text="Where it came from.")
    client_time = models.DateTimeField(null=True, blank=True, help_text="The tablet's own clock.")
    key = models.CharField(max_length=64, null=True, blank=True, help_text="Idempotency key.")
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)
    rows_root = models.CharField(
        max_length=64, blank=True, help_text="The RFC 6962 root over the rows that it binds."
    )
    row_count = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "entries"
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["key"], condition=models.Q(key__isnull=False), name="entry_key_once"
            ),
            models.UniqueConstraint(fields=["previous_hash"], name="entry_chain_never_forks"),
        ]
        indexes = [
            models.Index(fields=["aggregate", "id"], name="entry_by_aggregate"),
            models.Index(fields=["subject_type", "subject_id", "id"], name="entry_by_subject"),
            models.Index(fields=["recorded_at"], name="entry_by_time"),
        ]

    def __str__(self) -> str:
        return f"{self.verb}: {self.subject_label}"

    @property
    def who(self) -> str:
        """Whoever acted, by today's name. May query for the user."""
        if self.format == 1:
            return self.user_name
        return str(self.user) if self.user else "the system"

    def hashed_text(self) -> str:
        """The text that the entry's hash is made of."""
        if self.format == 1:
            return self._first_text()
        content = {
            "number": self.number,
            "previous": self.previous_hash,
            "recorded_at": moment_text(self.recorded_at),
            "person": self.user_id,
            "action": self.verb,
            "subject": [self.subject_type, self.subject_id, self.subject_label],
            "aggregate": self.aggregate,
            "values": self.values,
            "address": self.address,
            "client_time": None if self.client_time is None else moment_text(self.client_time),
            "key": self.key,
            "rows": [self.row_count, self.rows_root],
        }
        return ENTRY_PREFIX + canonical(content)

    def _first_text(self) -> str:
        """The text of an entry of the first format, which bound no rows."""
        content = {
            "previous_hash": self.previous_hash,
            "recorded_at": self.recorded_at,
            "user": self.user_id,
            "user_name": self.user_name,
            "verb": self.verb,
            "subject": [self.subject_type, self.subject_id, self.subject_label],
            "aggregate": self.aggregate,
            "values": self.values,
            "address": self.address,
            "client_time": self.client_time,
            "key": self.key,
        }
        return json.dumps(
            content,
            cls=DjangoJSONEncoder,
            sort_keys=True,
            separators=(",", ":"),
            ensure_ascii=False,
        )

    def computed_hash(self) -> str:
        """SHA-256, in hex, over this entry's content and the hash before it."""
        return hashlib.sha256(self.hashed_text().encode()).hexdigest()


class Shape(Appended):
    """Which columns of a table a row's hash was made of; known by the hash of its own text."""

    digest = models.CharField(max_length=32, unique=True)
    table = models.CharField(max_length=63)
    columns = models.JSONField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.table}: {len(self.columns)} columns"


class Binding(Appended):
    """One row as an entry left it: the hash of what it was, of what it is, and of its file."""

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="bindings")
    table = models.CharField(max_length=63)
    row = models.BigIntegerField()
    shape = models.CharField(max_length=32, help_text="The columns that its hashes are made of.")
    before = models.CharField(max_length=64, blank=True, help_text="Nothing: it was new.")
    digest = models.CharField(max_length=64, blank=True, help_text="Nothing: it was removed.")
    file = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the file it names.")

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["table", "row", "id"], name="binding_by_row")]

    def __str__(self) -> str:
        return f"{self.table} {self.row} by entry {self.entry_id}"

    def leaf(self) -> str:
        """The text that stands for it in its entry's tree."""
        return canonical([self.table, self.row, self.shape, self.before, self.digest, self.file])


class Head(Appended):
    """The end of the chain as it was signed, and the way on which it left the machine."""

    text = models.TextField(help_text="What was signed.")
    signature = models.CharField(max_length=128, help_text="Ed25519 (RFC 8032), in hex.")
    number = models.PositiveBigIntegerField(help_text="Of the last entry that it covers.")
    root = models.CharField(max_length=64)
    peaks = models.JSONField(help_text="What the tree needs to grow on from here.")
    signed_at = models.DateTimeField()
    way = models.CharField(max_length=80, help_text="Where it went, as 'folder' or 'record 12'.")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"head at entry {self.number}, {self.way}"
