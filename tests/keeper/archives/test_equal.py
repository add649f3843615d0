"""Out, into an empty book, out again: the same bytes, and nothing to work out anew."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from django.db import transaction
from django.test import Client, override_settings
from django.urls import reverse

from keeper import models as m
from keeper.domain.animals.photos import add_photo
from keeper.domain.archives.opening import Opened, is_empty, open_into_book
from keeper.domain.book.undoing import undo
from keeper.domain.example import replaying as example
from keeper.domain.sheets.writes import issue
from tests.factories import AccountFactory
from tests.keeper.archives.books import NAME, NOON, archived, contents, counts, emptied
from tests.keeper.world import World, picture

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

pytestmark = pytest.mark.django_db
# The example takes over a minute, out, back and worked out anew: with more examples only.
BOOKS = ("world", *(["example"] if "KEPTLINES_EXAMPLES" in os.environ else []))


@dataclass(frozen=True)
class There:
    """A book, out and back: its archive before, what came of opening it, its archive after."""

    before: Path
    opened: Opened
    after: Path
    counts: dict[str, int]
    media: tuple[Path, Path]
    sheets: dict[int, bytes]


@pytest.fixture(scope="module", params=BOOKS)
def there(
    request: pytest.FixtureRequest,
    django_db_setup: None,
    django_db_blocker: "DjangoDbBlocker",
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[There]:
    """The example, and a book with one of everything to which random things were done."""
    archives, first, second = (
        tmp_path_factory.mktemp(one) for one in ("archives", "first", "second")
    )
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(MEDIA_ROOT=first):
            _fill(AccountFactory.create(name="Mara", role="owner"), request.param)
            before, kept, sheets = archived(archives), counts(), _papers()
        with override_settings(MEDIA_ROOT=second):
            emptied()
            opened = open_into_book(before)
            after = archived(archives, NOON + timedelta(days=1))
            yield There(before, opened, after, kept, (first, second), sheets)
        transaction.set_rollback(True)


def _fill(owner: m.Account, book: str) -> None:
    AccountFactory.create(name="Tobin")
    if book == "example":
        example.load(by=owner)
        add_photo(animal=m.Animal.objects.order_by("pk")[0], upload=picture(), by=owner)
        return
    world = World(owner, 11)
    m.SavedView.objects.create(account=owner, name="Females", query="sex=female")
    done = [world.act() for _ in range(40)]
    assert len([one for one in done if ":" not in one]) > 20


def _papers() -> dict[int, bytes]:
    client = Client()
    owner = m.Account.objects.get(role="owner")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return {
        one.number: client.get(reverse("sheets-pdf", args=[one.pk, "a4"])).content
        for one in m.Sheet.objects.order_by("number")[:3]
    }


def test_the_second_archive_is_the_first_but_for_its_hour(there: There) -> None:
    assert contents(there.after, but=NAME) == contents(there.before, but=NAME)
    first, second = (contents(one)[NAME].decode() for one in (there.before, there.after))
    assert second == first.replace("2026-11-30T12:00:00+00:00", "2026-12-01T12:00:00+00:00")
    assert second != first


def test_no_figure_differs_and_every_row_is_there(there: There) -> None:
    assert there.opened.differences == ()
    assert there.opened.faults == ()
    assert counts() == there.counts
    assert not is_empty()


def test_pictures_are_the_same(there: There) -> None:
    def found(root: Path) -> dict[str, bytes]:
        return {
            path.relative_to(root).as_posix(): path.read_bytes()
            for path in root.rglob("*")
            if path.is_file() and "small" not in path.parts
        }

    named = {str(one.image) for one in m.Photo.objects.all()}
    first, second = map(found, there.media)
    assert named and named <= second.keys()
    assert second == {name: first[name] for name in second}


def test_sheets_print_the_same(there: There) -> None:
    assert there.sheets and _papers() == there.sheets


def test_the_owner_logs_in_as_before_and_helpers_wait(there: There) -> None:
    owner, helper = m.Account.objects.order_by("pk")
    assert (owner.name, owner.is_owner, owner.is_active) == ("Mara", True, True)
    assert (helper.name, helper.is_active, helper.has_usable_password()) == ("Tobin", False, False)
    assert there.opened.helpers == ("Tobin",)


def test_the_book_goes_on(there: There, tmp_path: Path) -> None:
    media = shutil.copytree(there.media[1], tmp_path / "media")
    with transaction.atomic(), override_settings(MEDIA_ROOT=media):
        animal = m.Animal.objects.live().order_by("pk")[0]
        last = max(counts_of.pk for counts_of in m.Photo.objects.all())
        entry = add_photo(animal=animal, upload=picture(), by=there.opened.owner)
        assert m.Photo.objects.latest("pk").pk == last + 1
        undo(entry=entry, by=there.opened.owner)
        earlier = m.DaybookEntry.objects.filter(undone_by=None, by=there.opened.owner)
        undo(entry=earlier.order_by("-pk")[1], by=there.opened.owner, together=True)
        # Where the archive was made the next sheet may have the same number: never the same name.
        before = set(m.Sheet.objects.values_list("series", flat=True))
        sheet, _ = issue(animal=animal, by=there.opened.owner)
        assert sheet.series
        assert sheet.series not in before
        transaction.set_rollback(True)
