"""The one door through which every write passes.

An action is a function decorated with :func:`action`. It takes ``by``, an :class:`Actor`, and
returns a :class:`Recorded`. The door runs it in one transaction, writes one ledger entry and
hands the caller the record that was written. The same idempotency key never writes twice:
the record written the first time is returned again. What it writes is in the plain style,
whoever looks.
"""

import dataclasses
import functools
import json
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Generic, ParamSpec, Protocol, TypeVar

from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, models, transaction

from brewhygiene.ledger.binding import bindings_of, keep, rows_root
from brewhygiene.ledger.heads.outside import send_when_due
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.rows.capture import capturing
from brewhygiene.quantities.style import PLAIN, written_in
from brewhygiene.refusals import Refusal

if TYPE_CHECKING:
    from brewhygiene.people.models import User

P = ParamSpec("P")
M = TypeVar("M", bound=models.Model)
M_co = TypeVar("M_co", bound=models.Model, covariant=True)

# Any constant number: it names this chain's lock among PostgreSQL's advisory locks.
_CHAIN_LOCK = 7_215_031

# What entries call models by names that they had when it was written.
RENAMED_MODELS = {
    "sticklot": "atptestlot",
    "sticktype": "atptest",
    "trace": "loggerfile",
    "tracemapping": "loggermapping",
}


class Arrived(Protocol):
    """What a tablet had kept, as it arrives: it keeps a row of its own beside what is written.

    ``after_end`` where a person chose to record it though its clean is finished.
    """

    after_end: bool

    def keep(self, written: "Recorded[Any]", *, by: "Actor", name: str) -> dict[str, Any]:
        """Write that row, within the action; gives what the entry says of it."""


@dataclasses.dataclass(frozen=True)
class Actor:
    """Who acts, when and from where; the server's clock is read once per request.

    ``arrived`` where this was typed before, while the server could not be reached.
    """

    user: "User | None"
    now: datetime
    address: str = ""
    client_time: datetime | None = None
    key: str | None = None
    arrived: Arrived | None = None

    @property
    def name(self) -> str:
        return self.user.display_name if self.user else "the system"

    @property
    def person(self) -> "User":
        """The signed-in user; raises :class:`Refusal` when nobody is."""
        if self.user is None:
            raise Refusal("Sign in first: this has to carry a name.", code="nobody")
        return self.user

    def inner(self) -> "Actor":
        """The same actor for a verb called by another verb, which holds the key already."""
        return dataclasses.replace(self, key=None, arrived=None)


@dataclasses.dataclass(frozen=True)
class Recorded(Generic[M]):
    """What a verb wrote: the record, the values for the ledger, and what it hangs on."""

    subject: M
    values: dict[str, Any]
    aggregate: models.Model | None = None


class Action(Protocol[P, M_co]):
    name: str

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> M_co: ...


def aggregate_name(record: models.Model | None) -> str:
    return f"{record._meta.model_name}:{record.pk}" if record is not None else ""


def action(name: str) -> Callable[[Callable[P, Recorded[M]]], Action[P, M]]:
    """Make a function an action: one transaction, one ledger entry, once per key."""

    def decorate(function: Callable[P, Recorded[M]]) -> Action[P, M]:
        @functools.wraps(function)
        def run(*args: P.args, **kwargs: P.kwargs) -> Any:
            by = kwargs["by"]
            assert isinstance(by, Actor)
            with chain_held(), written_in(PLAIN):
                if by.key and (earlier := Entry.objects.filter(key=by.key).first()):
                    return _earlier_subject(earlier, name=name, by=by)
                with capturing() as capture:
                    written = function(*args, **kwargs)
                    if by.arrived is not None:
                        arrived = by.arrived.keep(written, by=by, name=name)
                        values = {**written.values, "arrived": arrived}
                        written = dataclasses.replace(written, values=values)
                    _append(written, name=name, by=by, bindings=bindings_of(capture))
                return written.subject

        run.name = name  # type: ignore[attr-defined]
        return run  # type: ignore[return-value]

    return decorate


_one_at_a_time = threading.RLock()


@contextmanager
def _turn() -> Iterator[None]:
    """Wait in a queue while another thread of this process writes to SQLite.

    Left to itself SQLite tries again and again, with pauses of up to a tenth of a second, and
    lets through whoever happens to ask next. Within a transaction there is nothing to wait for.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with _one_at_a_time:
        yield


@contextmanager
def chain_held() -> Iterator[None]:
    """One transaction in which nobody else writes an entry."""
    with _turn(), transaction.atomic():
        _hold_chain()
        yield


def _hold_chain() -> None:
    """Let writers through one at a time, so that the chain cannot fork.

    SQLite's immediate transactions do it by themselves.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_CHAIN_LOCK])


def _earlier_subject(entry: Entry, *, name: str, by: Actor) -> models.Model:
    if entry.verb != name or entry.user_id != (by.user.pk if by.user else None):
        raise Refusal(
            "This form was already used for something else. Open the page again.",
            code="key_reused",
        )
    kind = RENAMED_MODELS.get(entry.subject_type, entry.subject_type)
    subject: models.Model = apps.get_model("brewhygiene", kind)._default_manager.get(
        pk=entry.subject_id
    )
    return subject


def append(
    *,
    name: str,
    by: Actor,
    subject: tuple[str, int, str],
    values: dict[str, Any],
    aggregate: str = "",
    bindings: Sequence[Binding] = (),
) -> Entry:
    """Write one entry at the end of the chain, with the rows that it binds. 2 queries or 3.

    ``subject`` is a kind of record, its key, and what the entry calls it.
    """
    last = Entry.objects.order_by("-number").only("number", "hash").first()
    kind, pk, label = subject
    entry = Entry(
        number=last.number + 1 if last else 1,
        # In UTC, as the database gives them back: the hash covers how a time is written.
        recorded_at=by.now.astimezone(UTC),
        user=by.user,
        verb=name,
        subject_type=kind,
        subject_id=pk,
        subject_label=label[:200],
        aggregate=aggregate,
        # Through JSON once, so that the hash covers exactly what the database gives back.
        values=json.loads(json.dumps(values, cls=DjangoJSONEncoder)),
        address=by.address[:100],
        client_time=by.client_time.astimezone(UTC) if by.client_time else None,
        key=by.key,
        previous_hash=last.hash if last else "",
        rows_root=rows_root(bindings),
        row_count=len(bindings),
    )
    entry.hash = entry.computed_hash()
    entry.save(force_insert=True)
    keep(entry, bindings)
    send_when_due(by.now)
    return entry


def _append(written: Recorded[Any], *, name: str, by: Actor, bindings: Sequence[Binding]) -> Entry:
    subject = written.subject
    # People by a number, which outlives their name.
    label: str = getattr(subject, "pseudonym", "") or str(subject)
    return append(
        name=name,
        by=by,
        subject=(subject._meta.model_name or "", subject.pk, label),
        values=written.values,
        aggregate=aggregate_name(written.aggregate),
        bindings=bindings,
    )


def check_chain() -> Entry | None:
    """The first entry whose hash or link is wrong, or ``None`` when the chain is whole."""
    previous = ""
    entries = Entry.objects.order_by("number").iterator(chunk_size=2000)
    for number, entry in enumerate(entries, start=1):
        if (entry.number, entry.previous_hash) != (number, previous):
            return entry
        if entry.hash != entry.computed_hash():
            return entry
        previous = entry.hash
    return None


def record_hash(record: models.Model) -> tuple[str, int]:
    """The hash of the newest entry of an aggregate, and how many entries it has. 1 query."""
    entries = list(
        Entry.objects.filter(aggregate=aggregate_name(record))
        .order_by("number")
        .values_list("hash", flat=True)
    )
    return (entries[-1] if entries else "", len(entries))
