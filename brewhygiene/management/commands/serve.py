"""Serve the brewery's network: get the database and static files ready, then answer.

Plain HTTP on one port and HTTPS on another, both from one process with threads: SQLite lets one
writer through at a time, and the threads of one process queue for it without getting in each
other's way.
"""

import hashlib
import os
import signal
import socket
from argparse import ArgumentParser
from contextlib import nullcontext, suppress
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, InterfaceError, transaction
from django.utils import timezone

from brewhygiene.archive import data_folder, starting
from brewhygiene.archive.daily import start_daily_backup
from brewhygiene.archive.data_folder import owner_only
from brewhygiene.archive.faults import ArchiveFault
from brewhygiene.brewery.models import Brewery
from brewhygiene.certificates.addresses import plain_address
from brewhygiene.certificates.keeping import OTHER_AUTHORITY, Unusable
from brewhygiene.certificates.making import fingerprint
from brewhygiene.certificates.names import lan_address, this_machine
from brewhygiene.certificates.serving import https, start_watching
from brewhygiene.health.clock import WHAT_TO_DO, clock_watch
from brewhygiene.health.faults import fault_of
from brewhygiene.ledger.models import Entry
from brewhygiene.management.answering import make_server
from brewhygiene.management.memory import aside, hand_back, settle
from brewhygiene.people.models import User
from brewhygiene.people.signing_in.demonstration import demo_sign_ins
from brewhygiene.turnarounds.models import LARGEST_TRACE_BYTES

THREADS = 8
USUAL = {"PORT": 8000, "HTTPS_PORT": 8443}
LARGEST_UPLOAD_BYTES = LARGEST_TRACE_BYTES + 1_000_000  # a logger file, with its form around it


def open_port(port: int, *, variable: str = "PORT") -> socket.socket:
    """A listening socket on every address of this machine.

    Raises :class:`CommandError` when another program has the port, or it takes more rights.
    ``variable`` is where the port comes from.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # So that a restart need not wait for the last connections of the one before to be forgotten.
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("0.0.0.0", port))  # noqa: S104 - tablets come from elsewhere in the building
        listening.listen(1024)
    except PermissionError:
        listening.close()
        raise CommandError(
            f"Port {port} may be opened only by the system's administrator. "
            f"Choose one above 1023, for example: {variable}={USUAL[variable]} make run"
        ) from None
    except OSError:
        listening.close()
        raise CommandError(
            f"Port {port} is taken: another program on this machine answers there "
            f"(an earlier make run?). Stop it, or choose another: {variable}={port + 1} make run"
        ) from None
    return listening


def static_fingerprint() -> str:
    """A word for the static files as they are now."""
    fingerprint = hashlib.sha256(str(settings.STORAGES["staticfiles"]).encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            stat = Path(storage.path(name)).stat()
            fingerprint.update(f"{name} {stat.st_size} {stat.st_mtime_ns}\n".encode())
    return fingerprint.hexdigest()


def collect_static_files() -> bool:
    """Compress and name the static files anew if any of them changed; whether it had to."""
    stamp, now = Path(settings.STATIC_ROOT) / ".collected", static_fingerprint()
    with suppress(FileNotFoundError):
        if stamp.read_text() == now:
            return False
    aside(lambda: call_command("collectstatic", interactive=False, verbosity=0))
    stamp.write_text(now)
    return True


def seed_demo() -> None:
    # All of it or nothing: half a brewery would be taken for the site's own next time.
    with transaction.atomic():
        call_command("seed_demo")


def proxy_options() -> dict[str, Any]:
    """Whom to believe about the visitor's address: nobody, or the proxy that terminates TLS."""
    if os.environ.get("HTTPS") != "1":
        return {"clear_untrusted_proxy_headers": True}
    return {
        "trusted_proxy": os.environ.get("TRUSTED_PROXY", "127.0.0.1"),
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        "clear_untrusted_proxy_headers": True,
    }


def in_words(error: Exception) -> str:
    """What kept the server from starting, or '' where it is a mistake of the program's own."""
    if isinstance(error, ArchiveFault):
        return str(error)
    if (fault := fault_of(error)) is None:
        return ""
    return (
        f"{fault.what} {fault.do_at_start} ({data_folder.database_name()} in {settings.DATA_DIR})"
    )


def stop(*_: object) -> NoReturn:
    raise SystemExit(0)


class Command(BaseCommand):
    help = "Serve the application on the building's network (the port is taken from PORT)."
    # The database may not have a table yet when this starts.
    requires_system_checks = ()
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--port",
            default=os.environ.get("PORT") or "8000",
            help="the port to listen on (default: PORT in the environment, or 8000)",
        )

        parser.add_argument(
            "--clock-is-right",
            action="store_true",
            help="Record although the last entry is later than this clock: it was recorded while "
            "the clock was wrong.",
        )

    def handle(self, *args: Any, port: str, clock_is_right: bool, **options: Any) -> None:
        if not port.isdecimal() or not 0 < int(port) < 65536:
            raise CommandError(f"Set PORT to a number from 1 to 65535, not '{port}'.")
        signal.signal(signal.SIGTERM, stop)
        owner_only()
        hand_back()
        with open_port(int(port)) as listening, self.open_https() or nullcontext() as opened:
            try:
                self.prepare()
            except (ArchiveFault, DatabaseError, InterfaceError, OSError) as error:
                if not (words := in_words(error)):
                    raise
                raise CommandError(words) from error
            settle()
            self.watch_clock(clock_is_right=clock_is_right)
            https.http_port = int(port)
            encrypted = self.certify(opened) if opened is not None else None
            self.announce(int(port))
            self.serve(listening, encrypted)

    def prepare(self) -> None:
        """Everything that has to be there before the first page."""
        self.check(display_num_errors=False)
        wants_demo = not os.environ.get("NO_DEMO")
        starting.refuse_unusable_folder()
        starting.refuse_interrupted_restore()
        starting.begin(now=timezone.now(), demo=wants_demo)
        for words in data_folder.close_to_others():
            self.warn(words)
        starting.refuse_damaged_database()
        if path := starting.back_up_before_migrating(now=timezone.now()):
            self.say(f"Before the tables are changed, a backup: {path}")
        call_command("migrate", interactive=False, verbosity=0)
        found = starting.look(now=timezone.now())
        for words in found.warnings:
            self.warn(words)
        if collect_static_files():
            self.say("Static files compressed.")
        if found.fill_demo and wants_demo:
            self.say("First start: adding an invented brewery as a demonstration ...")
            aside(seed_demo)
            starting.remember(now=timezone.now())
        elif not found.set_up and wants_demo:
            self.say(
                "No invented brewery is filled in: a server was started in this folder before. "
                "For one, name an empty folder as DATA_DIR."
            )

    def open_https(self) -> socket.socket | None:
        """A socket for HTTPS, or ``None`` where it is not served.

        What the site asked for by name has to be there. What is so by itself is left out with a
        word where it cannot be: the cellar goes on over plain HTTP.
        """
        given = os.environ.get("HTTPS_PORT") or ""
        if settings.BEHIND_PROXY or given == "0":
            return None
        port = given or str(USUAL["HTTPS_PORT"])
        if not port.isdecimal() or not 0 < int(port) < 65536:
            raise CommandError(
                f"Set HTTPS_PORT to a number from 1 to 65535, or to 0 for none, not '{port}'."
            )
        try:
            if settings.TLS_CERT:
                https.look(this_machine(), now=timezone.now())
            encrypted = open_port(int(port), variable="HTTPS_PORT")
        except Unusable as error:
            raise CommandError(str(error)) from error
        except CommandError as error:
            if given or settings.TLS_CERT:
                raise
            https.why = str(error)
            self.warn(f"HTTPS is not served. {error}")
            return None
        https.port = int(port)
        return encrypted

    def certify(self, encrypted: socket.socket) -> socket.socket | None:
        """The socket with its certificate ready, or ``None`` and a word where there is none."""
        try:
            https.look(this_machine(), now=timezone.now())
        except Unusable as error:
            encrypted.close()
            https.port, https.why = 0, str(error)
            self.warn(f"HTTPS is not served. {error}")
            return None
        return encrypted

    def watch_clock(self, *, clock_is_right: bool) -> None:
        """Say where the clock has gone back, and let nothing be recorded until it is set."""
        last = Entry.objects.order_by("-id").values_list("recorded_at", flat=True).first()
        clock_watch.arm(None if clock_is_right else last)
        if (gone_back := clock_watch.gone_back(timezone.now())) is not None:
            self.warn(f"{gone_back} {WHAT_TO_DO} Until then nothing can be recorded.")

    def announce(self, port: int) -> None:
        brewery = Brewery.current()
        self.say("")
        self.say(f"{brewery.name} is served at:")
        self.say(f"    http://localhost:{port}/   on this machine")
        if address := lan_address():
            self.say(f"    http://{address}:{port}/   for tablets on the building's network")
        if https.port:
            self.announce_https(address or "localhost")
        if brewery.is_demo:
            self.announce_sign_ins()
        elif not User.objects.filter(is_active=True).exists():
            self.say("Nobody can sign in yet. Open the first page to add the head brewer.")
        self.say(f"Data is in {settings.DATA_DIR}. Stop with Ctrl+C.")

    def announce_https(self, address: str) -> None:
        """Where it is, how a tablet comes to trust it, and what to compare then."""
        assert https.shown is not None
        self.say(f"    https://{address}:{https.port}/   once the device trusts it")
        if https.shown.authority is None:
            self.say(f"Its certificate is the site's own, from {settings.TLS_CERT}.")
            return
        self.say(f"How a device comes to trust it: {plain_address()}trust/")
        self.say("The fingerprint (SHA-256) to compare then:")
        self.say(f"    {fingerprint(https.shown.authority)}")
        for name in https.shown.beyond:
            self.warn(f"{name} is not in the certificate. {OTHER_AUTHORITY}")

    def announce_sign_ins(self) -> None:
        """The invented people, by name, password and role."""
        rows = [(one.username, one.password, one.role) for one in demo_sign_ins()]
        if not rows:
            return
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        self.say("The brewery and its people are invented. Sign in as one of them:")
        for row in rows:
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
            self.say(f"    {'   '.join(cells)}".rstrip())

    def serve(self, listening: socket.socket, encrypted: socket.socket | None) -> None:
        # Read here and not above: the static files are listed when the application is made.
        from brewhygiene.wsgi import application

        server = make_server(
            application,
            plain=listening,
            encrypted=encrypted,
            context=https.context,
            threads=THREADS,
            ident="",
            connection_limit=500,
            channel_timeout=60,
            max_request_body_size=LARGEST_UPLOAD_BYTES,
            max_request_header_size=64 * 1024,
            **proxy_options(),
        )
        stop_backups = start_daily_backup()
        stop_watching = start_watching() if encrypted is not None else None
        try:
            server.run()
        finally:
            stop_backups.set()
            if stop_watching is not None:
                stop_watching.set()
            with suppress(DatabaseError, OSError):
                starting.remember(now=timezone.now())
        self.say("Stopped.")

    def warn(self, words: str) -> None:
        self.stderr.write(words)
        self.stderr.flush()

    def say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
