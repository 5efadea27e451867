"""Which tests are run against a mutant, and in what order."""

from pathlib import Path

import pytest

from tests.mutants import __main__ as running
from tests.mutants.making import mutants_of
from tests.mutants.report import Entry
from tests.mutants.scope import ROOT
from tests.mutants.session import KILLED, Session

RULES = "brewhygiene/science/judging.py"
NEAR, FAR = "tests/science/test_judging.py", "tests/atp/test_actions.py"
NEAR_TOO = "tests/science/control/test_judging.py"
MUTANT = mutants_of(ROOT / RULES)[0]


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return Session(tmp_path / "mutants.sqlite3")


def measured(session: Session, file: str, **seconds: float) -> list[str]:
    """Tests of a file that all touch the mutant's line, with their seconds."""
    nodes = {f"{file}::test_{name}": took for name, took in seconds.items()}
    session.keep_measured(
        [ROOT / file],
        [(node, took, True) for node, took in nodes.items()],
        [(RULES, MUTANT.first_line, list(nodes))],
    )
    return list(nodes)


def chosen(session: Session, *withstood: str) -> list[str]:
    return [
        node.partition("::test_")[2]
        for node in running.chosen_tests(session, MUTANT, set(withstood)).nodes
    ]


def test_the_rooms_own_tests_come_first_the_quick_before_the_slow(session: Session) -> None:
    measured(session, NEAR, b=0.2, a=0.1, slow=3.0, **{"c[1]": 0.08, "c[2]": 0.09})
    measured(session, NEAR_TOO, **{"e[1]": 0.01, "e[2]": 0.02})
    measured(session, FAR, d=0.001)
    # What takes no time, then one set of arguments of each before the others; what takes long
    # comes last.
    assert chosen(session) == ["e[1]", "e[2]", "c[1]", "a", "b", "c[2]", "d", "slow"]


def test_what_has_killed_in_the_same_function_is_asked_before_all(session: Session) -> None:
    measured(session, NEAR, a=0.1, slow=3.0)
    session.keep([MUTANT], tests_hash="one")
    session.record(MUTANT.key, KILLED, killed_by=f"{NEAR}::test_slow", seconds=1)
    assert chosen(session) == ["slow", "a"]
    measured(session, FAR, **{"c[1]": 0.1, "c[2]": 0.2})
    session.record(MUTANT.key, KILLED, killed_by=f"{FAR}::test_c[2]", seconds=1)
    # The other arguments of the same test come next.
    assert chosen(session) == ["c[2]", "c[1]", "a", "slow"]


def test_a_file_that_was_withstood_is_not_asked_again(session: Session) -> None:
    measured(session, NEAR, a=0.1)
    measured(session, FAR, d=0.1)
    assert chosen(session, NEAR) == ["d"]
    found = running.chosen_tests(session, MUTANT, {NEAR})
    assert found.files == {NEAR, FAR}
    assert running.chosen_tests(session, MUTANT, {NEAR, FAR}).nodes == []


def test_a_file_is_withstood_once_all_its_tests_were_asked(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    measured(session, NEAR, a=0.1, b=0.2)
    measured(session, FAR, d=running.TESTS_S)
    found = running.chosen_tests(session, MUTANT, set())
    assert (chosen(session), found.files) == (["a", "b"], {NEAR})
    assert found.seconds == pytest.approx(0.3)
    monkeypatch.setattr(running, "TESTS_S", 0.25)
    # Half of a file is none of it: the next call goes on with all of it.
    assert (chosen(session), running.chosen_tests(session, MUTANT, set()).files) == (["a"], set())


def test_a_mutant_that_is_listed_as_equivalent_is_asked_less(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    measured(session, NEAR, a=0.1, long=running.LISTED_S)
    assert chosen(session) == ["a", "long"]
    entry = Entry(RULES, MUTANT.function, MUTANT.before, MUTANT.after, "The same", MUTANT.nth)
    monkeypatch.setattr(running, "listed", lambda: {entry.key})
    assert chosen(session) == ["a"]


def test_tests_that_fail_by_themselves_say_nothing(session: Session) -> None:
    session.keep_measured(
        [ROOT / NEAR],
        [(f"{NEAR}::test_red", 0.1, False), (f"{NEAR}::test_green", 0.1, True)],
        [(RULES, MUTANT.first_line, [f"{NEAR}::test_red", f"{NEAR}::test_green"])],
    )
    assert chosen(session) == ["green"]


def test_what_is_run_only_on_import_is_imported_anew_for_the_tests_of_its_module(
    session: Session,
) -> None:
    measured(session, NEAR, a=0.1)
    assert not running.chosen_tests(session, MUTANT, set()).anew
    session.db.execute("UPDATE cover SET line = ?", (MUTANT.last_line + 1,))
    found = running.chosen_tests(session, MUTANT, set())
    assert (found.anew, chosen(session)) == (True, ["a"])
