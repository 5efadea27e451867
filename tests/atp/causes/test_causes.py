"""What was found behind a reading over a limit: written down, listed, and no verdict of its own."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.atp.causes.actions import record_found_cause
from brewhygiene.atp.models.causes import Cause, FoundCause
from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.reports.record.pdf import record_html
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.factories import NOW, Cellar, acting, make_vessel
from tests.turnarounds.floor import as_shown, counted, errors, signed_in

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def over(cellar: Cellar) -> Result:
    """Over the action limit 30 minutes ago; the vessel emptied an hour ago."""
    start = clock.now() - HOUR
    return cellar.sampled(cellar.cleaned(now=start), rlu=500, now=start + timedelta(minutes=30))


def record(cellar: Cellar, turnaround: Turnaround, **values: Any) -> FoundCause:
    by = values.pop("by", cellar.hand)
    now = values.pop("now", clock.now())
    return record_found_cause(
        by=acting(by, now=now), turnaround=turnaround, **{"cause": Cause.GASKET, **values}
    )


def address(turnaround: Turnaround) -> str:
    return reverse("atp:cause", args=[turnaround.pk])


# The verb


def test_cause_is_kept_with_its_reading_and_in_the_ledger(cellar: Cellar, over: Result) -> None:
    found = record(cellar, over.turnaround, result=over, note=" Hard and cut ")
    assert (found.cause, found.result, found.note) == ("gasket", over, "Hard and cut")
    assert found.recorded_by == cellar.hand
    entry = Entry.objects.latest("pk")
    assert (entry.verb, entry.aggregate) == (
        "record found cause",
        f"turnaround:{over.turnaround.pk}",
    )
    assert entry.values["cause"] == "gasket"


def test_cause_changes_neither_verdict_nor_hold_but_a_decision_is_looked_at_again(
    cellar: Cellar, over: Result
) -> None:
    turnaround = over.turnaround
    turnaround.refresh_from_db()
    before = turnaround.revision
    record(cellar, turnaround, result=over)
    turnaround.refresh_from_db()
    over.refresh_from_db()
    assert (over.verdict, turnaround.revision) == ("action", before + 1)


def test_cause_may_be_found_after_the_vessel_was_filled(cellar: Cellar) -> None:
    turnaround = cellar.released()
    cellar.filled(turnaround)
    found = record(cellar, turnaround, now=NOW + 5 * HOUR, found_at=NOW + 4 * HOUR)
    assert found.found_at == NOW + 4 * HOUR


@pytest.mark.parametrize(
    "values, field, words",
    [
        ({"cause": "somebody"}, "cause", "Choose a cause."),
        ({"found_at": clock.now() + 24 * HOUR}, "found_at", "in the future"),
        ({"found_at": clock.now() - 24 * HOUR}, "found_at", "after the vessel was emptied"),
        (
            {"found_at": clock.now() - 24 * 400 * HOUR},
            "found_at",
            "Enter a time within the last 60 days.",
        ),
    ],
)
def test_bad_input_is_refused_beside_its_field(
    cellar: Cellar, over: Result, values: dict[str, Any], field: str, words: str
) -> None:
    with pytest.raises(Refusal, match=words) as refused:
        record(cellar, over.turnaround, **values)
    assert refused.value.field == field
    assert FoundCause.objects.count() == 0


def test_cause_may_be_found_in_the_moment_of_the_emptying_and_keeps_two_hundred_letters(
    cellar: Cellar, over: Result
) -> None:
    opened = over.turnaround.opened_at
    found = record(cellar, over.turnaround, found_at=opened, note=f" {'x' * 300} ")
    assert (found.found_at, found.note) == (opened, "x" * 200)
    with pytest.raises(Refusal) as refused:
        record(cellar, over.turnaround, found_at=opened - HOUR, cause=Cause.VALVE)
    assert refused.value.field == "found_at"


def test_reading_of_another_turnaround_is_refused(cellar: Cellar, over: Result) -> None:
    other = cellar.emptied(now=clock.now(), vessel=make_vessel())
    with pytest.raises(Refusal, match="another turnaround") as refused:
        record(cellar, other, result=over)
    assert refused.value.field == "result"


def test_the_same_cause_twice_is_refused_and_another_is_not(cellar: Cellar, over: Result) -> None:
    record(cellar, over.turnaround, result=over)
    with pytest.raises(Refusal, match="already recorded"):
        record(cellar, over.turnaround, result=over)
    record(cellar, over.turnaround, result=over, cause=Cause.VALVE)
    record(cellar, over.turnaround)
    assert FoundCause.objects.count() == 3


def test_owner_records_no_cause(cellar: Cellar, over: Result) -> None:
    with pytest.raises(NotAllowed):
        record(cellar, over.turnaround, by=cellar.owner)


# The screen


def test_screen_is_for_those_who_work_in_the_cellar(cellar: Cellar, over: Result) -> None:
    def codes(user: User | None) -> tuple[int, int]:
        client = signed_in(user)
        at = address(over.turnaround)
        return client.get(at).status_code, client.post(at, {"cause": "gasket"}).status_code

    assert codes(cellar.owner) == (403, 403)
    assert codes(None) == (302, 302)
    assert FoundCause.objects.count() == 0
    assert codes(cellar.hand) == (200, 302)


def test_written_down_it_is_on_the_turnarounds_page_and_on_paper(
    cellar: Cellar, over: Result
) -> None:
    client = signed_in(cellar.hand)
    page = client.get(f"{address(over.turnaround)}?result={over.pk}")
    sent = as_shown(page.context["form"], cause="gasket", note="Cut where it seats")
    assert sent["result"] == over.pk
    answer = client.post(address(over.turnaround), sent, follow=True)
    shown = " ".join(answer.content.decode().split())
    assert "Cause found: gasket or seal" in shown
    assert "Cause of Point 1: 500 RLU" in shown
    assert "Cut where it seats" in shown
    paper = record_html(over.turnaround, now=clock.now())
    assert "Causes found" in paper
    assert "Cut where it seats" in paper


def test_cause_may_be_of_the_vessel_as_a_whole(cellar: Cellar, over: Result) -> None:
    client = signed_in(cellar.hand)
    form = client.get(address(over.turnaround)).context["form"]
    assert [label for _, label in form.fields["result"].choices] == [
        "The vessel as a whole",
        "Point 1: 500 RLU, action",
    ]
    sent = as_shown(form, cause="spray_device", result="")
    assert client.post(address(over.turnaround), sent).status_code == 302
    assert FoundCause.objects.get().result is None


def test_nothing_chosen_is_said_beside_its_field_and_the_note_is_kept(
    cellar: Cellar, over: Result
) -> None:
    client = signed_in(cellar.hand)
    before = counted(FoundCause)
    answer = client.post(address(over.turnaround), {"note": "Looks worn"})
    assert answer.status_code == 422
    assert errors(answer) == {
        "cause": ["Choose a cause. If there is none, choose “no cause found”."]
    }
    assert b"Looks worn" in answer.content
    assert counted(FoundCause) == before


def test_same_form_sent_twice_writes_once(cellar: Cellar, over: Result) -> None:
    client = signed_in(cellar.hand)
    sent = as_shown(client.get(address(over.turnaround)).context["form"], cause="gasket")
    for _ in range(2):
        assert client.post(address(over.turnaround), sent).status_code == 302
    assert FoundCause.objects.count() == 1


def test_reading_of_another_vessel_is_no_choice(cellar: Cellar, over: Result) -> None:
    start = clock.now() - HOUR
    other = cellar.cleaned(now=start, vessel=make_vessel())
    cellar.sampled(other, rlu=400, now=clock.now())
    client = signed_in(cellar.hand)
    answer = client.post(address(other), {"cause": "gasket", "result": over.pk})
    assert errors(answer) == {"result": ["Choose a reading of this turnaround."]}


def test_it_is_offered_after_a_verdict_over_a_limit_only(cellar: Cellar, over: Result) -> None:
    client = signed_in(cellar.hand)

    def offered(user: Any, *pages: str) -> list[bool]:
        return [address(over.turnaround) in user.get(page).content.decode() for page in pages]

    result_page = reverse("atp:reading", args=[over.pk])
    turnaround_page = reverse("board:turnaround", args=[over.turnaround.pk])
    assert offered(client, result_page, turnaround_page) == [True, True]
    assert offered(signed_in(cellar.owner), result_page, turnaround_page) == [False, False]
    clear = cellar.cleaned(now=clock.now() - HOUR, vessel=make_vessel())
    good = cellar.sampled(clear, rlu=1, now=clock.now())
    for page in (
        reverse("atp:reading", args=[good.pk]),
        reverse("board:turnaround", args=[clear.pk]),
    ):
        assert address(clear) not in client.get(page).content.decode()


def test_screen_takes_as_many_queries_with_three_causes_as_with_none(
    cellar: Cellar, over: Result, django_assert_num_queries: Any
) -> None:
    client = signed_in(cellar.hand)
    client.get(address(over.turnaround))
    with django_assert_num_queries(8):
        client.get(address(over.turnaround))
    for cause in (Cause.GASKET, Cause.VALVE, Cause.SURFACE):
        record(cellar, over.turnaround, result=over, cause=cause)
    with django_assert_num_queries(8):
        client.get(address(over.turnaround))
