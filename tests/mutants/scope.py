"""Which modules are mutated, and which tests are run against their mutants.

The only place that knows where rules and their tests are: patterns, as the rooms stand.
"""

import re
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "brewhygiene"

# Below ``brewhygiene/``. "action functions" are looked for wherever in the room they are.
MODULES = (
    "release/**/*.py",
    "plates/**/*.py",
    "atp/**/actions.py",
    "atp/limits/waiting.py",
    "turnarounds/**/actions.py",
    "turnarounds/progress.py",
    "regimes/proposal.py",
    "science/judging.py",
    "science/control/rules.py",
)
# Below ``tests/``. A mutant meets those of its room's own name first.
TESTS = (
    "release",
    "plates",
    "atp",
    "turnarounds",
    "regimes",
    "science/test_judging.py",
    "science/control",
    "published/test_colonies.py",
    "published/test_control.py",
)
NOT_RULES = frozenset({"__init__.py", "urls.py"})


def modules(patterns: tuple[str, ...] = MODULES) -> list[Path]:
    """The files to mutate, each once, in the order of their patterns."""
    found = []
    for pattern in patterns:
        matching = [p for p in sorted(PACKAGE.glob(pattern)) if p.name not in NOT_RULES]
        if not matching:
            raise FileNotFoundError(f"tests/mutants/scope.py: nothing is at brewhygiene/{pattern}")
        found += [path for path in matching if path not in found]
    return found


def files_of_tests() -> list[Path]:
    """The files of tests; refused where something has moved away."""
    found = []
    for name in TESTS:
        path = ROOT / "tests" / name
        if not path.exists():
            raise FileNotFoundError(f"tests/mutants/scope.py: nothing is at tests/{name}")
        found += [path] if path.is_file() else sorted(path.rglob("test_*.py"))
    return found


def is_near(node: str, module: str) -> bool:
    """Whether a test is of a module's own room."""
    return node.split("/")[1] == module.split("/")[1]


@cache
def names(file: str, module: str) -> bool:
    """Whether a file of tests imports a module by name, so that its tests are of it."""
    room, _, leaf = module.removesuffix(".py").replace("/", ".").rpartition(".")
    imported = rf"from {room}\.{leaf} import|from {room} import .*\b{leaf}\b"
    return re.search(imported, (ROOT / file).read_text("utf-8")) is not None


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()
