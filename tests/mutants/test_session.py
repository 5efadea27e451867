"""What is kept of the mutants from run to run, and what is said of it."""

import json
from pathlib import Path

import pytest

from tests.mutants import report
from tests.mutants import session as session_module
from tests.mutants.making import mutants_of
from tests.mutants.report import Entry
from tests.mutants.scope import ROOT, relative
from tests.mutants.session import (
    KILLED,
    SURVIVED,
    TIMED_OUT,
    Session,
    hash_of_tests,
    lines_now,
)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return Session(tmp_path / "mutants.sqlite3")


RULES = "brewhygiene/science/judging.py"


def kept(session: Session, *, tests_hash: str = "one") -> dict[str, str | None]:
    session.keep(mutants_of(ROOT / RULES), tests_hash=tests_hash)
    return {row["key"]: row["outcome"] for row in session.mutants()}


def test_a_run_goes_on_where_it_was_ended(session: Session) -> None:
    kept(session)
    first = session.claim([RULES])
    second = session.claim([RULES])
    assert first is not None
    assert second is not None
    assert first["key"] != second["key"]
    session.record(first["key"], SURVIVED, seconds=1)
    outcomes = kept(session)  # as the next call does; the second was never finished
    assert outcomes[first["key"]] == SURVIVED
    again = session.claim([RULES])
    assert again is not None
    assert again["key"] == second["key"]
    assert session.claim(["brewhygiene/release/status.py"]) is None


def test_a_survivor_is_run_again_when_tests_changed_and_a_killed_one_is_not(
    session: Session,
) -> None:
    kept(session)
    survivor, killed, late = (session.claim([RULES])["key"] for _ in range(3))
    session.record(survivor, SURVIVED, seconds=1)
    session.record(killed, KILLED, killed_by="tests/science/test_judging.py::test_a", seconds=1)
    session.record(late, TIMED_OUT, seconds=1)
    outcomes = kept(session, tests_hash="two")
    assert (outcomes[survivor], outcomes[killed], outcomes[late]) == (None, KILLED, None)
    session.db.execute("UPDATE mutant SET killer_hash = 'another' WHERE key = ?", (killed,))
    assert kept(session, tests_hash="three")[killed] is None
    session.record(killed, KILLED, killed_by="tests/science/test_judging.py::test_a", seconds=1)
    session.db.execute("UPDATE mutant SET source_hash = 'another' WHERE key = ?", (killed,))
    assert kept(session, tests_hash="three")[killed] is None


def test_a_survivor_meets_again_only_the_tests_that_changed(session: Session) -> None:
    kept(session)
    row = session.claim([RULES])
    assert row is not None
    here, other = "tests/science/test_judging.py", "tests/science/control/test_judging.py"
    session.record(row["key"], SURVIVED, seconds=1, withstood=[here, other])

    def withstood() -> set[str]:
        kept(session, tests_hash="two")
        again = next(r for r in session.mutants() if r["key"] == row["key"])
        assert again["outcome"] is None
        return session.withstood(again)

    assert withstood() == {here, other}
    for file in (here, "tests/gone.py"):
        files = json.dumps({file: "as it was", other: hash_of_tests(ROOT / other)})
        session.db.execute("UPDATE mutant SET withstood = ?", (files,))
        assert withstood() == {other}
    session.db.execute("UPDATE mutant SET source_hash = 'another'")
    assert withstood() == set()


def test_a_helper_beside_or_above_a_file_of_tests_is_part_of_what_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session_module, "ROOT", tmp_path)
    file = tmp_path / "tests/room/inner/test_a.py"
    file.parent.mkdir(parents=True)
    for path, counts in (
        ("room/inner/test_a.py", True),
        ("room/inner/scenes.py", True),
        ("room/inner/table.csv", True),
        ("room/conftest.py", True),
        ("room/inner/test_b.py", False),
        ("room/test_c.py", False),
        ("other/scenes.py", False),
    ):
        changed = tmp_path / "tests" / path
        changed.parent.mkdir(exist_ok=True)
        file.touch()
        before = hash_of_tests(file)
        changed.write_text("changed", "utf-8")
        assert (hash_of_tests(file) != before) is counts, path


def test_lines_are_followed_to_where_they_are_now() -> None:
    before, now = "a\nb\nc\nd", "x\na\nB\nBB\nd"
    assert lines_now(before, now) == {1: [2], 2: [3, 4], 3: [3, 4], 4: [5]}


def test_what_touches_a_line_is_kept_by_the_file_of_the_tests(session: Session) -> None:
    file = ROOT / "tests/science/test_judging.py"
    name = relative(file)
    assert session.files_to_measure([file]) == [file]
    session.keep_measured(
        [file],
        [(f"{name}::test_a", 0.1, True), (f"{name}::test_b", 0.2, False)],
        [(RULES, 5, [f"{name}::test_a", f"{name}::test_b"])],
    )
    assert session.files_to_measure([file]) == []
    assert session.tests() == {f"{name}::test_a": 0.1}
    assert session.covering(RULES, 4, 5) == {f"{name}::test_a", f"{name}::test_b"}
    assert session.covering(RULES, 6, 9) == set()
    assert session.files_to_measure([]) == []  # it is gone: nothing is known of it any more
    assert session.covering(RULES, 4, 5) == set()


# ---- what is said ----


def test_report_asks_for_every_survivor_and_for_no_other(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    kept(session)
    rows = session.mutants()
    for row in rows[1:]:
        session.record(row["key"], KILLED, seconds=1)
    session.record(rows[0]["key"], SURVIVED, seconds=1)
    first, second = (
        Entry(RULES, r["function"], r["before"], r["after"], "It says the same", r["nth"])
        for r in rows[:2]
    )
    gone = Entry(RULES, "judge_rlu", "x", "y", "It says the same")
    for listed, code, says in (
        ([first], 0, "1 survivors accounted for, 0 not"),
        ([], 1, "0 survivors accounted for, 1 not"),
        ([first, second], 1, "a test tells it from the rule"),
        ([first, gone], 1, "no such mutant"),
    ):
        monkeypatch.setattr(report, "entries", lambda listed=listed: listed)
        assert report.say(session, [RULES]) == code
        assert says in capsys.readouterr().out


def test_report_asks_for_at_least_95_percent(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    kept(session)
    rows = session.mutants()
    for row in rows:
        session.record(row["key"], KILLED, seconds=1)
    most = len(rows) - int(len(rows) * 0.05) - 1
    listed = []
    for row in rows[most:]:
        session.record(row["key"], SURVIVED, seconds=1)
        listed.append(
            Entry(
                RULES, row["function"], row["before"], row["after"], "The same by sums", row["nth"]
            )
        )
    monkeypatch.setattr(report, "entries", lambda: listed)
    assert most / len(rows) < 0.95
    assert report.say(session, [RULES]) == 1
    session.record(rows[most]["key"], KILLED, seconds=1)
    del listed[0]
    assert (most + 1) / len(rows) >= 0.95
    assert report.say(session, [RULES]) == 0
    session.db.execute("UPDATE mutant SET outcome = NULL WHERE key = ?", (rows[0]["key"],))
    assert report.say(session, [RULES]) == 1
    assert "1 mutants not run" in capsys.readouterr().out
