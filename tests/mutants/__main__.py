"""``python -m tests.mutants``: makes the mutants, runs them, and says what survives."""

import argparse
import dataclasses
import fnmatch
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from tests.mutants import report
from tests.mutants.making import MODULE_LEVEL, Mutant, mutants_of
from tests.mutants.running import (
    AT_ONCE_S,
    LISTED_S,
    LONGEST_WAIT,
    TESTS_S,
    Measure,
    Outcome,
    Single,
    Zygote,
    allow,
    ended_by_limit,
    substituted,
)
from tests.mutants.scope import PACKAGE, ROOT, files_of_tests, is_near, modules, names, relative
from tests.mutants.session import KILLED, SURVIVED, TIMED_OUT, Session, hash_of

PYTEST = ["-q", "--tb=no", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not browser"]
PYTEST += ["--no-header", "--no-summary", "--show-capture=no"]


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("only", nargs="*", help="modules, such as 'release/*' or atp/actions.py")
    parser.add_argument("--jobs", type=int, default=2, help="processes (2)")
    parser.add_argument("--minutes", type=float, default=175, help="stop after this long (175)")
    parser.add_argument("--fresh", action="store_true", help="forget what earlier runs found")
    parser.add_argument("--report", action="store_true", help="only say what is known")
    parser.add_argument("--measure", nargs="+", help=argparse.SUPPRESS)
    parser.add_argument("--work", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--until", type=float, help=argparse.SUPPRESS)
    parser.add_argument("--single", nargs=5, help=argparse.SUPPRESS)
    given = parser.parse_args()
    os.chdir(ROOT)
    if given.single:
        return single(*given.single)
    if given.measure:
        return measure([ROOT / name for name in given.measure])
    until = given.until or time.time() + given.minutes * 60
    wanted = [relative(path) for path in modules() if _wanted(path, given.only)]
    if given.work:
        return work(wanted, until=until)
    session = Session()
    if given.fresh:
        session.forget()
    session.follow(relative(path) for path in modules())
    session.keep([m for path in modules() for m in mutants_of(path)], tests_hash=tests_hash())
    if not given.report:
        _measure_all(session, jobs=given.jobs)
        _work_all(given.only, jobs=given.jobs, until=until)
    return report.say(session, wanted)


def _wanted(path: Path, only: list[str]) -> bool:
    name = path.relative_to(PACKAGE).as_posix()
    return not only or any(fnmatch.fnmatch(name, pattern) for pattern in only)


def tests_hash() -> str:
    """Of every test that is run, and of what all tests share."""
    shared = (ROOT / "tests").glob("*.py")
    beside = {
        p for f in files_of_tests() for p in f.parent.glob("*") if p.suffix in (".py", ".csv")
    }
    return hash_of(*sorted({*shared, *beside}))


def _measure_all(session: Session, *, jobs: int) -> None:
    files = session.files_to_measure(files_of_tests())
    if not files:
        return
    print(f"Which tests touch which line: {len(files)} files of tests", flush=True)
    # The largest first, so that no process is left with much when the others are done.
    files.sort(key=lambda file: -file.stat().st_size)
    _processes(
        [["--measure", *map(relative, part)] for n in range(jobs) if (part := files[n::jobs])]
    )


def _work_all(only: list[str], *, jobs: int, until: float) -> None:
    arguments = [*only, "--work", "--until", str(until)]
    _processes([arguments for _ in range(jobs)])
    if time.time() > until:
        print("Out of time; the next call goes on from here.", flush=True)


def _processes(arguments: list[list[str]]) -> None:
    running = [subprocess.Popen([sys.executable, "-m", "tests.mutants", *one]) for one in arguments]
    codes = [process.wait() for process in running]
    if any(codes):
        raise SystemExit("A process of this run has failed; see above.")


# ---- in processes of their own ----


def measure(files: list[Path]) -> int:
    plugin = Measure(modules())
    pytest.main([*PYTEST, *map(relative, files)], plugins=[plugin])
    Session().keep_measured(files, plugin.tests, plugin.lines)
    return 0


@cache
def sources(module: str) -> dict[str, Mutant]:
    return {mutant.key: mutant for mutant in mutants_of(ROOT / module)}


@dataclasses.dataclass(frozen=True)
class Chosen:
    """The tests to run against a mutant, their seconds, and the files that then are behind it.

    ``anew``: everything has to be imported again, since the mutant is run while that is done.
    """

    nodes: list[str]
    seconds: float
    files: set[str]
    anew: bool


def chosen_tests(session: Session, mutant: Mutant, withstood: set[str]) -> Chosen:
    """The tests that touch a mutant's lines, likely and quick ones first.

    Left out are those in files that it has ``withstood``.
    """
    known = session.tests()
    covering = session.covering(mutant.module, mutant.first_line, mutant.last_line)
    # What no test touches is run while the module is imported, before any test, if ever.
    anew = mutant.function == MODULE_LEVEL or not covering
    if anew:
        covering = session.covering(mutant.module, 0, 1_000_000)
    touching = {node for node in covering if node in known and file_of(node) not in withstood}
    deadly = [n for n in session.killers(mutant.module, mutant.function) if n in touching]
    # The other arguments of a test that kills at the same place may find what these do not.
    kin = {node.partition("[")[0] for node in deadly}
    # One set of arguments of each test before the others of the same, which see much alike; but
    # first what takes no time at all.
    seen: Counter[str] = Counter()
    turns = {}
    for node in sorted(touching, key=lambda node: (known[node], node)):
        name = node.partition("[")[0]
        seen[name] += 1
        turns[node] = seen[name]
    quick = sorted(
        touching - set(deadly),
        key=lambda node: (
            known[node] > 1,
            node.partition("[")[0] not in kin,
            not is_near(node, mutant.module),
            known[node] > AT_ONCE_S,
            not names(file_of(node), mutant.module),
            turns[node],
            known[node],
        ),
    )
    most = LISTED_S if mutant.key in listed() else TESTS_S
    chosen, seconds = [], 0.0
    for node in [*deadly, *quick]:
        if seconds + known[node] <= most:
            chosen.append(node)
            seconds += known[node]
    left = {file_of(node) for node in touching.difference(chosen)}
    files = withstood | {file_of(node) for node in chosen} - left
    return Chosen(chosen, seconds, files, anew)


@cache
def listed() -> frozenset[str]:
    return frozenset(entry.key for entry in report.entries())


def file_of(node: str) -> str:
    return node.split("::")[0]


def work(wanted: list[str], *, until: float) -> int:
    session = Session()
    # The tests' own clock says nothing of how long this may go on.
    ends = time.monotonic() + until - time.time()

    def one(zygote: Zygote, mutant: Mutant, chosen: Chosen) -> Outcome:
        if not chosen.nodes:
            return Outcome(SURVIVED)
        allowed = 20 + 6 * chosen.seconds
        if not chosen.anew:
            found = zygote.run(ROOT / mutant.module, mutant.source, chosen.nodes, allowed)
            if found.outcome != "cannot be swapped":
                return found
        return apart(mutant, chosen.nodes, allowed + 60, zygote.pristine)

    def loop(zygote: Zygote) -> None:
        while time.monotonic() < ends and (row := session.claim(wanted)) is not None:
            mutant, began = sources(row["module"])[row["key"]], time.monotonic()
            chosen = chosen_tests(session, mutant, session.withstood(row))
            found = one(zygote, mutant, chosen)
            session.record(
                mutant.key,
                found.outcome,
                killed_by=found.killed_by,
                seconds=time.monotonic() - began,
                withstood=chosen.files if found.outcome == SURVIVED else (),
            )
            if found.outcome != KILLED:
                print(f"{found.outcome} {found.killed_by}\n{mutant}", flush=True)

    # Uncaptured: what survives is printed at once, and each child is silent by itself.
    arguments = [*PYTEST, "-s", *map(relative, files_of_tests())]
    return int(pytest.main(arguments, plugins=[Zygote(loop)]))


def apart(mutant: Mutant, nodes: list[str], seconds: float, pristine: Path) -> Outcome:
    """Run tests against a mutant in a process that imports everything anew."""
    with tempfile.TemporaryDirectory() as folder:
        source, told = Path(folder, "source.py"), Path(folder, "told")
        source.write_text(mutant.source, "utf-8")
        source.with_name("nodes").write_text("\n".join(nodes), "utf-8")
        arguments = ["--single", mutant.module, str(source), str(told), str(pristine), str(seconds)]
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.mutants", *arguments],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            stdin=subprocess.DEVNULL,
        )
        try:
            code = process.wait(seconds * LONGEST_WAIT)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            return Outcome(TIMED_OUT)
        if ended_by_limit(code):
            return Outcome(TIMED_OUT)
        text = told.read_text("utf-8") if told.exists() else "it cannot be imported"
    return Outcome(SURVIVED) if text == "=survived" else Outcome(KILLED, text)


def single(module: str, source: str, told: str, pristine: str, seconds: str) -> int:
    allow(float(seconds))
    nodes = Path(source).with_name("nodes").read_text("utf-8").splitlines()
    files = sorted({node.split("::")[0] for node in nodes})
    with substituted(ROOT / module, Path(source).read_text("utf-8")):
        plugin = Single(nodes, Path(told), Path(pristine))
        pytest.main([*PYTEST, "--reuse-db", *files], plugins=[plugin])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
