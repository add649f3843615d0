"""The pages of archives and the two commands: who may, what they say, what comes of them."""

import csv
import io
import json
import zipfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.archives import waiting
from tests.factories import AccountFactory, ContactFactory
from tests.keeper.archives.books import NAME, archived, contents, emptied
from tests.keeper.world import World

PAGES = ("home-archives", "home-archives-file", "home-archives-open", "home-archives-inside")


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, settings: Any) -> None:
    settings.DATA, settings.MEDIA_ROOT = tmp_path, tmp_path / "media"


def say(*arguments: str, **options: Any) -> str:
    out = io.StringIO()
    call_command(*arguments, stdout=out, **options)
    return out.getvalue()


@pytest.mark.parametrize("name", PAGES)
def test_pages_are_the_owners_alone(name: str, helper_client: Client) -> None:
    assert helper_client.get(reverse(name)).status_code == 403


def test_a_click_gives_the_archive(owner_client: Client, owner: m.Account, tmp_path: Path) -> None:
    World(owner, 3)
    page = owner_client.get(reverse("home-archives")).content.decode()
    assert reverse("home-archives-file") in page
    answer = owner_client.get(reverse("home-archives-file"))
    assert answer["Content-Disposition"].startswith('attachment; filename="book-')
    with zipfile.ZipFile(io.BytesIO(answer.getvalue())) as given:
        names = given.namelist()
    path = archived(tmp_path)
    assert names == list(contents(path))
    assert {"README.txt", NAME, "tables/animal.csv", "tables/historicalanimal.json"} <= set(names)
    assert [name for name in names if name.startswith("pictures/photos/")]


def test_the_table_for_people_has_codes_and_no_formula(owner: m.Account, tmp_path: Path) -> None:
    World(owner, 3)
    signs = ["=1+1", "+1", "-1", "@a", "\t=1", "\r=1", "\uff1d1", "\uff0b1", "\uff0d1", "\uff201"]
    for sign in signs:
        ContactFactory.create(name=sign)
    files = contents(archived(tmp_path))

    def table(name: str) -> list[dict[str, str]]:
        text = files[f"tables/{name}.csv"].decode("utf-8-sig")
        return list(csv.DictReader(io.StringIO(text, newline="")))

    names = [row["name"] for row in table("contact")]
    assert [name for name in names if name.startswith("'")] == [f"'{sign}" for sign in signs]
    exact = [row["name"] for row in json.loads(files["tables/contact.json"])]
    assert exact[-len(signs) :] == signs
    clutch = next(row for row in table("clutch") if row["code"] == "C-1")
    assert clutch["dam"] == "F-1"
    assert int(clutch["dam_id"]) == m.Animal.objects.get(code="F-1").pk


def test_what_is_out_of_place_is_listed_and_does_not_stop_it(
    owner: m.Account, tmp_path: Path
) -> None:
    World(owner, 3)
    photo = m.Photo.objects.get()
    Path(photo.image.path).unlink()
    path = archived(tmp_path)
    said = json.loads(contents(path)[NAME])
    there = [part["path"] for part in said["pictures"]]
    assert (said["missing"], there) == (
        [str(photo.image)], [f"pictures/{m.Import.objects.get().file}"],
    )  # fmt: skip
    emptied()
    assert f"Was missing when it was made: {photo.image}" in say("open_archive", str(path))
    assert m.Photo.objects.get().image == photo.image


def test_no_secret_is_in_it(owner: m.Account, owner_client: Client, tmp_path: Path) -> None:
    files = contents(archived(tmp_path))
    everything = b"".join(files.values())
    assert owner.password.encode() not in everything
    assert owner_client.cookies["keptlines_session"].value.encode() not in everything
    said = {one["what"] for one in json.loads(files[NAME])["left_out"]}
    assert {"column password of account", "table sessions.Session"} <= said


def sent(path: Path) -> dict[str, Any]:
    return {"archive": SimpleUploadedFile("a.zip", path.read_bytes(), "application/zip")}


def test_an_archive_is_looked_at_and_then_opened(owner: m.Account, tmp_path: Path) -> None:
    AccountFactory.create(name="Tobin")
    World(owner, 3)
    animals = m.Animal.objects.count()
    path = archived(tmp_path)
    other = emptied(owner="Ilka")
    client = Client()
    client.force_login(other, backend="django.contrib.auth.backends.ModelBackend")
    assert reverse("home-archives-open") in client.get(reverse("begin")).content.decode()
    assert reverse("home-archives-open") in client.get(reverse("home")).content.decode()
    assert "of more than 64 MB" in client.get(reverse("home-archives-open")).content.decode()
    answer = client.post(reverse("home-archives-open"), sent(path))
    assert answer["Location"] == reverse("home-archives-inside")
    assert not m.Animal.objects.exists()
    page = client.get(answer["Location"]).content.decode()
    assert f'<dt>Animals</dt><dd class="figures">{animals}</dd>' in page

    assert client.post(answer["Location"], {"digest": "0" * 64}).status_code == 200
    assert not m.Animal.objects.exists()
    digest = waiting.digest(waiting.waiting() or path)
    home = client.post(answer["Location"], {"digest": digest}, follow=True)
    said = home.content.decode()
    assert "everything in it is in this book now" in said
    assert "Helpers are switched off until you let them in: Tobin." in said
    assert (m.Animal.objects.count(), waiting.waiting()) == (animals, None)

    # Whoever opened it is the owner, by the name and password they had; so are the old entries.
    now = m.Account.objects.get(role="owner")
    assert (now.name, now.password) == ("Ilka", other.password)
    assert m.DaybookEntry.objects.filter(by=now).exists()
    assert [row.name for row in now.history.order_by("pk")] == ["Mara", "Ilka"]


def test_a_name_that_a_helper_has_is_not_taken_over(owner: m.Account, tmp_path: Path) -> None:
    AccountFactory.create(name="Tobin")
    path = archived(tmp_path)
    other = emptied(owner="tobin")
    say("open_archive", str(path))
    now = m.Account.objects.get(role="owner")
    assert (now.name, now.password) == ("Mara", other.password)


def test_a_book_with_something_in_it_takes_none(
    owner_client: Client, owner: m.Account, tmp_path: Path
) -> None:
    path = archived(tmp_path)
    ContactFactory.create(name="Ansel")
    page = owner_client.get(reverse("home-archives-open")).content.decode()
    assert "There is something in this book already" in page
    answer = owner_client.post(reverse("home-archives-open"), sent(path))
    assert (answer.status_code, waiting.waiting()) == (200, None)
    assert owner_client.get(reverse("home-archives-inside")).status_code == 302
    with pytest.raises(CommandError, match="something in this book already"):
        say("open_archive", str(path))


def test_commands_take_it_out_and_put_it_back(owner: m.Account, tmp_path: Path) -> None:
    World(owner, 3)
    standings, path = m.Standing.objects.count(), tmp_path / "book.zip"
    assert f"{path}:" in say("archive", str(path))
    assert path.stat().st_mode & 0o077 == 0
    with pytest.raises(CommandError, match="there already"):
        say("archive", str(path))
    emptied()
    m.Account.objects.all().delete()
    assert "it is whole" in say("open_archive", str(path), look=True)
    assert not m.Account.objects.exists()
    assert "changepassword 'mara'" in say("open_archive", str(path))
    assert m.Standing.objects.count() == standings
    assert not m.Account.objects.get().has_usable_password()


def test_a_figure_that_differs_is_told_and_left(owner: m.Account, tmp_path: Path) -> None:
    World(owner, 3)
    standing = m.Standing.objects.filter(line=None).order_by("pk")[0]
    changed = m.Standing.objects.filter(pk=standing.pk).update(one=0.25, two=0, none=0.75)
    assert changed == 1
    path = archived(tmp_path)
    emptied()
    told = say("open_archive", str(path))
    assert f"{standing.animal}: {standing.trait}: stored" in told
    assert "Worked out anew, 1 figure would be otherwise" in told
    assert m.Standing.objects.get(pk=standing.pk).one == 0.25
    assert len(inference.differences()) == 1


def test_a_record_that_breaks_a_rule_is_refused_or_taken_and_told(
    owner: m.Account, tmp_path: Path
) -> None:
    World(owner, 3)
    m.Animal.objects.filter(code="F-1").update(hatched_on="2020-05-01", acquired_on="2019-05-01")
    path = archived(tmp_path)
    emptied()
    with pytest.raises(CommandError, match="acquired before it hatched"):
        say("open_archive", str(path))
    assert not m.Animal.objects.exists()
    assert "Breaks a rule: animal" in say("open_archive", str(path), with_faults=True)
    assert m.Animal.objects.get(code="F-1").acquired_on == date(2019, 5, 1)
