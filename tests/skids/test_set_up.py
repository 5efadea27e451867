"""Skids, hoses and tanks are signed for; names are had once; full tanks are not retired."""

from typing import Any

import pytest

from brewhygiene.people.models import Signature
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.skids.gear import actions
from brewhygiene.skids.gear.actions import SkidValues, TankValues
from brewhygiene.skids.models import Skid, SolutionTank
from tests.factories import COMMON, PASSWORD, acting
from tests.skids.scenes import STEEL, SkidCellar


def refused(act: Any, *, field: str | None, code: str) -> str:
    with pytest.raises(Refusal) as found:
        act()
    assert (found.value.field, found.value.code) == (field, code)
    return found.value.message


def test_skids_sort_as_people_count(house: SkidCellar) -> None:
    house.made_skid("Skid 10")
    house.made_skid("Skid 2")
    assert [skid.name for skid in Skid.objects.all()] == ["Skid 1", "Skid 2", "Skid 10"]


def test_a_name_is_had_once_in_whatever_case(house: SkidCellar) -> None:
    refused(lambda: house.made_skid("SKID 1"), field="name", code="taken")
    refused(lambda: house.made_skid("  "), field="name", code="no_name")
    refused(lambda: house.made_tank("caustic TANK 1"), field="name", code="taken")


def test_set_up_is_signed_by_the_head_brewer(house: SkidCellar) -> None:
    signed = list(Signature.objects.values_list("meaning", flat=True))
    assert signed[1:] == ["Saved Skid 1", "Saved Caustic tank 1 and its dump rule"]
    values = SkidValues(name="Skid 2", kind="skid", material=STEEL, seal_material="unknown")
    for by, password, error in (
        (house.hand, PASSWORD, NotAllowed),
        (house.brewer, "guessed", Refusal),
    ):
        with pytest.raises(error):
            actions.save_skid(by=acting(by), values=values, password=password)
    assert Skid.objects.count() == 1


def test_a_dump_rule_says_where_it_is_from(house: SkidCellar) -> None:
    said = refused(
        lambda: house.made_tank("Acid tank 1", rule_source=" "),
        field="rule_source",
        code="no_source",
    )
    assert said == "Enter where the dump rule is from, e.g. common practice, no source."


@pytest.mark.parametrize(
    "values, field",
    [
        ({"volume_hl": 0}, "volume_hl"),
        ({"most_uses": 0}, "most_uses"),
        ({"most_days": 0}, "most_days"),
        ({"most_carbonate_percent": 101}, "most_carbonate_percent"),
        ({"material": "butter"}, "material"),
    ],
)
def test_a_tank_that_cannot_be_is_refused(
    house: SkidCellar, values: dict[str, Any], field: str
) -> None:
    refused(lambda: house.made_tank("Acid tank 1", **values), field=field, code="invalid")


def test_a_hose_has_no_tanks(house: SkidCellar) -> None:
    hose = house.made_skid("Hose 4", "hose")
    refused(lambda: house.made_tank("Acid tank 1", hose), field=None, code="no_tanks")
    values = SkidValues(name="Skid 1", kind="hose", material=STEEL, seal_material="unknown")
    refused(
        lambda: actions.save_skid(
            by=acting(house.brewer), values=values, skid=house.skid, password=PASSWORD
        ),
        field="kind",
        code="has_tanks",
    )


def test_a_full_tank_is_not_retired(house: SkidCellar) -> None:
    made = house.made_up()

    def retire() -> SolutionTank:
        return actions.save_tank(
            by=acting(house.brewer),
            skid=house.skid,
            tank=house.tank,
            values=TankValues(
                name="Caustic tank 1", material=STEEL, volume_hl=5, rule_source=COMMON,
                active=False,
            ),
            password=PASSWORD,
        )  # fmt: skip

    refused(retire, field="active", code="not_empty")
    house.dumped(made)
    assert retire().active is False
    refused(lambda: house.made_up(), field=None, code="retired")
