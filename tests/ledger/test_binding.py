"""Every row that an action writes is bound to its entry, whichever way it is written."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection, models, transaction

from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Beer, Vessel
from brewhygiene.ledger.adoption import (
    bind_changed_tables,
    bind_unbound,
    note_changed,
)
from brewhygiene.ledger.binding import ADOPTED, REBOUND, keep_shapes
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.ledger.rows import shapes
from brewhygiene.ledger.rows.capture import UnboundWrite
from brewhygiene.ledger.rows.shapes import shape_of
from brewhygiene.people.models import User
from brewhygiene.refusals import Refusal
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, acting, make_point, make_vessel

pytestmark = pytest.mark.django_db


def bound(entry: Entry) -> list[tuple[str, int]]:
    """What an entry binds, without the product's own name before each table."""
    rows = Binding.objects.filter(entry=entry).values_list("table", "row").order_by("table", "row")
    return [(table.removeprefix("brewhygiene_"), row) for table, row in rows]


def found() -> list[str]:
    return [str(finding) for finding in check_everything()]


def written(cellar: Cellar, write) -> Entry:
    """The entry of an action that does just this."""

    @action("try")
    def attempt(*, by: Actor) -> Recorded[Vessel]:
        write()
        return Recorded(cellar.vessel, {})

    attempt(by=acting(cellar.hand))
    return Entry.objects.latest("number")


def test_reading_is_bound_and_the_counter_beside_it_is_not(cellar: Cellar) -> None:
    cellar.recovery_recorded()
    turnaround = cellar.cleaned()
    result = cellar.sampled(turnaround)
    assert bound(Entry.objects.latest("number")) == [("result", result.pk)]
    assert found() == []


def test_release_is_bound_with_its_signature(cellar: Cellar) -> None:
    turnaround = cellar.released()
    decision = turnaround.decisions.get()
    assert bound(Entry.objects.latest("number")) == [
        ("decision", decision.pk),
        ("signature", decision.signature_id),
    ]


def test_hash_is_of_the_canonical_text_of_every_column(cellar: Cellar) -> None:
    """The text as it would be written on any database."""
    beer = cellar.pale
    text = shape_of(Beer).read([beer.pk])[beer.pk].text
    assert text == (
        '["brewhygiene_beer",{"active":true,"allergen":"","allergens":[],"diastatic":false,'
        f'"fruit_or_heavy_hops":false,"id":{beer.pk},"name":"Harrow Pale (invented)",'
        '"sour_or_mixed":false,"strict_before":false}]'
    )


def test_time_number_and_json_have_one_text_on_every_database(cellar: Cellar) -> None:
    turnaround = cellar.released()
    clean = turnaround.cleans.get()
    shape = shape_of(type(clean))
    text = shape.read([clean.pk])[clean.pk].text
    assert '"started_at":"2026-03-10T09:00:00.000000Z"' in text
    assert '"stopped_at":null' in text
    assert '"proposal_reasons":[' in text
    text = shape_of(Vessel).read([cellar.vessel.pk])[cellar.vessel.pk].text
    assert '"diameter_m":1.4,' in text
    assert '"volume_hl":30}' in text


@pytest.mark.parametrize(
    "write",
    [
        lambda c: Vessel.objects.filter(pk=c.vessel.pk).update(note="by update"),
        lambda c: Vessel.objects.bulk_update([_noted(c.vessel)], ["note"]),
        lambda c: _noted(c.vessel).save(),
        lambda c: _noted(c.vessel).save(update_fields=["note"]),
    ],
    ids=["update", "bulk_update", "save", "update_fields"],
)
def test_changed_row_is_bound_however_it_is_changed(cellar: Cellar, write) -> None:
    entry = written(cellar, lambda: write(cellar))
    (row,) = entry.bindings.all()
    assert (row.table, row.row) == ("brewhygiene_vessel", cellar.vessel.pk)
    assert row.before
    assert row.before != row.digest
    assert found() == []


def _noted(vessel: Vessel) -> Vessel:
    vessel.note = "by hand"
    return vessel


def test_rows_made_at_once_are_bound_each(cellar: Cellar) -> None:
    beers = [Beer(name="One (invented)"), Beer(name="Two (invented)")]
    entry = written(cellar, lambda: Beer.objects.bulk_create(beers))
    assert bound(entry) == [("beer", beers[0].pk), ("beer", beers[1].pk)]


def test_row_that_is_saved_as_it_was_is_not_bound_again(cellar: Cellar) -> None:
    assert bound(written(cellar, cellar.vessel.save)) == []


def test_removed_row_is_bound_as_removed_with_those_that_go_with_it(cellar: Cellar) -> None:
    vessel = make_vessel(points=1)
    bind_unbound(now=NOW)
    point, pk = vessel.points.get(), vessel.pk
    entry = written(cellar, vessel.delete)
    assert bound(entry) == [("samplingpoint", point.pk), ("vessel", pk)]
    assert set(entry.bindings.values_list("digest", flat=True)) == {""}
    assert found() == []


def test_row_that_loses_its_link_to_a_removed_one_is_bound(cellar: Cellar) -> None:
    regime = cellar.resanitise_version.regime
    written(
        cellar, lambda: Vessel.objects.filter(pk=cellar.vessel.pk).update(default_regime=regime)
    )
    entry = written(cellar, regime.delete)
    assert ("vessel", cellar.vessel.pk) in bound(entry)
    assert found() == []


def test_links_are_part_of_the_row_that_they_start_from(cellar: Cellar) -> None:
    group = cellar.brewer.groups.get()
    entry = written(cellar, lambda: cellar.hand.groups.add(group))
    assert bound(entry) == [("user", cellar.hand.pk)]
    entry = written(cellar, lambda: group.user_set.remove(cellar.hand))
    assert bound(entry) == [("user", cellar.hand.pk)]
    assert found() == []


def test_study_keeps_its_points_bound(cellar: Cellar) -> None:
    def make() -> None:
        study = Baseline.objects.create(
            name="Study",
            meter=cellar.meter,
            atp_test=cellar.atp_test,
            since=NOW,
            until=NOW,
            made_at=NOW,
            made_by=cellar.brewer,
        )
        study.points.set([cellar.point])

    entry = written(cellar, make)
    study = Baseline.objects.get()
    assert bound(entry) == [("baseline", study.pk)]
    text = shape_of(Baseline).read([study.pk])[study.pk].text
    assert f'"points":[{cellar.point.pk}]' in text
    assert found() == []


def test_password_and_signing_in_are_bound_nowhere(cellar: Cellar) -> None:
    cellar.hand.set_password("another-long-word")
    entry = written(cellar, lambda: cellar.hand.save(update_fields=["password"]))
    assert bound(entry) == []
    User.objects.filter(pk=cellar.hand.pk).update(last_login=NOW)
    assert found() == []


def test_write_past_every_way_is_refused(cellar: Cellar) -> None:
    """Raw SQL within an action would leave a row that no entry binds."""

    def write() -> None:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE brewhygiene_vessel SET note = 'past the ledger'")

    before = Entry.objects.count()
    with pytest.raises(UnboundWrite, match="brewhygiene_vessel"):
        written(cellar, write)
    assert Entry.objects.count() == before


def test_action_within_an_action_tells_the_change_up_to_its_own_end(cellar: Cellar) -> None:
    @action("inner")
    def inner(*, by: Actor) -> Recorded[Vessel]:
        Vessel.objects.filter(pk=cellar.vessel.pk).update(note="second")
        return Recorded(cellar.vessel, {})

    @action("outer")
    def outer(*, by: Actor) -> Recorded[Vessel]:
        Vessel.objects.filter(pk=cellar.vessel.pk).update(note="first")
        inner(by=by.inner())
        Vessel.objects.filter(pk=cellar.vessel.pk).update(note="third")
        return Recorded(cellar.vessel, {})

    outer(by=acting(cellar.hand))
    own = ("vessel", cellar.vessel.pk)
    entries = list(Entry.objects.order_by("-number")[:2])
    assert [(entry.verb, bound(entry)) for entry in entries] == [("outer", [own]), ("inner", [own])]
    assert found() == []


def test_action_that_is_refused_within_another_leaves_the_change_to_it(cellar: Cellar) -> None:
    @action("inner")
    def inner(*, by: Actor) -> Recorded[Vessel]:
        Vessel.objects.filter(pk=cellar.vessel.pk).update(note="second")
        raise Refusal("Not this one.")

    @action("outer")
    def outer(*, by: Actor) -> Recorded[Vessel]:
        Vessel.objects.filter(pk=cellar.vessel.pk).update(note="first")
        with pytest.raises(Refusal), transaction.atomic():
            inner(by=by.inner())
        return Recorded(cellar.vessel, {})

    outer(by=acting(cellar.hand))
    assert bound(Entry.objects.latest("number")) == [("vessel", cellar.vessel.pk)]
    assert found() == []


def test_row_made_without_an_entry_is_found(cellar: Cellar) -> None:
    point = make_point(cellar.vessel, name="Racking arm")
    assert found() == [
        f"added: Row {point.pk} of brewhygiene_samplingpoint was added without an entry."
    ]


def test_rows_of_an_older_database_are_bound_once_and_it_is_said() -> None:
    cellar = Cellar()
    cellar.released()
    assert found() != []
    count = bind_unbound(now=NOW)
    assert count > 10
    assert found() == []
    assert bind_unbound(now=NOW) == 0
    entry = Entry.objects.filter(verb=ADOPTED).latest("number")
    assert entry.values["why"] == (
        "No entry bound these rows before. Each is bound as it stood at this moment."
    )
    assert entry.user is None


@contextmanager
def by_an_earlier_version(model: type[models.Model]) -> Iterator[None]:
    """As a version of the product bound rows that had one column less."""
    now = shape_of(model)
    shapes._shapes[model] = shapes.Shape(now.table, now.columns[:-1])
    keep_shapes()
    try:
        yield
    finally:
        del shapes._shapes[model]


def test_rows_of_a_changed_table_are_bound_anew_but_for_those_that_did_not_match(
    cellar: Cellar,
) -> None:
    cellar.recovery_recorded()
    turnaround = cellar.cleaned()
    with by_an_earlier_version(Result):
        right = cellar.sampled(turnaround, rlu=3)
        wrong = cellar.sampled(turnaround, rlu=3)
    said = Entry.objects.latest("number")
    with unguarded(Result):
        Result.objects.filter(pk=wrong.pk).update(rlu=2)
    complaint = (
        f"changed: Row {wrong.pk} of brewhygiene_result is not what entry {said.number} "
        "(record result) bound."
    )
    assert found() == [complaint]
    note_changed()
    assert bind_changed_tables(now=NOW) == 1
    entry = Entry.objects.latest("number")
    assert (entry.verb, bound(entry)) == (REBOUND, [("result", right.pk)])
    assert found() == [complaint]
