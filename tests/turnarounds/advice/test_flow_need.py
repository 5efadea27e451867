"""Whether a spray device or a line gets enough flow, against the rules of the trade."""

import math

import pytest

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.turnarounds.advice.flow_need import FlowNeed, flow_need

SITE = Brewery(name="Quenlarrow & Ombry (invented)")


def need(brewery=SITE, *, flow=None, velocity=None, **values) -> FlowNeed | None:
    given = {"kind": "fermenter", "volume_hl": 30, "diameter_m": 1.4, "spray_device": "static_ball"}
    return flow_need(
        Vessel(**given | values), brewery=brewery, flow_l_min=flow, velocity_read_m_s=velocity
    )


def test_static_ball_needs_25_to_37_litres_a_minute_per_metre_of_wall() -> None:
    """Seiberling 2008 (read for the lower end); the upper from memory."""
    found = need()
    assert found.least_l_min == pytest.approx(25 * math.pi * 1.4)
    assert found.most_l_min == pytest.approx(37 * math.pi * 1.4)
    assert (found.verdict, found.word, found.need) == (
        "no_window",
        "Not read",
        "The static spray device needs 110 to 163 L/min.",
    )


@pytest.mark.parametrize(
    "flow, verdict, word",
    [
        (0.0, "below", "Not enough"),
        (109.9, "below", "Not enough"),
        (110.0, "within", "Enough"),
        (162.0, "within", "Enough"),
        (200.0, "within", "Enough"),
    ],
)
def test_flow_read_is_enough_or_not(flow: float, verdict: str, word: str) -> None:
    found = need(flow=flow)
    assert (found.verdict, found.word) == (verdict, word)


def test_more_than_is_usual_is_said() -> None:
    assert need(flow=200).sentence == (
        "200 L/min, more than the usual 110 to 163 L/min. Check that the outlet keeps up and "
        "no pool forms."
    )


@pytest.mark.parametrize("device", ["rotary_spray", "rotary_jet"])
def test_rotary_head_goes_by_its_makers_curve(device: str) -> None:
    found = need(spray_device=device, flow=150)
    assert (found.verdict, found.word, found.least_l_min) == (
        "no_window",
        "See maker's curve",
        None,
    )
    assert found.sentence.endswith("150 L/min was the last reading.")


def test_vessel_without_a_spray_device_is_not_judged() -> None:
    assert need(spray_device="none") is None


def test_vessel_without_a_diameter_is_not_known() -> None:
    assert need(diameter_m=None).word == "Not known"


LINE = {"kind": "hose_set", "diameter_m": 0.05, "spray_device": "none"}


@pytest.mark.parametrize(
    "flow, word", [(None, "Not read"), (176.0, "Not enough"), (176.72, "Enough")]
)
def test_line_needs_a_metre_and_a_half_a_second(flow: float | None, word: str) -> None:
    """A bore of 50 mm has 1.9635e-3 m²: 1.5 m/s are 176.715 L/min. 3-A practice, from memory."""
    found = need(**LINE, flow=flow)
    assert found.least_l_min == pytest.approx(1.5 * math.pi * 0.05**2 / 4 * 60_000)
    assert found.word == word


def test_velocity_read_in_a_line_counts_as_it_is() -> None:
    assert need(**LINE, velocity=1.6).sentence == "1.6 m/s."
    assert need(**LINE | {"diameter_m": None}, velocity=1.2).word == "Not enough"
    assert need(**LINE | {"diameter_m": None}).word == "Not known"


def test_bore_beyond_the_sum_is_refused_in_words() -> None:
    found = need(kind="heat_exchanger", diameter_m=0.8, spray_device="none", flow=100)
    assert (found.word, found.sentence) == (
        "Not judged",
        "The bore is 800 mm. It must be above 0 and at most 500 mm.",
    )


def test_site_of_gallons_reads_gallons() -> None:
    """110 L/min are 29.05 US gpm (3.785411784 L)."""
    found = need(Brewery(name="x", flow_unit="gpm"), flow=150)
    assert found.need == "The static spray device needs 29 to 43 US gpm."
    assert found.sentence == "39.6 US gpm."
