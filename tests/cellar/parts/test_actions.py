"""Work on a vessel's parts."""

from datetime import timedelta

import pytest

from brewhygiene.cellar.models import PartWork
from brewhygiene.cellar.parts.actions import record_part_work
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import NOW, Cellar, acting, make_vessel

pytestmark = pytest.mark.django_db


def recorded(cellar: Cellar, **values: object) -> PartWork:
    user = values.pop("user", cellar.hand)
    return record_part_work(
        by=acting(user, key=values.pop("key", None)),
        **{"vessel": cellar.vessel, "kind": "gasket", "done_at": NOW, **values},
    )


def test_work_on_a_point_s_part_is_on_record() -> None:
    cellar = Cellar()
    work = recorded(cellar, point=cellar.point, note=" EPDM ")
    assert (work.point, work.note, work.recorded_by) == (cellar.point, "EPDM", cellar.hand)
    entry = Entry.objects.order_by("-pk").first()
    assert (entry.verb, entry.values["point"]) == ("record part work", cellar.point.name)


def test_same_key_records_once() -> None:
    cellar = Cellar()
    assert recorded(cellar, key="one") == recorded(cellar, key="one")
    assert PartWork.objects.count() == 1


def test_fast_clock_is_brought_to_now() -> None:
    assert recorded(Cellar(), done_at=NOW + timedelta(minutes=1)).done_at == NOW


@pytest.mark.parametrize(
    "values, field, message",
    [
        ({"kind": "paint"}, "kind", "Choose what was done."),
        (
            {"done_at": NOW + timedelta(hours=1)},
            "done_at",
            "Enter a time that is not in the future.",
        ),
        ({"kind": "part"}, "note", "Enter which part it was."),
    ],
)
def test_what_cannot_be_is_refused(values: dict[str, object], field: str, message: str) -> None:
    with pytest.raises(Refusal) as refused:
        recorded(Cellar(), **values)
    assert (refused.value.field, refused.value.message) == (field, message)


def test_another_vessel_s_point_is_refused() -> None:
    cellar = Cellar()
    with pytest.raises(Refusal, match="Choose a sampling point of"):
        recorded(cellar, point=make_vessel().points.get())


def test_owner_records_no_work() -> None:
    cellar = Cellar()
    with pytest.raises(NotAllowed):
        recorded(cellar, user=cellar.owner)
