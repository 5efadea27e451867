"""Telling what the columns of a logger file are, once for each logger."""

import pytest
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.turnarounds.models import LoggerFile, LoggerMapping
from tests.turnarounds.floor import counted, errors, signed_in
from tests.turnarounds.logger.files import Logged

pytestmark = pytest.mark.django_db
# Names that tell nothing, so that the proposal has its doubts.
SECRET = "Time,Temp 1,Temp 2,Q7\n"


@pytest.fixture
def scene() -> Logged:
    return Logged()


def file_of(scene: Logged, *, heads: str = SECRET) -> str:
    rows = [
        f"{scene.at(n / 6):%Y-%m-%d %H:%M:%S},{20 + n % 3},{60 + n % 5},{n % 7 * 10}"
        for n in range(60)
    ]
    return heads + "\n".join(rows) + "\n"


def columns(logger_file: LoggerFile) -> str:
    return reverse("turnarounds:logger_file_columns", args=[logger_file.pk])


def test_proposal_is_shown_with_its_doubts_and_first_rows(scene: Logged) -> None:
    logger_file = scene.logger_file(file_of(scene), checked=False)
    page = scene.client.get(columns(logger_file))
    assert page.context["doubts"] == (
        "“Temp 1” does not say its unit; °C is taken.",
        "“Temp 2” does not say its unit; °C is taken.",
        "“Temp 1” and “Temp 2” may both be temperature; “Temp 1” is taken.",
    )
    assert page.context["rows"][0] == (f"{scene.start:%Y-%m-%d %H:%M:%S}", "20", "60", "0")
    form = page.context["form"]
    assert form["column_temperature_c"].value() == "Temp 1"
    assert [group for group, _ in form.fields["time_form"].choices] == [
        "Fit the first rows", "Others",
    ]  # fmt: skip


def test_columns_are_told_and_the_file_is_read_anew(scene: Logged) -> None:
    logger_file = scene.logger_file(file_of(scene), checked=False)
    page = scene.client.get(columns(logger_file))
    answer = scene.post_columns(
        logger_file, page, column_temperature_c="Temp 2", unit_temperature_c="°F",
        column_conductivity_ms_cm="Q7", unit_conductivity_ms_cm="µS/cm",
    )  # fmt: skip
    logger_file.refresh_from_db()
    assert answer.url == f"/logger-files/{logger_file.pk}/"
    assert logger_file.mapping["columns"] == [
        ["temperature_c", "Temp 2", "°F"], ["conductivity_ms_cm", "Q7", "µS/cm"],
    ]  # fmt: skip
    # 60 °F is 140/9 °C, from the definition of the degree Fahrenheit.
    assert logger_file.evaluation["coverage"]["temperature_c"]["least"] == pytest.approx(140 / 9)
    assert logger_file.evaluation["coverage"]["conductivity_ms_cm"]["greatest"] == pytest.approx(
        0.06
    )
    assert logger_file.evaluation["checked"] is True
    entry = Entry.objects.order_by("-id")[0]
    assert (entry.verb, entry.values["mapping"]) == ("map logger file", logger_file.mapping)


def test_remembered_logger_reads_its_next_file_by_itself(scene: Logged) -> None:
    logger_file = scene.logger_file(file_of(scene), checked=False)
    page = scene.client.get(columns(logger_file))
    scene.post_columns(logger_file, page, column_temperature_c="Temp 2", remember_as="Panel 2")
    assert LoggerMapping.objects.get().name == "Panel 2"
    answer = scene.send(file_of(scene) + f"{scene.at(11):%Y-%m-%d %H:%M:%S},20,60,0\n")
    newest = LoggerFile.objects.latest("pk")
    assert answer.url == f"/logger-files/{newest.pk}/"
    assert newest.mapping["columns"] == [["temperature_c", "Temp 2", "°C"]]
    assert (newest.evaluation["remembered_as"], newest.evaluation["checked"]) == ("Panel 2", True)


def test_remembered_logger_is_not_taken_for_another_file(scene: Logged) -> None:
    logger_file = scene.logger_file(file_of(scene), checked=False)
    scene.post_columns(logger_file, scene.client.get(columns(logger_file)), remember_as="Panel 2")
    other = scene.logger_file(file_of(scene, heads="Time,T a,Temp 2,Q7\n"), checked=False)
    assert other.evaluation["remembered_as"] == ""
    # The same columns, its times written in another way.
    american = "".join(f"{scene.at(n / 6):%m/%d/%Y %I:%M:%S %p},20,60,0\n" for n in range(60))
    assert scene.logger_file(SECRET + american, checked=False).evaluation["remembered_as"] == ""


def test_logger_remembered_again_is_changed(scene: Logged) -> None:
    logger_file = scene.logger_file(file_of(scene), checked=False)
    for column in ("Temp 1", "Temp 2"):
        page = scene.client.get(columns(logger_file))
        scene.post_columns(logger_file, page, column_temperature_c=column, remember_as="Panel 2")
    assert LoggerMapping.objects.get().mapping["columns"] == [["temperature_c", "Temp 2", "°C"]]


@pytest.mark.parametrize(
    "typed, field, words",
    [
        (
            {"column_flow_l_min": "Temp 1"},
            "column_flow_l_min",
            "“Temp 1” is already temperature: it cannot be flow too.",
        ),
        (
            {"column_temperature_c": ""},
            "column_temperature_c",
            "Choose at least one column to read.",
        ),
        ({"decimal": ","}, "decimal", ("The comma separates the cells of this file, so it cannot "
                                       "be the decimal sign too.")),
        ({"unit_temperature_c": "bar"}, "unit_temperature_c", ("Select a valid choice. bar is not "
         "one of the available choices.")),
        ({"time_form": "nonsense"}, "time_form", "Choose a time format."),
    ],
)  # fmt: skip
def test_columns_that_cannot_be_are_said_beside_their_field(
    scene: Logged, typed: dict[str, str], field: str, words: str
) -> None:
    logger_file = scene.logger_file(file_of(scene), checked=False)
    page = scene.client.get(columns(logger_file))
    before = counted(LoggerFile)
    answer = scene.post_columns(logger_file, page, **typed)
    assert (answer.status_code, errors(answer)) == (422, {field: [words]})
    # What was typed is still there.
    assert answer.context["form"][next(iter(typed))].value() == next(iter(typed.values()))
    assert counted(LoggerFile) == before


def test_cells_that_the_columns_do_not_fit_are_named_with_their_rows(scene: Logged) -> None:
    text = file_of(scene).replace(",60,", ",OPEN,")
    logger_file = scene.logger_file(text, checked=False)
    page = scene.client.get(columns(logger_file))
    answer = scene.post_columns(logger_file, page, column_temperature_c="Temp 2")
    (words,) = errors(answer)["missing"]
    assert words.startswith(
        "12 cells cannot be read: row 2, “Temp 2”: “OPEN” is not a number; row 7, "
    )
    logger_file.refresh_from_db()
    assert logger_file.mapping["columns"] == [["temperature_c", "Temp 1", "°C"]]


@pytest.mark.parametrize("person, code", [("hand", 200), ("brewer", 200), ("owner", 403)])
def test_who_may_tell_columns(scene: Logged, person: str, code: int) -> None:
    logger_file = scene.logger_file(checked=False)
    client = signed_in(getattr(scene, person))
    assert client.get(columns(logger_file)).status_code == code
    assert client.post(columns(logger_file), {}).status_code == (403 if code == 403 else 422)
