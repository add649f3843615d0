"""`manage.py start`: bring the book up to date, serve it, say where it is."""

import datetime as dt
import io
import os
import secrets
import signal
import sys
import threading
import webbrowser
from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

import segno
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.core.wsgi import get_wsgi_application
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from keeper import NAME
from keeper.domain import inference
from keeper.domain.accounts import starting
from keeper.domain.accounts import writes as accounts
from keeper.domain.background import jobs
from keeper.domain.backups import asked, making
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.writing import writing
from keeper.domain.erasure import sweeping
from keeper.domain.imports import running as imports
from keeper.models import Animal
from keeper.serving import server, tls
from keeper.serving.locks import SERVING, Held, only_one
from keeper.serving.repeating import repeat

PORT = 8000
LOOK_EVERY = 300  # seconds between looks whether a copy is due

_TRUST = """\
Once on each phone, so that it trusts this address:
  1. Scan the code, and go on past the phone's warning this one time.
  2. Open "Trust this address on a phone" on the log-in page and fetch the certificate.
     The steps for your phone stand there.
  3. Before you switch it on, compare its SHA-256 fingerprint with this one:
     {fingerprint}"""


class Command(BaseCommand):
    """Serve the book from this machine."""

    help = f"Start {NAME} on this machine, or with --lan on its network."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument("--lan", action="store_true", help="serve phones on the network too")
        parser.add_argument("--port", type=_port, default=PORT, help=f"default {PORT}")
        parser.add_argument("--no-browser", action="store_true", help="open no browser")
        parser.add_argument(
            "--example", action="store_true", help="try-out: make an owner, load the example"
        )
        parser.add_argument(
            "--without-copy",
            action="store_true",
            help="bring an older book up to date even if no copy of it can be made before",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Serve until Ctrl+C."""
        lan = bool(options["lan"])
        if options["example"] and not starting.example_is_shipped():
            _refuse("this copy brings no example collection; start without --example.")
        web = _hold_port(options["port"], lan=lan)
        # Its threads run already: whatever happens now, they must end with this process.
        with server.running(web), _alone():
            signal.signal(signal.SIGTERM, _stop)
            self._open(_address(server.port_of(web), lan=lan), options)
            repeat(_back_up_if_due, every=LOOK_EVERY, name="copies")
            web.run()

    def _open(self, address: str, options: dict[str, Any]) -> None:
        """Bring the book up to date and say where it is."""
        upgraded = _bring_up_to_date(without_copy=options["without_copy"])
        self.stdout.write("Getting ready; the first time this takes about a minute.")
        self.stdout.flush()
        inference.warm_up()
        if upgraded and Animal.objects.exists():
            self._recompute()
        self.stdout.write(f"{NAME} is at {address}")
        if options["lan"]:
            self._show_way_for_phones(address)
        self._welcome(example=options["example"])
        self.stdout.write("Stop it with Ctrl+C.")
        self.stdout.flush()
        if not options["no_browser"]:
            _open_browser(address)

    def _recompute(self) -> None:
        """Work out every figure by the rules of this version, in an entry of the daybook."""
        self.stdout.write("The program is newer than the book: its figures are worked out anew.")
        ahead = inference.solved_ahead()
        with writing(by=None, what="Recomputed the whole book", of_records=False) as book:
            inference.recompute(entry=book.entry, ahead=ahead)

    def _welcome(self, *, example: bool) -> None:
        """Say how to get into a book that nobody has set up yet."""
        if not accounts.needs_owner():
            if example:
                self.stdout.write("The book has an owner already; the example was not loaded.")
        elif example:
            self._make_example()
        else:
            code = accounts.new_code()
            self.stdout.write(f"First visit: make the owner's account with the code {code}")

    def _make_example(self) -> None:
        """Make an owner and load the example: both or neither, and never without the password."""
        password = secrets.token_urlsafe(9)
        self.stdout.write("Loading the example collection.")
        self.stdout.flush()
        with transaction.atomic():
            owner = accounts.create_owner(name="owner", password=password)
            starting.load_example(by=owner)
            # Stopped before this line nothing is kept; after it somebody has read the password.
            self.stdout.write(f"Log in as {owner} with the password {password}")
            self.stdout.flush()

    def _show_way_for_phones(self, address: str) -> None:
        self.stdout.write(_qr_code(address, colours=sys.stdout.isatty()))
        for other in settings.LAN_ADDRESSES[1:]:
            self.stdout.write(f"This machine is on another network too, as {other}")
        self.stdout.write(_TRUST.format(fingerprint=tls.fingerprint(_certificates().public)))


def _hold_port(port: int, *, lan: bool) -> Any:
    """Return the server with its port taken, before anything else is done."""
    if lan and not settings.LAN_ADDRESSES:
        _refuse(
            "this machine is on no network where a phone could reach it; connect it to the "
            "wireless network and start again."
        )
    host = "0.0.0.0" if lan else "127.0.0.1"
    files = _certificates() if lan else None
    try:
        return server.prepare(get_wsgi_application(), host=host, port=port, tls=files)
    except server.PortTaken:
        free = server.free_port("127.0.0.1", after=max(port, PORT - 1))
        _refuse(
            f"port {port} is taken, perhaps by {NAME} itself: stop what uses it, or start with "
            f"`--port {free}`."
        )


def _certificates() -> tls.Files:
    return tls.prepare(
        settings.DATA / "certificates",
        hosts=[*settings.LAN_ADDRESSES, *settings.LAN_NAMES],
        now=dt.datetime.now(dt.UTC),
    )


def _port(typed: str) -> int:
    """Read a port.

    Raises:
        ArgumentTypeError: it is none.
    """
    if not typed.isdecimal() or not 0 <= int(typed[:6]) <= 65535:
        raise ArgumentTypeError(f"{typed} is no port; use a number from 1024 to 65535")
    return int(typed)


@contextmanager
def _alone() -> Iterator[None]:
    """Be the only one that serves this data folder, or restores into it."""
    try:
        with only_one(settings.DATA / SERVING):
            yield
    except Held:
        _refuse(
            f"the book in {settings.DATA} is being served or restored already. Stop that first, or "
            "name another folder by KEPTLINES_DATA."
        )


def _back_up_if_due() -> None:
    """Begin a copy if one is due; what keeps it from being made is told on Today."""
    try:
        asked.begin_if_due()
    finally:
        connection.close()


def _bring_up_to_date(*, without_copy: bool) -> bool:
    """Migrate the book, and return whether there was anything to migrate."""
    _refuse_damaged()
    try:
        executor = MigrationExecutor(connection)
        _refuse_newer(executor)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if waiting and not without_copy:
            making.before_risk("bringing the book up to date")
        call_command("migrate", verbosity=0, interactive=False)
    except DatabaseError as error:
        _refuse(f"the database cannot be used: {str(error).splitlines()[0]}.")
    except NotMade as error:
        _refuse(
            f"the program is newer than the book, and no copy of the book could be made before it "
            f"is brought up to date. {error} With --without-copy it is done without one."
        )
    try:
        making.settle_pictures()
    except OSError as error:
        _refuse(
            f"a restore was cut short, and the pictures are out of reach ({error}). See to it that "
            "they can be reached, and start again."
        )
    jobs.settle_all()
    imports.settle()
    if sweeping.is_left():
        sweeping.finish()
    return bool(waiting)


def _refuse_damaged() -> None:
    """Refuse a book's file that is empty or cannot be written, instead of beginning a new book."""
    if connection.vendor != "sqlite":
        return
    path = Path(str(connection.settings_dict["NAME"]))
    if not path.exists():
        return
    if path.stat().st_size == 0:
        _refuse(
            f"{path} is empty: it may have been cut short. Put a copy of the book in its place, "
            "or delete the file to begin a new book."
        )
    if not os.access(path, os.W_OK):
        _refuse(f"{path} cannot be written. Give this account the right to write it.")


def _refuse_newer(executor: MigrationExecutor) -> None:
    """Refuse a book that a newer version of the program has written."""
    known = executor.loader.disk_migrations
    unknown = sorted(
        name
        for app, name in executor.loader.applied_migrations
        if app == "keeper" and (app, name) not in known
    )
    if unknown:
        _refuse(
            f"a newer version of {NAME} has written this book (it knows {unknown[-1]}). Start "
            "that version; this one would not understand all of it."
        )


def _address(port: int, *, lan: bool) -> str:
    return f"https://{settings.LAN_ADDRESSES[0]}:{port}/" if lan else f"http://127.0.0.1:{port}/"


def _qr_code(address: str, *, colours: bool) -> str:
    """Return the code in half blocks, dark on light whatever the terminal's colours are."""
    drawn = io.StringIO()
    segno.make(address, micro=False).terminal(drawn, compact=True)
    before, after = ("\x1b[97;40m", "\x1b[0m") if colours else ("", "")
    return "\n".join(f"{before}{line}{after}" for line in drawn.getvalue().splitlines())


def _open_browser(address: str) -> None:
    # Without a screen Python would open a browser inside this very terminal.
    if sys.platform in {"win32", "darwin"} or {"DISPLAY", "WAYLAND_DISPLAY"} & os.environ.keys():
        threading.Thread(target=webbrowser.open, args=[address], daemon=True).start()


def _stop(*_: object) -> NoReturn:
    raise KeyboardInterrupt


def _refuse(sentence: str) -> NoReturn:
    sys.exit(f"{NAME}: {sentence}")
