"""Over the action limit: re-clean, or two who neither cleaned nor sampled, one a head brewer."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.refusals import Refusal
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import load_dossier, state_of
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
    make_user,
    seen_well,
)

pytestmark = pytest.mark.django_db
OVER = {"nothing_over_action": "The swab touched the bench"}


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def over(cellar: Cellar) -> Turnaround:
    """900 RLU against a limit of 30, cleaned and read by the hand."""
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=900)
    return turnaround


def refused(cellar: Cellar, turnaround: Turnaround, **values: Any) -> tuple[str | None, str]:
    """Field and code of the refusal, having made sure that nothing was written."""
    entries, signatures = Entry.objects.count(), Signature.objects.count()
    with pytest.raises(Refusal) as refusal:
        cellar.decided(
            turnaround,
            **{
                "gate_reasons": OVER,
                "second_signer": None,
                "second_secret": PASSWORD,
                **values,
            },
        )
    assert (Entry.objects.count(), Signature.objects.count()) == (entries, signatures)
    return refusal.value.field, refusal.value.code


def test_a_head_brewer_and_one_of_the_cellar_release_by_two_signatures(
    cellar: Cellar, over: Turnaround
) -> None:
    second = make_cellar_hand(full_name="Ada Vance")
    decision = cellar.decided(over, gate_reasons=OVER, second_signer=second, second_secret=PASSWORD)
    assert (decision.kind, decision.self_release) == ("two_signers", False)
    assert decision.second_signature is not None
    assert (decision.signature.user, decision.second_signature.user) == (cellar.brewer, second)
    name = cellar.vessel.name
    assert decision.signature.meaning == f"Release of {name}"
    assert decision.second_signature.meaning == f"Release of {name}, over the action limit"
    assert decision.marks == [
        "Released over the action limit by two people, second signature Ada Vance"
    ]
    values = Entry.objects.latest("pk").values
    assert (values["kind"], values["second_signed_by"]) == ("two_signers", "Ada Vance")
    status = state_of(cellar.vessel, now=NOW + timedelta(minutes=41)).status
    assert (status.code, status.detail) == (
        "released",
        "Signed by Mara Oduya and Ada Vance: released over the action limit by two people",
    )


def test_the_second_signs_by_a_pin_too(cellar: Cellar, over: Turnaround) -> None:
    second = make_cellar_hand(pin_hash=make_password("4826"))
    assert refused(cellar, over, second_signer=second, second_secret="4827") == (
        "second_secret",
        "bad_secret",
    )
    decision = cellar.decided(over, gate_reasons=OVER, second_signer=second, second_secret="4826")
    assert decision.second_signature is not None


@pytest.mark.parametrize(
    "secret, code", [("", "no_secret"), ("wort-after-noon", "bad_secret"), ("4826", "bad_secret")]
)
def test_a_wrong_or_missing_secret_signs_nothing(
    cellar: Cellar, over: Turnaround, secret: str, code: str
) -> None:
    second = make_cellar_hand()
    assert refused(cellar, over, second_signer=second, second_secret=secret) == (
        "second_secret",
        code,
    )


def test_a_password_that_another_set_is_no_second_signature(
    cellar: Cellar, over: Turnaround
) -> None:
    second = make_cellar_hand(password_set_by="Mara Oduya")
    assert refused(cellar, over, second_signer=second) == ("second_secret", "not_own_password")


def test_the_pin_of_one_who_looks_after_the_server_signs_nothing(
    cellar: Cellar, over: Turnaround
) -> None:
    second = make_cellar_hand(pin_hash=make_password("4826"), is_staff=True)
    assert refused(cellar, over, second_signer=second, second_secret="4826") == (
        "second_secret",
        "bad_secret",
    )


def test_the_same_person_who_cleaned_and_who_has_no_role_are_refused(
    cellar: Cellar, over: Turnaround
) -> None:
    make_cellar_hand()  # somebody could
    field = "second_signer"
    gone = make_cellar_hand(is_active=False)
    for second, code in (
        (None, "no_second"),
        (cellar.brewer, "same_person"),
        (cellar.hand, "took_part"),
        (make_owner(), "no_role"),
        (make_user(), "no_role"),
        (gone, "no_role"),
    ):
        assert refused(cellar, over, second_signer=second) == (field, code)


def test_a_brewery_with_one_signer_can_only_reclean(cellar: Cellar, over: Turnaround) -> None:
    assert refused(cellar, over, second_signer=cellar.hand) == ("outcome", "no_two_signers")
    cellar.brewery.self_release_allowed = True
    cellar.brewery.save()
    assert refused(cellar, over, second_signer=cellar.hand) == ("outcome", "no_two_signers")


def test_a_head_brewer_who_sampled_signs_nothing_over_action_whatever_the_rule() -> None:
    cellar = Cellar(self_release_allowed=True)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=900, by=cellar.brewer)
    second = make_cellar_hand()
    reasons = {**OVER, "two_people": "Nobody else was in the cellar"}
    assert refused(cellar, turnaround, second_signer=second, gate_reasons=reasons) == (
        "outcome",
        "no_two_signers",
    )


def test_who_cleaned_the_first_time_is_out_after_a_second_clean_too(cellar: Cellar) -> None:
    """Of the whole turnaround, not only of the clean that counts."""
    turnaround = cellar.cleaned()
    first, second = cellar.hand, make_cellar_hand()
    cellar.hand = make_cellar_hand()
    later = NOW + timedelta(hours=1)
    cellar.run(cellar.started(turnaround, now=later), now=later)
    cellar.sampled(turnaround, rlu=900, now=later + timedelta(minutes=30))
    when = later + timedelta(minutes=40)
    assert refused(cellar, turnaround, now=when, second_signer=first) == (
        "second_signer",
        "took_part",
    )
    decision = cellar.decided(
        turnaround, now=when, gate_reasons=OVER, second_signer=second, second_secret=PASSWORD
    )
    assert decision.kind == "two_signers"


def test_a_release_below_the_action_limit_takes_no_second_signature(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=30)
    decision = cellar.decided(
        turnaround,
        gate_reasons={"alerts": "A new gasket was fitted"},
        second_signer=make_cellar_hand(),
        second_secret=PASSWORD,
    )
    assert (decision.kind, decision.second_signature) == ("usual", None)


def test_a_hold_over_the_action_limit_takes_one_signature(cellar: Cellar, over: Turnaround) -> None:
    decision = cellar.decided(over, "hold")
    assert (decision.kind, decision.second_signature) == ("usual", None)


# ---- who took part ----


def people(cellar: Cellar, turnaround: Turnaround) -> tuple[set[User], set[User]]:
    dossier = load_dossier(turnaround, now=NOW)
    found = User.objects.in_bulk(dossier.workers), User.objects.in_bulk(dossier.took_part)
    return set(found[0].values()), set(found[1].values())


def test_whoever_ended_a_step_or_the_clean_worked_on_it(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.started(turnaround)
    ender = make_head_brewer()
    steps = list(clean.version.steps.order_by("order"))
    record = cellar.step_started(clean, steps[0])
    for window in steps[0].windows.exclude(quantity="time_min"):
        raise AssertionError(window)
    cellar.end_read(record, steps[0])
    step_actions.end_step(
        by=acting(ender, now=NOW + timedelta(minutes=10)),
        record=record,
        end_criterion_met=True if steps[0].end_criterion else None,
        observations=seen_well(clean, steps[0]),
    )
    assert ender in people(cellar, turnaround)[1]
    assert people(cellar, turnaround)[0] == set()  # no clean counts yet


def test_the_database_refuses_two_signers_without_a_second_signature(
    cellar: Cellar, over: Turnaround
) -> None:
    from django.db import IntegrityError, transaction

    decision = cellar.decided(over, "hold")
    for kind in ("two_signers", "without_meter"):
        with pytest.raises(IntegrityError), transaction.atomic():
            Decision.objects.create(
                turnaround=over,
                clean=decision.clean,
                outcome="release",
                decided_at=NOW,
                lapses_at=NOW,
                gates=[],
                kind=kind,
                signature=Signature.objects.create(
                    user=cellar.brewer, printed_name="X", meaning="X", signed_at=NOW
                ),
            )
