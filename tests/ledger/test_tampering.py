"""Every way to tamper before a head that is outside is found, on both databases."""

import io
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command

from brewhygiene.cellar.vessels.actions import set_vessel_photo
from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.ledger.heads.head import kept_head, make_head
from brewhygiene.turnarounds.models import LoggerFile
from tests.factories import NOW, Cellar, acting
from tests.ledger.tampering import WAYS, Way

pytestmark = pytest.mark.django_db

LOG = b"time;temperature\n10:00;64.9\n"


@pytest.fixture(autouse=True)
def key(tmp_path: Path, settings) -> Iterator[None]:
    """A key and files of the test's own: some ways do away with them."""
    settings.LEDGER_KEY_DIR = tmp_path / "key"
    settings.MEDIA_ROOT = tmp_path / "files"
    yield
    shutil.rmtree(tmp_path)


@pytest.fixture
def worked(cellar: Cellar) -> Cellar:
    """A released turnaround with everything that can be tampered with, all of it bound."""
    turnaround = cellar.released()
    set_vessel_photo(by=acting(cellar.brewer), vessel=cellar.vessel, photo=ContentFile(b"a photo"))
    LoggerFile.objects.create(
        clean=turnaround.cleans.get(),
        file=default_storage.save("traces/1.log", ContentFile(LOG)),
        original_name="cip.csv",
        size_bytes=len(LOG),
        sha256="0" * 64,
        mapping={},
        evaluation={},
        uploaded_at=NOW,
        uploaded_by=cellar.hand,
    )
    bind_unbound(now=NOW)
    return cellar


@pytest.fixture
def outside(worked: Cellar) -> str:
    """The head as somebody keeps it elsewhere."""
    return kept_head(make_head(way="folder", now=NOW)).whole_text


def complaints(outside: str) -> list[str]:
    """What ``check_ledger`` says, line by line; none where nothing is wrong."""
    err = io.StringIO()
    with suppress(SystemExit):
        call_command("check_ledger", "--since", outside, stdout=io.StringIO(), stderr=err)
    return err.getvalue().splitlines()


def test_nothing_is_found_where_nothing_was_done(outside: str) -> None:
    assert complaints(outside) == []


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.name)
def test_every_way_to_tamper_is_found(worked: Cellar, outside: str, way: Way) -> None:
    way.do(worked)
    found = complaints(outside)
    assert [line for line in found if line.startswith(way.found)], found


def test_there_are_many_ways() -> None:
    assert len({way.name for way in WAYS}) == len(WAYS) == 37
