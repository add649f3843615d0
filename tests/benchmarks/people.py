"""People at the book at once, over HTTP against the real server in a process of its own.

Each logs in with an account, opens a page every two seconds, or at another pace, and saves
something after seven or eight of them: a real form is fetched, filled in and sent back with all
that was hidden in it. Only this machine is ever asked.
"""

import itertools
import random
import socket
import threading
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from html.parser import HTMLParser
from http.client import HTTPConnection, HTTPResponse
from http.cookies import SimpleCookie
from time import monotonic, perf_counter, process_time, sleep
from typing import Any
from urllib.parse import urlencode, urlsplit

from tests.benchmarks.generated import PASSWORD, PEOPLE

# Seconds from page to page, and so many of these from save to save.
PAGE_EVERY, PAGES_A_SAVE = 2.0, 7.5
_PATIENCE, _TRICKLE = 20, 0.5
_INCUBATED, _GROWN = timedelta(days=60), timedelta(days=5 * 365)
Fields = list[tuple[str, str]]


@dataclass
class Heard:
    """What came back: milliseconds by page and by save, and what went wrong."""

    pages: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    saves: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    requests: int = 0
    share: float = 0


@dataclass(frozen=True)
class Subjects:
    """What people open, and what they write about."""

    pages: dict[str, list[str]]
    animals: list[int]
    pairs: list[tuple[int, int]]


def at_once(
    *,
    people: int,
    ports: Sequence[int],
    seconds: float,
    subjects: Subjects,
    slow: int = 0,
    every: float = PAGE_EVERY,
) -> Heard:
    """Let people read and write for so long; `share` is of one processor, the generator's own.

    Each opens a page `every` so many seconds, however long the last one took, and stays at one
    of the `ports`, as behind a proxy that keeps its connections. So many `slow` phones trickle a
    request each, a byte every half second, all the while.
    """
    heard, lock = Heard(), threading.Lock()
    readers = [
        _Person(n, ports[n % len(ports)], subjects, heard, lock, every) for n in range(people)
    ]
    for reader in readers:
        reader.log_in()
    end = monotonic() + seconds
    threads = [threading.Thread(target=reader.work, args=[end]) for reader in readers]
    threads.append(threading.Thread(target=_trickle, args=[slow, ports[0], end]))
    begun, spent = perf_counter(), process_time()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    heard.share = (process_time() - spent) / (perf_counter() - begun)
    return heard


def _trickle(slow: int, port: int, end: float) -> None:
    """Send requests byte by byte on so many connections; one that was closed is opened again."""
    request = b"POST /log-in/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 100000\r\n\r\n"
    open_: list[tuple[socket.socket, Iterator[int]]] = []
    while monotonic() < end:
        while len(open_) < slow:
            connection = socket.create_connection(("127.0.0.1", port), timeout=_PATIENCE)
            open_.append((connection, itertools.chain(request, itertools.repeat(b"x"[0]))))
        for phone in list(open_):
            connection, letters = phone
            try:
                connection.sendall(bytes([next(letters)]))
            except OSError:
                connection.close()
                open_.remove(phone)
        sleep(_TRICKLE)
    for connection, _ in open_:
        connection.close()


class _Person:
    """Somebody with a browser: one connection that is kept, and cookies."""

    def __init__(
        self,
        number: int,
        port: int,
        subjects: Subjects,
        heard: Heard,
        lock: threading.Lock,
        every: float,
    ) -> None:
        self.number, self.subjects, self.heard, self.lock = number, subjects, heard, lock
        self.every = every
        self.chance = random.Random(number)
        self.connection = HTTPConnection("127.0.0.1", port, timeout=_PATIENCE)
        self.cookies: dict[str, str] = {}
        self.clutches: list[str] = []

    def log_in(self) -> None:
        """Send the log-in form; raise RuntimeError if that does not let one in."""
        page = self._ask("/log-in/")[1]
        fields = _filled(page, username=PEOPLE[self.number % len(PEOPLE)], password=PASSWORD)
        status, _, where = self._ask("/log-in/", fields)
        if status != 302 or "log-in" in where:
            raise RuntimeError(f"person {self.number} was not let in: {status} {where}")

    def work(self, end: float) -> None:
        """Open pages and save until the end, each at its own time however long the last took."""
        save_every = self.every * PAGES_A_SAVE
        page_at = monotonic() + self.chance.uniform(0, self.every)
        save_at = monotonic() + self.chance.uniform(0, save_every)
        saves = self._saves()
        # Whoever waited long asks for what came due meanwhile, but not after the end.
        while (due := min(page_at, save_at)) < end and monotonic() < end:
            sleep(max(0.0, due - monotonic()))
            if save_at <= page_at:
                save_at += save_every
                next(saves)
            else:
                page_at += self.every
                kind = self.chance.choice(list(self.subjects.pages))
                self._open(kind, self.chance.choice(self.subjects.pages[kind]))

    # --- reading ---------------------------------------------------------------------------

    def _open(self, kind: str, address: str) -> None:
        begun = perf_counter()
        status, page, _ = self._ask(address)
        spent = (perf_counter() - begun) * 1000
        with self.lock:
            self.heard.pages[kind].append(spent)
            if status != 200:
                self.heard.errors.append(f"{status} {address} {page[:200]}")

    # --- writing ---------------------------------------------------------------------------

    def _saves(self) -> Iterator[None]:
        """Save one thing after another, for ever."""
        kinds: list[Callable[[int], None]] = [self._look, self._place, self._lay, self._hatch]
        number = self.number
        while True:
            kinds[number % len(kinds)](number)
            number += 1
            yield

    def _look(self, number: int) -> None:
        animal = self.chance.choice(self.subjects.animals)
        address = f"/animals/{animal}/look/"
        page = self._ask(address)[1]
        trait = self.chance.choice(_choices(page, "unsure"))
        looked = _filled(page, unsure=trait, scope="part", on=_today())
        self._save("look logged", address, looked)

    def _place(self, number: int) -> None:
        animal = self.chance.choice(self.subjects.animals)
        address = f"/animals/{animal}/change/"
        page = self._ask(address)[1]
        place = f"Shelf {self.number}-{number}-{self.chance.randrange(1000)}"
        self._save("animal changed", address, _filled(page, place=place, reason="Moved"))

    def _lay(self, number: int) -> None:
        dam, sire = self.chance.choice(self.subjects.pairs)
        address = f"/clutches/new/?dam={dam}&sire={sire}"
        page = self._ask(address)[1]
        code = f"P{self.number}-{number}-{self.chance.randrange(10_000)}"
        laid = (date.today() - _INCUBATED).isoformat()
        where = self._save("clutch laid", address, _filled(page, code=code, eggs="7", laid_on=laid))
        if where.startswith("/clutches/"):
            self.clutches.append(where.partition("?")[0])

    def _hatch(self, number: int) -> None:
        if not self.clutches:
            return self._lay(number)
        address = f"{self.clutches.pop()}hatch/"
        page = self._ask(address)[1]
        first = next(name for name in _names(page) if name.endswith("-unknown-count"))
        counts: dict[str, str] = {first: "6", "eggs": "7", "slugs": "1", "record_all": "on"}
        counts["scope"] = "whole"
        self._save("hatch logged", address, _filled(page, **counts))
        return None

    def _save(self, kind: str, address: str, fields: Fields) -> str:
        """Send a form and open the page it leads to; return that page's address."""
        begun = perf_counter()
        status, page, where = self._ask(address, fields)
        spent = (perf_counter() - begun) * 1000
        with self.lock:
            self.heard.saves[kind].append(spent)
            if status >= 500:
                self.heard.errors.append(f"{status} {address} {page[:200]}")
            elif status != 302:
                self.heard.refused.append(f"{status} {address}: {_complaint(page)}")
        if status == 302:
            self._open("page after a save", where)
        return where

    # --- HTTP ------------------------------------------------------------------------------

    def _ask(self, address: str, fields: Fields | None = None) -> tuple[int, str, str]:
        """Return the status, the page and where it leads to."""
        headers = {"Cookie": "; ".join(f"{key}={value}" for key, value in self.cookies.items())}
        try:
            if fields is None:
                self.connection.request("GET", address, headers=headers)
            else:
                headers["Content-Type"] = "application/x-www-form-urlencoded"
                self.connection.request("POST", address, urlencode(fields), headers)
            answer = self.connection.getresponse()
            page = answer.read().decode()
        except OSError as error:
            self.connection.close()
            with self.lock:
                self.heard.errors.append(f"no answer from {address}: {error!r}")
            return 0, "", ""
        self._keep_cookies(answer)
        with self.lock:
            self.heard.requests += 1
        where = urlsplit(answer.headers.get("Location", ""))
        return answer.status, page, where.path + (f"?{where.query}" if where.query else "")

    def _keep_cookies(self, answer: HTTPResponse) -> None:
        for line in answer.headers.get_all("Set-Cookie", []):
            for name, morsel in SimpleCookie(line).items():
                self.cookies[name] = morsel.value


class _Forms(HTMLParser):
    """The forms of a page: what each would send if nothing were typed, and what could be chosen."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.forms: list[Fields] = []
        self.names: list[str] = []
        self.options: dict[str, list[str]] = defaultdict(list)
        self._select: str | None = None
        self._chosen: str | None = None
        self._text: str | None = None
        self._inside = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take in what a field holds."""
        of = {key: value or "" for key, value in attrs}
        if tag == "form":
            self._inside = of.get("method", "get").lower() == "post"
            if self._inside:
                self.forms.append([])
        elif self._inside and tag == "input" and "name" in of:
            self.names.append(of["name"])
            boxes = of.get("type") in {"checkbox", "radio"}
            if boxes:
                self.options[of["name"]].append(of.get("value", ""))
            if of.get("type") not in {"submit", "file"} and (not boxes or "checked" in of):
                self.forms[-1].append((of["name"], of.get("value", "on" if boxes else "")))
        elif self._inside and tag == "select":
            self._select, self._chosen = of.get("name", ""), None
        elif tag == "option" and self._select is not None:
            self.options[self._select].append(of.get("value", ""))
            if "selected" in of or self._chosen is None:
                self._chosen = of.get("value", "")
        elif self._inside and tag == "textarea":
            self._text = ""
            self.forms[-1].append((of.get("name", ""), ""))

    def handle_data(self, data: str) -> None:
        """Take in the text of a large field."""
        if self._text is not None:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        """Close a field or a form."""
        if tag == "form":
            self._inside = False
        elif tag == "select" and self._select is not None:
            if self._inside:
                self.forms[-1].append((self._select, self._chosen or ""))
            self._select = None
        elif tag == "textarea" and self._text is not None:
            name, _ = self.forms[-1][-1]
            self.forms[-1][-1] = (name, self._text.removeprefix("\n"))
            self._text = None


def _filled(page: str, **typed: str) -> Fields:
    """Return what the page's largest form sends, with these fields typed over."""
    form: Fields = max(_Forms(page).forms, key=len, default=[])
    kept = [(name, value) for name, value in form if name not in typed]
    return kept + list(typed.items())


def _today() -> str:
    return date.today().isoformat()


def _names(page: str) -> list[str]:
    return _Forms(page).names


def _choices(page: str, name: str) -> list[str]:
    return [value for value in _Forms(page).options[name] if value]


def _complaint(page: str) -> str:
    """What a form that was not taken says of it, shortened."""
    place = max(page.find("errorlist"), page.find('class="error'), page.find("notice error"))
    return " ".join(page[place : place + 200].split()) if place >= 0 else page[:100]


def subjects(pages: dict[str, list[str]]) -> Subjects:
    """Read from the book what people will open and write about."""
    from keeper import models as m

    known: Any = m.Animal.objects.filter(standings__isnull=False).distinct()
    bred = known.exclude(clutch=None).order_by("-pk").values_list("pk", flat=True)
    # Of younger ones the book asks whether that is so.
    grown = known.filter(hatched_on__lt=date.today() - _GROWN).order_by("-pk")
    dams = grown.filter(sex="female").values_list("pk", flat=True)[:40]
    sires = grown.filter(sex="male").values_list("pk", flat=True)[:40]
    return Subjects(pages, list(bred[:200]), list(zip(dams, sires, strict=False)))
