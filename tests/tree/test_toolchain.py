"""The locks, the commands and the preparation of a machine."""

import json
import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
LOCKS = ("requirements.lock", "requirements-test.lock")


def locked(lock: str) -> dict[str, list[Requirement]]:
    """What a lock lists, by package."""
    text = (ROOT / lock).read_text(encoding="utf-8").replace("\\\n", " ")
    found: dict[str, list[Requirement]] = {}
    for line in text.splitlines():
        requirement = Requirement(line.split(" --hash=")[0].strip())
        found.setdefault(canonicalize_name(requirement.name), []).append(requirement)
    return found


def wanted(*, test: bool) -> list[Requirement]:
    """What pyproject.toml asks for."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    lines = project["dependencies"] + (project["optional-dependencies"]["test"] if test else [])
    return [Requirement(line) for line in lines]


@pytest.mark.parametrize("lock", LOCKS)
def test_lock_pins_every_package_with_hashes_and_names_no_source(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    entries = text.replace("\\\n", " ").splitlines()
    pinned = re.compile(r"[\w.-]+==\S+( ; .*?)?\s+--hash=sha256:.*")
    assert [entry for entry in entries if not pinned.fullmatch(entry)] == []
    assert re.findall(r"https?:|file:|--index|--find-links| @ ", text) == []


@pytest.mark.parametrize(("lock", "test"), [(LOCKS[0], False), (LOCKS[1], True)])
def test_lock_holds_what_the_project_asks_for(lock: str, test: bool) -> None:
    pins = locked(lock)
    unmet = [
        str(requirement)
        for requirement in wanted(test=test)
        if not all(
            requirement.specifier.contains(str(pin.specifier).removeprefix("=="))
            for pin in pins[canonicalize_name(requirement.name)]
        )
    ]
    assert unmet == []


def test_both_locks_agree() -> None:
    run, test = (
        {name: sorted(map(str, pins)) for name, pins in locked(lock).items()} for lock in LOCKS
    )
    assert {name: pins for name, pins in run.items() if test[name] != pins} == {}


def test_locks_hold_for_the_oldest_python() -> None:
    oldest = {"python_version": "3.11", "python_full_version": "3.11.0"}
    chosen = {
        name
        for name, pins in locked("requirements.lock").items()
        if any(pin.marker is None or pin.marker.evaluate(oldest) for pin in pins)
    }
    assert {canonicalize_name(r.name) for r in wanted(test=False)} - chosen == set()


def test_page_checkers_are_locked_without_a_source() -> None:
    with (ROOT / "tests/browser/package.json").open(encoding="utf-8") as file:
        asked = json.load(file)["devDependencies"]
    with (ROOT / "tests/browser/package-lock.json").open(encoding="utf-8") as file:
        packages = json.load(file)["packages"]
    del packages[""]  # the project itself
    installed = {name.removeprefix("node_modules/"): entry for name, entry in packages.items()}
    assert {name: entry["version"] for name, entry in installed.items()} == asked
    assert [name for name, entry in installed.items() if "resolved" in entry] == []
    assert [name for name, entry in installed.items() if "integrity" not in entry] == []


def test_make_test_runs_every_check_in_order() -> None:
    told = subprocess.run(
        ["make", "-n", "test"], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout
    steps = re.findall(
        r"\.ci/machine/prepare test|ruff check|ruff format --check|mypy|lint-imports"
        r"|makemigrations --check|pytest -q -n \d+",
        told,
    )
    assert steps == [
        ".ci/machine/prepare test",
        "ruff check",
        "ruff format --check",
        "mypy",
        "lint-imports",
        "makemigrations --check",
        "pytest -q -n 2",
    ]


def test_make_works_from_any_folder(tmp_path: Path) -> None:
    told = subprocess.run(
        ["make", "-f", str(ROOT / "Makefile"), "help"],
        cwd=tmp_path,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert re.findall(r"make (run|test) ", told) == ["run", "test"]


def test_ci_runs_the_same_command_as_a_contributor() -> None:
    script = ROOT / ".ci" / "run"
    lines = script.read_text(encoding="utf-8").splitlines()
    assert os.access(script, os.X_OK)
    assert lines[0] == "#!/usr/bin/env bash"
    assert "set -euo pipefail" in lines
    assert lines[-1] == "make test"


# --- .ci/machine/prepare on machines that lack something ---------------------------------------

TOOLS = ("dirname", "mktemp", "rm", "cat", "cmp", "cp", "env", "tail")
OLD_PYTHON = """#!/bin/sh
[ "$1" = --version ] && echo "Python 3.9.2"
exit 1
"""
NO_VENV_PYTHON = """#!/bin/sh
case "$2" in *ensurepip*) exit 1;; *print*) echo 3.12;; esac
"""


def machine(tmp_path: Path, **programs: str) -> subprocess.CompletedProcess[str]:
    """Prepare a bare machine that has only ``programs`` (name and script) beside the basics."""
    programs = {"uname": "#!/bin/sh\necho Linux", "id": "#!/bin/sh\necho 1000", **programs}
    shutil.copytree(ROOT / ".ci", tmp_path / "project" / ".ci")
    folder = tmp_path / "bin"
    folder.mkdir()
    for tool in TOOLS:
        (folder / tool).symlink_to(shutil.which(tool) or tool)
    for name, script in programs.items():
        path = folder / name.replace("_", "-")
        path.write_text(script, encoding="utf-8")
        path.chmod(0o755)
    return subprocess.run(
        ["/bin/sh", "project/.ci/machine/prepare", "run"],
        cwd=tmp_path,
        env={"PATH": str(folder)},
        capture_output=True,
        text=True,
    )


def test_prepare_without_python_names_the_command(tmp_path: Path) -> None:
    outcome = machine(tmp_path, apt_get="#!/bin/sh\nexit 1")
    assert outcome.returncode == 1
    assert outcome.stderr == (
        "\nMissing: Python 3.11 or later.\n"
        "Type this, then the same make command again:\n\n"
        "    sudo apt-get install --no-install-recommends -y python3 python3-venv\n"
    )


def test_prepare_with_an_old_python_asks_for_a_newer_one_beside_it(tmp_path: Path) -> None:
    outcome = machine(tmp_path, python3=OLD_PYTHON, apt_get="#!/bin/sh\nexit 1")
    assert outcome.returncode == 1
    assert outcome.stderr == (
        "\nMissing: Python 3.11 or later (this machine's is older).\n"
        "Type this, then the same make command again:\n\n"
        "    sudo apt-get install --no-install-recommends -y python3.11 python3.11-venv\n"
    )


def test_prepare_without_the_venv_module_names_the_package_of_that_python(tmp_path: Path) -> None:
    outcome = machine(tmp_path, python3=NO_VENV_PYTHON, apt_get="#!/bin/sh\nexit 1")
    assert outcome.returncode == 1
    assert outcome.stderr == (
        "\nMissing: Python's venv module.\n"
        "Type this, then the same make command again:\n\n"
        "    sudo apt-get install --no-install-recommends -y python3.12-venv\n"
    )


def test_prepare_as_root_installs_and_tells_when_that_fails(tmp_path: Path) -> None:
    outcome = machine(
        tmp_path,
        id="#!/bin/sh\necho 0",
        apt_get="#!/bin/sh\necho E: Unable to locate package\nexit 100",
    )
    assert outcome.returncode == 1
    assert outcome.stdout == "Installing Python 3.11 or later: python3 python3-venv\n"
    assert outcome.stderr == (
        "E: Unable to locate package\n"
        "\nMissing: Python 3.11 or later.\n"
        "apt-get could not install it (its last words are above). Once it can, type:\n\n"
        "    apt-get install --no-install-recommends -y python3 python3-venv\n"
    )


def test_prepare_without_apt_says_what_to_install(tmp_path: Path) -> None:
    outcome = machine(tmp_path)
    assert outcome.returncode == 1
    assert outcome.stderr == (
        "\nMissing: Python 3.11 or later.\n"
        "This machine has no apt-get: install it with the system's own packages "
        "(on Debian: python3 python3-venv).\n"
    )


def test_prepare_on_a_mac_without_homebrew_says_so(tmp_path: Path) -> None:
    outcome = machine(tmp_path, uname="#!/bin/sh\necho Darwin")
    assert outcome.returncode == 1
    assert outcome.stderr == (
        "\nMissing: Python 3.11 or later.\n"
        "Install Homebrew first, or by other means: python@3.12.\n"
    )


# --- a skipped test is a failed one -----------------------------------------------------------


def test_skipped_test_fails_the_suite(tmp_path: Path) -> None:
    shutil.copy(ROOT / "tests" / "conftest.py", tmp_path / "conftest.py")
    (tmp_path / "test_in_body.py").write_text(
        "import pytest\n\ndef test_one():\n    pytest.skip('no Java')\n", encoding="utf-8"
    )
    (tmp_path / "test_in_module.py").write_text(
        "import pytest\n\npytest.skip('no Java', allow_module_level=True)\n", encoding="utf-8"
    )
    environment = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    environment.pop("PYTEST_ADDOPTS", None)
    outcome = subprocess.run(
        [ROOT / ".venv/bin/python", "-m", "pytest", "-q", "-p", "no:cacheprovider", "."],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert outcome.returncode != 0
    assert "Skipped, which counts as failed here" in outcome.stdout
    assert "skipped" not in outcome.stdout.splitlines()[-1]
