"""The last beer's allergens minus the next one's stop a release and a filling."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.batches.models.holds import Hold
from brewhygiene.brewery.models import Brewery
from brewhygiene.changeovers import actions
from brewhygiene.changeovers.carried import carried_by
from brewhygiene.changeovers.turnaround import changeover_of
from brewhygiene.refusals import Refusal
from brewhygiene.release import actions as release_actions
from brewhygiene.release.gates import NEVER_WAIVABLE, Answer, gates_of
from brewhygiene.release.queries import load_dossier, state_of
from brewhygiene.release.status import Code
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from tests.changeovers.scenes import Dairy
from tests.factories import PASSWORD, acting, make_beer, make_version

MINUTE = 1 / 60


def gate(house: Dairy, turnaround: Turnaround, hours: float) -> tuple[Answer, tuple[str, ...]]:
    now = house.at(hours)
    dossier = load_dossier(turnaround, now=now)
    found = gates_of(dossier, brewery=Brewery.current(), now=now, user=house.brewer)
    (one,) = [each for each in found if each.code == "allergens"]
    return one.answer, one.evidence


def next_is(house: Dairy, turnaround: Turnaround, beer: Any, hours: float) -> None:
    turnaround_actions.plan_next_beer(
        by=acting(house.hand, now=house.at(hours)), turnaround=turnaround, beer=beer
    )


def test_release_is_refused_until_a_validated_changeover_is_tested(house: Dairy) -> None:
    turnaround = house.had_stout()
    next_is(house, turnaround, house.pale, 10.5)
    house.sampled(turnaround, now=house.at(10.5))
    with pytest.raises(Refusal) as refused:
        house.decided(turnaround, now=house.at(10.7))
    assert refused.value.code == "blocked"
    assert "No allergen crosses into the next beer: no." in refused.value.message
    # A test after a clean that nobody validated is not enough.
    house.tested(turnaround, 10.8)
    answer, (line,) = gate(house, turnaround, 10.9)
    assert answer == Answer.NO
    assert line.endswith("version 1 is not validated against it")
    # Nor a validation after it.
    house.validated(10.9)
    assert gate(house, turnaround, 11)[0] == Answer.NO
    house.run(house.started(turnaround, now=house.at(11)), now=house.at(11))
    answer, (line,) = gate(house, turnaround, 11.5)
    assert (answer, line) == (
        Answer.NO,
        "Milk, lactose included of Brindle Stout (invented): no allergen test after the clean",
    )
    house.tested(turnaround, 11.5)
    answer, (line,) = gate(house, turnaround, 11.6)
    assert answer == Answer.YES
    assert line.startswith(f"Milk, lactose included: {house.version}, validated 2026-03-10 (R 7")
    house.sampled(turnaround, now=house.at(11.6))
    house.decided(turnaround, now=house.at(11.7))
    house.filled(turnaround, now=house.at(12))
    # What was decided stays as it stood, now that the vessel is filled.
    assert gate(house, Turnaround.objects.get(pk=turnaround.pk), 13)[0] == Answer.YES


def test_positive_test_asks_for_another_clean(house: Dairy) -> None:
    house.validated()
    turnaround = house.had_stout()
    next_is(house, turnaround, house.pale, 10.5)
    house.tested(turnaround, 10.5, result="positive")
    house.tested(turnaround, 10.6)
    answer, (line,) = gate(house, turnaround, 10.7)
    assert answer == Answer.NO
    assert line.endswith("lot A1, in date until 2027-01-31: positive (read). Clean again")
    house.run(house.started(turnaround, now=house.at(11)), now=house.at(11))
    house.tested(turnaround, 11.5)
    assert gate(house, turnaround, 11.6)[0] == Answer.YES


def test_nobody_waives_it(house: Dairy) -> None:
    assert "allergens" in NEVER_WAIVABLE
    Brewery.objects.update(waivable_gates=["allergens"])
    turnaround = house.had_stout()
    next_is(house, turnaround, house.pale, 10.5)
    house.sampled(turnaround, now=house.at(10.5))
    with pytest.raises(Refusal) as refused:
        house.decided(turnaround, now=house.at(10.7), gate_reasons={"allergens": "It will be fine"})
    assert refused.value.code == "blocked"


def test_beer_that_declares_it_is_next_without_more(house: Dairy) -> None:
    turnaround = house.had_stout()
    next_is(house, turnaround, house.stout, 10.5)
    house.sampled(turnaround, now=house.at(10.5))
    house.decided(turnaround, now=house.at(10.7))
    house.filled(turnaround, now=house.at(11), beer=house.stout)


def test_where_the_next_beer_is_not_known_the_filling_asks(house: Dairy) -> None:
    turnaround = house.had_stout()
    house.sampled(turnaround, now=house.at(10.5))
    assert gate(house, turnaround, 10.6)[0] == Answer.YES
    house.decided(turnaround, now=house.at(10.7))
    with pytest.raises(Refusal) as refused:
        house.filled(turnaround, now=house.at(11))
    assert (refused.value.field, refused.value.code) == ("beer", "allergen")
    assert "carries milk of Brindle Stout (invented)" in refused.value.message


def test_it_stays_until_it_is_proved_through_other_beers(house: Dairy) -> None:
    """A beer that declares it, or a clean that was not tested, takes nothing away."""
    house.validated()
    oat = make_beer(name="Oat and milk", allergens=["oats", "milk"])
    house.brewed("S-1", 0, beer=house.stout)
    house.brewed("O-1", 24, beer=oat)
    assert list(carried_by([house.fv])[house.fv.pk]) == ["oats", "milk"]
    house.proved(house.fv, 48)
    assert list(carried_by([house.fv])[house.fv.pk]) == ["oats"]
    # As it was before that.
    assert list(carried_by([house.fv], until=house.at(40))[house.fv.pk]) == ["oats", "milk"]
    assert list(carried_by([house.fv], until=house.at(20))[house.fv.pk]) == ["milk"]


def test_emptying_says_it_where_no_filling_is_on_record(house: Dairy) -> None:
    house.emptied(now=house.at(0), beer=house.stout)
    assert list(carried_by([house.fv])[house.fv.pk]) == ["milk"]


def test_validation_counts_from_its_signature_to_its_retirement(house: Dairy) -> None:
    validation = house.validated(-50)
    house.brewed("S-1", 0, beer=house.stout)
    actions.retire_validation(
        by=acting(house.brewer, now=house.at(5)),
        validation=validation,
        reason="Positive in a later run",
        password=PASSWORD,
    )
    turnaround = house.cleaned(now=house.at(10), vessel=house.fv)
    house.tested(turnaround, 10.5)
    assert "milk" in carried_by([house.fv])[house.fv.pk]
    house.validated(11)
    house.run(house.started(turnaround, now=house.at(12)), now=house.at(12))
    house.tested(turnaround, 12.5)
    assert "milk" not in carried_by([house.fv])[house.fv.pk]


def test_validation_of_another_regime_or_allergen_does_not_count(house: Dairy) -> None:
    house.validated(version=make_version())
    house.validated(allergen="nuts")
    turnaround = house.had_stout()
    house.tested(turnaround, 10.5)
    house.tested(turnaround, 10.5, allergen="nuts")
    assert list(changeover_of(turnaround).carried) == ["milk"]


def test_fill_without_release_is_recorded_and_its_batch_is_held(house: Dairy) -> None:
    turnaround = house.had_stout()
    release_actions.record_fill_without_release(
        by=acting(house.brewer, now=house.at(11)),
        turnaround=turnaround,
        beer=house.pale,
        batch="P-9",
        volume_hl=20,
        filled_at=house.at(11) - timedelta(minutes=5),
        reason="Wrong valve",
        password=PASSWORD,
    )
    hold = Hold.objects.get()
    assert hold.batch is not None
    assert (hold.batch.number, hold.plate) == ("P-9", None)
    assert hold.reason == (
        f"{house.fv.name} carried milk of Brindle Stout (invented), "
        "which Harrow Pale (invented) does not declare"
    )


def test_fill_without_release_of_a_beer_that_declares_it_is_not_held(house: Dairy) -> None:
    turnaround = house.had_stout()
    release_actions.record_fill_without_release(
        by=acting(house.brewer, now=house.at(11)),
        turnaround=turnaround,
        beer=house.stout,
        batch="S-2",
        volume_hl=20,
        filled_at=house.at(11),
        reason="Wrong valve",
        password=PASSWORD,
    )
    assert not Hold.objects.exists()


@pytest.mark.parametrize("number", [0, 3])
def test_carried_takes_the_same_queries(
    house: Dairy, number: int, django_assert_num_queries: Any
) -> None:
    for each in range(number):
        house.brewed(f"S-{each}", 24 * each, beer=house.stout, through=(house.hose,))
    with django_assert_num_queries(4):
        carried_by([house.fv, house.hose, house.bt][: number or 1])


def test_positive_test_holds_the_vessel_until_it_is_cleaned_again(house: Dairy) -> None:
    house.validated()
    turnaround = house.had_stout()
    turnaround_actions.plan_next_beer(
        by=acting(house.hand, now=house.at(10)), turnaround=turnaround, beer=house.pale
    )
    house.tested(turnaround, 11, result="positive")
    held = state_of(house.fv, now=house.at(12)).status
    assert (held.code, held.detail) == (Code.HELD, "Allergen test positive: milk")
    house.run(house.started(turnaround, now=house.at(13)), now=house.at(13))
    assert state_of(house.fv, now=house.at(14)).status.code == Code.TO_SAMPLE


@pytest.mark.parametrize("beer", ["stout", None])
def test_positive_test_holds_nothing_that_the_next_beer_declares(
    house: Dairy, beer: str | None
) -> None:
    turnaround = house.had_stout()
    if beer is not None:
        turnaround_actions.plan_next_beer(
            by=acting(house.hand, now=house.at(10)), turnaround=turnaround, beer=house.stout
        )
    house.tested(turnaround, 11, result="positive")
    assert state_of(house.fv, now=house.at(12)).status.code == Code.TO_SAMPLE


def test_clean_remembers_what_the_vessel_carried_and_of_which_beer(house: Dairy) -> None:
    first = house.had_stout()
    assert first.cleans.get().carried == {"milk": house.stout.name}


def test_proved_changeover_leaves_nothing_to_remember(house: Dairy) -> None:
    house.validated()
    turnaround = house.had_stout()
    house.tested(turnaround, 11)
    clean = house.started(turnaround, now=house.at(12))
    assert clean.carried == {}
