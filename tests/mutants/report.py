"""What is known of the mutants: how many were killed, and which survivors are accounted for."""

import dataclasses
import tomllib
from collections import Counter
from collections.abc import Collection, Iterable
from pathlib import Path

from tests.mutants.making import Mutant
from tests.mutants.session import KILLED, TIMED_OUT, Session

LEAST_KILLED = 0.95
# A test that never ends has noticed, too.
NOTICED = (KILLED, TIMED_OUT)
EQUIVALENT = Path(__file__).with_name("equivalent.toml")


@dataclasses.dataclass(frozen=True)
class Entry:
    """A mutant that no test can tell from the rule, and why not."""

    module: str
    function: str
    before: str
    after: str
    why: str
    nth: int = 1

    @property
    def key(self) -> str:
        return Mutant(
            self.module, self.function, self.before, self.after, self.nth, "", 0, 0, ""
        ).key


def entries(file: Path = EQUIVALENT) -> list[Entry]:
    """The committed list; each entry with its reason."""
    found = [Entry(**entry) for entry in tomllib.loads(file.read_text("utf-8")).get("mutant", [])]
    for entry in found:
        if len(entry.why.split()) < 3:
            raise ValueError(f"No reason is given: {entry}")
    return found


def say(session: Session, wanted: Collection[str]) -> int:
    """Print the count and every survivor that is not accounted for; 1 if all is not well."""
    rows = [row for row in session.mutants() if row["module"] in wanted]
    listed = {entry.key: entry for entry in entries() if entry.module in wanted}
    by_module: dict[str, Counter[str]] = {}
    for row in rows:
        by_module.setdefault(row["module"], Counter())[row["outcome"] or "not run"] += 1
    for module, counts in by_module.items():
        print(f"{counts[KILLED]:5} of {counts.total():4}  {module}{_rest(counts)}")
    unlisted = [r for r in rows if r["outcome"] not in (*NOTICED, None) and r["key"] not in listed]
    stale = _stale(listed.values(), {row["key"]: row["outcome"] for row in rows})
    for row in unlisted:
        nth = f"  ({row['nth']})" if row["nth"] > 1 else ""
        print(f"\n{row['outcome']}: {row['module']}:{row['first_line']} {row['function']}")
        print(f"  - {row['before']}\n  + {row['after']}{nth}")
    for entry, why in stale:
        print(f"\nequivalent.toml, {why}: {entry.module} {entry.function}")
        print(f"  - {entry.before}\n  + {entry.after}")
    not_run = sum(row["outcome"] is None for row in rows)
    run, killed = len(rows) - not_run, sum(row["outcome"] in NOTICED for row in rows)
    share = killed / run if run else 0.0
    print(
        f"\nKilled {killed} of {run}: {share * 100:.1f} % (at least {LEAST_KILLED * 100:.0f} % "
        f"are asked for). {len(listed) - len(stale)} survivors accounted for, {len(unlisted)} "
        f"not. {not_run} mutants not run."
    )
    return int(share < LEAST_KILLED or bool(unlisted or stale or not_run))


def _rest(counts: Counter[str]) -> str:
    rest = ", ".join(f"{n} {what}" for what, n in sorted(counts.items()) if what != KILLED)
    return f": {rest}" if rest else ""


def _stale(listed: Iterable[Entry], outcomes: dict[str, str | None]) -> list[tuple[Entry, str]]:
    """Entries of mutants that there are no more, or that a test kills."""
    found = []
    for entry in listed:
        if entry.key not in outcomes:
            found.append((entry, "no such mutant"))
        elif outcomes[entry.key] in NOTICED:
            found.append((entry, "a test tells it from the rule"))
    return found
