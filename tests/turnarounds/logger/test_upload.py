"""A logger file on its way in: kept as it came, or refused with nothing left of it."""

import hashlib
from datetime import datetime
from pathlib import Path
from unittest.mock import create_autospec

import pytest
from django.conf import settings
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.logger.actions import upload_logger_file
from brewhygiene.turnarounds.logger.intake import ReadFile
from brewhygiene.turnarounds.logger.queries import logger_files_of
from brewhygiene.turnarounds.models import LARGEST_TRACE_BYTES, LoggerFile
from tests.factories import acting, make_vessel
from tests.turnarounds.floor import counted, errors, signed_in
from tests.turnarounds.logger.files import HEAD, Logged, kept_files, logged

pytestmark = pytest.mark.django_db
FIXTURES = Path(settings.BASE_DIR, "fixtures", "logger-files")


@pytest.fixture
def scene() -> Logged:
    for left in kept_files():
        left.unlink()
    return Logged()


def test_clean_links_to_its_logger_files(scene: Logged) -> None:
    page = scene.client.get(reverse("turnarounds:clean", args=[scene.clean.pk]))
    assert (
        f'href="/cleans/{scene.clean.pk}/logger-files/">Logger files</a>' in page.content.decode()
    )


def test_file_is_kept_as_it_came(scene: Logged) -> None:
    text = scene.csv()
    answer = scene.send(text, name="Tank 4, invented.csv")
    logger_file = LoggerFile.objects.get()
    assert (answer.status_code, answer.url) == (302, f"/logger-files/{logger_file.pk}/columns/")
    assert logger_file.original_name == "Tank 4, invented.csv"
    assert logger_file.sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert logger_file.size_bytes == len(text.encode())
    assert [path.read_bytes() for path in kept_files()] == [text.encode()]
    assert logger_file.evaluation["rows"] == {
        "kept": 360, "duplicates": 0, "backwards": 0, "without_time": 0,
    }  # fmt: skip


def test_upload_is_in_the_ledger(scene: Logged) -> None:
    scene.send()
    logger_file, entry = LoggerFile.objects.get(), Entry.objects.order_by("-id")[0]
    assert (entry.verb, entry.user, entry.subject_id) == (
        "keep logger file",
        scene.hand,
        logger_file.pk,
    )
    assert entry.values["sha256"] == logger_file.sha256
    assert entry.values["mapping"] == logger_file.mapping
    assert entry.aggregate == f"turnaround:{scene.clean.turnaround_id}"


@pytest.mark.parametrize(
    "name, columns, rows",
    [
        (
            "invented-semicolon-decimal-comma.csv",
            [
                ["temperature_c", "Temp Rücklauf [°C]", "°C"],
                ["flow_l_min", "Durchfluss [hL/h]", "hL/h"],
                ["conductivity_ms_cm", "Leitfähigkeit [mS/cm]", "mS/cm"],
            ],
            (384, 0, 0),
        ),
        (
            "invented-fahrenheit-gpm.csv",
            [
                ["temperature_c", "Return temp (°F)", "°F"],
                ["flow_l_min", "Flow (gpm)", "gpm"],
                ["conductivity_ms_cm", "Conductivity (µS/cm)", "µS/cm"],
            ],
            (384, 0, 0),
        ),
        (
            "invented-gaps-duplicates-backwards.csv",
            [
                ["temperature_c", "temp °C", "°C"],
                ["flow_l_min", "flow L/min", "L/min"],
                ["conductivity_ms_cm", "cond mS/cm", "mS/cm"],
            ],
            (365, 2, 1),
        ),
    ],
)
def test_every_dialect_is_read_through_the_form(
    scene: Logged, name: str, columns: list[list[str]], rows: tuple[int, int, int]
) -> None:
    scene.send((FIXTURES / name).read_bytes(), name=name)
    evaluation = LoggerFile.objects.get().evaluation
    assert LoggerFile.objects.get().mapping["columns"] == columns
    counts = evaluation["rows"]
    assert (counts["kept"], counts["duplicates"], counts["backwards"]) == rows
    # The same invented clean in each of them, in the kept units.
    greatest = {name: seen["greatest"] for name, seen in evaluation["coverage"].items()}
    assert greatest["temperature_c"] == pytest.approx(75.4, abs=0.1)
    assert greatest["flow_l_min"] == pytest.approx(154, abs=0.3)
    assert greatest["conductivity_ms_cm"] == pytest.approx(93.8, abs=0.1)


KEPT_NOT = " Nothing was saved. Choose the file again."


@pytest.mark.parametrize(
    "text, words",
    [
        (
            "Time,T (°C),T (°C)\n2026-03-10 08:00:00,1,2\n2026-03-10 08:00:10,1,2\n",
            ("Two columns are named “T (°C)” (columns 2 and 3). Rename one in the logger or in "
             "the file, and upload it again."),
        ),
        (
            f"{HEAD}\n2026-03-10 08:00:00,20,150,1\n",
            ("The file has only one row with a time of its own. At least two are needed. Export "
             "the whole clean."),
        ),
        (
            ("Time,Temp (°C)\n2026-03-10 08:00:00,---\n2026-03-10 08:00:10,---\n"
            "2026-03-10 08:00:20,\n"),
            ("All 3 rows are gaps, without a reading in any chosen column. Check the sensor and "
             "the chosen columns."),
        ),
        (
            ("Time,Temp (°C)\n2026-03-10 08:00:00,20\n2026-03-10 08:00:10,FAULT\n"
            "2026-03-10 08:00:20,20\n2026-03-10 08:00:30,20\n"),
            ("One cell cannot be read: row 3, “Temp (°C)”: “FAULT” is not a number. Correct the "
             "cells. If a word stands for no reading, add it to the words for a missing reading."),
        ),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00", ("This is not a text file. Export the "
         "logger's readings as CSV.")),
        (b"PK\x03\x04rest", ("This is an Excel workbook or a ZIP archive, not text. Save or export "
         "it as CSV.")),
        (
            "a,b\nx,y\nz,w\n",
            ("No table was found. A logger file has one row a reading, with a time and at least "
             "one number. Semicolons, commas, tabs or bars separate the cells."),
        ),
    ],
)  # fmt: skip
def test_unreadable_file_is_refused_beside_its_field_and_not_kept(
    scene: Logged, text: str | bytes, words: str
) -> None:
    before = counted(LoggerFile)
    answer = scene.send(text)
    assert answer.status_code == 422
    assert errors(answer) == {"file": [words + KEPT_NOT]}
    assert counted(LoggerFile) == before
    assert kept_files() == []


@pytest.mark.parametrize(
    "file, words",
    [
        (b"", "The file is empty. Export the clean again."),
        (
            bytes(LARGEST_TRACE_BYTES + 1),
            "The file has 64 MB. At most 64 MB can be sent. Export this clean alone.",
        ),
    ],
)
def test_file_of_no_use_is_refused_unread(scene: Logged, file: bytes, words: str) -> None:
    answer = scene.send(file)
    assert (answer.status_code, errors(answer)) == (422, {"file": [words]})
    assert kept_files() == []


def test_no_file_is_asked_for(scene: Logged) -> None:
    answer = scene.client.post(reverse("turnarounds:logger_files", args=[scene.clean.pk]), {})
    assert errors(answer) == {"file": ["Choose a logger file."]}


def test_refused_file_can_be_sent_again_with_its_columns(scene: Logged) -> None:
    text = scene.csv().replace(",16,150,", ",OPEN,150,", 3)
    refused = scene.send(text)
    form = refused.context["form"].columns_form
    shown = {name: form[name].value() or "" for name in form.fields if name != "key"}
    answer = scene.send(text, **shown | {"missing": "---; OPEN", "remember_as": "Panel"})
    logger_file = LoggerFile.objects.get()
    assert (answer.status_code, answer.url) == (302, f"/logger-files/{logger_file.pk}/")
    assert logger_file.mapping["missing"] == ["", "---", "OPEN"]
    assert logger_file.evaluation["checked"] is True
    assert logger_file.evaluation["coverage"]["temperature_c"]["readings"] == 357


def test_wrong_columns_sent_with_a_file_are_said_beside_them(scene: Logged) -> None:
    answer = scene.send(
        time_first="Time", time_second="", time_form="elapsed s", decimal=".", missing="",
        remember_as="", column_temperature_c="Time", unit_temperature_c="°C",
    )  # fmt: skip
    assert answer.status_code == 422
    assert errors(answer) == {"file": ["Correct the columns below." + KEPT_NOT]}
    assert kept_files() == []


def test_file_without_a_time_can_be_told_its_columns(scene: Logged) -> None:
    """Minutes of the clean that go back once: no time to the eye of the proposal."""
    text = "n,Temp (°C)\n" + "".join(f"{n if n != 5 else 3},20\n" for n in range(30))
    refused = scene.send(text)
    assert errors(refused)["file"][0].startswith("No column contains times.")
    form = refused.context["form"].columns_form
    shown = {name: form[name].value() or "" for name in form.fields if name != "key"}
    scene.send(text, **shown | {"time_form": "elapsed min", "column_temperature_c": "Temp (°C)"})
    assert LoggerFile.objects.get().evaluation["rows"]["backwards"] == 1


def test_same_file_twice_is_said(scene: Logged) -> None:
    scene.send(name="first.csv")
    answer = scene.send(name="second.csv")
    (words,) = errors(answer)["file"]
    assert words.startswith("This file is already here: Jonas Feld sent it ")
    assert words.endswith(" as “first.csv”. It was not saved again.")
    assert (LoggerFile.objects.count(), len(kept_files())) == (1, 1)


def test_file_sent_twice_by_one_form_is_kept_once(scene: Logged) -> None:
    answers = [scene.send(key="tap") for _ in range(2)]
    assert [answer.url for answer in answers] == [
        f"/logger-files/{LoggerFile.objects.get().pk}/columns/"
    ] * 2
    assert len(kept_files()) == 1


def test_file_may_belong_to_two_cleans(scene: Logged) -> None:
    text = scene.csv()
    scene.send(text)
    actions.stop_clean(by=acting(scene.hand, now=scene.at(68)), clean=scene.clean, reason="Pump")
    first, scene.clean = scene.clean, scene.started(scene.clean.turnaround, now=scene.at(69))
    scene.send(text)
    assert [logger_file.sha256 for logger_file in logger_files_of(first)] == [
        logger_file.sha256 for logger_file in logger_files_of(scene.clean)
    ]


@pytest.mark.parametrize("person, codes", [("hand", (200, 302)), ("brewer", (200, 302)),
                                           ("owner", (200, 403))])  # fmt: skip
def test_who_may_send_a_file(scene: Logged, person: str, codes: tuple[int, int]) -> None:
    client = signed_in(getattr(scene, person))
    page = client.get(reverse("turnarounds:logger_files", args=[scene.clean.pk]))
    assert (page.status_code, scene.send(client=client).status_code) == codes
    assert ("Send file</button>" in page.content.decode()) is (codes[1] == 302)


def test_file_of_who_may_not_send_it_is_never_stored(scene: Logged) -> None:
    read = create_autospec(ReadFile, instance=True)
    with pytest.raises(NotAllowed):
        upload_logger_file(by=acting(scene.owner), clean=scene.clean, read=read)
    assert not read.mock_calls
    assert kept_files() == []


def test_nobody_sees_a_file_signed_out(scene: Logged) -> None:
    logger_file = scene.logger_file()
    for name in ("logger_file", "logger_file_columns", "logger_file_download"):
        answer = signed_in(None).get(reverse(f"turnarounds:{name}", args=[logger_file.pk]))
        assert answer.url.startswith("/sign-in/")


@pytest.mark.parametrize("person", ["hand", "owner"])
def test_file_is_downloaded_by_its_own_name(scene: Logged, person: str) -> None:
    scene.send(name="Tank 4.csv")
    logger_file = LoggerFile.objects.get()
    client = signed_in(getattr(scene, person))
    answer = client.get(reverse("turnarounds:logger_file_download", args=[logger_file.pk]))
    assert answer["Content-Disposition"] == 'attachment; filename="Tank 4.csv"'
    assert hashlib.sha256(b"".join(answer.streaming_content)).hexdigest() == logger_file.sha256


def test_file_gone_from_its_place_is_not_found(scene: Logged) -> None:
    logger_file = scene.logger_file()
    kept_files()[0].unlink()
    for name in ("logger_file_download", "logger_file_columns"):
        answer = scene.client.get(reverse(f"turnarounds:{name}", args=[logger_file.pk]))
        assert answer.status_code == 404


def test_no_file_is_added_once_the_vessel_was_filled(scene: Logged) -> None:
    turnaround = scene.released(vessel=make_vessel(name="FV 99"))
    scene.filled(turnaround)
    scene.clean = turnaround.cleans.get()
    before = counted(LoggerFile)
    answer = scene.send(scene.csv())
    assert errors(answer) == {
        "__all__": ["FV 99 has been filled since. This turnaround is closed."]
    }
    assert counted(LoggerFile) == before
    assert kept_files() == []


def test_list_takes_the_same_queries_for_one_and_three(
    scene: Logged, django_assert_num_queries: object
) -> None:
    url = reverse("turnarounds:logger_files", args=[scene.clean.pk])
    scene.logger_file()
    with django_assert_num_queries(13):
        scene.client.get(url)
    for minutes in (1, 2):
        scene.send(scene.csv(((60 + minutes, 20, 150, 1),)))
    with django_assert_num_queries(13):
        assert len(scene.client.get(url).context["logger_files"]) == 3


def test_start_without_an_offset_is_the_brewerys_own_time(scene: Logged) -> None:
    scene.brewery.time_zone = "Europe/Berlin"
    scene.brewery.save()
    scene.send("\n".join([HEAD, *(f"2026-03-10 08:00:{s:02d},20,150,1" for s in range(0, 50, 10))]))
    kept = datetime.fromisoformat(LoggerFile.objects.get().evaluation["starts_at"])
    assert kept.isoformat() == "2026-03-10T08:00:00+01:00"


def test_rows_without_dates_have_no_start(scene: Logged) -> None:
    rows = [f"{(at - scene.start).seconds},{t},{flow},{c}" for at, t, flow, c in
            logged(scene.start)]  # fmt: skip
    scene.send("\n".join([HEAD.replace("Time", "elapsed s"), *rows]))
    logger_file = LoggerFile.objects.get()
    assert (logger_file.mapping["time_form"], logger_file.evaluation["starts_at"]) == (
        "elapsed s",
        None,
    )
