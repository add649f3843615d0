"""Archives that are not as they were made: refused in words, and the book stays as it was."""

import hashlib
import json
import os
import random
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client, override_settings
from django.urls import reverse

from keeper import models as m
from keeper.domain.archives import inside, waiting
from keeper.domain.archives.opening import is_empty, open_into_book
from keeper.domain.book.refusing import Refused
from tests.factories import AccountFactory
from tests.guards.test_refusals import ASKS
from tests.keeper.archives.books import NAME, archived, contents, counts
from tests.keeper.world import World

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

pytestmark = pytest.mark.django_db
TIMES = int(os.environ.get("KEPTLINES_EXAMPLES", 60))
Files = dict[str, bytes]


@pytest.fixture(scope="module")
def whole(
    django_db_setup: None,
    django_db_blocker: "DjangoDbBlocker",
    tmp_path_factory: pytest.TempPathFactory,
) -> Files:
    """The files of a sound archive; the book is empty afterwards."""
    media = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("media"))
    with django_db_blocker.unblock(), transaction.atomic(), media:
        World(AccountFactory.create(name="Mara", role="owner"), 5)
        path = archived(tmp_path_factory.mktemp("archives"))
        transaction.set_rollback(True)
    return contents(path)


@pytest.fixture
def empty(tmp_path: Path, settings: Any) -> m.Account:
    """An empty book with a media folder of its own."""
    settings.MEDIA_ROOT = tmp_path / "media"
    return AccountFactory.create(name="Mara", role="owner")


def packed(files: Files, into: Path) -> Path:
    path = into / "archive.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return path


def signed(files: Files) -> Files:
    """The same with sizes and hashes that are right again, as somebody would who means harm."""
    said = json.loads(files[NAME])
    parts = [said["readme"], *said["pictures"]]
    parts += [part for table in said["tables"] for part in (table["csv"], table["json"])]
    for part in parts:
        if part["path"] in files:
            content = files[part["path"]]
            part |= {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    return files | {NAME: json.dumps(said).encode()}


def rows(files: Files, table: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(files[f"tables/{table}.json"])
    return found


def with_rows(files: Files, table: str, changed: list[dict[str, Any]]) -> Files:
    """A table with other rows; counted and signed anew."""
    written = ",\n".join(json.dumps(row) for row in changed)
    said = json.loads(files[NAME])
    for one in said["tables"]:
        if one["name"] == table:
            one["rows"] = len(changed)
    names = {f"tables/{table}.json": f"[\n{written}\n]\n".encode(), NAME: json.dumps(said).encode()}
    return signed(files | names)


def changed(files: Files, table: str, **values: Any) -> Files:
    """A table whose first row has other values."""
    first, *rest = rows(files, table)
    return with_rows(files, table, [first | values, *rest])


def manifest(files: Files, **values: Any) -> Files:
    return files | {NAME: json.dumps(json.loads(files[NAME]) | values).encode()}


def refused(path: Path) -> str:
    """The words by which an archive is refused; the book has nothing of it."""
    before = counts()
    with pytest.raises(Refused) as caught:
        open_into_book(path)
    assert counts() == before
    assert ASKS.search(str(caught.value))
    return str(caught.value)


def test_a_sound_archive_is_taken(whole: Files, empty: m.Account, tmp_path: Path) -> None:
    open_into_book(packed(whole, tmp_path))
    assert not is_empty()


def moved(files: Files, old: str, new: str) -> Files:
    """A picture under another name, in the rows and in the manifest too."""
    swapped = {name: data.replace(old.encode(), new.encode()) for name, data in files.items()}
    swapped[f"pictures/{new}"] = swapped.pop(f"pictures/{old}")
    return signed(swapped)


def picture_of(files: Files) -> str:
    (name,) = (one for one in files if one.startswith("pictures/photos/"))
    return name.removeprefix("pictures/")


HARMS: dict[str, tuple[Callable[[Files], Files], str]] = {
    "not ours": (lambda one: {"a.txt": b"hello"}, "no archive of a book"),
    "manifest cut": (lambda one: one | {NAME: one[NAME][:300]}, "manifest cannot be read"),
    "other program's": (lambda one: manifest(one, format="other"), "no archive of a book"),
    "later format": (lambda one: manifest(one, version=2), "reads formats up to 1"),
    "later tables": (lambda one: manifest(one, stands_at="0999_later"), "unknown here"),
    "before a rewriting": (
        lambda one: manifest(one, stands_at="0004_change_by_entry"),
        "changed what stands in such rows",
    ),
    "file gone": (
        lambda one: {name: data for name, data in one.items() if name != "tables/clutch.csv"},
        "'tables/clutch.csv' is missing",
    ),
    "file more": (lambda one: one | {"../evil.txt": b"x"}, "'../evil.txt' is missing, too many"),
    "text changed": (
        lambda one: one | {"README.txt": one["README.txt"].replace(b"A", b"B")},
        "'README.txt' is not as it was made",
    ),
    "unknown column": (
        lambda one: with_rows(one, "contact", [row | {"x": 1} for row in rows(one, "contact")]),
        "a row of contact has other columns",
    ),
    "row gone": (
        lambda one: with_rows(one, "contact", rows(one, "contact")[1:]),
        "is not there",
    ),
    "row twice": (
        lambda one: with_rows(one, "line", [*rows(one, "line"), rows(one, "line")[0]]),
        "do not fit together",
    ),
    "dangling": (lambda one: changed(one, "clutch", dam_id=4711), "dam_id to row 4711"),
    "dangling history": (lambda one: changed(one, "historicalanimal", species_id=4711), "4711"),
    "dangling touch": (lambda one: changed(one, "touch", record_id=4711), "not there (4711"),
    "lost subject": (
        lambda one: changed(
            one, "daybookentry", subject_type="keeper.animal", subject_id=4711
        ),
        "4711",
    ),
    "foreign table": (
        lambda one: changed(one, "touch", record_type="auth.group"),
        "should be the name of a table",
    ),
    "text for a number": (lambda one: changed(one, "hatchrow", count="many"), "a whole number"),
    "no choice": (lambda one: changed(one, "animal", sex="both"), "one of the choices"),
    "too long": (lambda one: changed(one, "animal", code="x" * 25), "at most 24 letters"),
    "no letter": (lambda one: changed(one, "animal", name="a\0"), "should be text"),
    "half a letter": (lambda one: changed(one, "animal", name="\ud800"), "should be text"),
    "too large": (lambda one: changed(one, "hatchrow", count=10**30), "a number from"),
    "no fraction": (lambda one: changed(one, "contact", reliability="3/0"), "a chance"),
    "code twice": (
        lambda one: with_rows(
            one, "animal", [row | {"code": "F-1"} for row in rows(one, "animal")]
        ),
        "do not fit together",
    ),
    "male dam": (
        lambda one: changed(one, "clutch", dam_id=rows(one, "candidatesire")[0]["sire_id"]),
        "not recorded as female",
    ),
    "no owner": (lambda one: changed(one, "account", role="helper"), "no owner's account"),
    "out of the folder": (
        lambda one: moved(one, picture_of(one), "../../evil.jpg"), "would leave the folder",
    ),
    "anywhere": (lambda one: moved(one, picture_of(one), "/evil.jpg"), "would leave the folder"),
    "picture of no row": (
        lambda one: with_rows(
            with_rows(one, "photo", []), "historicalphoto", []
        ),
        "not there",
    ),
}  # fmt: skip


@pytest.mark.parametrize("harm", HARMS)
def test_harm_is_refused_in_words(
    harm: str, whole: Files, empty: m.Account, tmp_path: Path
) -> None:
    do, words = HARMS[harm]
    assert words in refused(packed(do(dict(whole)), tmp_path))
    assert not list((tmp_path / "media").rglob("*"))


def test_what_unpacks_to_more_than_any_book_is_refused(
    whole: Files, empty: m.Account, tmp_path: Path
) -> None:
    bomb = signed(whole | {"README.txt": b"0" * 80_000_000})
    assert "unpack to more than any book" in refused(packed(bomb, tmp_path))


def test_a_picture_is_never_written_over_another(
    whole: Files, empty: m.Account, tmp_path: Path
) -> None:
    place = tmp_path / "media" / picture_of(whole)
    place.parent.mkdir(parents=True)
    place.write_bytes(b"somebody's own")
    assert "Another file is at" in refused(packed(whole, tmp_path))
    assert place.read_bytes() == b"somebody's own"


def test_what_was_placed_is_taken_out_if_the_rest_fails(
    whole: Files, empty: m.Account, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    placing = inside.Archive.place_pictures

    def fails(archive: inside.Archive, placed: Any) -> None:
        placing(archive, placed)
        assert list((tmp_path / "media").rglob("*.jpg"))
        raise Refused("The disk broke. Take another.")

    monkeypatch.setattr(inside.Archive, "place_pictures", fails)
    assert refused(packed(whole, tmp_path)) == "The disk broke. Take another."
    assert not list((tmp_path / "media").rglob("*"))


def test_a_book_that_is_not_empty_is_left_alone(
    whole: Files, empty: m.Account, tmp_path: Path
) -> None:
    m.Contact.objects.create(name="Ansel of Pelnaw")
    assert "something in this book already" in refused(packed(whole, tmp_path))


def test_an_older_archive_without_a_column_that_may_be_empty_is_taken(
    whole: Files, empty: m.Account, tmp_path: Path
) -> None:
    from keeper.domain.archives.making import stands_at

    less = [
        {key: value for key, value in row.items() if key != "hatched_year"}
        for row in rows(whole, "prospect")
    ]
    files = with_rows(dict(whole), "prospect", less)
    said = json.loads(files[NAME])
    for one in said["tables"]:
        if one["name"] == "prospect":
            one["columns"].remove("hatched_year")
    now = manifest(files, tables=said["tables"])
    assert "without some of its columns" in refused(packed(now, tmp_path))
    before = manifest(now, stands_at="0014_questions")
    assert stands_at() > "0014_questions"
    open_into_book(packed(before, tmp_path))
    assert m.Prospect.objects.get().hatched_year is None


# ---- at random ---------------------------------------------------------------------------------


def flipped(files: Files, draw: random.Random, into: Path) -> Path:
    """The packed file with some bytes changed."""
    path = packed(files, into)
    data = bytearray(path.read_bytes())
    for _ in range(draw.randint(1, 4)):
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    path.write_bytes(data)
    return path


def cut(files: Files, draw: random.Random, into: Path) -> Path:
    """The packed file without its end."""
    path = packed(files, into)
    path.write_bytes(path.read_bytes()[: draw.randrange(path.stat().st_size)])
    return path


def without(files: Files, draw: random.Random, into: Path) -> Path:
    """One file less."""
    files.pop(draw.choice(sorted(files)))
    return packed(files, into)


def renamed(files: Files, draw: random.Random, into: Path) -> Path:
    """One file under a name that leads elsewhere, in the manifest too."""
    name = draw.choice(sorted(files))
    other = draw.choice(["../", "/", "a/../../", "c:\\", "pictures/../"]) + name
    files[other] = files.pop(name)
    if NAME in files:
        files[NAME] = files[NAME].replace(name.encode(), other.encode())
    return packed(signed(files) if NAME in files else files, into)


def mangled(files: Files, draw: random.Random, into: Path) -> Path:
    """A value of a row that is something else, with hashes that are right."""
    table = draw.choice(sorted(one for one in files if one.endswith(".json") and one != NAME))
    name = table.removeprefix("tables/").removesuffix(".json")
    found = rows(files, name)
    if not found:
        return without(files, draw, into)
    row = draw.choice(found)
    column = draw.choice(sorted(row))
    odd: list[Any] = [None, -1, 10**30, 4711, 1.5, "", "x" * 500, "\0", [], {}, True, "2026-13-40"]
    row[column] = draw.choice([one for one in odd if one != row[column]])
    return packed(with_rows(files, name, found), into)


def garbled(files: Files, draw: random.Random, into: Path) -> Path:
    """A piece of a table or of the manifest replaced by noise, with hashes that are right."""
    name = draw.choice(sorted(one for one in files if one.endswith(".json")))
    data = bytearray(files[name])
    at = draw.randrange(len(data))
    data[at : at + draw.randint(1, 9)] = draw.randbytes(draw.randint(0, 9))
    files[name] = bytes(data)
    return packed(files if name == NAME else signed(files), into)


@pytest.mark.parametrize("seed", range(10))
def test_random_damage_never_breaks_anything(
    seed: int, whole: Files, empty: m.Account, tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    draw = random.Random(seed)
    ways = [flipped, cut, without, renamed, mangled, garbled]
    before = counts()
    for _ in range(TIMES // 10):
        path = draw.choice(ways)(dict(whole), draw, tmp_path)
        with transaction.atomic():
            client = Client()
            client.force_login(empty, backend="django.contrib.auth.backends.ModelBackend")
            answer = sent(client, path)
            assert answer in ("refused", "opened"), path
            if answer == "refused":
                assert counts() == before
                assert not list((tmp_path / "media").rglob("*.jpg"))
            transaction.set_rollback(True)
        _clear(tmp_path / "media")


def sent(client: Client, path: Path) -> str:
    """Send an archive and fill the book with it; what came of it."""
    upload = SimpleUploadedFile("archive.zip", path.read_bytes(), "application/zip")
    answer = client.post(reverse("home-archives-open"), {"archive": upload})
    if answer.status_code == 302:
        page = client.get(answer["Location"])
        assert page.status_code == 200
        digest = waiting.digest(waiting.waiting() or path)
        answer = client.post(reverse("home-archives-inside"), {"digest": digest})
        if answer.status_code == 302:
            return "opened" if answer["Location"] == "/" and not is_empty() else answer["Location"]
    assert answer.status_code == 200
    refusal = answer.content.decode()
    assert ASKS.search(refusal)
    assert waiting.waiting() is None
    return "refused"


def _clear(folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_file():
            path.unlink()
