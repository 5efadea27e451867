"""Heads: signed by a key of the server's own, sent away, and held against the ledger later."""

import stat
import subprocess
from datetime import timedelta
from pathlib import Path

import pytest
from django.core import mail
from django.core.management import CommandError, call_command

from brewhygiene.ledger.check.heads import check_heads
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.hashing.merkle import root_of
from brewhygiene.ledger.heads import outside
from brewhygiene.ledger.heads.head import NoHead, kept_head, make_head, read_head
from brewhygiene.ledger.heads.key import NoKey, key_file, private_key, public_hex
from brewhygiene.ledger.heads.outside import newest_outside
from brewhygiene.ledger.models import Entry, Head
from brewhygiene.turnarounds.actions import empty_vessel
from tests.factories import NOW, Cellar, acting
from tests.ledger.test_check_ledger import checked

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_key(tmp_path: Path, settings) -> None:
    settings.LEDGER_KEY_DIR = tmp_path / "key"


def test_key_is_readable_by_the_server_alone_and_made_once() -> None:
    public = public_hex()
    assert stat.S_IMODE(key_file().stat().st_mode) == 0o600
    assert stat.S_IMODE(key_file().parent.stat().st_mode) == 0o700
    assert public_hex() == public


def test_key_that_cannot_be_read_is_said_in_words() -> None:
    private_key()
    key_file().write_bytes(b"no key")
    with pytest.raises(NoKey, match=r"The ledger's key in .*ledger_key\.pem cannot be read"):
        public_hex()


def test_head_tells_number_hash_root_and_time(cellar: Cellar) -> None:
    cellar.emptied()
    head = kept_head(make_head(way="page", now=NOW))
    hashes = list(Entry.objects.order_by("number").values_list("hash", flat=True))
    assert (head.number, head.last, head.root, head.signed, head.key) == (
        len(hashes),
        hashes[-1],
        root_of(one.encode() for one in hashes).hex(),
        "2026-03-10T09:00:00.000000Z",
        public_hex(),
    )


def test_head_of_an_empty_ledger_can_be_signed_too() -> None:
    head = kept_head(make_head(way="page", now=NOW))
    assert (head.number, head.last, head.root) == (0, "none", root_of([]).hex())
    assert list(check_heads([head])) == []


def test_head_grows_on_from_the_last_one_and_is_the_same_as_from_the_start(cellar: Cellar) -> None:
    for _ in range(3):
        make_head(way="page", now=NOW)
        cellar.checked()
    head = make_head(way="page", now=NOW)
    hashes = Entry.objects.order_by("number").values_list("hash", flat=True)
    assert head.root == root_of(one.encode() for one in hashes).hex()


def test_nothing_new_is_no_new_head(cellar: Cellar) -> None:
    first = make_head(way="page", now=NOW)
    assert make_head(way="page", now=NOW + timedelta(hours=1)) == first
    assert make_head(way="record 1", now=NOW) != first


def test_openssl_finds_the_signature_good(cellar: Cellar, tmp_path: Path) -> None:
    """A tool that knows nothing of this product; RFC 8410 for how the key is written."""
    head = kept_head(make_head(way="page", now=NOW))
    key, text, signature = (tmp_path / name for name in ("key.der", "text", "signature"))
    key.write_bytes(bytes.fromhex("302a300506032b6570032100" + head.key))
    text.write_text(head.text)
    signature.write_bytes(bytes.fromhex(head.signature))
    verify = [
        *("openssl", "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", key),
        *("-rawin", "-in", text, "-sigfile", signature),
    ]
    assert subprocess.run(verify, check=False, capture_output=True).returncode == 0
    text.write_text(head.text.replace("entries: ", "entries: 1"))
    assert subprocess.run(verify, check=False, capture_output=True).returncode == 1


def test_head_is_read_from_a_paper_that_broke_its_lines_otherwise(cellar: Cellar) -> None:
    head = kept_head(make_head(way="page", now=NOW))
    typed = "\r\n\r\n" + head.whole_text.replace("\n", "  \r\n ") + "\n"
    assert read_head(typed) == head


@pytest.mark.parametrize("text", ["", "a head", "brewhygiene head 1\nkey: 00\n", "\x00" * 40])
def test_text_that_is_no_head_is_refused(text: str) -> None:
    with pytest.raises(NoHead, match="This is no head"):
        read_head(text)


def test_check_since_a_head_says_up_to_where_and_no_more(cellar: Cellar, tmp_path: Path) -> None:
    cellar.emptied()
    head = kept_head(make_head(way="page", now=NOW))
    cellar.checked()
    file = tmp_path / "head.txt"
    file.write_text(head.whole_text)
    code, said, complained = checked("--since", str(file))
    assert (code, complained) == (0, "")
    assert said.endswith(
        f"Entries 1 to {head.number} are those of the head signed {head.signed}. Nothing outside "
        "vouches for what came after it.\n"
    )
    assert checked("--since", head.whole_text) == (code, said, complained)
    assert checked("--since", str(tmp_path)) == (code, said, complained)


def test_younger_ledger_than_a_head_is_never_consistent() -> None:
    """The ledger of another database, or of one that was set up anew."""
    text = kept_head(make_head(way="page", now=NOW)).text.replace("entries: 0", "entries: 7")
    from brewhygiene.ledger.heads.key import sign

    signature, _ = sign(text)
    code, said, complained = checked("--since", f"{text}signature: {signature}\n")
    assert (code, said) == (1, "")
    assert complained.startswith(
        "cut off: The ledger ends at entry 0, but a head from outside covers 7, signed "
    )


@pytest.mark.parametrize("word", ["no/such/file", "brewhygiene head 1\nkey: x\n"])
def test_head_that_cannot_be_read_is_said_in_words(word: str) -> None:
    with pytest.raises(CommandError):
        call_command("check_ledger", "--since", word)


def test_folder_gets_a_file_for_each_head(cellar: Cellar, tmp_path: Path, settings) -> None:
    settings.HEADS_DIR = str(tmp_path / "elsewhere")
    assert outside.send_head(now=NOW) == []
    cellar.checked()
    assert outside.send_head(now=NOW) == []
    files = sorted(Path(settings.HEADS_DIR).iterdir())
    assert [read_head(file.read_text()).number for file in files] == [
        head.number for head in Head.objects.order_by("id")
    ]
    assert outside.send_head(now=NOW) == []
    assert len(sorted(Path(settings.HEADS_DIR).iterdir())) == len(files) == 2


def test_folder_that_cannot_be_written_is_said_and_no_head_is_claimed(
    tmp_path: Path, settings
) -> None:
    (tmp_path / "file").write_text("in the way")
    settings.HEADS_DIR = str(tmp_path / "file")
    (problem,) = outside.send_head(now=NOW)
    assert problem.startswith("The ledger's head was not sent (folder): ")
    assert outside.outside_since() is None


def test_head_is_mailed_once(cellar: Cellar, settings) -> None:
    settings.HEADS_MAIL_TO = ["owner@example.org"]
    assert outside.send_head(now=NOW) == []
    assert outside.send_head(now=NOW) == []
    (message,) = mail.outbox
    head = Head.objects.get()
    assert message.to == ["owner@example.org"]
    assert message.subject == f"Ledger head at entry {head.number}"
    assert read_head(message.body.split("\n\n", 1)[1]) == kept_head(head)


def test_action_sends_a_head_once_an_hour(
    cellar: Cellar, tmp_path: Path, settings, django_capture_on_commit_callbacks
) -> None:
    settings.HEADS_DIR = str(tmp_path / "elsewhere")
    outside._last_sent.clear()

    def act(minutes: int) -> int:
        by = acting(cellar.hand, now=NOW + timedelta(minutes=minutes))
        with django_capture_on_commit_callbacks(execute=True):
            cellar.checked(now=by.now)
        return len(list(Path(settings.HEADS_DIR).glob("*.txt")))

    assert [act(0), act(59), act(60)] == [1, 1, 2]
    outside._last_sent.clear()


def test_refused_action_sends_none(cellar: Cellar, tmp_path: Path, settings) -> None:
    settings.HEADS_DIR = str(tmp_path / "elsewhere")
    outside._last_sent.clear()
    with pytest.raises(Exception, match="future"):
        empty_vessel(
            by=acting(cellar.hand), vessel=cellar.vessel, emptied_at=NOW + timedelta(days=2)
        )
    assert not Path(settings.HEADS_DIR).exists()


def test_kept_heads_are_checked_with_everything_else(cellar: Cellar) -> None:
    make_head(way="page", now=NOW)
    cellar.checked()
    make_head(way="page", now=NOW)
    assert list(check_everything()) == []


def test_newest_head_outside_says_when_and_on_which_way() -> None:
    assert newest_outside() is None
    for minutes, (way, words) in enumerate(
        [
            ("folder", "in the folder for heads"),
            ("mail", "by mail"),
            ("page", "shown on the ledger's page"),
            ("command", "printed by send_head"),
            ("record 12", "on the record of turnaround 12"),
            ("export 12", "in the exported record of turnaround 12"),
            ("month 2026-02", "on the report of 2026-02"),
        ]
    ):
        signed_at = NOW + timedelta(minutes=minutes)
        make_head(way=way, now=signed_at)
        assert newest_outside() == (signed_at, words)
