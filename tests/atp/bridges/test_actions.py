"""The verbs of bridge studies."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.atp.bridges import actions as bridge_actions
from brewhygiene.atp.bridges.actions import PairValues
from brewhygiene.atp.bridges.queries import sort_pairs
from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.atp.bridges.scenes import Study, pairs
from tests.factories import (
    NOW,
    PASSWORD,
    acting,
    make_atp_test,
    make_meter,
    make_point,
)

pytestmark = pytest.mark.django_db


def refused(call: Callable[[], Any], code: str, field: str | None = None) -> str:
    before = Entry.objects.count()
    with pytest.raises(Refusal) as caught:
        call()
    assert (caught.value.code, caught.value.field) == (code, field)
    assert Entry.objects.count() == before
    return caught.value.message


def test_study_of_one_scale_is_refused() -> None:
    study = Study(count=0)
    cellar = study.cellar
    refused(
        lambda: bridge_actions.open_bridge(
            by=acting(cellar.brewer),
            reference_meter=cellar.meter,
            reference_atp_test=cellar.atp_test,
            new_meter=cellar.meter,
            new_atp_test=cellar.atp_test,
        ),
        "same_scale",
        "new_atp_test",
    )


def test_study_of_a_rinse_and_a_surface_test_is_refused() -> None:
    study = Study(count=0)
    cellar = study.cellar
    words = refused(
        lambda: bridge_actions.open_bridge(
            by=acting(cellar.brewer),
            reference_meter=cellar.meter,
            reference_atp_test=cellar.atp_test,
            new_meter=cellar.meter,
            new_atp_test=make_atp_test(name="Swab", sample_kind="surface"),
        ),
        "sample_kinds_differ",
        "new_atp_test",
    )
    assert words.endswith("and Swab a swab. Choose two ATP tests of the same kind.")


@pytest.mark.parametrize("backwards", [False, True])
def test_second_study_of_the_same_scales_is_refused_while_one_stands(backwards: bool) -> None:
    study = Study(count=0)
    cellar = study.cellar
    first, second = cellar.meter, study.new_meter
    if backwards:
        first, second = second, first
    again = {
        "reference_meter": first,
        "reference_atp_test": cellar.atp_test,
        "new_meter": second,
        "new_atp_test": cellar.atp_test,
    }
    refused(lambda: bridge_actions.open_bridge(by=acting(cellar.brewer), **again), "there_already")
    bridge_actions.retire_bridge(by=acting(cellar.brewer), bridge=study.bridge, password=PASSWORD)
    opened = bridge_actions.open_bridge(by=acting(cellar.brewer), **again)
    assert opened.pk != study.bridge.pk


def test_pair_is_recorded_with_its_point_and_time() -> None:
    study = Study(count=0)
    cellar = study.cellar
    pair = bridge_actions.add_pair(
        by=acting(cellar.hand),
        bridge=study.bridge,
        values=PairValues(12, 9, point=cellar.point, note=" before the clean "),
    )
    assert (pair.reference_rlu, pair.new_rlu, pair.point) == (12, 9, cellar.point)
    assert (pair.note, pair.taken_at, pair.recorded_by) == ("before the clean", NOW, cellar.hand)
    entry = Entry.objects.latest("pk")
    assert (entry.verb, entry.aggregate) == ("add bridge pair", f"bridge:{study.bridge.pk}")


def test_pair_with_one_side_is_kept_and_not_used() -> None:
    study = Study(count=0)
    study.add([PairValues(12, None), PairValues(None, 3), PairValues(0, 0)])
    sorted_pairs = sort_pairs(study.bridge)
    assert [str(pair) for pair in sorted_pairs.incomplete] == ["12 and None RLU", "None and 3 RLU"]
    assert (sorted_pairs.reference_rlu, sorted_pairs.new_rlu) == ([0], [0])


@pytest.mark.parametrize(
    "values, field",
    [
        (PairValues(None, None), "reference_rlu"),
        (PairValues(-1, 2), "reference_rlu"),
        (PairValues(1, 10_000_000), "new_rlu"),
    ],
)
def test_pair_that_cannot_be_is_refused_and_none_beside_it_is_kept(
    values: PairValues, field: str
) -> None:
    study = Study(count=0)
    refused(lambda: study.add([PairValues(1, 1), values]), "refused", field)
    assert BridgePair.objects.count() == 0


def test_pair_at_a_point_of_another_kind_is_refused() -> None:
    study = Study(count=0)
    wall = make_point(study.cellar.vessel, sample_kind="surface")
    refused(lambda: study.add([PairValues(1, 1, point=wall)]), "refused", "point")


def test_pair_in_the_future_is_refused() -> None:
    study = Study(count=0)
    refused(
        lambda: bridge_actions.add_pair(
            by=acting(study.cellar.hand),
            bridge=study.bridge,
            values=PairValues(1, 1),
            taken_at=NOW + timedelta(days=2),
        ),
        "refused",
        "taken_at",
    )


def test_same_key_adds_one_pair() -> None:
    study = Study(count=0)
    by = acting(study.cellar.hand, key="twice")
    first, second = (
        bridge_actions.add_pair(by=by, bridge=study.bridge, values=PairValues(1, 1))
        for _ in range(2)
    )
    assert first == second
    assert BridgePair.objects.count() == 1


def test_pair_is_excluded_with_a_reason_and_included_again() -> None:
    study = Study(count=2)
    by = acting(study.cellar.brewer)
    pair = study.bridge.pairs.earliest("pk")
    refused(lambda: bridge_actions.exclude_pair(by=by, pair=pair, reason="  "), "refused", "reason")
    bridge_actions.exclude_pair(by=by, pair=pair, reason="A touched tip")
    assert [one.pk for one in sort_pairs(study.bridge).excluded] == [pair.pk]
    assert len(sort_pairs(study.bridge).used) == 1
    refused(lambda: bridge_actions.exclude_pair(by=by, pair=pair, reason="Again"), "excluded")
    bridge_actions.include_pair(by=by, pair=pair)
    assert len(sort_pairs(study.bridge).used) == 2
    refused(lambda: bridge_actions.include_pair(by=by, pair=pair), "not_excluded")
    assert list(Entry.objects.order_by("pk").values_list("verb", flat=True))[-2:] == [
        "exclude bridge pair",
        "include bridge pair",
    ]


def test_limits_are_proposed_from_the_line_and_judge_nothing_yet() -> None:
    study = Study()
    limits = study.propose()
    assert (limits.meter, limits.atp_test) == (study.new_meter, study.cellar.atp_test)
    assert (limits.source, limits.bridge, limits.approved_at) == ("bridge", study.bridge, None)
    assert limits.figures["pairs"] == 40
    assert limits.figures["action"]["low_rlu"] < 21 < limits.figures["action"]["high_rlu"]
    assert limits.action_rlu == int(limits.figures["action"]["rlu"])
    assert limits.alert_rlu == int(limits.figures["alert"]["rlu"])
    scale = f"{study.cellar.meter.name} with {study.cellar.atp_test.name}"
    assert limits.source_note == f"40 pairs with {scale}: 10/30 RLU there"


def test_careful_limits_are_the_lower_ends_of_the_intervals() -> None:
    limits = Study().propose(choice="careful")
    assert limits.action_rlu == int(limits.figures["action"]["low_rlu"])
    assert limits.alert_rlu == int(limits.figures["alert"]["low_rlu"])
    assert limits.source_note.endswith("lower end of the interval")


def test_bridged_limits_are_signed_like_any_and_then_judge_the_new_meter() -> None:
    study = Study()
    cellar = study.cellar
    limits = limit_actions.approve_limits(
        by=acting(cellar.brewer), limits=study.propose(), password=PASSWORD
    )
    turnaround = cellar.cleaned()
    cellar.checked(meter=study.new_meter)
    result = cellar.sampled(turnaround, meter=study.new_meter, rlu=limits.action_rlu + 1)
    assert (result.verdict, result.limits) == ("action", limits)


def test_limits_of_one_point_are_carried_to_that_point() -> None:
    study = Study()
    cellar = study.cellar
    own = limit_actions.propose_limits(
        by=acting(cellar.brewer),
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        moment="in_sanitiser",
        alert_rlu=20,
        action_rlu=60,
        source="maker",
        source_note="invented",
        review_on=NOW.date() + timedelta(days=90),
        point=cellar.point,
    )
    own = limit_actions.approve_limits(by=acting(cellar.brewer), limits=own, password=PASSWORD)
    assert study.propose(reference_limits=own).point == cellar.point


def test_limits_that_are_not_in_force_there_are_not_carried() -> None:
    study = Study()
    limit_actions.retire_limits(
        by=acting(study.cellar.brewer), limits=study.cellar.limits, password=PASSWORD
    )
    refused(study.propose, "not_in_force")


def test_review_date_has_to_lie_ahead() -> None:
    study = Study()
    refused(lambda: study.propose(review_on=NOW.date()), "refused", "review_on")


def test_too_few_pairs_carry_no_limits_and_no_half_record() -> None:
    study = Study(count=12)
    words = refused(study.propose, "no_bridge")
    assert words == ("There are 12 complete pairs. At least 20 are needed, 8 more. 40 are better.")
    assert LimitSet.objects.filter(source="bridge").count() == 0


def test_bridge_is_approved_with_a_signature_and_keeps_its_line() -> None:
    study = Study()
    bridge = bridge_actions.approve_bridge(
        by=acting(study.cellar.brewer), bridge=study.bridge, password=PASSWORD
    )
    assert bridge.approved_at == NOW
    assert bridge.approval.printed_name == "Mara Oduya"
    assert bridge.log_slope == bridge.figures["slope"] == pytest.approx(1, abs=0.1)
    assert bridge.log_intercept == bridge.figures["intercept"]


def test_wrong_password_approves_no_bridge() -> None:
    study = Study()
    refused(
        lambda: bridge_actions.approve_bridge(
            by=acting(study.cellar.brewer), bridge=study.bridge, password="guess"
        ),
        "bad_password",
        "password",
    )
    assert Bridge.objects.get().approved_at is None


def test_bridge_without_a_line_is_not_approved() -> None:
    study = Study(count=0)
    study.add([PairValues(0, 0)] * 30)
    words = refused(
        lambda: bridge_actions.approve_bridge(
            by=acting(study.cellar.brewer), bridge=study.bridge, password=PASSWORD
        ),
        "no_bridge",
    )
    assert words.startswith("Every reading of the reference scale is 0 RLU")


def test_pairs_of_an_approved_bridge_stand() -> None:
    study = Study()
    by = acting(study.cellar.brewer)
    bridge_actions.approve_bridge(by=by, bridge=study.bridge, password=PASSWORD)
    pair = study.bridge.pairs.earliest("pk")
    refused(lambda: study.add(pairs(1)), "approved")
    refused(lambda: bridge_actions.exclude_pair(by=by, pair=pair, reason="A slip"), "approved")
    refused(
        lambda: bridge_actions.approve_bridge(by=by, bridge=study.bridge, password=PASSWORD),
        "approved",
    )


def test_retired_bridge_takes_nothing_more() -> None:
    study = Study()
    by = acting(study.cellar.brewer)
    bridge_actions.retire_bridge(by=by, bridge=study.bridge, password=PASSWORD)
    refused(lambda: study.add(pairs(1)), "retired")
    refused(study.propose, "retired")
    refused(
        lambda: bridge_actions.retire_bridge(by=by, bridge=study.bridge, password=PASSWORD),
        "retired",
    )
    assert study.bridge.pairs.count() == 40


def test_only_the_cellar_adds_pairs_and_only_the_head_brewer_does_the_rest() -> None:
    study = Study()
    cellar, bridge = study.cellar, study.bridge
    pair = bridge.pairs.earliest("pk")
    with pytest.raises(NotAllowed):
        bridge_actions.add_pair(by=acting(cellar.owner), bridge=bridge, values=PairValues(1, 1))
    with pytest.raises(NotAllowed):
        bridge_actions.add_pairs(by=acting(cellar.owner), bridge=bridge, rows=pairs(2))
    for user in (cellar.hand, cellar.owner):
        by = acting(user)
        for call in (
            lambda by=by: bridge_actions.open_bridge(
                by=by,
                reference_meter=make_meter(),
                reference_atp_test=cellar.atp_test,
                new_meter=study.new_meter,
                new_atp_test=cellar.atp_test,
            ),
            lambda by=by: bridge_actions.exclude_pair(by=by, pair=pair, reason="A slip"),
            lambda by=by: bridge_actions.include_pair(by=by, pair=pair),
            lambda by=by: bridge_actions.propose_bridged_limits(
                by=by,
                bridge=bridge,
                reference_limits=cellar.limits,
                review_on=NOW.date() + timedelta(days=9),
            ),
            lambda by=by: bridge_actions.approve_bridge(by=by, bridge=bridge, password=PASSWORD),
            lambda by=by: bridge_actions.retire_bridge(by=by, bridge=bridge, password=PASSWORD),
        ):
            with pytest.raises(NotAllowed):
                call()
