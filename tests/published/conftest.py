"""Checks against the world outside: each compares a number of ours with one found elsewhere.

A source says what was read, what is from memory, and where there is none. ``make checks``
prints every comparison as a table.
"""

from collections.abc import Callable
from typing import Any

import pytest

ROW = "published"


@pytest.fixture
def published(request: pytest.FixtureRequest) -> Callable[..., None]:
    """``published(quantity, ours, theirs, source, tolerance)``: assert, and keep the row.

    The quantity's name carries its unit. ``tolerance`` is absolute; without it, the two have
    to be equal.
    """

    def compare(
        quantity: str, ours: Any, theirs: Any, source: str, tolerance: float | None = None
    ) -> None:
        assert source.strip(), "A published value names its source."
        agrees = ours == theirs if tolerance is None else abs(ours - theirs) <= tolerance
        within = "" if tolerance is None else f"{tolerance:.2g}"
        request.node.user_properties.append(
            (
                ROW,
                [quantity, _shown(ours), _shown(theirs), _apart(ours, theirs), within, agrees,
                 source],
            )
        )  # fmt: skip
        assert agrees, f"{quantity}: ours {ours}, published {theirs} ({source})"

    return compare


def _shown(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _apart(ours: Any, theirs: Any) -> str:
    """How far ours lies from theirs; nothing where the two are no numbers."""
    if not all(isinstance(value, int | float) for value in (ours, theirs)):
        return ""
    # Beyond nine digits it is the machine's, not ours.
    return f"{ours - theirs:+.2g}" if abs(ours - theirs) > 1e-9 * abs(theirs) else "0"


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """The table of all comparisons, when asked for more than dots."""
    if terminalreporter.config.get_verbosity() < 1:
        return
    rows = [
        row
        for outcome in ("passed", "failed")
        for report in terminalreporter.stats.get(outcome, [])
        for name, row in report.user_properties
        if name == ROW
    ]
    if not rows:
        return
    terminalreporter.section("ours against published")
    head = ("quantity", "ours", "published", "difference", "±", "")
    table = [head, *((*row[:5], "agrees" if row[5] else "DIFFERS") for row in rows)]
    widths = [max(len(line[column]) for line in table) for column in range(len(head))]
    sources = ["source", *(row[6] for row in rows)]
    for line, source in zip(table, sources, strict=True):
        cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        terminalreporter.write_line("  ".join((*cells, source)))
