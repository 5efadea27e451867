"""What the documents and the tree say of themselves is so."""

import re
import subprocess
import tomllib
from importlib.util import find_spec
from pathlib import Path

import pytest
from django.core.management import call_command, get_commands

ROOT = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md")
MAKE_COMMAND = re.compile(r"\bmake ([a-z][a-z-]*)")
CODE = re.compile(r"```.*?```|`[^`\n]+`", re.DOTALL)
LINK = re.compile(r"\]\(([^)#\s]+)[^)]*\)")

# Put together from halves, so that this file itself is clean.
MACHINE_PATHS = re.compile(
    "(?<![\\w.-])/(?:" + "wor" + "k|ro" + "ot|ho" + "me/\\w+|Us" + "ers/\\w+)/"
)
REGISTRY_HOSTS = re.compile(
    "py" + "pi\\.org|python" + "hosted\\.|npm" + "js\\.(?:org|com)|deb\\.deb" + "ian\\."
)


def code_in(document: str) -> str:
    """Everything set as code in a document."""
    return "\n".join(CODE.findall((ROOT / document).read_text(encoding="utf-8")))


def files_of_the_project() -> list[Path]:
    """What is committed or about to be."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    paths = [ROOT / name for name in listed.split("\0") if name]
    return [path for path in paths if path.is_file()]


def texts_of_the_project() -> list[tuple[Path, str]]:
    texts = []
    for path in files_of_the_project():
        content = path.read_bytes()
        if b"\0" not in content:
            texts.append((path.relative_to(ROOT), content.decode("utf-8", "replace")))
    return texts


@pytest.mark.parametrize("document", DOCUMENTS)
def test_document_names_only_make_targets_that_exist(document: str) -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z-]+):", makefile, re.MULTILINE))
    named = set(MAKE_COMMAND.findall(code_in(document)))
    assert named - targets == set()
    assert {"run", "test"} - named == set()


@pytest.mark.parametrize("document", DOCUMENTS)
def test_document_names_only_management_commands_that_exist(document: str) -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", code_in(document)))
    assert named - set(get_commands()) == set()


@pytest.mark.parametrize("document", DOCUMENTS)
def test_document_names_only_modules_that_exist(document: str) -> None:
    named = re.findall(r"python -m ([\w.]+)", code_in(document))
    assert [name for name in named if find_spec(name) is None] == []


@pytest.mark.parametrize("document", DOCUMENTS)
def test_document_links_only_to_files_that_exist(document: str) -> None:
    links = LINK.findall((ROOT / document).read_text(encoding="utf-8"))
    inside = [link for link in links if not re.match(r"[a-z]+:", link)]
    assert [link for link in inside if not (ROOT / link).exists()] == []


def test_places_that_the_guide_names_are_there() -> None:
    """Every path of the product that is set as code, so that a newcomer's guess ends at a file."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    where = text[text.index("### Where is it?") : text.index("### Rules")]
    named = re.findall(r"`([a-z_]+(?:/[a-z_]+)*/?(?:\.py)?)`", where)
    assert len(named) > 20
    assert [path for path in named if not (ROOT / "brewhygiene" / path).exists()] == []


def variables_of(document: str) -> set[str]:
    """What a document says may be set in the environment."""
    text = (ROOT / document).read_text(encoding="utf-8")
    _, table = text.split("| from the environment | means | if absent |")
    names = [line.split("|")[1] for line in table.split("\n\n")[0].splitlines()[2:]]
    return set(re.findall(r"`([A-Z_]+)`", " ".join(names)))


def test_documents_name_what_may_be_set_in_the_environment() -> None:
    asked = set()
    for path in (ROOT / "brewhygiene").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        asked |= set(re.findall(r"environ(?:\.get\(|\[)\"([A-Z_]+)\"", text))
    # Set by the server for the libraries below it, not by a person.
    asked -= {"OPENBLAS_NUM_THREADS"}
    # Read before Python runs, by what gets the machine ready.
    assert variables_of("DEVELOPERS.md") == {*asked, "PYTHON", "CHROMIUM"}
    assert variables_of("README.md") - asked == set()


def test_developers_guide_names_every_make_target() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z-]+):.*## ", makefile, re.MULTILINE))
    assert targets - set(MAKE_COMMAND.findall(code_in("DEVELOPERS.md"))) == set()


def test_developers_guide_names_every_room() -> None:
    with (ROOT / "pyproject.toml").open("rb") as file:
        contract = tomllib.load(file)["tool"]["importlinter"]["contracts"][0]
    rooms = {room for floor in contract["layers"] for room in floor.split(" | ")}
    named = set(re.findall(r"`([a-z_]+)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")))
    assert rooms - named == set()


@pytest.mark.django_db
def test_no_change_to_a_model_is_without_its_migration() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.parametrize(
    ("pattern", "caught", "passed"),
    [
        (MACHINE_PATHS, "open('/wor" + "k/main/x')", "/work_orders/ and homework/x"),
        (MACHINE_PATHS, "cd /Us" + "ers/mara/brew", "/users/3/"),
        (REGISTRY_HOSTS, "https://py" + "pi.org/simple", "pypi"),
    ],
)
def test_patterns_catch_what_they_are_for(
    pattern: re.Pattern[str], caught: str, passed: str
) -> None:
    assert pattern.search(caught)
    assert not pattern.search(passed)


def test_no_file_names_a_path_of_somebodys_machine() -> None:
    found = [
        (str(p), m.group())
        for p, text in texts_of_the_project()
        for m in MACHINE_PATHS.finditer(text)
    ]
    assert found == []


def test_no_file_names_a_package_registry() -> None:
    found = [
        (str(p), m.group())
        for p, text in texts_of_the_project()
        for m in REGISTRY_HOSTS.finditer(text)
    ]
    assert found == []
