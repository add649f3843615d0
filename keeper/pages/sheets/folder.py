"""The public pages of all signed sheets as a folder of files, for any web host over HTTPS.

    css/ fonts/ js/            what the pages look like, and what checks them
    papers/CODE/index.html     a page; papers/CODE/sheet.json what was signed
    papers/stock/CODE/         what is for sale, if that page is switched on
    index.html                 says what the address is for, and lists nothing

The folder is made beside its place and moved there when it is whole. What a page says came after
(withdrawn, or a notice) is signed too, with its day and until when it may be relied on.
"""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string

from keeper import NAME
from keeper.discretion import Reader, read_by
from keeper.domain.sheets import keys, signing
from keeper.domain.sheets.addresses import PAPERS
from keeper.domain.sheets.public import PublicSheet, public_sheets, signed_sheets
from keeper.domain.stock import public as stock_page
from keeper.pages.frame.shell import BARE_STYLES
from keeper.pages.sheets.papers import Paper, proof

_MARK = "made-by-the-book"
_SCRIPT = "check"


class NotMade(Exception):
    """The folder was not made; the message says why and what to do."""


@dataclass(frozen=True)
class Made:
    """What was written: how many pages, and how many of them have a signature that fails."""

    pages: int
    broken: tuple[str, ...]


def write(into: Path, *, on: date, days: int) -> Made:
    """Write the folder; what stood there before, if it was such a folder, is replaced whole.

    Raises:
        NotMade: there is something else, the disk refuses, or no key is at hand.
    """
    if into.exists() and not (into / _MARK).exists() and (into.is_file() or any(into.iterdir())):
        raise NotMade(f"{into} holds something else. Name a folder that is new or empty.")
    fresh, old = (into.with_name(f"{into.name}.{word}") for word in ("part", "old"))
    try:
        shutil.rmtree(fresh, ignore_errors=True)
        made = _written(fresh, on=on, days=days)
        shutil.rmtree(old, ignore_errors=True)
        if into.exists():
            into.rename(old)
        fresh.rename(into)
        shutil.rmtree(old, ignore_errors=True)
    except OSError as error:
        raise NotMade(f"{into} cannot be written: {error.strerror}.") from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return made


def _written(root: Path, *, on: date, days: int) -> Made:
    root.mkdir(parents=True)
    (root / _MARK).touch()
    _copy_looks(root)
    for depth, folder in enumerate((root, root / PAPERS)):
        folder.mkdir(exist_ok=True)
        page = render_to_string("sheets/papers.html", _links(depth) | {"book_name": NAME})
        (folder / "index.html").write_text(page, encoding="utf-8")
    broken = []
    count = 0
    with read_by(Reader(people=False, prices=False)):
        _write_stock(root)
        for one in _papers(on, days):
            _write_page(root / PAPERS / one.sheet.code, one)
            count += 1
            if not one.sheet.holds:
                broken.append(one.sheet.numbered)
    return Made(count, tuple(broken))


def _write_stock(root: Path) -> None:
    """Write the page of what is for sale, if it is switched on."""
    found = stock_page.page()
    if found is None:
        return
    folder = root / PAPERS / "stock" / found.code
    folder.mkdir(parents=True)
    context = _links(3) | {"shown": stock_page.shown(found), "book_name": NAME}
    text = render_to_string("stock/public.html", context)
    (folder / "index.html").write_text(text, encoding="utf-8")


def _papers(on: date, days: int) -> Iterator[Paper]:
    """Every page, with what came after it signed by the key that signs now."""
    sheets = signed_sheets()
    if not sheets.exists():
        return
    key = keys.current()
    private = keys.private_of(key) if key else None
    if key is None or private is None:
        raise NotMade("The key that signs is not at hand. Look at the page of keys of sheets.")
    stale_after = on + timedelta(days=days)
    for shown in public_sheets(list(sheets)):
        state = signing.canonical(_state(shown, on, stale_after, key.fingerprint))
        yield Paper(shown, on, stale_after, state, private.sign(state), bytes(key.public))


def _state(sheet: PublicSheet, on: date, stale_after: date, key: str) -> dict[str, str | int]:
    """What came after a sheet was issued, as it is signed; days in ISO 8601, or nothing."""
    return {
        "format": signing.STATE,
        "version": signing.STATE_VERSION,
        "code": sheet.code,
        "number": sheet.numbered,
        "key": key,
        "as_of": on.isoformat(),
        "stale_after": stale_after.isoformat(),
        "withdrawn": sheet.withdrawn_on.isoformat() if sheet.withdrawn_on else "",
        "notice": sheet.notice_on.isoformat() if sheet.notice_on else "",
    }


def _write_page(folder: Path, paper: Paper) -> None:
    folder.mkdir()
    context = _links(2) | {"paper": paper, "proof": "sheet.json", "book_name": NAME}
    page = render_to_string("sheets/paper.html", context)
    (folder / "index.html").write_text(page, encoding="utf-8")
    (folder / "sheet.json").write_bytes(proof(paper.sheet))


def _links(depth: int) -> dict[str, object]:
    """The addresses of styles and script as seen from a page so many folders down."""
    up = "../" * depth
    styles = [f"{up}css/{name}.css" for name in BARE_STYLES]
    return {"styles": styles, "script": f"{up}js/{_SCRIPT}.js"}


def _copy_looks(root: Path) -> None:
    static = settings.ROOT / "static"
    files = [f"css/{name}.css" for name in BARE_STYLES] + [f"js/{_SCRIPT}.js", "fonts/OFL.md"]
    files += [f"fonts/SourceSans3VF-{face}.woff2" for face in ("Upright", "Italic")]
    for name in files:
        (root / name).parent.mkdir(exist_ok=True)
        shutil.copyfile(static / name, root / name)
