"""A logger file in Chromium: sent, its columns told, drawn, and written; and without script."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.turnarounds.models import LoggerFile, StepReading
from tests.browser.conftest import Opened
from tests.browser.waiting import wait_until
from tests.turnarounds.logger.files import Logged, kept_files, uploaded

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def scene(live_server: object) -> Logged:
    return Logged()


# Windows are filled with the teal of the theme, and nothing else is.
SHADED = """(() => {
    const probe = document.querySelector('.chart').appendChild(document.createElement('i'));
    probe.style.color = 'var(--chart-teal)';
    const teal = getComputedStyle(probe).color;
    probe.remove();
    return [...document.querySelectorAll('.chart .shapelayer path')]
        .filter((path) => getComputedStyle(path).fill === teal).length;
})()"""


def logger_files_page(scene: Logged) -> str:
    return reverse("turnarounds:logger_files", args=[scene.clean.pk])


def logger_file_page(logger_file: LoggerFile) -> str:
    return reverse("turnarounds:logger_file", args=[logger_file.pk])


def send(page: Page, scene: Logged, tmp_path: Path, text: str) -> None:
    file = tmp_path / "Tank logger, invented.csv"
    file.write_text(text)
    page.goto(logger_files_page(scene))
    page.get_by_label("Logger file").set_input_files(file)
    page.get_by_role("button", name="Send file").click()


def drawn(page: Page) -> None:
    expect(page.locator("[data-drawn]")).to_be_visible()


def seen_minutes(page: Page) -> float:
    edges = "document.querySelector('[data-chart]').layout.xaxis.range"
    milliseconds: float = page.evaluate(
        f"{edges}.map((e) => typeof e === 'number' ? e : Date.parse(e.replace(' ', 'T') + 'Z'))"
        ".reduce((from, until) => until - from)"
    )
    return milliseconds / 60_000


def test_file_is_sent_told_drawn_and_written(
    open_page: Opened, scene: Logged, tmp_path: Path
) -> None:
    record = scene.caustic()
    page = open_page(user=scene.hand)
    page.goto(reverse("turnarounds:clean", args=[scene.clean.pk]))
    page.get_by_role("link", name="Logger file").click()
    page.wait_for_url(f"**{logger_files_page(scene)}")
    send(page, scene, tmp_path, scene.csv())
    expect(page.get_by_role("heading", level=1)).to_have_text("Columns of the logger file")
    page.get_by_label("Name of the logger").fill("Panel (invented)")
    page.get_by_role("button", name="Confirm columns").click()
    drawn(page)
    page.get_by_role("button", name="Write readings").click()
    page.wait_for_url(f"**{reverse('turnarounds:clean', args=[scene.clean.pk])}")
    assert StepReading.objects.filter(record=record, logger_file__isnull=False).count() == 3
    # The next file of this logger is read by itself.
    send(page, scene, tmp_path, scene.csv()[:-1])
    drawn(page)


def test_picture_is_drawn_within_the_policy(open_page: Opened, scene: Logged, size: str) -> None:
    """Any breach of the policy, or error in the console, fails the test at its end."""
    scene.caustic()
    logger_file = scene.logger_file()
    page = open_page(user=scene.owner, size=size, dark=size == "tablet")
    page.goto(logger_file_page(logger_file))
    drawn(page)
    assert page.locator(".chart .scatterlayer .trace").count() == 3
    # A window each of temperature and flow, shaded below the lines.
    assert page.evaluate(SHADED) == 2
    box = page.locator(".chart").bounding_box()
    assert box is not None
    assert box["height"] > 500
    assert page.locator("style").count() == 0


def test_picture_is_moved_by_keyboard(open_page: Opened, scene: Logged) -> None:
    scene.caustic()
    logger_file = scene.logger_file()
    page = open_page(user=scene.owner)
    page.goto(logger_file_page(logger_file))
    drawn(page)
    assert seen_minutes(page) == pytest.approx(59 + 5 / 6)
    tools = page.get_by_role("group", name="Part of the chart shown")
    tools.get_by_role("button", name="2. caustic").focus()
    page.keyboard.press("Enter")
    # Its thirty minutes, and a tenth on either side.
    assert seen_minutes(page) == pytest.approx(36)
    tools.get_by_role("button", name="Closer").press("Space")
    assert seen_minutes(page) == pytest.approx(18)
    tools.get_by_role("button", name="Later").press("Enter")
    assert seen_minutes(page) == pytest.approx(18)
    tools.get_by_role("button", name="Whole file").press("Enter")
    assert seen_minutes(page) == pytest.approx(59 + 5 / 6)


def test_picture_follows_light_and_dark(open_page: Opened, scene: Logged) -> None:
    page = open_page(user=scene.owner)
    page.goto(logger_file_page(scene.logger_file()))
    drawn(page)
    paper = "document.querySelector('[data-chart]').layout.paper_bgcolor"
    assert page.evaluate(paper) == "#ffffff"
    page.emulate_media(color_scheme="dark")
    wait_until(page, f"{paper} === '#182225'")


def test_numbers_stand_without_script(open_page: Opened, scene: Logged) -> None:
    scene.caustic()
    logger_file = scene.logger_file()
    page = open_page(user=scene.hand, java_script_enabled=False)
    page.goto(logger_file_page(logger_file))
    expect(page.locator(".chart")).to_be_hidden()
    page.get_by_text("Numbers of the chart").click()
    expect(page.locator(".over-time tr")).to_have_count(60)
    page.get_by_role("button", name="Write readings").click()
    assert StepReading.objects.filter(logger_file=logger_file).count() == 3


def test_file_too_large_is_said_before_it_is_sent(
    open_page: Opened, scene: Logged, tmp_path: Path
) -> None:
    large = tmp_path / "year.csv"
    with large.open("wb") as file:
        file.truncate(65_000_000)
    page = open_page(user=scene.hand)
    page.goto(logger_files_page(scene))
    page.get_by_label("Logger file").set_input_files(large)
    expect(page.get_by_role("alert")).to_have_text(
        "The file has 65 MB. At most 64 MB can be sent. Export this clean alone."
    )
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method))
    page.get_by_role("button", name="Send file").click()
    # What it had sent would have been seen before it goes elsewhere.
    page.goto(logger_files_page(scene))
    assert set(sent) == {"GET"}


def test_refused_file_is_mended_and_sent_again(
    open_page: Opened, scene: Logged, tmp_path: Path
) -> None:
    for left in kept_files():
        left.unlink()
    text = scene.csv().replace(",16,150,", ",OPEN,150,", 2)
    page = open_page(user=scene.hand)
    open_page.watch(page).allow("422")
    send(page, scene, tmp_path, text)
    expect(page.locator("#id_file_error")).to_contain_text("row 2, “Return temp (°C)”: “OPEN”")
    assert kept_files() == []
    page.get_by_text("Columns of the file").click()
    page.get_by_label("Words for a missing reading").fill("OPEN")
    page.get_by_label("Logger file").set_input_files(tmp_path / "Tank logger, invented.csv")
    page.get_by_role("button", name="Send file").click()
    drawn(page)
    assert len(kept_files()) == 1


def every_state(scene: Logged) -> dict[str, str]:
    empty = logger_files_page(scene)
    scene.caustic()
    unchecked = scene.logger_file(checked=False)
    logger_file = scene.logger_file(scene.csv()[:-1])
    scene.write(logger_file, [scene.clean.step_records.get(step__order=2)])
    strange = scene.logger_file("n,Temp\n" + "\n".join(f"{n},{20 + n % 2}" for n in range(60)))
    return {
        "files": empty,
        "unchecked": logger_file_page(unchecked),
        "columns": reverse("turnarounds:logger_file_columns", args=[unchecked.pk]),
        "written": logger_file_page(logger_file),
        "without dates": logger_file_page(strange),
    }


def test_every_state_is_sound(
    open_page: Opened, scene: Logged, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=scene.hand, size=size)
    page.goto(logger_files_page(scene))
    assert_page_is_sound(page, floor=True)
    for address in every_state(scene).values():
        page.goto(address)
        page.wait_for_load_state("networkidle")
        page.evaluate("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
        assert_page_is_sound(page, floor=True)


def test_refused_file_is_sound(
    open_page: Opened, scene: Logged, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=scene.hand, size=size, dark=True)
    open_page.watch(page).allow("422")
    page.goto(logger_files_page(scene))
    page.get_by_label("Logger file").set_input_files(
        {
            "name": "invented.csv",
            "mimeType": "text/csv",
            "buffer": uploaded(scene.csv().replace(",150,", ",x,", 1)).read(),
        }
    )
    page.get_by_role("button", name="Send file").click()
    expect(page.locator("#id_file_error")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
    assert_page_is_sound(page, floor=True)
