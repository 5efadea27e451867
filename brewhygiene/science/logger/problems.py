"""What stops a logger file from being read, in the words of the one who sends it."""

import dataclasses

NAMED = 5  # cells listed before the rest is only counted


@dataclasses.dataclass(frozen=True)
class BadCell:
    """A cell that could not be read: its row in the file from 1, its column, and why."""

    row: int
    column: str
    text: str
    why: str

    def __str__(self) -> str:
        shown = self.text if len(self.text) <= 40 else self.text[:39] + "…"
        return f"row {self.row}, “{self.column}”: “{shown}” {self.why}"


class LoggerFileUnreadable(ValueError):
    """A logger file that cannot be read as it is; nothing of it is kept.

    The message says what is wrong and what to do. ``cells`` names the first few cells of which
    ``count`` are bad so far; ``field`` is the part of the mapping that it is about, if any.
    """

    def __init__(
        self,
        message: str,
        *,
        field: str = "",
        cells: tuple[BadCell, ...] = (),
        count: int = 0,
    ) -> None:
        super().__init__(message)
        self.field = field
        self.cells = cells
        self.count = count


def cells_unreadable(cells: list[BadCell], *, advice: str) -> LoggerFileUnreadable:
    """The refusal of a file with ``cells`` that are bad, naming the first few, with ``advice``."""
    named = tuple(cells[:NAMED])
    more = len(cells) - len(named)
    listed = "; ".join(str(cell) for cell in named)
    rest = f"; and {more} more in the same part of the file" if more else ""
    what = "One cell" if len(cells) == 1 else f"{len(cells)} cells"
    return LoggerFileUnreadable(
        f"{what} cannot be read: {listed}{rest}. {advice}", cells=named, count=len(cells)
    )
