"""The screens of baselines: who may see and change what, and what they say."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.baselines.actions import create_baseline, exclude_result
from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from tests import clock
from tests.factories import Cellar, acting, make_vessel
from tests.histories import make_history, usual_rlu
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


class Scene:
    """A cellar with readings until today, a baseline of them, and one reading excluded."""

    def __init__(self, *, cleans: int = 40, **values: Any) -> None:
        now = clock.now()
        self.cellar = Cellar(points=1)
        make_history(
            cellar=self.cellar, cleans=cleans, every=timedelta(days=2), until=now, **values
        )
        self.by = acting(self.cellar.brewer, now=now)
        self.baseline = self.made("Rinses of spring")
        self.out = Result.objects.order_by("-rlu", "pk").first()
        exclude_result(
            by=self.by, baseline=self.baseline, result=self.out, reason="Swab touched the door"
        )
        self.counted = Result.objects.exclude(pk=self.out.pk).order_by("pk").first()

    def made(self, name: str, **values: Any) -> Baseline:
        today = clock.today()
        return create_baseline(
            by=self.by,
            name=name,
            meter=self.cellar.meter,
            atp_test=self.cellar.atp_test,
            since=today - timedelta(days=400),
            until=today,
            **values,
        )

    def address(self, name: str) -> str:
        pk = self.baseline.pk
        wanted = {
            "atp:baseline": [pk],
            "atp:baseline_exclude": [pk, self.counted.pk],
            "atp:baseline_include": [pk, self.out.pk],
            "atp:baseline_propose": [pk],
        }
        query = "?method=counts" if name == "atp:baseline_propose" else ""
        return reverse(name, args=wanted.get(name, [])) + query


LOOK = ["atp:baselines", "atp:baseline"]
CHANGE = [
    "atp:add_baseline",
    "atp:baseline_exclude",
    "atp:baseline_include",
    "atp:baseline_propose",
]


@pytest.mark.parametrize("name", LOOK)
def test_anybody_signed_in_may_look(name: str) -> None:
    scene = Scene()
    for user in (scene.cellar.brewer, scene.cellar.hand, scene.cellar.owner):
        page = signed_in(user).get(scene.address(name))
        assert (page.status_code, page.content.decode().count("<h1")) == (200, 1)


@pytest.mark.parametrize("name", CHANGE)
def test_only_the_head_brewer_may_change(name: str) -> None:
    scene = Scene()
    people = [signed_in(u) for u in (scene.cellar.brewer, scene.cellar.hand, scene.cellar.owner)]
    url = scene.address(name)
    assert [client.get(url).status_code for client in people] == [200, 403, 403]
    assert [client.post(url, {"name": ""}).status_code for client in people] == [422, 403, 403]


@pytest.mark.parametrize("name", [*LOOK, *CHANGE])
def test_a_stranger_is_sent_to_sign_in(name: str) -> None:
    reply = Client().get(Scene().address(name))
    assert reply.headers["Location"].startswith(reverse("people:sign_in"))


def test_nobody_else_is_offered_what_only_the_head_brewer_may_do() -> None:
    scene = Scene()
    pages = [
        signed_in(user).get(scene.address("atp:baseline")).content.decode()
        for user in (scene.cellar.brewer, scene.cellar.hand)
    ]
    offers = [
        (page.count("/exclude/"), page.count("/include/"), "/propose/" in page) for page in pages
    ]
    assert offers == [(39, 1, True), (0, 0, False)]


@pytest.mark.parametrize("number", [1, 3])
def test_list_takes_as_many_queries_for_one_as_for_three(
    number: int, django_assert_num_queries: Any
) -> None:
    scene = Scene(cleans=3)
    for n in range(number - 1):
        scene.made(f"Number {n}")
    client = signed_in(scene.cellar.brewer)
    with django_assert_num_queries(5):
        client.get(scene.address("atp:baselines"))


@pytest.mark.parametrize("cleans", [20, 60])
def test_study_takes_as_many_queries_for_few_readings_as_for_many(
    cleans: int, django_assert_num_queries: Any
) -> None:
    scene = Scene(cleans=cleans)
    client = signed_in(scene.cellar.brewer)
    with django_assert_num_queries(14):
        client.get(scene.address("atp:baseline"))


def test_study_shows_each_method_reading_and_reason() -> None:
    scene = Scene()
    page = signed_in(scene.cellar.brewer).get(scene.address("atp:baseline"))
    text = page.content.decode()
    methods = re.findall(r'class="method-title">([^<]+)<', text)
    assert methods == [
        "mean + k SD of RLU",
        "mean + k SD of log10(RLU+1)",
        "percentile of the readings",
        "distribution-free bound",
        "negative binomial fit",
        "lognormal fit, zeros below 1 RLU",
    ]
    assert "Swab touched the door" in text
    assert "The 99th percentile needs 99 readings, 60 more." in text
    figures = re.findall(r'<figure class="figure" id="([^"]+)"', text)
    assert figures == ["methods", "histogram", "histogram-logs", "normal-plot", "drift"]
    assert not re.search(r"\bnan\b|\binf\b", text, re.IGNORECASE)


@pytest.mark.parametrize(
    "rlu, said",
    [
        (lambda swab: 0, "All 19 readings are 0 RLU"),
        (lambda swab: 4, "All 19 readings are 4 RLU"),
    ],
)
def test_study_of_readings_all_alike_is_a_sentence_without_figures(rlu: Any, said: str) -> None:
    scene = Scene(cleans=20, rlu=rlu)
    text = signed_in(scene.cellar.brewer).get(scene.address("atp:baseline")).content.decode()
    assert said in text
    assert "<figure" not in text
    assert "plotly" not in text


def test_study_of_two_readings_is_a_sentence_without_figures() -> None:
    scene = Scene(cleans=3)
    text = signed_in(scene.cellar.hand).get(scene.address("atp:baseline")).content.decode()
    assert "2 readings do not show how clean vessels vary. Limits need at least 10, 8 more." in text
    assert "<figure" not in text


def test_study_is_asked_by_its_address_and_keeps_what_was_typed_wrong() -> None:
    scene = Scene(cleans=70)
    client = signed_in(scene.cellar.brewer)
    address = scene.address("atp:baseline")
    usual = client.get(address).context["study"]
    asked = client.get(f"{address}?alert=90&action=95&k_alert=2&k_action=3").context["study"]
    wrong = client.get(f"{address}?alert=ninety")
    order = client.get(f"{address}?alert=99&action=95")
    tolerance = [
        next(row for row in study.rows if row.method.code == "tolerance").method.usable
        for study in (usual, asked)
    ]
    assert tolerance == [False, True]
    assert dict(asked.rows[0].method.figures)["k, action"] == 3
    assert wrong.context["asking"].errors["alert"] == [
        "“ninety” is not a number. Enter digits, e.g. 2.5 or 2,5."
    ]
    assert 'value="ninety"' in wrong.content.decode()
    assert order.context["asking"].non_field_errors() == [
        "The alert level cannot cover more than the action limit does."
    ]


def test_baseline_is_begun_and_leads_to_its_study() -> None:
    scene = Scene()
    client = signed_in(scene.cellar.brewer)
    today = clock.today()
    reply = client.post(
        reverse("atp:add_baseline"),
        {
            "name": "Cones",
            "meter": scene.cellar.meter.pk,
            "atp_test": scene.cellar.atp_test.pk,
            "since": today - timedelta(days=30),
            "until": today,
            "points": [scene.cellar.point.pk],
            "regimes": [scene.cellar.version.regime_id],
        },
    )
    made = Baseline.objects.get(name="Cones")
    assert reply.headers["Location"] == reverse("atp:baseline", args=[made.pk])
    assert list(made.points.all()) == [scene.cellar.point]
    assert list(made.regimes.all()) == [scene.cellar.version.regime]


def test_baseline_refused_keeps_what_was_typed() -> None:
    scene = Scene()
    today = clock.today()
    other = make_vessel(points=1).points.get()
    reply = signed_in(scene.cellar.brewer).post(
        reverse("atp:add_baseline"),
        {
            "name": "Rinses of spring",
            "meter": scene.cellar.meter.pk,
            "atp_test": scene.cellar.atp_test.pk,
            "since": today,
            "until": today,
            "points": [other.pk],
        },
    )
    text = reply.content.decode()
    assert reply.status_code == 422
    assert reply.context["form"].errors["name"] == [
        "There is already a baseline called Rinses of spring. Enter another name."
    ]
    assert re.search(rf'value="{other.pk}" id="point-{other.pk}" checked', text)


def test_reading_is_excluded_and_included_with_reasons() -> None:
    scene = Scene()
    client = signed_in(scene.cellar.brewer)
    out, back = scene.address("atp:baseline_exclude"), scene.address("atp:baseline_include")
    assert client.post(out, {"reason": ""}).status_code == 422
    client.post(out, {"reason": "Gasket torn"})
    client.post(back, {"reason": "Was no slip"})
    standing = BaselineExclusion.objects.filter(readmitted_at__isnull=True)
    assert list(standing.values_list("result", "reason")) == [(scene.counted.pk, "Gasket torn")]
    again = client.post(out, {"reason": "Gasket torn"})
    assert "This reading is already excluded." in again.content.decode()


def test_proposal_leads_to_signing_and_names_its_baseline() -> None:
    scene = Scene()
    client = signed_in(scene.cellar.brewer)
    url = scene.address("atp:baseline_propose")
    page = client.get(url)
    form = page.context["form"]
    today = clock.today()
    reply = client.post(
        url,
        {
            "alert_seen": form["alert_seen"].value(),
            "action_seen": form["action_seen"].value(),
            "review_on": today + timedelta(days=90),
            "valid_until": today + timedelta(days=365),
            "point": scene.cellar.point.pk,
        },
    )
    limits = LimitSet.objects.latest("pk")
    assert reply.headers["Location"] == reverse("atp:setup_approve_limits", args=[limits.pk])
    assert (limits.baseline, limits.point) == (scene.baseline, scene.cellar.point)
    assert limits.action_rlu == form["action_seen"].value()
    signing = client.get(reply.headers["Location"]).content.decode()
    assert "negative binomial fit: alert" in signing
    assert "39 readings, 1 excluded" in " ".join(signing.split())
    listed = client.get(reverse("atp:setup_limits")).content.decode()
    assert f'href="{scene.address("atp:baseline")}"' in listed
    assert "Waiting for approval" in client.get(scene.address("atp:baseline")).content.decode()


def test_proposal_of_numbers_that_have_changed_is_refused() -> None:
    scene = Scene()
    reply = signed_in(scene.cellar.brewer).post(
        scene.address("atp:baseline_propose"),
        {
            "alert_seen": 1,
            "action_seen": 2,
            "review_on": clock.today() + timedelta(days=90),
        },
    )
    assert reply.status_code == 422
    assert "The baseline has changed since you opened this page." in reply.content.decode()


@pytest.mark.parametrize("method", ["percentile", "guess", ""])
def test_proposal_of_no_limits_is_not_found(method: str) -> None:
    scene = Scene()
    url = reverse("atp:baseline_propose", args=[scene.baseline.pk])
    assert signed_in(scene.cellar.brewer).get(f"{url}?method={method}").status_code == 404


def test_enormous_reading_is_told_and_nothing_is_recommended() -> None:
    scene = Scene(
        rlu=lambda s: {3: 90_000, 4: 80_000}.get(s.turn.number, usual_rlu(s)),
    )
    page = signed_in(scene.cellar.brewer).get(scene.address("atp:baseline"))
    text = page.content.decode()
    assert page.context["study"].recommended is None
    assert "One reading (80,000 RLU) lies far above the rest" in text
    assert "None yet. Solve the points below first." in text
