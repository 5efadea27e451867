"""Running tests against mutants: pytest plugins that measure, and that fork for each mutant.

Django is set up and the database migrated once in a parent process; each mutant is a child of it
on a copy of that database. The code of the mutated function is put into the function that
everybody has imported already. What runs only while a module is imported (constants, fields,
decorators) is mutated in a process of its own, which reads the mutated source instead.
"""

import contextlib
import dataclasses
import gc
import importlib.abc
import importlib.machinery
import math
import os
import resource
import select
import shutil
import signal
import sys
import time
import types
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mutants.scope import ROOT

# A mutant is given up as surviving once its tests would take longer than this. All seconds are the
# processor's, so that a machine with other work on it finds the same.
TESTS_S = 120.0
# The same for one that is listed as equivalent: only the likeliest tests are asked again.
LISTED_S = 10.0
# A test that needs no database is over at once.
AT_ONCE_S = 0.05
# One that waits and does nothing is given up after this many times its seconds on the clock.
LONGEST_WAIT = 20


def allow(seconds: float) -> None:
    """Let this process use the processor for so long; the system then ends it."""
    limit = math.ceil(seconds + time.process_time())
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def ended_by_limit(code: int) -> bool:
    """Whether a process that ended with this code had used up what it was allowed."""
    return code == -signal.SIGXCPU


class Runs:
    """Runs single tests, as pytest does, and knows whether they failed."""

    failed = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.failed = self.failed or report.failed

    def run_test(self, item: pytest.Item, following: object) -> bool:
        """Whether a test passes, with all that is set up and torn down for it."""
        self.failed = False
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        return not self.failed

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self, session: pytest.Session) -> None:
        from hypothesis import Phase, settings

        # Nothing is shrunk or remembered, and the same examples are tried each time.
        settings.register_profile(
            "mutants",
            deadline=None,
            database=None,
            derandomize=True,
            phases=[Phase.explicit, Phase.generate],
        )
        settings.load_profile("mutants")


class Nothing:
    """What comes after the last test: everything but the session is torn down."""

    def __init__(self, session: pytest.Session) -> None:
        self.session = session

    def listchain(self) -> list[pytest.Collector]:
        return [self.session]


class Measure(Runs):
    """Runs every test once and notes its time and the lines of the modules that it touches."""

    def __init__(self, modules: list[Path]) -> None:
        self.modules = modules
        self.tests: list[tuple[str, float, bool]] = []
        self.lines: list[tuple[str, int, list[str]]] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        import coverage

        cover = coverage.Coverage(
            data_file=None, include=[str(path) for path in self.modules], config_file=False
        )
        cover.start()
        for place, item in enumerate(session.items):
            following = session.items[place + 1] if place + 1 < len(session.items) else None
            cover.switch_context(item.nodeid)
            began = time.process_time()
            passed = self.run_test(item, following)
            self.tests.append((item.nodeid, time.process_time() - began, passed))
            if not passed:
                sys.stderr.write(f"fails without any mutant: {item.nodeid}\n")
        cover.stop()
        data = cover.get_data()
        for path in self.modules:
            contexts = data.contexts_by_lineno(str(path))
            self.lines += [
                (path.relative_to(ROOT).as_posix(), line, [name for name in nodes if name])
                for line, nodes in sorted(contexts.items())
            ]
        return True


@dataclasses.dataclass(frozen=True)
class Outcome:
    outcome: str  # "killed", "survived", "timed out" or "cannot be swapped"
    killed_by: str = ""


class Zygote(Runs):
    """Has everything collected and the database ready, and forks a child for each mutant."""

    def __init__(self, work) -> None:  # type: ignore[no-untyped-def]
        self.work = work  # called with this once it is ready
        self.items: dict[str, pytest.Item] = {}
        self.functions: dict[tuple[str, str, int], list[types.FunctionType]] = {}

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.session = session
        self.items = {item.nodeid: item for item in session.items}
        self._warm_up()
        for found in gc.get_objects():
            # By its type alone: `isinstance` would ask a lazy object for its class, and wake it.
            if type(found) is types.FunctionType:
                code = found.__code__
                place = (code.co_filename, code.co_qualname, code.co_firstlineno)
                self.functions.setdefault(place, []).append(found)
        self.work(self)
        return True

    def _warm_up(self) -> None:
        """The first test with a database has it made; a copy is kept for every child."""
        from django.db import connection

        item = next(item for item in self.session.items if _in_transaction(item))
        if not self.run_test(item, Nothing(self.session)):
            raise RuntimeError(f"{item.nodeid} fails without any mutant.")
        self.database = Path(connection.settings_dict["NAME"])
        connection.close()
        self.copy = self.database.with_name("child.sqlite3")
        self.pristine = self.database.with_name("pristine.sqlite3")
        shutil.copy(self.database, self.pristine)

    def run(self, module: Path, source: str, nodes: list[str], seconds: float) -> Outcome:
        """Run tests against a mutant in a child until one fails, or its ``seconds`` are used."""
        shutil.copy(self.pristine, self.copy)
        for extra in ("-wal", "-shm"):
            Path(f"{self.copy}{extra}").unlink(missing_ok=True)
        reading, writing = os.pipe()
        sys.stdout.flush()
        sys.stderr.flush()
        child = os.fork()
        if child == 0:
            os.close(reading)
            allow(seconds)
            self._be_child(module, source, nodes, writing)
        os.close(writing)
        try:
            return self._wait(child, reading, seconds * LONGEST_WAIT)
        finally:
            os.close(reading)

    def _wait(self, child: int, reading: int, seconds: float) -> Outcome:
        until, told = time.monotonic() + seconds, b""
        while True:
            ready, _, _ = select.select([reading], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                os.kill(child, signal.SIGKILL)
                break
            part = os.read(reading, 65536)
            told += part
            if not part:
                break
        _, status = os.waitpid(child, 0)
        lines = told.decode().splitlines()
        if not ready or ended_by_limit(os.waitstatus_to_exitcode(status)):
            return Outcome("timed out", lines[-1].partition(" ")[2] if lines else "")
        if lines and lines[-1].startswith("="):
            outcome, _, killed_by = lines[-1][1:].partition(" ")
            return Outcome(outcome.replace("_", " "), killed_by)
        # It died: by a signal, or by leaving the interpreter.
        return Outcome("killed", lines[-1].partition(" ")[2] if lines else "")

    def _be_child(self, module: Path, source: str, nodes: list[str], writing: int) -> None:
        """Never returns."""

        def tell(text: str) -> None:
            os.write(writing, f"{text}\n".encode())

        try:
            null = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(null, stream)
            from django.db import connection

            connection.settings_dict["NAME"] = str(self.copy)
            if not self._swap(module, source):
                tell("=cannot_be_swapped")
                os._exit(0)
            for node in nodes:
                tell(f"> {node}")
                if not self.run_test(self.items[node], Nothing(self.session)):
                    tell(f"=killed {node}")
                    os._exit(0)
            tell("=survived")
        except BaseException as error:  # noqa: BLE001
            tell(f"=killed {type(error).__name__}")
        os._exit(0)

    def _swap(self, module: Path, source: str) -> bool:
        """Give the functions that are mutated their new code."""
        new = {
            (code.co_qualname, code.co_firstlineno): code
            for code in _codes(compile(source, str(module), "exec"))
        }
        swapped = False
        for code in _codes(compile(module.read_text("utf-8"), str(module), "exec")):
            mutated = new.get((code.co_qualname, code.co_firstlineno))
            functions = self.functions.get((str(module), code.co_qualname, code.co_firstlineno))
            if mutated is None or mutated == code or not functions:
                continue
            for function in functions:
                if function.__code__.co_freevars != mutated.co_freevars:
                    return False
                function.__code__ = mutated
                swapped = True
        return swapped


def _in_transaction(item: pytest.Item) -> bool:
    """Whether a test uses the database in a transaction that is taken back."""
    marker = item.get_closest_marker("django_db")
    return marker is not None and not marker.kwargs.get("transaction")


def _codes(code: types.CodeType) -> Iterator[types.CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            yield constant
            yield from _codes(constant)


# ---- a process of its own ----


class MutatedLoader(importlib.machinery.SourceFileLoader):
    """Loads a module from another source."""

    mutated: bytes = b""

    def get_data(self, path: str | bytes) -> bytes:  # type: ignore[override]
        return self.mutated if str(path).endswith(".py") else super().get_data(path)  # type: ignore[arg-type]

    def get_code(self, fullname: str) -> types.CodeType:
        return compile(self.mutated, self.path, "exec", dont_inherit=True)


class Substitute(importlib.abc.MetaPathFinder):
    """Finds one module before the usual finders do, with its mutated source."""

    def __init__(self, module: Path, source: str) -> None:
        self.module, self.source = module, source
        self.name = ".".join(module.relative_to(ROOT).with_suffix("").parts)

    def find_spec(self, fullname, path=None, target=None):  # type: ignore[no-untyped-def]
        if fullname != self.name:
            return None
        loader = MutatedLoader(fullname, str(self.module))
        loader.mutated = self.source.encode()
        return importlib.machinery.ModuleSpec(
            fullname, loader, origin=str(self.module), is_package=False
        )


class Single(Runs):
    """Runs chosen tests until one fails, and writes down which."""

    def __init__(self, nodes: list[str], told: Path, pristine: Path) -> None:
        self.nodes, self.told, self.pristine = nodes, told, pristine

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        from django.db import connection

        # Made already, so that it need not be migrated once more.
        shutil.copy(self.pristine, connection.settings_dict["TEST"]["NAME"])
        items = {item.nodeid: item for item in session.items}
        for node in self.nodes:
            if node not in items:
                continue
            if not self.run_test(items[node], Nothing(session)):
                self.told.write_text(node)
                return True
        self.told.write_text("=survived")
        return True


@contextlib.contextmanager
def substituted(module: Path, source: str) -> Iterator[None]:
    finder = Substitute(module, source)
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path.remove(finder)
