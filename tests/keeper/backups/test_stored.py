"""Pictures that lie in no folder: shown, printed, copied, restored, archived and erased."""

import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import InMemoryStorage, default_storage
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.animals.photos import add_photo
from keeper.domain.archives import opening
from keeper.domain.archives.opening import open_into_book
from keeper.domain.backups import making, pictures, stored
from keeper.domain.backups.restoring import restore
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.refusing import Refused
from keeper.domain.erasure import sweeping, taking_out
from keeper.domain.erasure.telling import write_out
from keeper.domain.sheets.writes import issue
from keeper.serving import files
from tests.factories import AccountFactory, AnimalFactory
from tests.keeper.archives.books import archived, contents, emptied
from tests.keeper.erasure.person import NAME, Named
from tests.keeper.world import picture


@pytest.fixture(autouse=True)
def _without_folders(data: Path, settings: Any) -> None:
    memory = {"BACKEND": "django.core.files.storage.InMemoryStorage"}
    settings.STORAGES = settings.STORAGES | {"default": memory}
    settings.MEDIA_ROOT = data / "nothing-may-be-here"


def kept() -> dict[str, bytes]:
    """All that lies there."""
    found = {}
    for name in files.names():
        with files.opened(name) as file:
            found[name] = file.read()
    return found


def lie(**there: bytes) -> None:
    for name, held in there.items():
        default_storage.save(name, ContentFile(held))


def of_a_copy(folder: Path, **there: bytes) -> Path:
    folder.mkdir()
    for name, held in there.items():
        (folder / name).write_bytes(held)
    return folder


@pytest.mark.django_db
def test_photo_is_kept_shown_whole_and_small_and_printed_on_a_sheet(
    owner: m.Account, owner_client: Client, data: Path
) -> None:
    assert files.folder() is None
    animal = AnimalFactory.create()
    add_photo(animal=animal, upload=picture(), by=owner)
    photo = m.Photo.objects.get()
    assert kept().keys() == {photo.image.name}
    address = reverse("animals-picture", args=[photo.pk])
    whole = owner_client.get(address)
    assert whole.getvalue() == kept()[str(photo.image.name)]
    small = owner_client.get(address, {"size": "small"})
    assert small.content.startswith(b"\xff\xd8")
    for answer in (whole, small):
        assert answer["Cache-Control"] == "private, max-age=604800, immutable"
    sheet, _ = issue(animal=animal, by=owner)
    printed = owner_client.get(reverse("sheets-pdf", args=[sheet.pk, "a4"])).content
    assert b"/Subtype /Image" in printed or b"/Subtype/Image" in printed
    assert not (data / "nothing-may-be-here").exists()


@pytest.mark.sockets
@pytest.mark.django_db(transaction=True)
def test_copy_has_the_pictures_and_a_restore_brings_just_them_back(data: Path) -> None:
    m.Book.objects.get_or_create(pk=1)
    owner = AccountFactory.create(name="Mara", role="owner")
    animal = AnimalFactory.create()
    add_photo(animal=animal, upload=picture(), by=owner)
    (name,) = before = kept()
    made = making.make("by hand")
    assert made.path is not None
    with zipfile.ZipFile(made.path) as packed:
        assert packed.read(f"media/{name}") == before[name]
    add_photo(animal=animal, upload=picture(), by=owner)
    default_storage.delete(name)
    lie(**{name: b"another"})
    came = restore(made.path, by=owner)
    assert kept() == before
    assert m.Photo.objects.count() == 1
    # And the book as it was before the restore can be had back, with what it had.
    assert came.before is not None and came.before.path is not None
    restore(came.before.path, by=owner)
    assert kept()[name] == b"another" and len(kept()) == 2
    assert not (data / "exchanging.json").exists()


@pytest.mark.sockets
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("at", [1, 2, 3])
def test_store_that_stops_answering_leaves_the_book_as_it_was(
    at: int, data: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """At the first picture, in the middle, and after all of them."""
    epoch = m.Book.objects.get_or_create(pk=1)[0].epoch
    lie(gone=b"1", same=b"2", other=b"3")
    before = kept()
    fresh = of_a_copy(tmp_path / "fresh", same=b"2", other=b"4", added=b"5")
    puts: list[str] = []
    put = files.put

    def put_some(name: str, source: Any) -> None:
        puts.append(name)
        if len(puts) > at:
            raise files.Unreachable("no answer")
        put(name, source)

    with monkeypatch.context() as patched:
        patched.setattr(files, "put", put_some)
        if at < 3:
            with pytest.raises(files.Unreachable):
                pictures.exchange(fresh, until="another life")
        else:
            pictures.exchange(fresh, until="another life")
            # What the book had is still there, under its name or aside.
            assert set(before.values()) <= set(kept().values())
    pictures.settle()
    assert kept() == before
    pictures.settle()
    assert kept() == before
    pictures.exchange(fresh, until=epoch)
    pictures.settle()
    assert kept() == {"same": b"2", "other": b"4", "added": b"5"}


def test_change_is_finished_or_taken_back_as_often_as_it_is_begun(tmp_path: Path) -> None:
    lie(gone=b"1", same=b"2", other=b"3")
    before = kept()
    fresh = of_a_copy(tmp_path / "fresh", same=b"2", other=b"4", added=b"5")
    change = stored.planned(fresh)
    assert change == stored.Change(("added",), ("other",), ("gone",))
    assert stored.Change.of(change.noted()) == change
    change.make(fresh)
    change.take_back()
    change.take_back()
    assert kept() == before
    change.make(fresh)
    change.finish()
    change.finish()
    assert kept() == {"same": b"2", "other": b"4", "added": b"5"}


@pytest.mark.django_db
def test_archive_takes_the_pictures_out_and_brings_them_in(owner: m.Account, data: Path) -> None:
    add_photo(animal=AnimalFactory.create(), upload=picture(), by=owner)
    (name,) = before = kept()
    (data / "out").mkdir()
    path = archived(data / "out")
    assert contents(path)[f"pictures/{name}"] == before[name]
    emptied()
    default_storage.delete(name)
    lie(**{name: b"another"})
    with pytest.raises(Refused, match=f"Another file is at {name} already"):
        open_into_book(path)
    assert kept() == {name: b"another"}
    default_storage.delete(name)
    open_into_book(path)
    assert kept() == before


@pytest.mark.django_db
def test_archive_that_is_refused_leaves_no_picture(
    owner: m.Account, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_photo(animal=AnimalFactory.create(), upload=picture(), by=owner)
    (name,) = kept()
    (data / "out").mkdir()
    path = archived(data / "out")
    emptied()
    default_storage.delete(name)

    def fail() -> None:
        assert kept()
        raise RuntimeError("cut short")

    monkeypatch.setattr(opening, "erase_again", fail)
    with pytest.raises(RuntimeError):
        open_into_book(path)
    assert kept() == {}


@pytest.mark.django_db(transaction=True)
def test_erasure_takes_the_files_and_waits_while_the_store_is_silent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    named = Named(AccountFactory.create(name="Mara", role="owner"))
    assert {one.partition("/")[0] for one in kept()} == {"imports", "papers"}
    told = io.BytesIO()
    write_out(named.contact, told)
    (scan,) = [name for name in kept() if name.startswith("papers/")]
    with zipfile.ZipFile(told) as packed:
        assert packed.read(f"scans/{Path(scan).name}") == kept()[scan]

    def silent(name: str) -> None:
        raise files.Unreachable("no answer")

    with monkeypatch.context() as patched:
        patched.setattr(files, "delete", silent)
        _, swept = taking_out.erase(contact=named.contact, typed=NAME, by=named.by)
    assert not swept and sweeping.is_left() and kept()
    assert sweeping.finish()
    assert kept() == {}


@pytest.mark.django_db
def test_store_that_does_not_answer_is_told_and_nothing_is_taken_for_gone(
    owner: m.Account, owner_client: Client, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_photo(animal=AnimalFactory.create(), upload=picture(), by=owner)
    photo = m.Photo.objects.get()

    def silent(*_: Any, **__: Any) -> None:
        raise files.Unreachable("no answer")

    monkeypatch.setattr(InMemoryStorage, "_open", silent)
    owner_client.raise_request_exception = False
    answer = owner_client.get(reverse("animals-picture", args=[photo.pk]))
    assert answer.status_code == 503
    assert "The pictures are out of reach" in answer.content.decode()
    (data / "out").mkdir()
    with pytest.raises(files.Unreachable):
        archived(data / "out")
    with pytest.raises(NotMade, match=r"no answer\. See to it that the store can be reached"):
        making.make("by hand")
