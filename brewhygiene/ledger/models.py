"""The append-only record of every write."""

import hashlib
import json
from typing import Any, NoReturn

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models


class LedgerIsAppendOnly(Exception):
    """Raised by an attempt to change or delete a ledger entry through the models."""


class EntryQuerySet(models.QuerySet["Entry"]):
    def update(self, **kwargs: Any) -> NoReturn:
        raise LedgerIsAppendOnly("A ledger entry is never changed; write another.")

    def delete(self) -> NoReturn:
        raise LedgerIsAppendOnly("A ledger entry is never deleted.")


class Entry(models.Model):
    """Who did what, when, to which record, from where, with which values.

    Each entry's hash covers its own content and the hash of the entry before it, so that a
    row changed behind the application's back breaks the chain from there on.
    """

    recorded_at = models.DateTimeField()
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    user_name = models.CharField(max_length=150, help_text="As it was then.")
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

    objects = EntryQuerySet.as_manager()

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

    def computed_hash(self) -> str:
        """SHA-256, in hex, over this entry's content and the hash before it."""
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
        text = json.dumps(
            content,
            cls=DjangoJSONEncoder,
            sort_keys=True,
            separators=(",", ":"),
            ensure_ascii=False,
        )
        return hashlib.sha256(text.encode()).hexdigest()

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise LedgerIsAppendOnly("A ledger entry is never changed; write another.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise LedgerIsAppendOnly("A ledger entry is never deleted.")
