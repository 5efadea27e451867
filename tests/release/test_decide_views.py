"""The decision as a page: exceptions in sight, reasons beside them, the password again."""

import re
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.people.models import Signature, User
from brewhygiene.release.gates import GATE_TITLES
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import (
    PASSWORD,
    because,
    because_typed,
    make_head_brewer,
    make_meter,
    make_point,
)
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db

QUERIES = 37


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def address(turnaround: Turnaround) -> str:
    return reverse("release:decide", args=[turnaround.pk])


def seen_on(html: str) -> str:
    """The revision that a page was made from."""
    (found,) = re.findall(r'name="revision_seen" value="(\d+)"', html)
    return str(found)


def deciding(turnaround: Turnaround, outcome: str = "release", **values: Any) -> dict[str, Any]:
    turnaround.refresh_from_db()
    return {
        "outcome": outcome,
        "password": PASSWORD,
        "revision_seen": turnaround.revision,
        **values,
    }


def test_decide_page_folds_the_checks_that_pass_with_their_evidence(cellar: Now) -> None:
    html = text_of(signed_in(cellar.brewer).get(address(cellar.to_decide())))
    for title in GATE_TITLES.values():
        assert f"<h3>{title}</h3>" in html
    passes = html[html.index('id="passes"') : html.index("</details>")]
    assert passes.count('<li class="check verdict-yes">') == len(GATE_TITLES)
    assert "<summary>20 of 20 pass</summary>" in passes
    assert 'id="exceptions"' not in html
    assert "Point 1: 0 RLU, clear, taken in the sanitiser" in html


def test_decide_page_sets_readings_against_windows_and_samples_against_limits(
    cellar: Now,
) -> None:
    html = text_of(signed_in(cellar.brewer).get(address(cellar.to_decide(rlu=7))))
    samples = html[html.index('id="samples"') : html.index('id="cleans"')]
    assert '<td class="num main" data-unit="RLU">7</td>' in samples
    assert '<td class="num">10 / 30</td>' in samples
    readings = html[html.index('id="cleans"') :]
    assert '<td class="main">140 mg/L</td>' in readings
    assert re.search(r'80 to 200\s*<span class="under">mg/L active</span>', readings)


def test_decide_page_is_for_the_owner_to_read_only(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    html = text_of(signed_in(cellar.owner).get(address(turnaround)))
    assert f"Checks of {cellar.vessel.name}" in html
    assert 'name="password"' not in html
    assert 'name="outcome"' not in html
    assert (
        signed_in(cellar.owner).post(address(turnaround), deciding(turnaround)).status_code == 403
    )
    assert Decision.objects.count() == 0


def test_decide_page_is_not_for_the_cellar(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    client = signed_in(cellar.hand)
    assert client.get(address(turnaround)).status_code == 403
    assert client.post(address(turnaround), deciding(turnaround)).status_code == 403
    assert Decision.objects.count() == 0


def test_release_is_signed_and_says_until_when(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    response = signed_in(cellar.brewer).post(address(turnaround), deciding(turnaround), follow=True)
    decision = Decision.objects.get()
    assert (decision.outcome, decision.self_release) == ("release", False)
    assert decision.signature.user == cellar.brewer
    assert decision.lapses_at is not None
    html = text_of(response)
    assert response.redirect_chain[0][0] == reverse("board:turnaround", args=[turnaround.pk])
    until = f"{cellar.vessel.name} is released until {decision.lapses_at:%H:%M on %A %d %B}."
    assert until in html
    assert reverse("release:fill", args=[turnaround.pk]) in html
    assert reverse("reports:record", args=[turnaround.pk]) in html


def test_hold_needs_its_reason(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    client = signed_in(cellar.brewer)
    response = client.post(address(turnaround), deciding(turnaround, "hold"))
    assert response.status_code == 422
    assert '<p class="error">Enter a reason for the hold.</p>' in text_of(response)
    assert Decision.objects.count() == 0
    client.post(address(turnaround), deciding(turnaround, "hold", reason="Smells of chlorine"))
    assert Decision.objects.get().reason == "Smells of chlorine"


def test_neither_hold_nor_release_is_refused(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    response = signed_in(cellar.brewer).post(address(turnaround), deciding(turnaround, ""))
    assert '<p class="error">Choose hold or release.</p>' in text_of(response)


def test_alert_asks_for_a_reason_beside_its_gate(cellar: Now) -> None:
    turnaround = cellar.to_decide(rlu=20)
    client = signed_in(cellar.brewer)
    html = text_of(client.get(address(turnaround)))
    assert html.count('name="reason_') == 1
    response = client.post(address(turnaround), deciding(turnaround))
    html = text_of(response)
    gate = html[html.index("<h3>Alerts explained</h3>") :].split("</li>")[0]
    assert '<p class="error">Choose a cause for “Alerts explained”, and enter' in gate
    client.post(address(turnaround), deciding(turnaround, **because_typed("alerts", "Known drift")))
    assert Decision.objects.get().waivers == {"alerts": because("Known drift").words}


def test_gate_that_may_be_waived_is_waived_with_a_reason(cellar: Now) -> None:
    cellar.brewery.waivable_gates = ["hold_time"]
    cellar.brewery.save()
    turnaround = cellar.released_ago(6 * HOUR)
    client = signed_in(cellar.brewer)
    html = text_of(client.get(address(turnaround)))
    assert "Can be waived with a reason." in html
    assert 'name="second_signer"' not in html
    client.post(
        address(turnaround), deciding(turnaround, **because_typed("hold_time", "Kept shut"))
    )
    decision = Decision.objects.latest("pk")
    assert decision.waivers == {"hold_time": because("Kept shut").words}


def test_blocked_gates_say_why_and_release_is_not_offered(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(HOUR)
    meter = make_meter()
    cellar.checked(now=cellar.at(30 * MINUTE), meter=meter)
    cellar.sampled(turnaround, now=cellar.at(30 * MINUTE), meter=meter)
    client = signed_in(cellar.brewer)
    html = text_of(client.get(address(turnaround)))
    gate = html[html.index("<h3>Approved limits for every reading</h3>") :].split("</li>")[0]
    assert "Blocks the release." in gate
    assert "This check can never be waived." in gate
    assert "Release is blocked:" in html
    assert 'value="hold"' in html
    assert 'value="release"' not in html
    response = client.post(address(turnaround), deciding(turnaround))
    assert response.status_code == 422
    assert "This vessel cannot be released. Approved limits for every reading: no." in text_of(
        response
    )
    assert Decision.objects.count() == 0


def test_gate_that_the_brewery_does_not_waive_says_so(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    html = text_of(signed_in(cellar.brewer).get(address(turnaround)))
    title = "<h3>Clean-hold and sanitised-hold times kept</h3>"
    gate = html[html.index(title) :].split("</li>")[0]
    assert "The brewery's rules do not allow a waiver." in gate.replace("&#x27;", "'")


def test_what_blocks_comes_before_what_needs_a_reason_and_both_before_the_passes(
    cellar: Now,
) -> None:
    make_point(cellar.vessel, name="Racking arm", order=1)
    turnaround = cellar.cleaned_ago(HOUR)
    cellar.sampled_ago(turnaround, 30 * MINUTE, rlu=20)
    html = text_of(signed_in(cellar.brewer).get(address(turnaround)))
    answers = re.findall(r'<li class="check verdict-(\w+)">', html)
    assert answers[:2] == ["no", "explain"]
    assert set(answers[2:]) == {"yes"}


def test_self_release_is_flagged_and_needs_a_reason(cellar: Now) -> None:
    cellar.brewery.self_release_allowed = True
    cellar.brewery.save()
    turnaround = cellar.cleaned_ago(HOUR)
    cellar.sampled_ago(turnaround, 30 * MINUTE, by=cellar.brewer)
    client = signed_in(cellar.brewer)
    html = text_of(client.get(address(turnaround)))
    assert "so this is a self-release" in html
    response = client.post(
        address(turnaround),
        deciding(turnaround, **because_typed("two_people", "Alone today")),
        follow=True,
    )
    assert Decision.objects.get().self_release is True
    assert "Recorded as a self-release." in text_of(response)


@pytest.mark.parametrize(
    ("password", "message"),
    [
        ("", "Enter your password to sign."),
        ("wrong-word", "This is not your password. Nothing was signed."),
    ],
)
def test_wrong_password_is_refused_beside_it_and_the_rest_is_kept(
    cellar: Now, password: str, message: str
) -> None:
    turnaround = cellar.to_decide(rlu=20)
    values = deciding(
        turnaround,
        reason="Looks right",
        **because_typed("alerts", "Known drift"),
        password=password,
    )
    response = signed_in(cellar.brewer).post(address(turnaround), values)
    html = text_of(response)
    assert response.status_code == 422
    assert f'<p class="error">{message}</p>' in html
    assert "Looks right</textarea>" in html
    assert f"{because('Known drift').checked}</textarea>" in html
    assert f"{because('Known drift').result}</textarea>" in html
    assert '<option value="not_found" selected>' in html
    assert re.search(r'<input type="radio" name="outcome" value="release"[^>]* checked', html)
    assert "wrong-word" not in html
    assert 'name="password" value' not in html
    assert (
        Decision.objects.count(),
        Signature.objects.filter(meaning__contains="Release").count(),
    ) == (0, 0)


def test_a_password_of_somebody_else_is_no_signature(cellar: Now) -> None:
    other = make_head_brewer()
    other.set_password("another-long-word")
    other.save()
    turnaround = cellar.to_decide()
    response = signed_in(cellar.brewer).post(
        address(turnaround), deciding(turnaround, password="another-long-word")
    )
    assert response.status_code == 422
    assert Decision.objects.count() == 0


def test_wrong_passwords_never_keep_the_right_one_from_signing(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    client = signed_in(cellar.brewer)
    for _ in range(7):
        response = client.post(
            address(turnaround), deciding(turnaround, password="guess", reason="Still here")
        )
        assert response.status_code == 422
    assert "Still here</textarea>" in text_of(response)
    assert Decision.objects.count() == 0
    client.post(address(turnaround), deciding(turnaround))
    assert Decision.objects.count() == 1


def test_password_that_somebody_else_set_signs_nothing(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    User.objects.filter(pk=cellar.brewer.pk).update(password_set_by="Tomas Brandt")
    response = signed_in(cellar.brewer).post(address(turnaround), deciding(turnaround))
    assert response.status_code == 422
    assert "Tomas Brandt set this password and knows it." in text_of(response)
    assert Decision.objects.count() == 0


def test_two_deciding_at_once_the_second_looks_again_with_all_that_was_typed(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    first, second = signed_in(cellar.brewer), signed_in(make_head_brewer(full_name="Ada Vance"))
    revision = seen_on(text_of(second.get(address(turnaround))))
    first.post(address(turnaround), deciding(turnaround, "hold", reason="Smells of chlorine"))
    values = deciding(turnaround, revision_seen=revision, reason="All is well")
    response = second.post(address(turnaround), values)
    html = text_of(response)
    assert response.status_code == 422
    assert "Something was recorded on this vessel while this page was open." in html
    assert "The last decision is hold, signed by Mara Oduya." in html
    assert "All is well</textarea>" in html
    assert "Smells of chlorine" in html
    assert [decision.outcome for decision in Decision.objects.all()] == ["hold"]
    # Having looked again, the second may sign.
    values["revision_seen"] = seen_on(html)
    assert second.post(address(turnaround), values).status_code == 302
    assert [decision.outcome for decision in Decision.objects.order_by("pk")] == ["hold", "release"]


def test_wrong_password_after_a_change_still_tells_of_the_change(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    client = signed_in(cellar.brewer)
    values = deciding(turnaround, password="guess")
    cellar.sampled_ago(turnaround, 5 * MINUTE, rlu=90)
    html = text_of(client.post(address(turnaround), values))
    assert "Check the page before you sign." in html
    assert 'name="reason_nothing_over_action"' in html
    turnaround.refresh_from_db()
    assert seen_on(html) == str(turnaround.revision)


def test_decision_sent_twice_is_written_once(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    client = signed_in(cellar.brewer)
    values = deciding(turnaround, key="b" * 32)
    assert client.post(address(turnaround), values).status_code == 302
    assert client.post(address(turnaround), values).status_code == 302
    assert Decision.objects.count() == 1


def test_closed_turnaround_is_shown_without_a_form(cellar: Now) -> None:
    turnaround = cellar.released_ago(20 * MINUTE)
    cellar.filled(turnaround, now=cellar.at(5 * MINUTE))
    client = signed_in(cellar.brewer)
    html = text_of(client.get(address(turnaround)))
    assert "This turnaround is closed" in html
    assert 'name="password"' not in html
    response = client.post(address(turnaround), deciding(turnaround, "hold", reason="Late"))
    assert response.status_code == 422
    assert "has been filled since. This turnaround is closed." in text_of(response)
    assert Decision.objects.count() == 1


def test_decide_page_takes_the_same_queries_for_1_and_3_points(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    for order in (1, 2):
        make_point(cellar.vessel, order=order)
    turnaround = cellar.cleaned_ago(HOUR)
    client = signed_in(cellar.brewer)
    for point in cellar.vessel.points.order_by("order"):
        cellar.sampled_ago(turnaround, 30 * MINUTE, point=point)
        with django_assert_num_queries(QUERIES):
            assert client.get(address(turnaround)).status_code == 200
