"""What is known of every mutant, kept in a file, so that a run goes on where it was ended."""

import difflib
import hashlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from pathlib import Path

from tests.mutants.making import Mutant
from tests.mutants.scope import ROOT

FILE = ROOT / "var" / "mutants.sqlite3"
SCHEMA = """
CREATE TABLE IF NOT EXISTS mutant (
    key TEXT PRIMARY KEY, place INTEGER, module TEXT, function TEXT, before TEXT, after TEXT,
    nth INTEGER, first_line INTEGER, source_hash TEXT, tests_hash TEXT,
    outcome TEXT, killed_by TEXT, killer_hash TEXT, seconds REAL, claimed INTEGER,
    withstood TEXT
);
CREATE TABLE IF NOT EXISTS test (node TEXT PRIMARY KEY, file TEXT, seconds REAL, passed INTEGER);
CREATE TABLE IF NOT EXISTS file (file TEXT PRIMARY KEY, hash TEXT);
CREATE TABLE IF NOT EXISTS source (module TEXT PRIMARY KEY, text TEXT);
CREATE TABLE IF NOT EXISTS cover (
    module TEXT, line INTEGER, file TEXT, nodes TEXT, PRIMARY KEY (module, line, file)
);
"""
KILLED, SURVIVED, TIMED_OUT = "killed", "survived", "timed out"


def hash_of(*paths: Path) -> str:
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def hash_of_tests(file: Path) -> str:
    """Of a file of tests with what stands beside and above it in its room for it to use."""
    room = (ROOT / "tests").resolve()
    beside = {
        path
        for folder in file.parents
        if room in folder.parents
        for path in folder.iterdir()
        if path.suffix in (".py", ".csv") and not path.name.startswith("test_")
    }
    return hash_of(file, *sorted(beside))


class Session:
    """The file; several processes may have it open."""

    def __init__(self, file: Path = FILE) -> None:
        file.parent.mkdir(parents=True, exist_ok=True)
        self.db = sqlite3.connect(file, timeout=120, isolation_level=None)
        self.db.row_factory = sqlite3.Row
        self.db.execute("PRAGMA journal_mode=WAL")
        self.db.executescript(SCHEMA)
        columns = {row["name"] for row in self.db.execute("PRAGMA table_info(mutant)")}
        if "withstood" not in columns:  # a file of before it was kept
            self.db.execute("ALTER TABLE mutant ADD COLUMN withstood TEXT")

    def forget(self) -> None:
        self.db.executescript(
            "DELETE FROM mutant; DELETE FROM test; DELETE FROM file; DELETE FROM source;"
            "DELETE FROM cover;"
        )

    # ---- mutants ----

    def keep(self, mutants: Sequence[Mutant], *, tests_hash: str) -> None:
        """Write all mutants down; what is known of one stays while nothing changed.

        One that was killed stays killed while its module and the killing test's file are as
        they were; one that survived, while every test is. What it withstood is kept while its
        module is as it was, so that only the tests that changed are run against it again.
        """
        known = {row["key"]: row for row in self.db.execute("SELECT * FROM mutant")}
        hashes = {module: hash_of(ROOT / module) for module in {m.module for m in mutants}}
        self.db.execute("BEGIN IMMEDIATE")
        self.db.execute("DELETE FROM mutant")
        for place, mutant in enumerate(mutants):
            row, source_hash = known.get(mutant.key), hashes[mutant.module]
            stays = row is not None and self._stays(row, source_hash, tests_hash)
            kept = (
                (row["outcome"], row["killed_by"], row["killer_hash"], row["seconds"])
                if row is not None and stays
                # Who killed it before is the first to be asked again.
                else (None, row["killed_by"] if row is not None else None, None, None)
            )
            same_rule = row is not None and row["source_hash"] == source_hash
            self.db.execute(
                "INSERT INTO mutant VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, NULL, ?)",
                (
                    mutant.key,
                    place,
                    mutant.module,
                    mutant.function,
                    mutant.before,
                    mutant.after,
                    mutant.nth,
                    mutant.first_line,
                    source_hash,
                    tests_hash,
                    *kept,
                    row["withstood"] if row is not None and same_rule else None,
                ),
            )
        self.db.execute("COMMIT")

    @staticmethod
    def _stays(row: sqlite3.Row, source_hash: str, tests_hash: str) -> bool:
        if row["outcome"] is None or row["source_hash"] != source_hash:
            return False
        if row["tests_hash"] == tests_hash:
            return True
        if row["outcome"] != KILLED or "::" not in (row["killed_by"] or ""):
            return False
        file = ROOT / row["killed_by"].split("::")[0]
        return file.is_file() and hash_of(file) == row["killer_hash"]

    def claim(self, modules: Sequence[str]) -> sqlite3.Row | None:
        """The next mutant that nothing is known of, which no other process then gets."""
        marks = ",".join("?" * len(modules))
        found = self.db.execute(
            "UPDATE mutant SET claimed = 1 WHERE key = (SELECT key FROM mutant"  # noqa: S608
            f" WHERE outcome IS NULL AND claimed IS NULL AND module IN ({marks})"
            " ORDER BY place LIMIT 1) RETURNING *",
            modules,
        ).fetchall()
        return found[0] if found else None

    def record(
        self,
        key: str,
        outcome: str,
        *,
        killed_by: str = "",
        seconds: float,
        withstood: Iterable[str] = (),
    ) -> None:
        """``withstood``: the files of tests all of whose tests that touch it have passed."""
        file = ROOT / killed_by.split("::")[0] if "::" in killed_by else None
        files = {name: hash_of_tests(ROOT / name) for name in withstood}
        self.db.execute(
            "UPDATE mutant SET outcome = ?, killed_by = ?, killer_hash = ?, seconds = ?,"
            " withstood = ? WHERE key = ?",
            (outcome, killed_by, hash_of(file) if file else "", seconds, json.dumps(files), key),
        )

    @staticmethod
    def withstood(row: sqlite3.Row) -> set[str]:
        """The files of tests that a mutant has withstood as they are now."""
        files: dict[str, str] = json.loads(row["withstood"] or "{}")
        return {
            name
            for name, known in files.items()
            if (ROOT / name).exists() and hash_of_tests(ROOT / name) == known
        }

    def mutants(self) -> list[sqlite3.Row]:
        return self.db.execute("SELECT * FROM mutant ORDER BY place").fetchall()

    def killers(self, module: str, function: str) -> list[str]:
        """The tests that have killed most in a function, the most deadly first."""
        rows = self.db.execute(
            "SELECT killed_by FROM mutant WHERE module = ? AND function = ?"
            " AND killed_by LIKE '%::%' GROUP BY killed_by ORDER BY count(*) DESC LIMIT 8",
            (module, function),
        )
        return [row["killed_by"] for row in rows]

    # ---- which tests touch which line ----

    def files_to_measure(self, files: Iterable[Path]) -> list[Path]:
        """Those of the test files whose lines are not known as they are now."""
        files = list(files)
        known = dict(self.db.execute("SELECT file, hash FROM file").fetchall())
        names = {file.relative_to(ROOT).as_posix(): file for file in files}
        for gone in known.keys() - names.keys():
            self._forget_file(gone)
        return [file for name, file in names.items() if known.get(name) != hash_of(file)]

    def _forget_file(self, name: str) -> None:
        for table in ("test", "file", "cover"):
            self.db.execute(f"DELETE FROM {table} WHERE file = ?", (name,))  # noqa: S608

    def keep_measured(
        self,
        files: Iterable[Path],
        tests: Iterable[tuple[str, float, bool]],
        lines: Iterable[tuple[str, int, list[str]]],
    ) -> None:
        """``tests``: name, seconds, passed. ``lines``: module, line, the tests that touch it."""
        self.db.execute("BEGIN IMMEDIATE")
        for file in files:
            name = file.relative_to(ROOT).as_posix()
            self._forget_file(name)
            self.db.execute("INSERT INTO file VALUES (?, ?)", (name, hash_of(file)))
        self.db.executemany(
            "INSERT OR REPLACE INTO test VALUES (?, ?, ?, ?)",
            ((node, node.split("::")[0], seconds, passed) for node, seconds, passed in tests),
        )
        for module, line, nodes in lines:
            by_file: dict[str, list[str]] = {}
            for node in nodes:
                by_file.setdefault(node.split("::")[0], []).append(node)
            self.db.executemany(
                "INSERT OR REPLACE INTO cover VALUES (?, ?, ?, ?)",
                ((module, line, name, json.dumps(found)) for name, found in by_file.items()),
            )
        self.db.execute("COMMIT")

    def follow(self, modules: Iterable[str]) -> None:
        """Move what is known of a module's lines to where they are now."""
        for module in modules:
            now = (ROOT / module).read_text("utf-8")
            row = self.db.execute("SELECT text FROM source WHERE module = ?", (module,)).fetchone()
            if row is not None and row["text"] != now:
                self._move_lines(module, lines_now(row["text"], now))
            self.db.execute("INSERT OR REPLACE INTO source VALUES (?, ?)", (module, now))

    def _move_lines(self, module: str, places: dict[int, list[int]]) -> None:
        rows = self.db.execute("SELECT * FROM cover WHERE module = ?", (module,)).fetchall()
        moved: dict[tuple[int, str], set[str]] = {}
        for row in rows:
            for line in places.get(row["line"], []):
                moved.setdefault((line, row["file"]), set()).update(json.loads(row["nodes"]))
        self.db.execute("BEGIN IMMEDIATE")
        self.db.execute("DELETE FROM cover WHERE module = ?", (module,))
        self.db.executemany(
            "INSERT INTO cover VALUES (?, ?, ?, ?)",
            ((module, line, file, json.dumps(sorted(n))) for (line, file), n in moved.items()),
        )
        self.db.execute("COMMIT")

    def tests(self) -> dict[str, float]:
        """Seconds by test; only those that pass."""
        return dict(self.db.execute("SELECT node, seconds FROM test WHERE passed").fetchall())

    def covering(self, module: str, first: int, last: int) -> set[str]:
        rows = self.db.execute(
            "SELECT nodes FROM cover WHERE module = ? AND line BETWEEN ? AND ?",
            (module, first, last),
        )
        return {node for row in rows for node in json.loads(row["nodes"])}


def lines_now(before: str, now: str) -> dict[int, list[int]]:
    """Where each line of a text is in another; one that was changed, where its block is."""
    matcher = difflib.SequenceMatcher(None, before.splitlines(), now.splitlines(), autojunk=False)
    places: dict[int, list[int]] = {}
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        if tag == "equal":
            places.update((i1 + n + 1, [j1 + n + 1]) for n in range(i2 - i1))
        elif tag == "insert" and i1:
            places[i1] = [*places.get(i1, []), *range(j1 + 1, j2 + 1)]
        else:
            places.update((n + 1, list(range(j1 + 1, j2 + 1))) for n in range(i1, i2))
    return places
