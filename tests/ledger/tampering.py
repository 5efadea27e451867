# ruff: noqa: S608 - the statements are this file's own
"""Ways to change what was recorded, as somebody with the database's own password would try them.

Each way gets the cellar and does its work by SQL, with the triggers away; what is found of it is
named beside it, by how the line of ``check_ledger`` begins.
"""

import dataclasses
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connection

from brewhygiene.ledger import triggers
from brewhygiene.ledger.binding import rows_root
from brewhygiene.ledger.heads import head as heads
from brewhygiene.ledger.models import Binding, Entry, Head
from brewhygiene.ledger.rows.shapes import Shape, shape_of
from brewhygiene.turnarounds import actions as turnaround_actions
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, acting


@dataclasses.dataclass(frozen=True)
class Way:
    """A way to tamper, and how the line that tells of it begins."""

    name: str
    do: Callable[[Cellar], None]
    found: str


def sql(*statements: str) -> Callable[[Cellar], None]:
    def do(cellar: Cellar) -> None:
        with unguarded(), connection.cursor() as cursor:
            for statement in statements:
                cursor.execute(statement.replace("{", "brewhygiene_").replace("}", ""))

    return do


def _ids(table: str, where: str = "") -> str:
    return f"(SELECT id FROM {{{table}}} {where} ORDER BY id DESC LIMIT 1)"


def _put(values: str, table: str, where: str = "") -> Callable[[Cellar], None]:
    return sql(f"UPDATE {{{table}}} SET {values} WHERE id = {_ids(table, where)}")


def another_signs(cellar: Cellar) -> None:
    sql(f"UPDATE {{signature}} SET user_id = {cellar.owner.pk}")(cellar)


def forge_result(cellar: Cellar) -> None:
    """A clean reading that nobody took, beside the one that somebody did."""
    _copy("result", "rlu = 9", corrects_id="NULL")(cellar)


def _copy(table: str, assignment: str, **other: str) -> Callable[[Cellar], None]:
    def do(cellar: Cellar) -> None:
        with connection.cursor() as cursor:
            described = connection.introspection.get_table_description(
                cursor, f"brewhygiene_{table}"
            )
        names = [f'"{column.name}"' for column in described if column.name != "id"]
        values = [other.get(name.strip('"'), name) for name in names]
        sql(
            f"INSERT INTO {{{table}}} (id, {', '.join(names)}) SELECT id + 1000, "
            f"{', '.join(values)} FROM {{{table}}} WHERE id = {_ids(table)}",
            f"UPDATE {{{table}}} SET {assignment} WHERE id = {_ids(table)}",
        )(cellar)

    return do


def give_a_role(cellar: Cellar) -> None:
    sql(
        f"INSERT INTO {{user_groups}} (user_id, group_id) SELECT {cellar.hand.pk}, id "
        "FROM auth_group WHERE name = 'head brewer'"
    )(cellar)


def swap_files(cellar: Cellar) -> None:
    """Two stored files change places."""
    photo, log = (_file(cellar, name) for name in ("photo", "log"))
    first, second = photo.read_bytes(), log.read_bytes()
    photo.write_bytes(second)
    log.write_bytes(first)


def remove_log(cellar: Cellar) -> None:
    _file(cellar, "log").unlink()


def change_log(cellar: Cellar) -> None:
    path = _file(cellar, "log")
    path.write_bytes(path.read_bytes().replace(b"64.9", b"74.9"))


def _file(cellar: Cellar, which: str) -> Path:
    cellar.vessel.refresh_from_db()
    trace = cellar.vessel.turnarounds.latest("pk").cleans.latest("pk").logger_files.get()
    name = cellar.vessel.photo.name if which == "photo" else trace.file.name
    return Path(default_storage.path(name))


def cut_tail(cellar: Cellar) -> None:
    """The last five entries and what they bound, as if they had never been."""
    last = Entry.objects.latest("number").number
    _remove_entries(f"number > {last - 5}")


def _remove_entries(where: str) -> None:
    with unguarded(), connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM brewhygiene_binding WHERE entry_id IN"
            f" (SELECT id FROM brewhygiene_entry WHERE {where})"
        )
        cursor.execute(f"DELETE FROM brewhygiene_entry WHERE {where}")


def cut_middle(cellar: Cellar) -> None:
    number = Entry.objects.get(verb="record result").number
    _remove_entries(f"number = {number}")


def empty(cellar: Cellar) -> None:
    """Everything that the ledger knows, its own heads included."""
    _remove_entries("number > 0")
    sql("DELETE FROM {head}")(cellar)


def swap_numbers(cellar: Cellar) -> None:
    number = Entry.objects.get(verb="record result").number
    sql(
        f"UPDATE {{entry}} SET number = 0 WHERE number = {number}",
        f"UPDATE {{entry}} SET number = {number} WHERE number = {number + 1}",
        f"UPDATE {{entry}} SET number = {number + 1} WHERE number = 0",
    )(cellar)


def rehash(cellar: Cellar, *, change: str = "UPDATE {result} SET rlu = 9") -> None:
    """Change a row, and make every hash from there on anew, as the product itself would."""
    sql(change)(cellar)
    previous = ""
    with unguarded():
        for entry in Entry.objects.order_by("number"):
            bindings = list(Binding.objects.filter(entry=entry).order_by("id"))
            for one in bindings:
                shape = _shape_named(one.table)
                row = shape.read([one.row]).get(one.row)
                if one.table == "brewhygiene_result" and row is not None:
                    one.digest = row.digest
                    _write(one, "digest")
            entry.previous_hash, entry.rows_root = previous, rows_root(bindings)
            entry.hash = previous = entry.computed_hash()
            _write(entry, "previous_hash", "rows_root", "hash")


def _write(record: Entry | Binding | Head, *names: str) -> None:
    assignments = ", ".join(f"{name} = %s" for name in names)
    with connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE {record._meta.db_table} SET {assignments} WHERE id = %s",
            [*(getattr(record, name) for name in names), record.pk],
        )


def _shape_named(table: str) -> Shape:
    from brewhygiene.ledger.rows.capture import bound_models

    return next(shape_of(model) for model in bound_models() if model._meta.db_table == table)


def rehash_and_sign_anew(cellar: Cellar) -> None:
    """The same with the key of the installation at hand: its own heads are made anew too."""
    rehash(cellar)
    sql("DELETE FROM {head}")(cellar)
    heads.make_head(way="folder", now=NOW)


def sign_with_another_key(cellar: Cellar) -> None:
    """The same without the key: a new one is put in its place."""
    rehash(cellar)
    sql("DELETE FROM {head}")(cellar)
    Path(settings.LEDGER_KEY_DIR, "ledger_key.pem").unlink()
    heads.make_head(way="folder", now=NOW)


def launder(cellar: Cellar) -> None:
    """A row is changed by SQL, and then an ordinary action binds it as it now is."""
    sql("UPDATE {turnaround} SET opened_at = '2026-03-09 09:00:00+00:00'")(cellar)
    turnaround = cellar.vessel.turnarounds.latest("pk")
    turnaround_actions.plan_next_beer(by=acting(cellar.hand), turnaround=turnaround, beer=None)


def rebind(cellar: Cellar) -> None:
    """The row is changed together with what binds it, but no entry."""
    sql("UPDATE {result} SET rlu = 9")(cellar)
    with unguarded():
        for one in Binding.objects.filter(table="brewhygiene_result"):
            one.digest = _shape_named(one.table).read([one.row])[one.row].digest
            _write(one, "digest")


def hide_a_column(cellar: Cellar) -> None:
    """The list of columns that rows are read by forgets the one that was changed."""
    if connection.vendor == "postgresql":
        columns = "(columns::jsonb - 1)"
    else:
        columns = "json_remove(columns, '$[1]')"
    sql(f"UPDATE {{shape}} SET columns = {columns}")(cellar)


def drop_triggers(cellar: Cellar) -> None:
    triggers.remove({"brewhygiene_result"})


def weaken_a_trigger(cellar: Cellar) -> None:
    """A trigger stands under its name and does nothing."""
    connection.check_constraints()
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                'ALTER TABLE brewhygiene_result DISABLE TRIGGER "keeps_brewhygiene_result_update"'
            )
        else:
            cursor.execute('DROP TRIGGER "keeps_brewhygiene_result_update"')
            cursor.execute(
                'CREATE TRIGGER "keeps_brewhygiene_result_update" BEFORE UPDATE ON '
                "brewhygiene_result FOR EACH ROW WHEN 0 BEGIN SELECT 1; END"
            )


WAYS = [
    Way("another signer", another_signs, "changed: Row "),
    Way("another name under it", _put("printed_name = 'Somebody'", "signature"), "changed: Row "),
    Way("a lower reading", _put("rlu = 9", "result"), "changed: Row "),
    Way("another verdict", _put("moment = 'rinse_proved'", "result"), "changed: Row "),
    Way(
        "another second", _put("taken_at = '2026-03-10 09:30:01+00:00'", "result"), "changed: Row "
    ),
    Way(
        "limits times ten",
        _put("alert_rlu = alert_rlu * 10, action_rlu = action_rlu * 10", "limitset"),
        "changed: Row ",
    ),
    Way("a wider window", _put("maximum = maximum * 10", "stepwindow"), "changed: Row "),
    Way("another strength", _put("value = value + 0.5", "stepreading"), "changed: Row "),
    Way("another reason", _put("reason = 'no reason'", "decision"), "changed: Row "),
    Way("another check", _put("gates = '[]'", "decision"), "changed: Row "),
    Way("a meter that passes all", _put("blank_max_rlu = 99", "meter"), "changed: Row "),
    Way("a policy that waives all", _put("currency = 'XXX'", "brewery"), "changed: Row "),
    Way("a role by night", give_a_role, "changed: Row "),
    Way("another name for a person", _put("full_name = 'Nobody'", "user"), "changed: Row "),
    Way(
        "a removed acknowledgement",
        sql(f"DELETE FROM {{safetyacknowledgement}} WHERE id = {_ids('safetyacknowledgement')}"),
        "missing: Row ",
    ),
    Way(
        "a removed row and its bindings",
        sql(
            f"DELETE FROM {{binding}} WHERE row = {_ids('safetyacknowledgement')} "
            "AND \"table\" = 'brewhygiene_safetyacknowledgement'",
            f"DELETE FROM {{safetyacknowledgement}} WHERE id = {_ids('safetyacknowledgement')}",
        ),
        "forged: What is said to be bound by entry ",
    ),
    Way("a forged reading", forge_result, "added: Row "),
    Way("a renumbered row", _put("id = id + 1000", "safetyacknowledgement"), "missing: Row "),
    Way("a row changed and bound anew", rebind, "forged: What is said to be bound by entry "),
    Way("a row changed, then saved", launder, "changed: Row "),
    Way("a forgotten column", hide_a_column, "changed: The list of columns of "),
    Way("an edited entry", _put("subject_label = 'FV 9'", "entry"), "changed: The content of "),
    Way(
        "other values",
        _put("\"values\" = '[]'", "entry"),
        "changed: The content of ",
    ),
    Way("a name in an entry", _put("user_name = 'Nobody'", "entry"), "forged: A name that "),
    Way("an entry of the old form", _put("format = 1", "entry"), "changed: The content of "),
    Way("a cut middle", cut_middle, "missing: Entry "),
    Way("swapped numbers", swap_numbers, "changed: The content of "),
    Way("a cut tail", cut_tail, "cut off: The ledger ends at entry "),
    Way("an emptied ledger", empty, "cut off: The ledger ends at entry "),
    Way("every hash anew", rehash, "rewritten: Entries up to "),
    Way("every hash and head anew", rehash_and_sign_anew, "rewritten: Entries up to "),
    Way("another key", sign_with_another_key, "signature: The head from outside, "),
    Way("swapped files", swap_files, "changed: Row "),
    Way("a changed logger file", change_log, "changed: Row "),
    Way("a removed logger file", remove_log, "missing: Row "),
    Way("dropped triggers", drop_triggers, "not guarded: The trigger keeps_brewhygiene_result_"),
    Way("a trigger that does nothing", weaken_a_trigger, "not guarded: The trigger "),
]
