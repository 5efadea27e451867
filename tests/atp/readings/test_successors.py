"""A reading that is corrected or judged later is followed by one that has lost nothing."""

from datetime import timedelta

import pytest

from brewhygiene.atp.limits.waiting import WHY
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings import actions
from tests.evidence import unguarded
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_limits,
    make_meter,
    make_point,
    make_test_lot,
    make_vessel,
)

pytestmark = pytest.mark.django_db

LATER = NOW + timedelta(hours=1)
# What the successor has of its own; every other field has to be the same.
ITS_OWN = {
    "id",
    "recorded_at",
    "client_time",
    "corrects",
    "correction_reason",
    "correction_signature",
}


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def full(cellar: Cellar) -> Result:
    """A result with something of its own in every field."""
    turnaround = cellar.cleaned()
    first = cellar.sampled(turnaround)
    read = cellar.sampled(
        turnaround,
        rlu=20,
        now=NOW + timedelta(minutes=35),
        suspected_slip=True,
        note="Tip touched the port",
    )
    decision = cellar.decided(turnaround, "hold")
    with unguarded(Result):
        Result.objects.filter(pk=read.pk).update(
            client_time=NOW,
            stage="after_sanitiser",
            corrects=first,
            correction_reason="Typed 2 for 20",
            correction_signature=decision.signature,
        )
    read.refresh_from_db()
    assert read.retest_of == first
    return read


def saved(result: Result) -> Result:
    result.save()
    return Result.objects.get(pk=result.pk)


def values(result: Result) -> dict[str, object]:
    return {field.name: getattr(result, field.name) for field in Result._meta.concrete_fields}


def test_the_result_that_is_followed_has_something_in_every_field(full: Result) -> None:
    """So that a field which is added one day is not lost unseen: set it in ``full``."""
    unset = [
        field.name
        for field in Result._meta.concrete_fields
        if getattr(full, field.attname) in (None, "", field.get_default())
    ]
    assert unset == []


@pytest.mark.parametrize(
    "name", [f.name for f in Result._meta.concrete_fields if f.name not in ITS_OWN]
)
def test_successor_keeps_every_field_that_is_not_changed(full: Result, name: str) -> None:
    made = saved(full.successor(correction_reason="Mistyped", recorded_at=LATER))
    assert values(made)[name] == values(full)[name]


def test_successor_has_its_own_time_reason_and_signature(full: Result) -> None:
    made = saved(full.successor(correction_reason="Mistyped", recorded_at=LATER))
    assert {name: values(made)[name] for name in ITS_OWN - {"id"}} == {
        "recorded_at": LATER,
        "client_time": None,
        "corrects": full,
        "correction_reason": "Mistyped",
        "correction_signature": None,
    }
    assert made.pk != full.pk
    assert values(Result.objects.get(pk=full.pk)) == values(full)


def test_successor_takes_what_is_changed(cellar: Cellar, full: Result) -> None:
    """Every field that may differ, given another value."""
    vessel = make_vessel()
    other = Cellar.emptied(cellar, vessel=vessel)
    clean = cellar.started(other)
    meter = make_meter()
    limits = make_limits(by=cellar.brewer, meter=meter, atp_test=cellar.atp_test)
    changes: dict[str, object] = {
        "turnaround": other,
        "clean": clean,
        "point": make_point(vessel),
        "meter": meter,
        "test_lot": make_test_lot(cellar.atp_test),
        "control_check": cellar.checked(meter=meter),
        "limits": limits,
        "rlu": 41,
        "source": "stated",
        "verdict": "action",
        "moment": "before_sanitiser",
        "stage": "after_rinse",
        "rinse_end": "not_checked",
        "taken_at": NOW,
        "recorded_by": cellar.owner,
        "retest_of": None,
        "suspected_slip": False,
        "note": "Another",
        "recorded_at": LATER,
    }
    assert set(changes) == set(values(full)) - ITS_OWN | {"recorded_at"}
    kept = values(saved(full.successor(correction_reason="Mistyped", **changes)))
    assert {name: kept[name] for name in changes} == changes


def test_corrected_reading_keeps_its_note_and_its_suspected_slip(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    read = cellar.sampled(turnaround, rlu=2, suspected_slip=True, note="Tip touched the port")
    corrected = actions.correct_result(
        by=acting(cellar.hand, now=LATER), result=read, rlu=12, reason="Typed 2 for 12"
    )
    assert (corrected.note, corrected.suspected_slip) == ("Tip touched the port", True)
    assert (corrected.rlu, corrected.verdict, corrected.recorded_by) == (12, "alert", cellar.hand)
    same = set(values(read)) - ITS_OWN - {"rlu", "verdict"}
    assert {n: values(corrected)[n] for n in same} == {n: values(read)[n] for n in same}


def test_reading_judged_later_keeps_all_but_its_limits_and_verdict(cellar: Cellar) -> None:
    turnaround, meter = cellar.cleaned(), make_meter()
    cellar.checked(meter=meter)
    read = cellar.sampled(
        turnaround, rlu=31, meter=meter, suspected_slip=True, note="Tip touched the port"
    )
    assert read.verdict == "unjudged"
    limits = make_limits(by=cellar.brewer, meter=meter, atp_test=cellar.atp_test, now=LATER)
    judged = Result.objects.get(corrects=read)
    assert (judged.limits, judged.verdict) == (limits, "action")
    assert (judged.correction_reason, judged.correction_signature) == (WHY, None)
    same = set(values(read)) - ITS_OWN - {"limits", "verdict"}
    assert {n: values(judged)[n] for n in same} == {n: values(read)[n] for n in same}


def test_action_reading_corrected_by_the_head_brewer_is_signed(cellar: Cellar) -> None:
    read = cellar.sampled(cellar.cleaned(), rlu=40, note="Strong light")
    corrected = actions.correct_result(
        by=acting(cellar.brewer, now=LATER),
        result=read,
        rlu=4,
        reason="Typed 40 for 4",
        password=PASSWORD,
    )
    assert corrected.correction_signature is not None
    assert corrected.correction_signature.user == cellar.brewer
    assert (corrected.verdict, corrected.note) == ("clear", "Strong light")
