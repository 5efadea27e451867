"""A site's own calibration: its fit, its verbs, its page and the strength that it gives."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.conductivity.actions import retire_calibration, save_calibration
from brewhygiene.regimes.conductivity.calibration import (
    Pair,
    calibration_in_force,
    fit_of,
    fitted,
    readable,
    rows_of,
    strength_by_conductivity,
)
from brewhygiene.regimes.models import Agent, ConductivityCalibration
from tests.factories import (
    NOW,
    acting,
    make_agent,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
    make_peracetic,
)

pytestmark = pytest.mark.django_db

# CRC Handbook of Chemistry and Physics, conductivity of NaOH solutions at 20 °C by % w/w, mS/cm.
CRC_NAOH = [Pair(0.5, 24.8, 20), Pair(1, 48.6, 20), Pair(2, 93.1, 20), Pair(5, 206, 20)]
# A straight line of 0.02 % w/v per mS/cm, told by hand.
LINE = [Pair(0.02 * k, k, 20) for k in (25, 50, 75, 100)]
TYPED = "\n".join(f"{pair.strength}; {pair.conductivity_ms_cm}; 20" for pair in LINE)


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


@pytest.fixture
def agent() -> Agent:
    return make_agent(name="Caustic liquor 50 %")


def saved(brewer: User, agent: Agent, pairs=LINE, basis="wv", **by: Any) -> ConductivityCalibration:
    return save_calibration(by=acting(brewer, **by), agent=agent, pairs=pairs, basis=basis)


# The fit


def test_straight_line_is_found_again_with_no_residual() -> None:
    fit = fitted(LINE, basis="wv")
    assert (fit.slope, fit.intercept) == (pytest.approx(0.02), pytest.approx(0, abs=1e-12))
    assert fit.residual_sd == pytest.approx(0, abs=1e-12)
    assert (fit.low_ms_cm, fit.high_ms_cm, fit.low_c, fit.high_c) == (25, 100, 18, 22)
    assert (fit.unit, fit.pairs) == ("% w/v", 4)


def test_handbooks_curve_leaves_residuals_that_add_up_to_nothing() -> None:
    """Least squares with an intercept: the residuals of the table's curve sum to 0."""
    rows = rows_of(CRC_NAOH, fit := fitted(CRC_NAOH, basis="ww"))
    assert sum(row.residual for row in rows) == pytest.approx(0, abs=1e-9)
    squares = sum(row.residual**2 for row in rows)
    assert fit.residual_sd == pytest.approx((squares / 2) ** 0.5)
    assert fit.residual_sd > 0.05


@pytest.mark.parametrize(
    "pairs, said",
    [
        (LINE[:3], "3 pairs are too few for a line and its uncertainty. Enter at least 4."),
        ([Pair(1, k, 20) for k in (25, 50, 75, 100)], "All strengths are equal: measure weaker"),
        ([Pair(p.strength, 200 - p.conductivity_ms_cm, 20) for p in LINE], "does not rise"),
        ([*LINE[:3], Pair(2, -5, 20)], "The conductivity of a pair is -5 mS/cm"),
    ],
)
def test_pairs_without_a_fit_are_refused_beside_them(pairs: list[Pair], said: str) -> None:
    with pytest.raises(Refusal) as refused:
        fitted(pairs, basis="wv")
    assert refused.value.field == "pairs"
    assert said in refused.value.message


# The verbs


def test_saved_calibration_is_in_force_and_in_the_ledger(brewer: User, agent: Agent) -> None:
    kept = saved(brewer, agent)
    assert calibration_in_force(agent) == kept
    entry = Entry.objects.get()
    assert (entry.verb, entry.aggregate) == ("save calibration", f"agent:{agent.pk}")
    assert entry.values["pairs"][0] == {
        "strength": 0.5,
        "conductivity_ms_cm": 25,
        "temperature_c": 20,
    }
    assert fit_of(ConductivityCalibration.objects.get()) == fitted(LINE, basis="wv")


def test_next_one_retires_the_one_before_and_keeps_it(brewer: User, agent: Agent) -> None:
    first = saved(brewer, agent)
    later = NOW + timedelta(days=90)
    second = saved(brewer, agent, CRC_NAOH, "ww", now=later)
    first.refresh_from_db()
    assert (calibration_in_force(agent), first.retired_at) == (second, later)
    assert Entry.objects.last().values["retired"] == first.pk


def test_other_agents_calibration_stays(brewer: User, agent: Agent) -> None:
    other = saved(brewer, make_agent())
    saved(brewer, agent)
    other.refresh_from_db()
    assert other.retired_at is None


def test_taken_out_of_force_there_is_none(brewer: User, agent: Agent) -> None:
    saved(brewer, agent)
    retire_calibration(by=acting(brewer), agent=agent)
    assert calibration_in_force(agent) is None
    assert ConductivityCalibration.objects.count() == 1
    with pytest.raises(Refusal) as refused:
        retire_calibration(by=acting(brewer), agent=agent)
    assert refused.value.code == "none_in_force"


def test_refused_pairs_retire_nothing(brewer: User, agent: Agent) -> None:
    kept = saved(brewer, agent)
    with pytest.raises(Refusal):
        saved(brewer, agent, LINE[:2])
    assert calibration_in_force(agent) == kept


@pytest.mark.parametrize("make", [make_cellar_hand, make_owner])
def test_only_the_head_brewer_calibrates(brewer: User, agent: Agent, make: Any) -> None:
    with pytest.raises(NotAllowed):
        saved(make(), agent)
    with pytest.raises(NotAllowed):
        retire_calibration(by=acting(make()), agent=agent)


# What it gives


def read(agent: Agent, conductivity: float, degrees: float = 20.0, calibration: Any = None) -> Any:
    return strength_by_conductivity(
        agent=agent,
        calibration=calibration,
        conductivity_ms_cm=conductivity,
        temperature_c=degrees,
    )


def test_strength_by_the_sites_own_line(brewer: User, agent: Agent) -> None:
    kept = saved(brewer, agent)
    found = read(agent, 60, calibration=kept)
    assert (found.strength, found.basis, found.calibration) == (pytest.approx(1.2), "wv", kept.pk)


def test_strength_as_published_where_there_is_no_line(agent: Agent) -> None:
    """2 % NaOH has 93.1 mS/cm at 20 °C (CRC Handbook); the relation is within 1.7 % from 1 % on."""
    found = read(agent, 93.1)
    assert found.strength == pytest.approx(2, rel=0.017)
    assert (found.basis, found.calibration) == ("ww", None)
    assert "Conductivity cannot tell free caustic from carbonate" in found.warning


def test_published_nitric_acid(brewer: User) -> None:
    """2 % HNO3 has 108 mS/cm at 20 °C (CRC Handbook), within 1.9 %."""
    nitric = make_agent(name="Nitric", kind="acid", active_substance="HNO3")
    assert read(nitric, 108).strength == pytest.approx(2, rel=0.019)


@pytest.mark.parametrize(
    "conductivity, degrees, field", [(150, 20, "conductivity_ms_cm"), (60, 60, "solution_c")]
)
def test_reading_outside_the_pairs_is_refused_beside_it(
    brewer: User, agent: Agent, conductivity: float, degrees: float, field: str
) -> None:
    kept = saved(brewer, agent)
    with pytest.raises(Refusal) as refused:
        read(agent, conductivity, degrees, kept)
    assert (refused.value.field, refused.value.code) == (field, "outside_calibration")


def test_agent_without_either_is_titrated(brewer: User) -> None:
    peracetic = make_peracetic()
    assert not readable(peracetic, None)
    with pytest.raises(Refusal) as refused:
        read(peracetic, 5)
    assert refused.value.message.startswith(
        "There is no published conductivity of peracetic acid and no calibration of your own yet."
    )
    kept = saved(brewer, peracetic, [Pair(40 * k, k, 20) for k in (1, 2, 4, 5)], "mg_l")
    assert readable(peracetic, kept)
    assert read(peracetic, 3, calibration=kept).strength == pytest.approx(120)


# The page


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def at(agent: Agent) -> str:
    return reverse("regimes:calibration", args=[agent.pk])


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_pairs_are_fitted_for_a_look_and_nothing_is_written(brewer: User, agent: Agent) -> None:
    answer = client_of(brewer).post(at(agent), {"pairs": TYPED, "basis": "wv", "do": "fit"})
    assert answer.status_code == 200
    assert "Not saved yet." in words(answer)
    assert [row.fitted for row in answer.context["tried"].rows] == [
        pytest.approx(pair.strength) for pair in LINE
    ]
    assert ConductivityCalibration.objects.count() == 0


def test_pairs_are_saved_and_shown_in_force(brewer: User, agent: Agent) -> None:
    client = client_of(brewer)
    answer = client.post(
        at(agent), {"pairs": TYPED, "basis": "wv", "do": "save", "key": "k"}, follow=True
    )
    assert "saved. It is in force now." in words(answer)
    assert answer.context["in_force"].kept == ConductivityCalibration.objects.get()
    # What is in force is offered again, to add a pair to it.
    assert answer.context["form"]["pairs"].value().splitlines()[0] == "0.5; 25; 20"
    client.post(at(agent), {"pairs": TYPED, "basis": "wv", "do": "save", "key": "k"})
    assert ConductivityCalibration.objects.count() == 1


@pytest.mark.parametrize(
    "pairs, said",
    [
        ("", "Enter at least four pairs."),
        ("0.5; 25", "Line 1, “0.5; 25”: it needs strength, conductivity and temperature"),
        ("0.5; many; 20", "Line 1: “many” is not a number."),
        ("0.5; 25; 20", "1 pairs are too few for a line"),
    ],
)
def test_pairs_that_cannot_be_read_are_said_and_kept(
    brewer: User, agent: Agent, pairs: str, said: str
) -> None:
    answer = client_of(brewer).post(at(agent), {"pairs": pairs, "basis": "wv", "do": "save"})
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors["pairs"])
    assert answer.context["form"]["pairs"].value() == pairs
    assert ConductivityCalibration.objects.count() == 0


def test_site_of_fahrenheit_types_and_sees_it(brewer: User, agent: Agent) -> None:
    make_brewery(temperature_unit="F")
    client = client_of(brewer)
    client.post(at(agent), {"pairs": TYPED.replace("; 20", "; 68"), "basis": "wv", "do": "save"})
    kept = ConductivityCalibration.objects.get()
    assert kept.pairs[0]["temperature_c"] == pytest.approx(20)
    assert client.get(at(agent)).context["form"]["pairs"].value().startswith("0.5; 25; 68")


def test_three_people_at_the_calibration(brewer: User, agent: Agent) -> None:
    saved(brewer, agent)
    sent = {"pairs": TYPED, "basis": "wv", "do": "save"}
    retire = reverse("regimes:retire_calibration", args=[agent.pk])
    for make in (make_cellar_hand, make_owner):
        client = client_of(make())
        page = client.get(at(agent))
        assert (page.status_code, page.content.count(b"<h1")) == (200, 1)
        assert "<textarea" not in words(page)
        assert client.post(at(agent), sent).status_code == 403
        assert client.post(retire).status_code == 403
    assert Client().get(at(agent)).status_code == 302
    assert client_of(brewer).post(retire).status_code == 302
    assert calibration_in_force(agent) is None


def test_page_takes_the_same_queries_for_one_and_three(
    brewer: User, agent: Agent, django_assert_num_queries: Any
) -> None:
    saved(brewer, agent)
    client = client_of(brewer)
    with django_assert_num_queries(6):
        client.get(at(agent))
    for day in (1, 2):
        saved(brewer, agent, now=NOW + timedelta(days=day))
    with django_assert_num_queries(6):
        client.get(at(agent))
