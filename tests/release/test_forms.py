"""The forms of the release room by themselves, and the words beside a sample."""

from datetime import UTC, datetime
from typing import Any

import pytest
from django.utils import timezone

from brewhygiene.atp.models.meters import Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.people.models import User
from brewhygiene.release.evidence import Sample
from brewhygiene.release.forms import DecideForm, FillForm, FillWithoutReleaseForm, ResanitiseForm
from brewhygiene.release.gates import Answer, Gate
from brewhygiene.release.powers.explaining import Explanation
from tests.factories import (
    Cellar,
    add_step,
    make_beer,
    make_peracetic,
    make_resanitise_version,
    make_vessel,
)

PASSED = Gate("cleaned", "Clean finished", Answer.YES, ())
ALERT = Gate("alerts", "Alerts explained", Answer.EXPLAIN, ())
WAIVABLE = Gate("hold_time", "Hold times kept", Answer.NO, (), waivable=True)
BLOCKS = Gate("safety", "Cautions acknowledged", Answer.NO, ())
# A password is taken as it is typed, blanks and all.
GIVEN = {"revision_seen": "3", "outcome": "release", "password": " secret "}


def decide(*gates: Gate, **typed: str) -> DecideForm:
    return DecideForm({**GIVEN, **typed}, gates=gates, vessel="FV 1")


@pytest.mark.parametrize(
    "gates, asked, offered",
    [
        ((), [], ["hold", "release"]),
        ((PASSED,), [], ["hold", "release"]),
        ((PASSED, ALERT), ["alerts"], ["hold", "release"]),
        ((ALERT, WAIVABLE), ["alerts", "hold_time"], ["hold", "release"]),
        ((BLOCKS,), [], ["hold"]),
        ((PASSED, WAIVABLE, BLOCKS), ["hold_time"], ["hold"]),
    ],
)
def test_a_reason_is_asked_beside_each_check_that_needs_one_and_release_offered_where_none_blocks(
    gates: tuple[Gate, ...], asked: list[str], offered: list[str]
) -> None:
    typed = {
        f"{name}_{code}": "water" if name == "reason" else f" {name} {code} "
        for code in asked
        for name in ("reason", "checked", "result")
    }
    form = decide(*gates, **typed)
    assert [name for name in form.fields if name.startswith("reason_")] == [
        f"reason_{code}" for code in asked
    ]
    assert form.is_valid(), form.errors
    assert form.gate_reasons == {
        code: Explanation("water", f"checked {code}", f"result {code}") for code in asked
    }
    assert form.cleaned_data["password"] == " secret "
    assert [value for value, _ in form.fields["outcome"].widget.choices] == offered


def test_reasons_may_be_left_blank_as_far_as_the_form_goes_and_are_at_most_a_page() -> None:
    assert decide(ALERT).is_valid()
    for letters, fits in ((1000, True), (1001, False)):
        text = "x" * letters
        form = decide(ALERT, reason=text, checked_alerts=text, result_alerts=text)
        assert set(form.errors) == (
            set() if fits else {"reason", "checked_alerts", "result_alerts"}
        )
    assert set(decide(ALERT, reason_alerts="my own").errors) == {"reason_alerts"}


def test_no_box_of_a_decision_is_required_by_the_browser() -> None:
    assert "required" not in str(decide(ALERT)["password"])


def test_what_the_action_refused_stands_beside_its_field_or_above_all() -> None:
    """A check that has gone meanwhile has no field any more."""
    refused = decide(ALERT, WAIVABLE)
    assert refused.is_valid()
    refused.add_error("reason_alerts", "Enter a reason.")
    refused.add_error("reason_hold_time", "Enter a reason too.")
    now = decide(ALERT)
    now.refused_with(refused.errors)
    assert now.errors == {
        "reason_alerts": ["Enter a reason."],
        "__all__": ["Enter a reason too."],
    }


# ---- re-sanitising ----


def test_the_first_regime_is_chosen_already_and_each_names_its_steps(db: None) -> None:
    first, second = make_resanitise_version(), make_resanitise_version(steps=False)
    add_step(second, "rinse")
    add_step(second, "sanitiser", agent=make_peracetic())
    make_resanitise_version()
    one, two = ResanitiseForm(versions=[first]), ResanitiseForm(versions=iter([first, second]))
    assert (one["version"].initial, two["version"].initial) == (first.pk, first.pk)
    assert ResanitiseForm(versions=[])["version"].initial is None
    labels = {value.value: label for value, label in two.fields["version"].choices}
    assert labels.keys() == {first.pk, second.pk}
    kinds = [step.get_kind_display() for step in second.steps.order_by("order")]
    assert labels[second.pk] == f"{second.regime.name}: {', '.join(kinds)}"


# ---- filling ----


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def fill(cellar: Cellar, kind: type[FillForm] = FillForm, **typed: Any) -> FillForm:
    return kind(
        {"beer": cellar.pale.pk, "batch": "B-1", "volume_hl": "20", **typed},
        vessel=cellar.vessel,
        brewery=cellar.brewery,
    )


@pytest.mark.parametrize(
    "volume_hl, typed, taken",
    [
        (30, "0", 0),
        (30, "0.5", 0.5),
        (30, "30", 30),
        # As shown, it is what the vessel takes.
        (30, "30.00001", 30),
        (30, "30.1", None),
        (30, "-0.1", None),
        (10_000, "10000", 10_000),
        (10_001, "10000.9", None),
    ],
)
def test_a_vessel_takes_what_fits(
    cellar: Cellar, volume_hl: float, typed: str, taken: float | None
) -> None:
    cellar.vessel.volume_hl = volume_hl
    form = fill(cellar, volume_hl=typed)
    assert form.is_valid() is (taken is not None)
    assert form.cleaned_data.get("volume_hl") == taken


def test_a_batch_has_at_most_40_letters_and_the_volume_the_number_pad(cellar: Cellar) -> None:
    for letters, fits in ((40, True), (41, False)):
        assert fill(cellar, batch="x" * letters).is_valid() is fits
    assert fill(cellar).fields["volume_hl"].widget.attrs["data-pad"] == "decimal"


def test_beers_that_are_brewed_are_offered_and_the_planned_one_is_chosen(cellar: Cellar) -> None:
    make_beer(active=False)
    form = FillForm(vessel=make_vessel(), brewery=cellar.brewery, next_beer=cellar.pale)
    assert list(form.fields["beer"].queryset) == [cellar.pale]
    assert form["beer"].initial == cellar.pale


def test_a_usual_fill_is_now_unless_typed_and_one_without_release_says_when_and_how(
    cellar: Cellar,
) -> None:
    assert fill(cellar).is_valid()
    assert set(fill(cellar, FillWithoutReleaseForm).errors) == {"filled_at", "reason", "password"}
    told = {"filled_at": "2026-03-10T09:00", "password": " secret "}
    for letters, fits in ((1000, True), (1001, False)):
        form = fill(cellar, FillWithoutReleaseForm, **told, reason="x" * letters)
        assert form.is_valid() is fits
        assert form.cleaned_data["password"] == " secret "


# ---- the words beside a sample ----


def result(**values: Any) -> Result:
    return Result(
        meter=Meter(name="M 1"),
        source="imported",
        stage="after_sanitise",
        recorded_by=User(full_name="Jonas Feld", username="jonas"),
        taken_at=datetime(2026, 3, 10, 9, 5, tzinfo=UTC),
        **values,
    )


@pytest.mark.parametrize(
    "values, replaced, more",
    [
        ({}, False, ""),
        ({"retest_of_id": 7}, False, ", read again"),
        ({"suspected_slip": True}, False, ", a sampling error is suspected"),
        ({"note": "Tip was wet"}, False, ", Tip was wet"),
        ({}, True, ", corrected by a later reading"),
        (
            {"corrects_id": 7, "correction_reason": "Mistyped"},
            False,
            ", corrects the earlier reading: Mistyped",
        ),
        ({"correction_reason": "of nothing"}, False, ""),
        (
            {"retest_of_id": 7, "suspected_slip": True},
            True,
            ", read again, a sampling error is suspected, corrected by a later reading",
        ),
    ],
    ids=str,
)
def test_a_sample_says_by_whom_and_when_and_what_else_has_to_be_known_of_it(
    values: dict[str, Any], replaced: bool, more: str
) -> None:
    found = result(**values)
    begins = (
        f"M 1, {found.get_stage_display()}, imported, recorded by {found.recorded_by}, Tue 10:05"
    )
    with timezone.override("Europe/Copenhagen"):
        assert Sample(result=found, replaced=replaced).about == begins + more
