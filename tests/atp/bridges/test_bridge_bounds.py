"""A bridge study at both sides of its bounds, and what its verbs tell the ledger."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.atp.bridges import actions
from brewhygiene.atp.bridges.actions import MOST_PAIRS, PairValues
from brewhygiene.atp.models.bridges import BridgePair
from brewhygiene.atp.models.meters import Meter
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.refusals import Refusal
from tests.atp.bridges.scenes import Study
from tests.factories import NOW, PASSWORD, acting, make_atp_test, make_limits

pytestmark = pytest.mark.django_db
LONG = f" {'x' * 300} "


def field_of(call: Any) -> str | None:
    with pytest.raises(Refusal) as refused:
        call()
    return refused.value.field


def values() -> dict[str, Any]:
    entry = Entry.objects.latest("pk")
    return {"aggregate": entry.aggregate, **entry.values}


def crowded(study: Study, count: int) -> None:
    BridgePair.objects.bulk_create(
        BridgePair(
            bridge=study.bridge,
            reference_rlu=1,
            new_rlu=1,
            taken_at=NOW,
            recorded_by=study.cellar.hand,
        )
        for _ in range(count)
    )


def test_a_study_contains_at_most_a_thousand_pairs() -> None:
    assert MOST_PAIRS == 1000
    study = Study(count=0)
    crowded(study, 998)
    assert field_of(lambda: study.add([PairValues(1, 1)] * 3)) == "pairs"
    study.add([PairValues(1, 1)] * 2)
    assert field_of(lambda: study.add([PairValues(1, 1)])) == "pairs"
    assert study.bridge.pairs.count() == 1000


def test_no_pairs_at_once_are_refused() -> None:
    study = Study(count=0)
    before = Entry.objects.count()
    assert field_of(lambda: study.add([])) == "pairs"
    assert Entry.objects.count() == before


def test_the_scales_of_a_study_may_share_their_meter_or_their_test() -> None:
    study = Study(count=0)
    cellar = study.cellar
    other = make_atp_test()
    bridge = actions.open_bridge(
        by=acting(cellar.brewer),
        reference_meter=cellar.meter,
        reference_atp_test=cellar.atp_test,
        new_meter=cellar.meter,
        new_atp_test=other,
    )
    assert (bridge.opened_by, bridge.opened_at) == (cellar.brewer, NOW)
    assert values() == {
        "aggregate": f"bridge:{bridge.pk}",
        "reference": f"{cellar.meter.name} with {cellar.atp_test.name}",
        "new": f"{cellar.meter.name} with {other.name}",
    }


def test_a_pair_may_have_been_taken_earlier_and_keeps_two_hundred_letters() -> None:
    study = Study(count=0)
    earlier = NOW - timedelta(days=3)
    pair = actions.add_pair(
        by=acting(study.cellar.hand),
        bridge=study.bridge,
        values=PairValues(None, 0, note=LONG),
        taken_at=earlier,
    )
    assert (pair.taken_at, pair.note, pair.point) == (earlier, "x" * 200, None)
    told = values()
    assert (told["reference_rlu"], told["new_rlu"], told["point"]) == (None, 0, None)
    actions.add_pair(
        by=acting(study.cellar.hand),
        bridge=study.bridge,
        values=PairValues(0, 0, point=study.cellar.point),
    )
    assert values()["point"] == str(study.cellar.point)
    study.add([PairValues(4, 3), PairValues(2, 1)])
    (first, second) = BridgePair.objects.order_by("pk")[2:]
    told = values()
    assert told["pairs"] == [[first.pk, 4, 3], [second.pk, 2, 1]]
    assert told["taken_at"] == "2026-03-10T09:00:00Z"


def test_why_a_pair_is_excluded_keeps_two_hundred_letters() -> None:
    study = Study(count=2)
    by, pair = acting(study.cellar.brewer), study.bridge.pairs.earliest("pk")
    excluded = actions.exclude_pair(by=by, pair=pair, reason=LONG)
    excluded.refresh_from_db()
    assert excluded.left_out_reason == "x" * 200
    assert values()["reason"] == "x" * 200
    actions.include_pair(by=by, pair=pair)
    pair.refresh_from_db()
    assert pair.left_out_reason == ""
    assert values()["was_excluded"] == "x" * 200


def test_limits_take_the_line_or_its_careful_end_and_nothing_else() -> None:
    study = Study()
    assert field_of(lambda: study.propose(choice="brave")) == "choice"
    until = NOW.date() + timedelta(days=200)
    line, careful = study.propose(valid_until=until), study.propose(choice="careful")
    assert line.alert_rlu >= careful.alert_rlu
    assert line.action_rlu > careful.action_rlu
    assert (line.figures["choice"], careful.figures["choice"]) == ("line", "careful")
    assert line.figures["reference_limits"] == study.cellar.limits.pk
    assert (line.proposed_at, line.proposed_by, line.point) == (NOW, study.cellar.brewer, None)
    assert (line.valid_until, careful.valid_until) == (until, None)
    told = values()
    assert (told["point"], told["from"]) == ("all points", str(study.cellar.limits))
    assert told["aggregate"] == f"bridge:{study.bridge.pk}"


def test_to_retire_is_signed_and_says_whether_it_was_approved() -> None:
    study = Study()
    by = acting(study.cellar.brewer)
    actions.approve_bridge(by=by, bridge=study.bridge, password=PASSWORD)
    assert values()["figures"]["pairs"] == 40
    wrong = field_of(
        lambda: actions.retire_bridge(by=by, bridge=study.bridge, password="something else")
    )
    assert wrong == "password"
    retired = actions.retire_bridge(by=by, bridge=study.bridge, password=PASSWORD)
    retired.refresh_from_db()
    assert retired.retired_at == NOW
    assert values()["was_approved"] == "2026-03-10T09:00:00Z"


def test_careful_limits_are_below_those_of_the_line_where_the_interval_is_wide() -> None:
    study = Study()
    wide = make_limits(
        by=study.cellar.brewer,
        meter=study.cellar.meter,
        atp_test=study.cellar.atp_test,
        alert_rlu=60,
        action_rlu=120,
    )
    line = study.propose(reference_limits=wide)
    careful = study.propose(reference_limits=wide, choice="careful")
    assert careful.alert_rlu < line.alert_rlu
    assert careful.action_rlu < line.action_rlu


def test_what_is_signed_and_noted_of_long_names_has_at_most_two_hundred_letters() -> None:
    study = Study()
    by = acting(study.cellar.brewer)
    for meter in (study.cellar.meter, study.new_meter):
        Meter.objects.filter(pk=meter.pk).update(name=f"{meter.pk}{'m' * 199}")
    assert len(study.propose().source_note) == 200
    bridge = actions.approve_bridge(by=by, bridge=study.bridge, password=PASSWORD)
    assert len(bridge.approval.meaning) == 200
    actions.retire_bridge(by=by, bridge=bridge, password=PASSWORD)
    assert len(Signature.objects.latest("pk").meaning) == 200
