"""The screens of bridge studies."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.bridges import actions as bridge_actions
from brewhygiene.atp.bridges.actions import PairValues
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.atp.models.limits import LimitSet
from tests import clock
from tests.atp.bridges.scenes import Study, pairs
from tests.factories import PASSWORD, acting, make_atp_test, make_limits, make_meter
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def study() -> Study:
    return Study(now=clock.now())


def address(name: str, study: Study) -> str:
    if name in ("atp:bridges", "atp:open_bridge"):
        return reverse(name)
    own = [study.bridge.pk]
    if name in ("atp:exclude_bridge_pair", "atp:include_bridge_pair"):
        own.append(study.bridge.pairs.earliest("pk").pk)
    if name == "atp:propose_bridged_limits":
        own.append(study.cellar.limits.pk)
    return reverse(name, args=own)


LOOK = ["atp:bridges", "atp:bridge"]
FLOOR = ["atp:add_bridge_pair", "atp:paste_bridge_pairs"]
HEAD = [
    "atp:open_bridge",
    "atp:exclude_bridge_pair",
    "atp:propose_bridged_limits",
    "atp:approve_bridge",
    "atp:retire_bridge",
]


@pytest.mark.parametrize(
    "names, statuses",
    [(LOOK, [200, 200, 200]), (FLOOR, [200, 200, 403]), (HEAD, [200, 403, 403])],
    ids=["look", "add pairs", "the rest"],
)
def test_pages_are_for_those_who_may(study: Study, names: list[str], statuses: list[int]) -> None:
    people = [study.cellar.brewer, study.cellar.hand, study.cellar.owner]
    for name in names:
        url = address(name, study)
        assert [signed_in(user).get(url).status_code for user in people] == statuses, name
        reply = Client().get(url)
        assert reply.headers["Location"].startswith(reverse("people:sign_in"))


def test_taking_in_is_the_head_brewers_and_sent_only(study: Study) -> None:
    url = address("atp:include_bridge_pair", study)
    people = [study.cellar.brewer, study.cellar.hand, study.cellar.owner]
    assert [signed_in(user).post(url).status_code for user in people] == [302, 403, 403]
    assert signed_in(study.cellar.brewer).get(url).status_code == 405


@pytest.mark.parametrize("number", [1, 3])
def test_lists_take_the_same_queries_whatever_their_length(
    study: Study, number: int, django_assert_num_queries: Callable[..., Any]
) -> None:
    brewer = study.cellar.brewer
    for _ in range(number):
        bridge_actions.open_bridge(
            by=acting(brewer, now=study.now),
            reference_meter=study.cellar.meter,
            reference_atp_test=study.cellar.atp_test,
            new_meter=make_meter(),
            new_atp_test=study.cellar.atp_test,
        )
        study.add(pairs(number))
    client = signed_in(brewer)
    for name, queries in (("atp:bridges", 5), ("atp:bridge", 8), ("atp:add_bridge_pair", 7)):
        with django_assert_num_queries(queries):
            client.get(address(name, study))


def test_study_is_opened_with_what_was_asked_for(study: Study) -> None:
    client = signed_in(study.cellar.brewer)
    meter, swabs = make_meter(), study.cellar.atp_test
    page = client.get(reverse("atp:open_bridge"), {"new_meter": meter.pk, "new_atp_test": swabs.pk})
    assert page.context["form"]["new_meter"].value() == str(meter.pk)
    reply = client.post(
        reverse("atp:open_bridge"),
        {
            "reference_meter": study.cellar.meter.pk,
            "reference_atp_test": swabs.pk,
            "new_meter": meter.pk,
            "new_atp_test": swabs.pk,
        },
    )
    opened = Bridge.objects.latest("pk")
    assert reply.headers["Location"] == reverse("atp:bridge", args=[opened.pk])
    assert (opened.reference_meter, opened.new_meter) == (study.cellar.meter, meter)


def test_link_of_a_scale_that_is_being_studied_leads_to_its_study(study: Study) -> None:
    asked = {"new_meter": study.new_meter.pk, "new_atp_test": study.cellar.atp_test.pk}
    client = signed_in(study.cellar.brewer)
    reply = client.get(reverse("atp:open_bridge"), asked)
    assert reply.headers["Location"] == address("atp:bridge", study)
    assert client.get(reverse("atp:open_bridge"), {"new_meter": "x"}).status_code == 200


def test_refused_study_says_why_beside_its_field(study: Study) -> None:
    swabs = make_atp_test(name="Swab", sample_kind="surface")
    reply = signed_in(study.cellar.brewer).post(
        reverse("atp:open_bridge"),
        {
            "reference_meter": study.cellar.meter.pk,
            "reference_atp_test": study.cellar.atp_test.pk,
            "new_meter": study.new_meter.pk,
            "new_atp_test": swabs.pk,
        },
    )
    assert reply.status_code == 422
    assert list(reply.context["form"].errors) == ["new_atp_test"]


def test_pair_is_added_and_the_next_one_asked_for(study: Study) -> None:
    url = address("atp:add_bridge_pair", study)
    client = signed_in(study.cellar.hand)
    reply = client.post(
        url, {"reference_rlu": "14", "new_rlu": "0", "point": study.cellar.point.pk}, follow=True
    )
    assert reply.redirect_chain == [(url, 302)]
    pair = BridgePair.objects.latest("pk")
    assert (pair.reference_rlu, pair.new_rlu, pair.point) == (14, 0, study.cellar.point)
    assert [str(m) for m in reply.context["messages"]] == ["Pair recorded: 14 and 0 RLU."]


def test_pair_with_a_missing_side_is_said_not_to_be_used(study: Study) -> None:
    client = signed_in(study.cellar.hand)
    reply = client.post(address("atp:add_bridge_pair", study), {"new_rlu": "5"}, follow=True)
    assert [str(m) for m in reply.context["messages"]] == [
        "Pair recorded but not used: one reading is missing."
    ]
    page = client.get(address("atp:bridge", study)).content.decode()
    assert "Incomplete, not used" in page


def test_mistyped_pair_keeps_what_was_typed(study: Study) -> None:
    reply = signed_in(study.cellar.hand).post(
        address("atp:add_bridge_pair", study), {"reference_rlu": "14", "new_rlu": "l2"}
    )
    assert reply.status_code == 422
    assert reply.context["form"]["new_rlu"].value() == "l2"
    assert reply.context["form"].errors == {
        "new_rlu": ["“l2” is not a whole number. Enter digits only, e.g. 12."]
    }
    assert BridgePair.objects.count() == 40


def test_pasted_pairs_are_all_added(study: Study) -> None:
    when = timezone.localtime(study.now - timedelta(days=3)).strftime("%Y-%m-%dT%H:%M")
    reply = signed_in(study.cellar.hand).post(
        address("atp:paste_bridge_pairs", study),
        {"pairs": "old\tnew\n1\t2\n\t7\n30\t25", "taken_at": when},
    )
    assert reply.headers["Location"] == address("atp:bridge", study)
    added = list(BridgePair.objects.order_by("pk"))[40:]
    assert [(pair.reference_rlu, pair.new_rlu) for pair in added] == [
        (1, 2),
        (None, 7),
        (30, 25),
    ]
    assert {timezone.localtime(pair.taken_at).strftime("%Y-%m-%dT%H:%M") for pair in added} == {
        when
    }


def test_pasted_pairs_with_one_bad_line_are_not_added_at_all(study: Study) -> None:
    typed = "1 2\n3 four\n5 6"
    reply = signed_in(study.cellar.hand).post(
        address("atp:paste_bridge_pairs", study),
        {"pairs": typed, "taken_at": timezone.localtime(study.now).strftime("%Y-%m-%dT%H:%M")},
    )
    assert reply.status_code == 422
    assert reply.context["form"].errors["pairs"] == [
        "No pair was added. Correct these lines:",
        "Line 2, “3 four”: “four” is not a whole number. Enter digits only, e.g. 12.",
    ]
    assert reply.context["form"]["pairs"].value() == typed
    assert BridgePair.objects.count() == 40


def test_study_shows_the_limits_in_plain_words(study: Study) -> None:
    page = signed_in(study.cellar.owner).get(address("atp:bridge", study)).content.decode()
    carried = Study.propose(study)
    action = carried.figures["action"]
    assert f"<strong>{carried.action_rlu}</strong>" in page
    assert "RLU on New meter on average" in " ".join(page.split())
    assert action["low_rlu"] < action["rlu"] < action["high_rlu"]
    assert "Propose limits" not in page
    assert 'id="bridge-pairs"' in page
    assert 'id="bridge-differences"' in page


def test_study_with_too_few_pairs_says_how_many_more() -> None:
    study = Study(count=2, now=clock.now())
    page = signed_in(study.cellar.brewer).get(address("atp:bridge", study))
    words = page.content.decode()
    assert "There are 2 complete pairs. At least 20 are needed, 18 more. 40 are better." in words
    assert "nan" not in words.lower().replace("finance", "")
    assert 'id="bridge-pairs"' not in words
    assert "Approve bridge" not in words


@pytest.mark.parametrize(
    "rows, words",
    [
        ([], "There are 0 complete pairs"),
        ([PairValues(0, 0)] * 30, "Every reading of the reference scale is 0 RLU"),
        ([PairValues(7, 5)] * 30, "Every reading of the reference scale is 7 RLU."),
        ([PairValues(None, 5)] * 30, "There are 0 complete pairs"),
        ([*pairs(), PairValues(12, 9_000_000)], "One pair, 12 and 9000000 RLU, lies far from"),
        ([PairValues(one.new_rlu, 300 - (one.reference_rlu or 0) % 300) for one in pairs()],
         "do not rise together"),
    ],
    ids=["none", "all zeros", "all equal", "one side only", "one outlier", "against each other"],
)  # fmt: skip
def test_pairs_that_carry_nothing_are_told_in_a_sentence(
    rows: list[PairValues], words: str
) -> None:
    study = Study(count=0, now=clock.now())
    if rows:
        study.add(rows)
    reply = signed_in(study.cellar.brewer).get(address("atp:bridge", study))
    page = reply.content.decode()
    assert reply.status_code == 200
    assert words in page
    assert ">nan" not in page
    assert "Propose limits" not in page


def test_outlier_is_excluded_from_the_sentence_that_names_it() -> None:
    study = Study(now=clock.now())
    study.add([PairValues(12, 9_000_000)])
    client = signed_in(study.cellar.brewer)
    odd = BridgePair.objects.latest("pk")
    exclude = reverse("atp:exclude_bridge_pair", args=[study.bridge.pk, odd.pk])
    assert client.get(address("atp:bridge", study)).context["study"].doubtful == odd
    assert client.post(exclude, {"reason": ""}).status_code == 422
    reply = client.post(exclude, {"reason": "A touched tip"}, follow=True)
    assert reply.context["study"].fit.pairs == 40
    assert [pair.left_out_reason for pair in reply.context["study"].pairs.excluded] == [
        "A touched tip"
    ]
    taken = client.post(
        reverse("atp:include_bridge_pair", args=[study.bridge.pk, odd.pk]), follow=True
    )
    assert taken.context["study"].fit is None


def test_limits_are_proposed_and_lead_to_their_signature(study: Study) -> None:
    client = signed_in(study.cellar.brewer)
    url = address("atp:propose_bridged_limits", study)
    assert client.get(url).status_code == 200
    review = study.now.date() + timedelta(days=60)
    reply = client.post(url, {"choice": "careful", "review_on": review.isoformat()})
    limits = LimitSet.objects.get(source="bridge")
    assert reply.headers["Location"] == reverse("atp:setup_approve_limits", args=[limits.pk])
    assert (limits.figures["choice"], limits.review_on) == ("careful", review)
    page = client.get(reply.headers["Location"]).content.decode()
    assert "95 % intervals, 40 pairs" in page
    assert f'href="{address("atp:bridge", study)}"' in page
    signed = client.post(reply.headers["Location"], {"password": PASSWORD})
    assert signed.status_code == 302
    limits.refresh_from_db()
    assert limits.approval.user == study.cellar.brewer


def test_limits_that_cannot_be_carried_lead_back_with_the_reason() -> None:
    study = Study(count=5, now=clock.now())
    reply = signed_in(study.cellar.brewer).get(
        address("atp:propose_bridged_limits", study), follow=True
    )
    assert reply.redirect_chain == [(address("atp:bridge", study), 302)]
    (message,) = reply.context["messages"]
    assert str(message).startswith("There are 5 complete pairs")


def test_limits_of_another_scale_are_not_found(study: Study) -> None:
    other = make_limits(by=study.cellar.brewer, meter=make_meter(), atp_test=study.cellar.atp_test)
    url = reverse("atp:propose_bridged_limits", args=[study.bridge.pk, other.pk])
    assert signed_in(study.cellar.brewer).get(url).status_code == 404


def test_bridge_is_approved_and_retired_on_the_page(study: Study) -> None:
    client = signed_in(study.cellar.brewer)
    wrong = client.post(address("atp:approve_bridge", study), {"password": "guess"})
    assert wrong.status_code == 422
    assert wrong.context["form"].errors == {
        "password": ["This is not your password. Nothing was signed."]
    }
    reply = client.post(address("atp:approve_bridge", study), {"password": PASSWORD}, follow=True)
    assert "Charts convert readings of" in reply.content.decode()
    assert address("atp:add_bridge_pair", study) not in reply.content.decode()
    reply = client.post(address("atp:retire_bridge", study), {"password": PASSWORD}, follow=True)
    assert reply.context["bridge"].retired_at is not None


def test_unjudged_reading_says_how_its_scale_gets_limits(study: Study) -> None:
    cellar = study.cellar
    now = clock.now()
    turnaround = cellar.cleaned(now=now)
    cellar.checked(now=now, meter=study.new_meter)
    result = cellar.sampled(
        turnaround, meter=study.new_meter, rlu=4, now=now + timedelta(minutes=30)
    )
    assert result.verdict == "unjudged"
    url = reverse("atp:reading", args=[result.pk])
    way = (
        f"{reverse('atp:open_bridge')}?new_meter={study.new_meter.pk}"
        f"&amp;new_atp_test={cellar.atp_test.pk}"
    )
    for user, may in ((cellar.brewer, True), (cellar.hand, False), (cellar.owner, False)):
        page = signed_in(user).get(url).content.decode()
        assert (way in page) is may
        assert ("The head brewer must approve limits for it" in page) is not may
