"""The bounds of what a vessel is put on record with, and what is kept of it."""

from datetime import timedelta

import pytest

from brewhygiene.cellar.models import Emptying, Fill
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.refusals import NotAllowed
from brewhygiene.release.starts.actions import Stands, start_vessel
from brewhygiene.turnarounds.models.starts import Stood, VesselStart
from tests.factories import NOW, Cellar, acting, make_owner, make_vessel
from tests.release.starts.test_put_on_record import full, on_paper, put, refused, today

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.mark.parametrize("volume_hl", [0.5, 30.0, 30 * 1.0001])
def test_a_vessel_contains_up_to_its_volume(cellar: Cellar, volume_hl: float) -> None:
    """With what is lost in rounding between units."""
    put(cellar, full(cellar, volume_hl=volume_hl))
    assert Fill.objects.get().volume_hl == volume_hl


@pytest.mark.parametrize("volume_hl", [-1.0, 0.0, 30.0031])
def test_and_no_other_volume(cellar: Cellar, volume_hl: float) -> None:
    assert refused(cellar, full(cellar, volume_hl=volume_hl))[0] == f"volume_hl_{cellar.vessel.pk}"


@pytest.mark.parametrize(
    ("ahead", "kept"),
    [
        (timedelta(0), timedelta(0)),
        (timedelta(minutes=-1), timedelta(minutes=-1)),
        (timedelta(minutes=2), timedelta(0)),  # what clocks may differ by
    ],
)
def test_a_paper_is_of_now_or_before(cellar: Cellar, ahead: timedelta, kept: timedelta) -> None:
    assert put(cellar, on_paper(cellar, released_at=NOW + ahead)).released_at == NOW + kept


def test_a_paper_of_later_is_refused(cellar: Cellar) -> None:
    later = NOW + timedelta(minutes=2, seconds=1)
    assert refused(cellar, on_paper(cellar, released_at=later))[0] == (
        f"released_at_{cellar.vessel.pk}"
    )


def test_the_first_of_several_stands_for_them(cellar: Cellar) -> None:
    start = put(cellar, full(cellar), Stands(make_vessel(), Stood.EMPTY))
    assert start.vessel == cellar.vessel


def test_where_papers_are_not_allowed_the_first_says_so(cellar: Cellar) -> None:
    owner = make_owner()
    owner.groups.get().permissions.add(
        *cellar.brewer.groups.get().permissions.filter(codename="edit_setup")
    )
    papers = [on_paper(cellar), Stands(make_vessel(), Stood.RELEASED)]
    empty = Stands(make_vessel(), Stood.EMPTY)
    assert refused(cellar, empty, *papers, by=owner) == (f"stood_{cellar.vessel.pk}", "not_allowed")


def test_one_signature_names_as_many_vessels_as_it_can(cellar: Cellar) -> None:
    vessels = [make_vessel(name=f"Lagering tank in the old cellar {n:02d}") for n in range(9)]
    paper = on_paper(cellar)
    put(
        cellar,
        *(
            Stands(
                one,
                Stood.RELEASED,
                released_at=paper.released_at,
                paper_signer=paper.paper_signer,
            )
            for one in vessels
        ),
    )
    names = ", ".join(one.name for one in vessels)
    meaning = Signature.objects.get(meaning__startswith="Put").meaning
    assert meaning == f"Put the paper release on record of {names}"[:200]
    assert len(meaning) == 200


def test_one_vessel_by_itself_takes_the_same_permission(cellar: Cellar) -> None:
    with pytest.raises(NotAllowed):
        start_vessel(by=acting(cellar.hand), stands=Stands(cellar.vessel, Stood.EMPTY))
    assert not VesselStart.objects.exists()


def test_the_ledger_says_what_a_full_vessel_contains(cellar: Cellar) -> None:
    put(cellar, full(cellar))
    entry = Entry.objects.get(verb="put vessel on record")
    assert entry.aggregate == f"vessel:{cellar.vessel.pk}"
    kept = {name: entry.values[name] for name in ("beer", "batch", "volume_hl", "since")}
    assert kept == {
        "beer": cellar.pale.name,
        "batch": "26-007",
        "volume_hl": 20.0,
        "since": f"{today():%Y-%m-%d}",
    }


def test_and_of_which_turnaround_an_empty_one_is(cellar: Cellar) -> None:
    start = put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    assert start.turnaround is not None
    entry = Entry.objects.get(verb="put vessel on record")
    assert entry.aggregate == f"turnaround:{start.turnaround.pk}"
    assert "beer" not in entry.values


def test_what_nobody_knows_of_its_gas_is_taken_for_the_worse(cellar: Cellar) -> None:
    put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    assert Emptying.objects.get().co2_left is True
