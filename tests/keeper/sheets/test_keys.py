"""The key that signs: where it is, that it can be changed, and what is said when it is lost."""

import os
import stat
import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keeper.domain.archives.making import make
from keeper.domain.book.undoing import can_undo
from keeper.domain.book.writing import Refused
from keeper.domain.sheets import keys
from keeper.domain.sheets.signing import Verdict, check
from keeper.domain.sheets.writes import issue
from keeper.models import Account, Animal, DaybookEntry, Sheet, SigningKey
from tests.factories import AnimalFactory


@pytest.fixture(autouse=True)
def _data(tmp_path: Path, settings: Any) -> None:
    settings.DATA = tmp_path


@pytest.fixture
def animal(db: None) -> Animal:
    made: Animal = AnimalFactory.create(code="K-1", species__name="royal python")
    return made


@pytest.fixture
def sheet(animal: Animal, owner: Account) -> Sheet:
    return issue(animal=animal, by=owner)[0]


def now() -> SigningKey:
    key = keys.current()
    assert key is not None
    return key


def verdict(sheet: Sheet) -> Verdict:
    return check(Sheet.objects.select_related("key").get(pk=sheet.pk))


def test_the_file_is_for_this_account_alone(sheet: Sheet) -> None:
    file = keys.file_of(now())
    assert stat.S_IMODE(os.stat(file).st_mode) == 0o600
    assert stat.S_IMODE(os.stat(file.parent).st_mode) == 0o700
    assert b"PRIVATE KEY" in file.read_bytes()


def test_no_archive_holds_the_private_half(sheet: Sheet) -> None:
    whole = BytesIO()
    make(whole, made_at=timezone.now())
    secret = b"".join(keys.file_of(now()).read_bytes().splitlines()[1:-1])
    with zipfile.ZipFile(whole) as archive:
        inside = b"".join(archive.read(name) for name in archive.namelist())
    assert secret not in inside
    assert now().fingerprint.encode() in inside


def test_a_changed_key_signs_and_the_old_one_stays_good(
    sheet: Sheet, animal: Animal, owner: Account, django_capture_on_commit_callbacks: Any
) -> None:
    old = now()
    with django_capture_on_commit_callbacks(execute=True):
        entry = keys.change(by=owner, why="every year")
    later, _ = issue(animal=animal, by=owner)
    assert later.key == now() != old
    assert (verdict(sheet), verdict(later)) == (Verdict.HOLDS, Verdict.HOLDS)
    assert [keys.is_at_hand(one) for one in (old, now())] == [False, True]
    old.refresh_from_db()
    assert (old.ended_as, old.why, old.ended_at) == ("changed", "every year", entry.at)
    assert not can_undo(entry)


def test_without_its_file_nothing_is_issued_and_changed(
    sheet: Sheet, animal: Animal, owner: Account
) -> None:
    file = keys.file_of(now())
    kept = file.read_bytes()
    file.unlink()
    before = (Sheet.objects.count(), DaybookEntry.objects.count())
    with pytest.raises(Refused, match="is not in the data folder"):
        issue(animal=animal, by=owner)
    with pytest.raises(Refused, match="is not in the data folder"):
        keys.change(by=owner, why="")
    assert (Sheet.objects.count(), DaybookEntry.objects.count()) == before
    file.write_bytes(kept[: len(kept) // 2])
    with pytest.raises(Refused, match="missing or damaged"):
        issue(animal=animal, by=owner)
    file.write_bytes(kept)
    assert verdict(issue(animal=animal, by=owner)[0]) == Verdict.HOLDS


@pytest.mark.parametrize(("taken", "ended"), [(False, "lost"), (True, "taken")])
def test_losing_is_an_act_of_its_own(
    sheet: Sheet, animal: Animal, owner: Account, taken: bool, ended: str
) -> None:
    old = now()
    keys.file_of(old).unlink()
    keys.give_up(by=owner, why="the stick is gone", in_other_hands=taken)
    old.refresh_from_db()
    assert (old.ended_as, old.why) == (ended, "the stick is gone")
    assert verdict(sheet) == Verdict.HOLDS
    assert issue(animal=animal, by=owner)[0].key == now() != old


def test_another_key_under_its_name_is_not_it(sheet: Sheet, owner: Account, tmp_path: Path) -> None:
    file = keys.file_of(now())
    mine = file.read_bytes()
    keys._made()
    (other,) = (one for one in keys.folder().glob("*.pem") if one != file)
    file.write_bytes(other.read_bytes())
    assert not keys.is_at_hand(now())
    file.write_bytes(mine)
    assert keys.is_at_hand(now())


def test_after_an_older_copy_was_restored_the_newer_key_is_taken_up(
    sheet: Sheet, animal: Animal, owner: Account, django_capture_on_commit_callbacks: Any
) -> None:
    old = now()
    with django_capture_on_commit_callbacks(execute=True):
        keys.change(by=owner, why="")
    newer = now().fingerprint
    # The rows of before, as a restore puts them back; files stay as they are.
    SigningKey.objects.get(fingerprint=newer).delete()
    SigningKey.objects.filter(pk=old.pk).update(ended_as="", ended_at=None)
    assert keys.unknown_fingerprint() == newer
    with pytest.raises(Refused):
        issue(animal=animal, by=owner)
    keys.take_up(by=owner)
    assert now().fingerprint == newer
    assert verdict(issue(animal=animal, by=owner)[0]) == Verdict.HOLDS
    with pytest.raises(Refused, match="is in its place"):
        keys.take_up(by=owner)


def test_an_entry_that_fails_leaves_no_key_in_the_book(animal: Animal, owner: Account) -> None:
    with pytest.raises(Refused):
        issue(animal=animal, by=owner, read="something else")
    assert keys.current() is None
    sheet, _ = issue(animal=animal, by=owner)
    assert verdict(sheet) == Verdict.HOLDS


def test_there_is_no_key_to_change_or_lose_before_the_first_sheet(owner: Account) -> None:
    acts: list[Callable[[], DaybookEntry]] = [
        lambda: keys.change(by=owner, why=""),
        lambda: keys.give_up(by=owner, why="", in_other_hands=False),
        lambda: keys.take_up(by=owner),
    ]
    for act in acts:
        with pytest.raises(Refused, match="There is no key yet"):
            act()


def test_the_owners_page_lists_changes_and_states(
    sheet: Sheet, owner: Account, owner_client: Client
) -> None:
    old = now()
    page = owner_client.get("/sheets/keys/").content.decode()
    assert str(old) in page
    assert str(keys.file_of(old)) in page
    answer = owner_client.post("/sheets/keys/change/", {"reason": "yearly"})
    assert answer.status_code == 302
    answer = owner_client.post("/sheets/keys/lost/", {"reason": "gone", "how": "lost"})
    assert answer.status_code == 302
    page = owner_client.get(answer["Location"]).content.decode()
    assert "changed for another (yearly)" in page
    assert "lost (gone)" in page
    assert SigningKey.objects.count() == 3
    again = owner_client.post("/sheets/keys/lost/", {"reason": "gone"})
    assert again.status_code == 200
    assert "This field is required" in again.content.decode()


def test_the_page_says_when_the_key_is_missing(
    sheet: Sheet, animal: Animal, owner_client: Client
) -> None:
    assert "There is no key yet" not in owner_client.get("/sheets/keys/").content.decode()
    keys.file_of(now()).unlink()
    assert "The key is not in its place" in owner_client.get("/sheets/keys/").content.decode()
    mark = owner_client.get(f"/animals/{animal.pk}/sheet/").context["page"].mark
    answer = owner_client.post(f"/animals/{animal.pk}/sheet/", {"mark": mark})
    assert answer.status_code == 200
    assert "is not in the data folder" in answer.content.decode()
