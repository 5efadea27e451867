"""Every command of the documents is run; one that would take hours is looked up instead."""

import os
import re
import shlex
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command, get_commands, load_command_class

from brewhygiene.ledger.adoption import bind_unbound
from tests import clock
from tests.factories import NOW, make_brewery

ROOT = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md")
FENCED = re.compile(r"^```(\w*)\n(.*?)^```", re.DOTALL | re.MULTILINE)
INLINE = re.compile(r"`([^`\n]+)`")
COMMAND = re.compile(
    r"(?:[A-Z_]+=\S+ )*(?:make|git|npm|manage\.py|\.venv/bin/python|python3?) \S.*"
)
# `tests/proof/test_export.py` runs the program of README; `test_toolchain.py` reads what npm pins.
ELSEWHERE = {"python3 verify_record.py record.json KEY", "npm install"}
CLONE = "git clone . /tmp/fresh"


def lines_of(text: str) -> list[str]:
    """The lines of every block of commands, in order, then what is set as code within a line."""
    found = [
        line.split("  #")[0].strip()
        for language, block in FENCED.findall(text)
        for line in block.splitlines()
        if not language
    ]
    found += INLINE.findall(FENCED.sub("", text))
    return [line for line in dict.fromkeys(found) if COMMAND.fullmatch(line)]


def parted(line: str) -> tuple[dict[str, str], list[str]]:
    """What a command sets in its environment, and its words."""
    words = shlex.split(line)
    names = [word for word in words if re.match(r"[A-Z_]+=", word)]
    given = dict(word.split("=", 1) for word in names)
    return given, [word for word in words if word not in names]


COMMANDS = list(
    dict.fromkeys(
        line
        for document in DOCUMENTS
        for line in lines_of((ROOT / document).read_text(encoding="utf-8"))
    )
)


def kind(line: str) -> str:
    _, words = parted(line)
    if words[0] == "make":
        return "make"
    if "manage.py" in words[:2]:
        return "manage"
    if words[0].endswith("python") and words[1] == "-m":
        return "module"
    return "other"


def run(*words: str, folder: Path = ROOT, **given: str) -> "subprocess.CompletedProcess[str]":
    kept = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    return subprocess.run(
        [*words],
        cwd=folder,
        env={**kept, "LANG": "C.UTF-8", **clock.environment(), **given},
        capture_output=True,
        text=True,
        check=False,
    )


@cache
def help_of(module: str) -> str:
    helped = run(sys.executable, "-m", module, "--help")
    assert helped.returncode == 0, helped.stderr
    return helped.stdout


def test_commands_of_a_document_are_found() -> None:
    text = """
Try `make run`, `restore --now` or `PORT=1 make run` and `make`.

```
make test     # all of it
X=1 .venv/bin/python manage.py backup
```

```python
make_not = 1
```
"""
    assert lines_of(text) == [
        "make test",
        "X=1 .venv/bin/python manage.py backup",
        "make run",
        "PORT=1 make run",
    ]


def test_every_kind_of_command_is_known() -> None:
    other = {line for line in COMMANDS if kind(line) == "other"}
    assert other == {*ELSEWHERE, CLONE}
    assert len(COMMANDS) > 40


@pytest.mark.parametrize("line", [one for one in COMMANDS if kind(one) == "make"])
def test_make_knows_its_target(line: str, tmp_path: Path) -> None:
    """Run dry: what it would do is said, and nothing done."""
    given, words = parted(line.replace("/tmp/fresh", str(ROOT)))  # noqa: S108 - as it is written
    done = run(words[0], "-n", *words[1:], **{**given, "DATA_DIR": str(tmp_path)})
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


@pytest.mark.parametrize("line", [one for one in COMMANDS if kind(one) == "manage"])
def test_management_command_takes_what_is_given_to_it(line: str) -> None:
    _, words = parted(line)
    name, *rest = words[words.index("manage.py") + 1 :]
    assert name in get_commands()
    if not rest:  # named, not typed
        return
    command = load_command_class(get_commands()[name], name)
    # As it is when Django itself starts one: what is not known ends the process.
    command._called_from_command_line = True
    command.create_parser("manage.py", name).parse_args(rest)


@pytest.mark.parametrize("line", [one for one in COMMANDS if kind(one) == "module"])
def test_module_knows_each_option(line: str) -> None:
    _, words = parted(line)
    module, options = words[2], [word for word in words[3:] if word.startswith("-")]
    place = ROOT.joinpath(*module.split("."))
    if module == "pytest":
        folder, word = words[3], words[words.index("-k") + 1]
        texts = [path.read_text(encoding="utf-8") for path in (ROOT / folder).rglob("test_*.py")]
        assert re.search(rf"def test_\w*{word}", "\n".join(texts))
    elif options:
        known = set(re.findall(r"--[a-z-]+", help_of(module)))
        assert [one for one in options if one not in known] == []
    else:
        assert place.with_suffix(".py").exists() or (place / "__main__.py").exists()


def test_a_clone_is_made_as_it_is_typed(tmp_path: Path) -> None:
    done = run(*shlex.split(CLONE.replace("/tmp/fresh", str(tmp_path / "fresh"))))  # noqa: S108
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "fresh" / "Makefile").exists()


@pytest.mark.django_db
def test_a_head_kept_outside_is_checked_as_it_is_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any, capsys: Any
) -> None:
    """The block of *Proof*; those of the archives are run in `tests/archive/test_readme.py`."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    proof = readme.split("\n## Proof\n")[1].split("\n## ")[0]
    (typed,) = (block for language, block in FENCED.findall(proof) if not language)
    _, (python, manage, name, *rest) = parted(typed)
    assert (python, manage) == (".venv/bin/python", "manage.py")
    settings.HEADS_DIR, settings.LEDGER_KEY_DIR = tmp_path / "heads", tmp_path / "key"
    monkeypatch.chdir(tmp_path)
    make_brewery()
    bind_unbound(now=NOW)
    call_command("send_head")
    (head,) = (tmp_path / "heads").iterdir()
    head.rename("head.txt")
    call_command(name, *rest)
    assert "ies 1 to 1 are those of the head signed " in capsys.readouterr().out
