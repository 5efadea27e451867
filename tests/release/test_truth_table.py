"""Every row of the truth table through the pure functions: no database, no clock.

A row may be changed only in a commit that says why.
"""

import dataclasses
from pathlib import Path

import pytest

from brewhygiene.release.gates import GATE_TITLES, Answer, gates_of
from brewhygiene.release.status import Code, Next, may_resanitise, status_of
from tests.release.situations.reading import situation
from tests.release.situations.words import shown

TABLE = Path(__file__).with_name("truth_table.csv")
COLUMNS = (
    "clean",
    "re-sanitise",
    "reading",
    "decision",
    "opening",
    "other",
    "now",
    "status",
    "since",
    "next",
    "due",
    "may re-sanitise",
    "checks not yes",
)
GROUPS = {
    "uncleaned": (
        "cleaned",
        "safety",
        "regime_strength",
        "deviations",
        "hold_time",
        "not_opened",
    ),
    "unsampled": (
        "sampled",
        "rinse_end",
        "control_check",
        "stick_in_date",
        "limits",
        "nothing_over_action",
        "alerts",
        "recovery",
    ),
}
# How each refusal of a re-sanitise begins.
WHY_NOT = {
    "yes": None,
    "not empty": "FV1 is in use.",
    "running": "A clean is running. Finish or stop it first.",
    "no clean": "No clean is finished yet. Clean the vessel first.",
    "action": "A reading is over the action limit. Re-clean the vessel instead.",
    "plate": "A positive plate is open. Re-clean the vessel instead.",
    "hold": "The vessel is held. Re-clean it or decide again.",
    "still counts": "The hold time has not passed.",
    "re-clean": "The clean-hold time has passed again since the re-sanitise.",
}


@dataclasses.dataclass(frozen=True)
class Row:
    line: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells[column]

    def __str__(self) -> str:
        return f"line {self.line}"


def read_table() -> list[Row]:
    rows = []
    for line, text in enumerate(TABLE.read_text("utf-8").splitlines(), 1):
        if not text.strip() or text.startswith("#"):
            continue
        cells = [cell.strip() for cell in text.split("|")]
        if tuple(cells) != COLUMNS:
            rows.append(Row(line, dict(zip(COLUMNS, cells, strict=True))))
    return rows


ROWS = read_table()


def expected_checks(cell: str) -> dict[str, str]:
    """The checks that do not answer yes, by code."""
    answers: dict[str, str] = {}
    for item in [] if cell == "-" else cell.split(", "):
        name, answer = item.split()
        for code in GROUPS.get(name, (name,)):
            assert code in GATE_TITLES
            answers[code] = answer
    return answers


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_row(row: Row) -> None:
    told = situation(
        cleans=row["clean"],
        resanitises=row["re-sanitise"],
        readings=row["reading"],
        decisions=row["decision"],
        openings=row["opening"],
        other=row["other"],
        now=row["now"],
    )
    status = status_of(told.facts, told.now)
    assert {
        "status": status.code.label,
        "since": shown(status.since),
        "next": status.next.value,
        "due": shown(status.due_at),
    } == {column: row[column] for column in ("status", "since", "next", "due")}

    why_not, expected = may_resanitise(told.facts, told.now), WHY_NOT[row["may re-sanitise"]]
    assert why_not is None if expected is None else (why_not or "").startswith(expected)

    if row["checks not yes"] == "none":
        assert told.dossier is None
        return
    gates = gates_of(told.dossier, brewery=told.brewery, now=told.now, user=told.signer)
    assert [gate.code for gate in gates] == list(GATE_TITLES)
    assert {
        gate.code: gate.answer.value for gate in gates if gate.answer != Answer.YES
    } == expected_checks(row["checks not yes"])
    assert all(gate.evidence for gate in gates)


def test_every_status_and_every_next_thing_to_do_has_its_rows() -> None:
    assert {row["status"] for row in ROWS} == {code.label for code in Code}
    # What an open entry permit does is in test_inside.
    assert {row["next"] for row in ROWS} == {what.value for what in Next} - {"permit"}
    assert {row["may re-sanitise"] for row in ROWS} == set(WHY_NOT)


def test_every_check_has_rows_for_each_answer_that_it_can_give() -> None:
    given = {answer for row in ROWS for answer in expected_checks_of(row).items()}
    explained = {"deviations", "dirty_hold", "rinse_end", "alerts", "recovery", "two_people"}
    refused = set(GATE_TITLES)
    assert given == {
        *((code, "explain") for code in explained),
        *((code, "no") for code in refused),
    }
    # And each is answered with yes, where everything else may be.
    assert any(row["checks not yes"] == "-" for row in ROWS)


def expected_checks_of(row: Row) -> dict[str, str]:
    return {} if row["checks not yes"] == "none" else expected_checks(row["checks not yes"])


def test_no_situation_stands_twice() -> None:
    told = COLUMNS[: COLUMNS.index("status")]
    situations = [tuple(row[column] for column in told) for row in ROWS]
    assert len(set(situations)) == len(situations)


@pytest.mark.parametrize(
    "cells",
    [
        {"cleans": "1:00 to 3:00"},
        {"cleans": "1:00-3:00", "readings": "Cone dirty 3:10"},
        {"cleans": "1:00-3:00", "other": "no caution acknowledgd 1"},
        {"cleans": "1:00-3:00", "other": "weaker regime 2"},
        {"cleans": "1:00-3:00", "decisions": "released 3:30"},
    ],
    ids=str,
)
def test_words_that_say_nothing_are_refused(cells: dict[str, str]) -> None:
    with pytest.raises((ValueError, KeyError)):
        situation(**cells, now="4:00")
