"""What holds for every test."""

from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import settings

# The first example pays for imports; a slow machine is no failure of the product.
settings.register_profile("house", deadline=None)
settings.load_profile("house")


BROWSER_TESTS = Path(__file__).parent / "browser"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if BROWSER_TESTS in item.path.parents:
            item.add_marker("browser")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """A skipped test is a failed one: what it needs is missing, and nobody would notice."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"Skipped, which counts as failed here: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a module that skips itself while it is read."""
    report = yield
    if report.skipped:
        report.outcome = "failed"
        report.longrepr = f"Skipped, which counts as failed here: {report.longrepr}"
    return report
