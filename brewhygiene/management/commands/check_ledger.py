"""Walk the ledger, the rows that it binds and their files, and say what is not as it was."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from brewhygiene.ledger.check.heads import check_heads
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.heads.head import NoHead, SignedHead, read_head
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.quantities.words import counted


class Command(BaseCommand):
    help = (
        "Check every entry of the ledger, every row and file that it binds, and its heads. "
        "With --since, check it against a head that was kept outside."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--since",
            action="append",
            default=[],
            metavar="HEAD",
            help="A head that was kept outside: a file, a folder of them, or the text itself.",
        )

    def handle(self, *args: Any, since: list[str], **options: Any) -> None:
        heads = [head for one in since for head in heads_of(one)]
        findings = [*check_everything(), *check_heads(heads)]
        for finding in findings:
            self.stderr.write(str(finding))
        count = Entry.objects.count()
        if findings:
            self.stderr.write(f"{len(findings)} found in {count} entries.")
            raise SystemExit(1)
        rows = Binding.objects.values("table", "row").distinct().order_by().count()
        about = f"{counted(count, 'entry', 'entries')}, {counted(rows, 'row')}"
        if not heads:
            self.stdout.write(
                f"The ledger is consistent in itself: {about}. Only a head that was kept outside "
                "can show that its end was not cut off or rewritten (--since HEAD)."
            )
            return
        newest = max(heads, key=lambda head: head.number)
        self.stdout.write(
            f"The ledger is consistent in itself: {about}. Entries 1 to {newest.number} are those "
            f"of the head signed {newest.signed}. Nothing outside vouches for what came after it."
        )


def heads_of(word: str) -> list[SignedHead]:
    """The heads of a file, of every file of a folder, or of a text; ``CommandError`` if none."""
    try:
        return [read_head(text) for text in _texts(word)]
    except NoHead as error:
        raise CommandError(str(error)) from error
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{word} cannot be read: {error}") from error


def _texts(word: str) -> list[str]:
    if "\n" in word:
        return [word]
    path = Path(word)
    if path.is_dir():
        files = sorted(path.glob("*.txt"))
        if not files:
            raise CommandError(f"There is no head in {word}.")
        return [file.read_text(encoding="utf-8") for file in files]
    return [path.read_text(encoding="utf-8")]
