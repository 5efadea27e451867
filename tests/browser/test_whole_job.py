"""The whole job on a tablet, as three people, from emptied to the release record; and its refusals.

Time is let pass while a step runs, for the server and for the browser.
"""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from brewhygiene.cellar.models import Fill, HoldClock, Vessel
from brewhygiene.ledger.recording import check_chain
from brewhygiene.regimes.library.install import install_library
from brewhygiene.regimes.models import Regime
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import StepReading, Turnaround
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.waiting import wait_until
from tests.factories import (
    PASSWORD,
    acting,
    make_atp_test,
    make_beer,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_limits,
    make_meter,
    make_owner,
    make_test_lot,
    make_vessel,
)

pytestmark = pytest.mark.django_db(transaction=True)


class House:
    """A brewery with the shipped regimes, a checked meter's limits, and one full fermenter."""

    def __init__(self) -> None:
        make_brewery()
        self.jonas = make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")
        self.mara = make_head_brewer(username="mara", full_name="Mara Oduya", initials="MO")
        self.tomas = make_owner(username="tomas", full_name="Tomas Brandt", initials="TB")
        now = clock.now()
        install_library(by=acting(self.mara, now=now), password=PASSWORD)
        HoldClock.objects.create(vessel_kind="fermenter")
        self.pale = make_beer(name="Harrow Pale (invented)")
        self.lager = make_beer(name="Skellavine Lager (invented)")
        hot = Regime.objects.get(name="Fermenter, hot caustic")
        self.vessel = make_vessel(name="FV 7", points=0, default_regime=hot)
        for order, (name, kind, area) in enumerate(
            [("Last rinse at the cone", "rinse", None), ("Sample valve", "surface", 10)]
        ):
            self.vessel.points.create(
                name=name, sample_kind=kind, area_cm2=area, order=order, code=f"TANK7{order}"
            )
        self.meter = make_meter(name="Meter A (invented)")
        self.bare_meter = make_meter(name="Meter B (invented)")
        for kind in ("rinse", "surface"):
            swab = make_atp_test(name=f"{kind.capitalize()} swab", sample_kind=kind)
            make_test_lot(
                swab,
                lot=f"{kind.upper()}-1",
                expires_on=clock.today() + timedelta(days=60),
            )
            for moment in ("before_sanitiser", "in_sanitiser"):
                make_limits(by=self.mara, meter=self.meter, atp_test=swab, moment=moment, now=now)
        Fill.objects.create(
            vessel=self.vessel,
            beer=self.pale,
            batch="26-001",
            volume_hl=28,
            filled_at=now - timedelta(days=14),
            recorded_by=self.jonas,
        )

    @property
    def turnaround(self) -> Turnaround:
        return Turnaround.objects.get(vessel=self.vessel)


@pytest.fixture
def house() -> House:
    return House()


def big(page: Page) -> None:
    """Press the largest thing on the page: what comes next."""
    with page.expect_event("load"):
        page.locator("main .next").first.click()


def heading(page: Page) -> str:
    return page.locator("h1").inner_text()


def empty_and_start(page: Page, house: House) -> None:
    page.goto(f"/vessels/{house.vessel.pk}/")
    big(page)
    page.get_by_label("Next beer").select_option(label="Skellavine Lager (invented)")
    big(page)
    big(page)  # clean it
    assert page.get_by_text("Fermenter, hot caustic").first.is_visible()
    big(page)


def read(page: Page, reading: str, keys: str, *, by_pad: bool) -> None:
    tab = page.locator("#readings .tabs").first.get_by_role("link", name=reading)
    if tab.get_attribute("aria-current") is None:
        with page.expect_response(lambda response: "?read=" in response.url):
            tab.click()
        page.locator("#readings .tabs [aria-current]", has_text=reading).wait_for()
    field = page.get_by_label(reading, exact=True)
    field.wait_for()
    if by_pad:
        field.focus()
        for key in keys:
            page.locator(".pad button", has_text=key).first.click()
    else:
        field.fill(keys)
    with page.expect_response(lambda response: "/read/" in response.url) as answer:
        page.locator("#readings form button.primary").first.click()
    assert answer.value.status == 200, page.locator("#readings").inner_text()
    # The piece of the page that answers has come once no form is on its way.
    wait_until(page, "!document.querySelector('#readings form[data-sent]')")
    page.locator("#readings .latest").wait_for()


def pass_time(page: Page, minutes: float) -> None:
    """So many minutes later, for the server and for the browser."""
    clock.move_on(timedelta(minutes=minutes))
    page.context.clock.set_system_time(clock.now())


def run_step(
    page: Page,
    minutes: str,
    readings: dict[str, str],
    *,
    by_pad: bool = False,
    during: Callable[[], None] | None = None,
) -> None:
    """One step: its checks with its start, its readings, what is done ``during`` it, its end."""
    if not page.locator("[data-timer]").count():  # else it was started with the last step's end
        for box in page.locator("main input[name=codes]").all():
            box.check()
        big(page)  # confirmed, if there is something to confirm, and started
    page.locator("[data-timer]").first.wait_for()
    for quantity, keys in readings.items():
        read(page, quantity, keys, by_pad=by_pad)
    if during is not None:
        step = page.url
        during()
        page.goto(step)
    pass_time(page, float(minutes))
    if page.get_by_role("link", name="End step").count():
        page.get_by_role("link", name="End step").click()
        page.wait_for_load_state()
    for box in page.get_by_label("Yes", exact=True).all():
        box.check()
    with page.expect_event("load"):
        page.locator(".end-acts button").first.click()


STEPS: list[tuple[str, str, dict[str, str]]] = [
    ("Vent and purge", "5", {"CO2 at the bottom outlet": "0.5"}),
    ("Pre-rinse", "5", {"Temperature": "25"}),
    ("Caustic", "30", {"Strength": "2,0", "Temperature": "75"}),
    ("Rinse", "10", {"pH": "7.4"}),
    ("Acid", "15", {"Strength": "1.0", "Temperature": "25"}),
    ("Rinse", "10", {"pH": "7.4"}),
    ("Sample", "2", {"Temperature": "18"}),
    ("Sanitiser", "10", {"Strength": "150", "Temperature": "15"}),
    ("Drain", "5", {}),
]


def clean(page: Page, *, at_sample: Callable[[], None] | None = None) -> None:
    """Every step; ``at_sample`` is done while the sample step runs, and comes back to it."""
    for number, (title, minutes, readings) in enumerate(STEPS):
        assert title.casefold() in heading(page).casefold()
        during = at_sample if title == "Sample" else None
        run_step(page, minutes, readings, by_pad=number == 7, during=during)
        if title == "Sample" and at_sample is None:
            page.get_by_label("Accept the deviation").check()
            page.get_by_role("textbox", name="Reason").fill("Sampled after the clean")
            with page.expect_event("load"):
                page.get_by_role("button", name="Save decision").click()
    if not page.url.endswith("/samples/"):
        big(page)  # what deviated is looked over before it is finished
    page.wait_for_url("**/samples/")


def check_meter(page: Page, meter_pk: int) -> None:
    page.goto(f"/meters/{meter_pk}/check/")
    page.get_by_label("Blank").fill("0")
    page.get_by_label("Positive").fill("220")
    big(page)


def sample(page: Page, turnaround: Turnaround, point: str, rlu: str) -> None:
    point_pk = turnaround.vessel.points.get(name=point).pk
    page.goto(f"/turnarounds/{turnaround.pk}/samples/{point_pk}/")
    for name in ("Meter", "ATP test lot", "How the rinse ended"):
        group = page.get_by_role("group", name=name, exact=True)
        if group.is_visible() and not group.locator("input:checked").count():
            group.locator("input:enabled").first.check()
    page.get_by_label("Reading", exact=True).fill(rlu)
    page.get_by_role("button", name="Record reading").click()
    page.wait_for_url("**/atp-readings/**")


def sign(page: Page, outcome: str, **reasons: str) -> None:
    page.get_by_label(outcome).check()
    for code, text in reasons.items():
        page.locator(f"[name=reason_{code}]").select_option(label="New or changed part")
        page.locator(f"[name=checked_{code}]").fill(f"{text}: looked at")
        page.locator(f"[name=result_{code}]").fill(f"{text}: no soil seen")
    page.get_by_label("Your password").fill(PASSWORD)
    page.locator("main button.primary").last.click()
    page.wait_for_load_state()


def test_three_people_turn_one_tank_round(
    house: House, open_page: Opened, assert_page_is_sound: Callable[..., None], tmp_path: Path
) -> None:
    tablet = open_page(user=house.jonas)
    check_meter(tablet, house.meter.pk)
    empty_and_start(tablet, house)
    turnaround = house.turnaround

    def read_both() -> None:
        sample(tablet, turnaround, "Last rinse at the cone", "0")
        assert "0 RLU, clear" in heading(tablet)
        sample(tablet, turnaround, "Sample valve", "12")
        assert "12 RLU, alert" in heading(tablet)

    clean(tablet, at_sample=read_both)

    desk = open_page(user=house.mara)
    desk.goto("/release/")
    desk.get_by_role("link", name="Hold or release").click()
    sign(desk, "Release FV 7", alerts="New valve seat, first clean with it")
    decision = Decision.objects.get()
    assert (decision.outcome, decision.self_release) == ("release", False)
    assert decision.signature.printed_name == "Mara Oduya"

    tablet.goto(f"/vessels/{house.vessel.pk}/")
    big(tablet)
    tablet.get_by_label("Batch", exact=True).fill("26-014")
    tablet.get_by_label("Volume").fill("28,5")
    big(tablet)
    fill = Fill.objects.latest("pk")
    assert (fill.batch, fill.volume_hl, fill.without_release) == ("26-014", 28.5, False)

    owner = open_page(user=house.tomas)
    owner.goto(f"/vessels/{house.vessel.pk}/")
    assert "In use" in owner.locator("main").inner_text()
    assert_page_is_sound(owner)
    answer = owner.context.request.get(f"/turnarounds/{turnaround.pk}/record.pdf")
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    path = tmp_path / "record.pdf"
    path.write_bytes(answer.body())
    text = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(path).pages)
    for expected in (
        "FV 7",
        "Fermenter, hot caustic",
        "Jonas Feld",
        "Mara Oduya",
        "New valve seat, first clean with it",
        "Sample valve",
        "12",
        "26-014",
        Turnaround.objects.get().vessel.name,
    ):
        assert expected in text, f"{expected!r} is not in the record"
    assert StepReading.objects.filter(verdict__in=["below", "above"]).count() == 0
    assert check_chain() is None


def cleaned(tablet: Page, house: House) -> Turnaround:
    """Emptied, cleaned and the meters checked, through the screens."""
    empty_and_start(tablet, house)
    clean(tablet)
    check_meter(tablet, house.meter.pk)
    check_meter(tablet, house.bare_meter.pk)
    return house.turnaround


def test_the_tool_says_no_where_it_must(house: House, open_page: Opened) -> None:
    tablet = open_page(user=house.jonas)
    turnaround = cleaned(tablet, house)

    # A meter without limits: unjudged, and Release is not offered.
    sample_with(tablet, turnaround, "Last rinse at the cone", "0", house.bare_meter.name)
    assert "0 RLU, unjudged" in heading(tablet)
    sample(tablet, turnaround, "Sample valve", "0")
    desk = open_page(user=house.mara)
    desk.goto(f"/release/{turnaround.pk}/")
    assert desk.get_by_label("Release FV 7").count() == 0
    assert "has no approved limits" in desk.locator("main").inner_text()

    # Release by the cellar role: 403, whether it looks or sends.
    hand = open_page(user=house.jonas)
    assert hand.context.request.get(f"/release/{turnaround.pk}/").status == 403
    assert hand.context.request.post(f"/release/{turnaround.pk}/").status == 403
    assert Decision.objects.count() == 0

    # Over the action limit: held at once, and a second sample does not undo it.
    sample_with(tablet, turnaround, "Sample valve", "31", house.meter.name)
    assert "31 RLU, action" in heading(tablet)
    sample_with(tablet, turnaround, "Sample valve", "0", house.meter.name)
    tablet.goto("/")
    plate = tablet.locator("article, li", has_text="FV 7").first
    assert "Held" in plate.inner_text()

    # A held vessel is not filled.
    tablet.goto(f"/turnarounds/{turnaround.pk}/fill/")
    assert tablet.get_by_label("Batch", exact=True).count() == 0
    assert Fill.objects.filter(vessel=Vessel.objects.get()).count() == 1


def sample_with(page: Page, turnaround: Turnaround, point: str, rlu: str, meter: str) -> None:
    """As :func:`sample`, with the meter chosen by name."""
    point_pk = turnaround.vessel.points.get(name=point).pk
    page.goto(f"/turnarounds/{turnaround.pk}/samples/{point_pk}/")
    choice = page.get_by_role("radio", name=meter)
    if not choice.is_visible():
        page.locator("details.kit summary").click()
    choice.check()
    for name in ("ATP test lot", "How the rinse ended"):
        group = page.get_by_role("group", name=name, exact=True)
        if not group.locator("input:checked").count():
            group.locator("input:enabled").first.check()
    page.get_by_label("Reading", exact=True).fill(rlu)
    page.get_by_role("button", name="Record reading").click()
    page.wait_for_url("**/atp-readings/**")
