"""An exported record is checked by the README's own recipe, which trusts nothing of ours."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.ledger.heads.key import public_hex
from tests.factories import NOW, Cellar, make_point

pytestmark = pytest.mark.django_db

README = Path(__file__).parent.parent.parent / "README.md"


def recipe() -> str:
    """The program as it stands in the README."""
    (found,) = re.findall(r"```python\n(# verify_record\.py.*?)```", README.read_text(), re.DOTALL)
    return found


@pytest.fixture
def export() -> dict[str, Any]:
    """The record of a released turnaround as the page gives it."""
    cellar = Cellar()
    bind_unbound(now=NOW)
    cellar.recovery_recorded()
    turnaround = cellar.released()
    client = Client()
    client.force_login(cellar.brewer)
    response = client.get(reverse("proof:record", args=[turnaround.pk]))
    assert response["Content-Disposition"] == (
        f'attachment; filename="record-turnaround-{turnaround.pk}.json"'
    )
    return json.loads(response.content)


def verified(export: dict[str, Any], folder: Path, *, key: str = "") -> tuple[int, str]:
    """How the recipe ends, run by a Python that sees none of our packages."""
    program, record = folder / "verify_record.py", folder / "record.json"
    program.write_text(recipe())
    record.write_text(json.dumps(export))
    done = subprocess.run(
        [sys.executable, "-I", "-S", program, record, key or public_hex()],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout.splitlines()[-1] if done.stdout else ""


def test_recipe_is_about_thirty_lines() -> None:
    lines = [line for line in recipe().splitlines() if line.strip()]
    assert 20 <= len(lines) <= 36


def test_export_holds_every_row_of_the_record_with_its_proof(export: dict[str, Any]) -> None:
    tables = {json.loads(row["text"])[0].removeprefix("brewhygiene_") for row in export["rows"]}
    assert tables >= {
        *("result", "decision", "signature", "clean", "steprecord", "stepreading", "limitset"),
        *("turnaround", "emptying", "vessel", "samplingpoint", "user", "meter", "controlcheck"),
    }
    assert export["unbound"] == []


def test_export_is_found_good(export: dict[str, Any], tmp_path: Path) -> None:
    code, said = verified(export, tmp_path)
    assert code == 0
    assert said.startswith(
        f"{len(export['rows'])} rows and {len(export['entries'])} entries verified, "
    )


def _another_reading(export: dict[str, Any]) -> None:
    row = next(row for row in export["rows"] if '"brewhygiene_result"' in row["text"])
    row["text"] = row["text"].replace('"rlu":0', '"rlu":1')


def _another_entry(export: dict[str, Any]) -> None:
    entry = list(export["entries"].values())[-1]
    entry["text"] = entry["text"].replace("192.0.2.7", "192.0.2.8")


def _another_head(export: dict[str, Any]) -> None:
    export["head"] = export["head"].replace("signed: 2", "signed: 3")


def _another_binding(export: dict[str, Any]) -> None:
    row = export["rows"][0]
    row["binding"] = row["binding"].replace('"', "'", 1)


def _another_place(export: dict[str, Any]) -> None:
    list(export["entries"].values())[-1]["index"] -= 1


@pytest.mark.parametrize(
    "tamper", [_another_reading, _another_entry, _another_head, _another_binding, _another_place]
)
def test_changed_export_is_found_out(export: dict[str, Any], tmp_path: Path, tamper: Any) -> None:
    before = json.dumps(export)
    tamper(export)
    assert json.dumps(export) != before
    assert verified(export, tmp_path)[0] != 0


def test_export_of_another_signer_is_found_out(export: dict[str, Any], tmp_path: Path) -> None:
    assert verified(export, tmp_path, key="00" * 32)[0] != 0


def test_row_that_no_entry_bound_is_listed_as_such() -> None:
    cellar = Cellar()
    bind_unbound(now=NOW)
    turnaround = cellar.emptied()
    make_point(cellar.vessel, name="Racking arm")
    client = Client()
    client.force_login(cellar.brewer)
    content = client.get(reverse("proof:record", args=[turnaround.pk])).json()
    assert [row for row in content["unbound"] if "Racking arm" in row] == content["unbound"]
