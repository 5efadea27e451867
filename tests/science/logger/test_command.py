"""The command that reads a logger file and prints what it shows."""

import io
import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from brewhygiene.management.commands.read_logger_file import Command
from brewhygiene.regimes.models import StepKind
from tests.factories import add_step, make_version

LINES = ["Datum;Uhrzeit;Rücklauf;Durchfluss;Leitfähigkeit", ";;°C;L/h;µS/cm"] + [
    f"21.03.2026;08:{n // 2:02d}:{n % 2 * 30:02d};{75 if 4 <= n < 24 else 20},0;7200;"
    f"{90000 if 4 <= n < 24 else 560}"
    for n in range(40)
]


@pytest.fixture
def trace(tmp_path: Path) -> Path:
    path = tmp_path / "invented.csv"
    path.write_text("\n".join(LINES) + "\n", encoding="cp1252")
    return path


def printed(*words: str) -> list[str]:
    out = io.StringIO()
    call_command("read_logger_file", *words, stdout=out, stderr=io.StringIO())
    return out.getvalue().splitlines()


def test_trace_is_read_and_told(trace: Path) -> None:
    lines = printed(str(trace), "--window", "temperature_c=70:80", "--rinse-end", "1")
    assert lines[:4] == [
        "40 rows, from 2026-03-21 08:00:00, 19.5 min",
        "temperature: 40 readings, 20 to 75 °C, longest gap 0.5 min",
        "flow: 40 readings, 120 to 120 L/min, longest gap 0.5 min",
        "conductivity: 40 readings, 0.56 to 90 mS/cm, longest gap 0.5 min",
    ]
    assert "temperature_c=70:80: 9.6 of 19.5 min inside, longest run 9.6 min, " in lines[4]
    assert "rinse complete from minute 12.0 on, for 7.5 min" in lines


def test_mapping_is_saved_and_used_again(trace: Path, tmp_path: Path) -> None:
    saved = tmp_path / "mapping.json"
    first = printed(str(trace), "--save-mapping", str(saved))
    assert json.loads(saved.read_text(encoding="utf-8"))["time_columns"] == ["Datum", "Uhrzeit"]
    assert printed(str(trace), "--mapping", str(saved)) == first


def test_columns_are_chosen_by_hand(trace: Path) -> None:
    lines = printed(
        str(trace), "--map", "flow_l_min=Durchfluss=hL/h", "--window", "flow_l_min=:100000"
    )
    assert lines[1].startswith("flow: 40 readings, 1.2e+04 to 1.2e+04 L/min")
    assert len([line for line in lines if "readings" in line]) == 1


@pytest.mark.django_db
def test_windows_of_a_regime_version_are_judged(trace: Path) -> None:
    version = make_version()
    add_step(
        version,
        StepKind.HOT_WATER,
        windows={"temperature_c": (70, 85), "time_min": (5, None), "ph": (6, 8)},
    )
    lines = printed(str(trace), "--regime-version", str(version.pk))
    # The trace holds no pH, and its rinse and sanitiser have no window that it can tell of.
    assert [line.split(" inside")[0] for line in lines if "inside" in line] == [
        "3. hot water, at least 5 min required: 9.6 of 19.5 min"
    ]


@pytest.mark.django_db
def test_regime_version_that_is_not_there_is_refused(trace: Path) -> None:
    with pytest.raises(CommandError, match="no regime version 999"):
        printed(str(trace), "--regime-version", "999")


@pytest.mark.parametrize(
    "words, says",
    [
        (["--window", "temperature_c"], "is not a window"),
        (["--window", "temperature_c=80:70"], "minimum is above the maximum"),
        (["--window", "temperature_c=warm:"], "“warm” is not a number"),
        (["--map", "colour=Datum"], "is not a column to read"),
        (["--map", "ph=Nothing"], "no column “Nothing” in this file"),
        (["--max-gap", "0"], "must be above 0 s"),
        (["--rinse-end", "-1"], "must be above 0 mS/cm"),
        (["--mapping", "nowhere.json"], "nowhere.json cannot be read"),
    ],
)
def test_what_cannot_be_done_is_said(trace: Path, words: list[str], says: str) -> None:
    with pytest.raises(CommandError, match=says):
        printed(str(trace), *words)


def test_file_that_is_not_there_is_said() -> None:
    with pytest.raises(CommandError, match="There is no file"):
        printed("nowhere.csv")


def test_cell_that_is_no_number_is_said(trace: Path) -> None:
    with trace.open("a", encoding="cp1252") as file:
        file.write("21.03.2026;08:30:00;warm;7200;560\n")
    with pytest.raises(CommandError, match="row 43, “Rücklauf”: “warm” is not a number"):
        printed(str(trace))


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_is_drawn_on_a_terminal_alone() -> None:
    terminal, pipe = Terminal(), io.StringIO()
    for stream in (terminal, pipe):
        command = Command(stderr=stream, no_color=True)
        command._progress(500_000, 1_000_000)
        command._progress(1_000_000, 1_000_000)
    assert pipe.getvalue() == ""
    assert terminal.getvalue() == (
        f"\r[{'#' * 15}{'.' * 15}]  50% of 1 MB\r[{'#' * 30}] 100% of 1 MB\n"
    )
