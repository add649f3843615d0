"""Run the project's own commands in processes of their own, as a keeper does."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
_PATIENCE = 300
"""Seconds after which a command counts as stuck: a busy machine may take a minute for a start."""


def environment(data: Path, **settings: str) -> dict[str, str]:
    """Return the machine's environment with the given data folder and settings only."""
    ours = ("KEPTLINES_", "DJANGO_", "DATABASE_URL")
    kept = {key: value for key, value in os.environ.items() if not key.startswith(ours)}
    kept.pop("TZ", None)  # Django sets it for its own process
    return kept | {"KEPTLINES_DATA": str(data), "KEPTLINES_ENVIRONMENT": "own"} | settings


def manage(*arguments: str, data: Path, **settings: str) -> subprocess.CompletedProcess[str]:
    """Run `manage.py` to its end with the tests' own interpreter."""
    return _run(str(ROOT / "manage.py"), *arguments, data=data, **settings)


def module(name: str, *arguments: str, data: Path) -> subprocess.CompletedProcess[str]:
    """Run a module of ours to its end, in the same way."""
    return _run("-m", name, *arguments, data=data)


def _run(*command: str, data: Path, **settings: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env=environment(data, **settings),
        capture_output=True,
        text=True,
        timeout=_PATIENCE,
        check=False,
        stdin=subprocess.DEVNULL,
    )


def killed_at(data: Path, module: str, *arguments: str) -> None:
    """Run a module until it says that it is there, and kill it without a word."""
    with subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        cwd=ROOT,
        env=environment(data),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        said = process.stdout.readline()
        process.kill()
        assert said == "there\n", process.stderr.read()


@contextmanager
def whole_book(data: Path) -> Iterator[sqlite3.Connection]:
    """Open the book of a data folder, which must be in order."""
    with closing(sqlite3.connect(data / "book.sqlite3")) as book:
        assert book.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert book.execute("PRAGMA foreign_key_check").fetchall() == []
        yield book


def free_port() -> int:
    """Return a port that nothing listens on at the moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass(frozen=True)
class Started:
    """A running book: its port, and what it printed before it began to answer."""

    port: int
    printed: str


@contextmanager
def started(*arguments: str, data: Path, **settings: str) -> Iterator[Started]:
    """Serve a book in a process of its own until the block ends."""
    port = free_port()
    process = subprocess.Popen(
        [
            *(sys.executable, "-u", str(ROOT / "manage.py"), "start", "--no-browser"),
            *("--port", str(port), *arguments),
        ],
        env=environment(data, **settings),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        stdin=subprocess.DEVNULL,
        text=True,
    )
    try:
        yield Started(port, _read_until_ready(process))
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=30)
        if process.stdout:
            process.stdout.close()


@contextmanager
def served(processes: int, *, data: Path, **settings: str) -> Iterator[list[int]]:
    """Serve a book by several processes of the web server, as a host does; yield their ports."""
    ports = [free_port() for _ in range(processes)]
    with ExitStack() as running:
        for port in ports:
            process = subprocess.Popen(
                [
                    *(sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{port}"),
                    *("--threads=8", "keeper.wsgi:application"),
                ],
                cwd=ROOT,
                env=environment(data, KEPTLINES_SERVE="loopback", **settings),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                stdin=subprocess.DEVNULL,
            )
            running.callback(process.wait, timeout=30)
            running.callback(process.terminate)
        for port in ports:
            _wait_for(port)
        yield ports


def _wait_for(port: int) -> None:
    deadline = time.monotonic() + _PATIENCE
    while time.monotonic() < deadline:
        with suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{port}/ready/") as ready:
            if ready.status == 200:
                return
        time.sleep(0.2)
    raise TimeoutError(f"nothing answers at port {port}")


def _read_until_ready(process: "subprocess.Popen[str]") -> str:
    assert process.stdout is not None
    lines: list[str] = []
    deadline = time.monotonic() + _PATIENCE
    while time.monotonic() < deadline:
        line = process.stdout.readline()
        lines.append(line)
        if not line or line.startswith("Stop it"):
            break
    return "".join(lines)
