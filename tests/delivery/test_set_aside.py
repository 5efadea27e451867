"""What the server did not take leaves a tablet only once it is on record, with a reason."""

from typing import Any

import pytest

from brewhygiene.delivery.models import SetAside
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from tests import clock
from tests.factories import make_cellar_hand, make_owner
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
ADDRESS = "/waiting-here/set-aside/"


@pytest.fixture
def jonas() -> User:
    return make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")


def typed(**values: str) -> dict[str, str]:
    return {
        "what": "Sample valve, FV 2",
        "page": "/turnarounds/1/samples/2/",
        "typed": '[["Reading", "7 RLU"], ["Meter", "M1"]]',
        "typed_at": clock.now().strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
        "refused_because": "The clean was stopped.",
        "reason": "Sampled again at 10:20",
        **values,
    }


def test_it_is_kept_as_it_was_typed_and_the_page_shows_it(jonas: User) -> None:
    client = signed_in(jonas)
    answer = client.post(ADDRESS, typed())
    kept = SetAside.objects.get()
    assert answer.json() == {"kept": kept.pk}
    assert kept.typed == [["Reading", "7 RLU"], ["Meter", "M1"]]
    assert (kept.set_aside_by, kept.typed_at <= kept.set_aside_at) == (jonas, True)
    entry = Entry.objects.last()
    assert entry is not None
    assert entry.values["reason"] == "Sampled again at 10:20"
    page = client.get("/waiting-here/").content.decode()
    for words in ("Reading: 7 RLU, Meter: M1", "The clean was stopped.", "Sampled again at 10:20"):
        assert words in page


@pytest.mark.parametrize("reason", ["", "   "])
def test_nothing_goes_without_a_reason(jonas: User, reason: str) -> None:
    answer = signed_in(jonas).post(ADDRESS, typed(reason=reason))
    assert answer.status_code == 422
    assert answer.json()["errors"] == {
        "reason": ["Enter why this is not needed, or where it is recorded."]
    }
    assert not SetAside.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"typed": "{"},
        {"typed": "[1]"},
        {"typed": '["ab"]'},
        {"typed": '{"ab": 1}'},
        {"typed": "[[1, 2, 3]]"},
        {"typed_at": "soon"},
        {"typed_at": "2026-06-17T10:24:37"},
        {"typed_at": "1999-06-17T10:24:37Z"},
        {"what": ""},
    ],
)
def test_what_no_tablet_sends_is_refused(jonas: User, wrong: dict[str, Any]) -> None:
    answer = signed_in(jonas).post(ADDRESS, typed(**wrong))
    assert answer.status_code == 422
    assert list(answer.json()["errors"]) == list(wrong)


def test_sent_twice_it_is_kept_once(jonas: User) -> None:
    client = signed_in(jonas)
    for _ in range(2):
        assert client.post(ADDRESS, typed(key="aside-1-2")).status_code == 200
    assert SetAside.objects.count() == 1


def test_time_in_the_future_is_brought_back_to_now(jonas: User) -> None:
    signed_in(jonas).post(ADDRESS, typed(typed_at="2099-01-01T00:00:00.000Z"))
    kept = SetAside.objects.get()
    assert kept.typed_at == kept.set_aside_at


def test_owner_reads_and_sets_nothing_aside(jonas: User) -> None:
    signed_in(jonas).post(ADDRESS, typed())
    client = signed_in(make_owner())
    assert client.post(ADDRESS, typed()).status_code == 403
    assert "Sampled again at 10:20" in client.get("/waiting-here/").content.decode()
