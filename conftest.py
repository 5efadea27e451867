"""The suite's clock, for every test and every doctest of the project: see ``tests/clock``."""

import sys
from collections.abc import Iterator
from contextlib import ExitStack

import pytest

from tests import clock, factories


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--every-hour",
        action="store_true",
        help="run the tests marked `instants` or `hourly` at every hour of a week",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Set the clock before anything is collected: modules read it too, as they are loaded."""
    shares = getattr(config.option, "dist", "no") != "no" and not hasattr(config, "workerinput")
    if not shares:  # the process that only hands out tests starts the ones that run them
        setting = ExitStack()
        setting.enter_context(clock.standing_at(clock.USUAL))
        config.add_cleanup(setting.close)
        sys.addaudithook(clock.refuse_processes_without_it)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    every_hour = metafunc.config.getoption("--every-hour")
    marks = ("instants", "hourly") if every_hour else ("instants",)
    if any(metafunc.definition.get_closest_marker(mark) for mark in marks):
        instants = clock.hours_of_a_week() if every_hour else clock.INSTANTS
        metafunc.parametrize(
            "suite_clock", instants, indirect=True, ids=[instant.name for instant in instants]
        )


@pytest.fixture(autouse=True)
def suite_clock(request: pytest.FixtureRequest) -> Iterator[None]:
    """The test's own time, standing still, or ticking where there is a browser to wait for."""
    instant = getattr(request, "param", clock.USUAL)
    ticking = request.node.get_closest_marker("browser") is not None
    with clock.standing_at(instant, ticking=ticking):
        yield


@pytest.fixture(autouse=True)
def serial_numbers() -> None:
    """What the factories call things does not depend on the tests that ran before."""
    factories.count_from_one()


@pytest.fixture(scope="session", autouse=True)
def _tests_may_flush() -> None:
    """The database refuses to lose evidence; between tests it has to be emptied all the same."""
    from tests.evidence import let_flush  # it imports models, which need the settings first

    let_flush()


@pytest.fixture(scope="session", autouse=True)
def _database_is_copied() -> Iterator[None]:
    """Migrated once, put back by copying, where the tests run on SQLite."""
    from tests import migrated  # it imports models, which need the settings first

    with pytest.MonkeyPatch.context() as patch:
        migrated.use(patch)
        yield
