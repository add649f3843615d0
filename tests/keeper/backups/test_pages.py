"""The pages of copies: the owner's alone; look inside first, restore on purpose."""

import random
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain.backups import databases, epoch, making, shelf
from keeper.domain.backups.epoch import BookRestored
from keeper.domain.book import submission
from keeper.domain.book.submission import submitted
from keeper.domain.book.writing import writing
from tests.factories import AnimalFactory, SpeciesFactory
from tests.keeper.sent import filled, opened

pytestmark = [
    pytest.mark.sockets,  # the other database is reached over one
    pytest.mark.django_db(transaction=True),
]
SECRET = "seven plain words in a row"


@pytest.fixture(autouse=True)
def here(data: Path) -> Path:
    return data


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def address(place: str = "first") -> str:
    made = shelf.read().made[0]
    return reverse("home-backups-one", kwargs={"place": place, "name": made.name})


def restored(client: Client, at: str, **more: str) -> Any:
    form = opened(client, at, at) | {"do": "restore", "sure": "on"} | more
    return client.post(at, form, follow=True)


def test_a_helper_reaches_none_of_it(owner_client: Client, helper_client: Client) -> None:
    making.make("by hand")
    pages = ["", "settings/", "passphrase/", "receive/"]
    for one in [f"/backups/{page}" for page in pages] + [address(), f"{address()}file/"]:
        assert helper_client.get(one).status_code == 403, one
        assert helper_client.post(one).status_code == 403, one
    assert helper_client.post("/backups/make/").status_code == 403
    assert "Backups" not in text(helper_client.get("/"))


def test_one_is_made_looked_into_and_restored(owner_client: Client, owner: m.Account) -> None:
    AnimalFactory.create(code="THEN")
    assert "There is no copy of this book yet" in text(owner_client.get("/backups/"))
    made = owner_client.post("/backups/make/", opened(owner_client, "/backups/"), follow=True)
    assert "A copy was made and checked" in text(made)
    assert "by hand, checked" in text(made)
    with writing(by=owner, what="Added NOW") as book:
        book.keep(m.Animal(species=m.Species.objects.get(), code="NOW"))
    looked = text(owner_client.get(address()))
    assert "1 animal, 0 clutches, 0 sheets, 0 pictures" in looked
    assert "1 entry written since" in looked
    unsure = owner_client.post(address(), opened(owner_client, address()) | {"do": "restore"})
    assert "Tick this first" in text(unsure)
    assert m.Animal.objects.count() == 2
    came = restored(owner_client, address())
    assert "The book was restored." in text(came)
    assert [one.code for one in m.Animal.objects.all()] == ["THEN"]
    assert came.wsgi_request.user == owner  # still logged in
    entry = m.DaybookEntry.objects.get()
    assert entry.by == owner and entry.what.startswith("Restored the book as it was on")
    assert len(shelf.read().made) == 2


def test_an_encrypted_copy_asks_for_its_passphrase(owner_client: Client) -> None:
    form = opened(owner_client, "/backups/passphrase/") | {"passphrase": SECRET, "again": SECRET}
    wrong = owner_client.post("/backups/passphrase/", form | {"again": "other"})
    assert "The two differ" in text(wrong) and shelf.passphrase() == ""
    assert "too short" in text(
        owner_client.post("/backups/passphrase/", form | {"passphrase": "few", "again": "few"})
    )
    owner_client.post("/backups/passphrase/", form)
    making.make("by hand")
    # What is kept opens it without a word.
    assert "Would be lost" in text(owner_client.get(address()))
    none = opened(owner_client, "/backups/passphrase/") | {"do": "none"}
    owner_client.post("/backups/passphrase/", none)
    assert shelf.passphrase() == ""
    at = address()
    asked = text(owner_client.get(at))
    assert "The passphrase it was made with" in asked and "Would be lost" not in asked
    wrong = owner_client.post(at, opened(owner_client, at) | {"passphrase": "seven other words"})
    assert "does not open this copy" in text(wrong)
    right = owner_client.post(at, opened(owner_client, at) | {"passphrase": SECRET})
    assert "Would be lost" in text(right) and SECRET not in text(right)
    form = opened(owner_client, at) | {"do": "restore", "sure": "on", "passphrase": SECRET}
    assert "The book was restored." in text(owner_client.post(at, form, follow=True))


def test_a_copy_from_elsewhere_is_looked_into_first(owner_client: Client) -> None:
    AnimalFactory.create(code="THEN")
    path = making.make("by hand").path
    assert path is not None
    content = path.read_bytes()
    m.Animal.objects.all().delete()
    form = opened(owner_client, "/backups/receive/")
    sent = form | {"file": SimpleUploadedFile("old.zip", content)}
    looked = owner_client.post("/backups/receive/", sent, follow=True)
    assert "1 animal, 0 clutches" in text(looked)
    at = looked.redirect_chain[-1][0]
    assert "The book was restored." in text(restored(owner_client, at))
    assert m.Animal.objects.get().code == "THEN"


def test_a_hundred_damaged_copies_are_refused_in_words(owner_client: Client, here: Path) -> None:
    AnimalFactory.create(code="NOW")
    path = making.make("by hand").path
    assert path is not None
    whole, draw = path.read_bytes(), random.Random(1130)
    for number in range(100):
        at = draw.randrange(len(whole))
        bad = path.with_name(f"keptlines-bad-{number}.zip")
        cut = number % 2 == 0
        bad.write_bytes(whole[:at] if cut else whole[:at] + b"?!" + whole[at + 2 :])
        page = reverse("home-backups-one", kwargs={"place": "first", "name": bad.name})
        answer = owner_client.post(page, {"do": "restore", "sure": "on"})
        assert answer.status_code == 200
        assert "It cannot be used." in text(answer)
    assert m.Animal.objects.get().code == "NOW"


@pytest.mark.parametrize("name", ["none.zip", "..", "keptlines-x.txt", "backups.json"])
def test_nothing_else_is_handed_out(owner_client: Client, name: str) -> None:
    for place in ("first", "second", "received", "etc"):
        assert owner_client.get(f"/backups/{place}/{name}/file/").status_code == 404


def test_a_copy_is_downloaded_as_it_lies_there(owner_client: Client) -> None:
    path = making.make("by hand").path
    assert path is not None
    answer = owner_client.get(f"{address()}file/")
    assert (b"".join(answer), answer["Content-Type"]) == (path.read_bytes(), "application/zip")
    assert path.name in answer["Content-Disposition"]


def test_settings_take_folders_that_are_there(owner_client: Client, here: Path) -> None:
    form = opened(owner_client, "/backups/settings/")
    chosen = {"hours": "12", "last": "3", "weeks": "2", "months": "1", "second": str(here / "no")}
    assert "no such folder" in text(owner_client.post("/backups/settings/", form | chosen))
    (here / "stick").mkdir()
    chosen["second"] = str(here / "stick")
    owner_client.post("/backups/settings/", form | chosen)
    assert shelf.read().wishes == shelf.Wishes(12, "", str(here / "stick"), 3, 2, 1)
    owner_client.post("/backups/make/", opened(owner_client, "/backups/"))
    assert len(list((here / "stick").glob("keptlines-*.zip"))) == 1


def test_without_a_copy_of_the_present_it_asks_whether_to_go_on(
    owner_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    making.make("by hand")
    AnimalFactory.create(code="NOW")

    def fail(folder: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(databases, "copy_out", fail)
    at = address()
    refused = restored(owner_client, at)
    assert "No space left on device" in text(refused)
    assert "Go on without a copy of the book as it is now" in text(refused)
    assert m.Animal.objects.count() == 1
    form = opened(owner_client, at) | {"do": "restore", "sure": "on", "failed": "yes"}
    owner_client.post(at, form | {"without_copy": "on"})
    assert not m.Animal.objects.exists()


def test_today_says_when_the_last_good_one_was(
    owner_client: Client, helper_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    AnimalFactory.create()
    assert "There is no good copy yet" in text(owner_client.get("/"))
    making.make("by hand")
    assert "Last good copy of the book:" in text(owner_client.get("/"))
    assert "good copy" not in text(helper_client.get("/"))
    later = timezone.now() + timedelta(hours=49)
    monkeypatch.setattr(timezone, "now", lambda: later)
    assert "The last good copy is of" in text(owner_client.get("/"))


# --- what was open before a restore --------------------------------------------------------------


def test_a_form_made_before_a_restore_keeps_what_was_typed(
    owner_client: Client, helper_client: Client
) -> None:
    species = SpeciesFactory.create(name="royal python")
    making.make("by hand")
    form = opened(helper_client, "/animals/new/") | {"species": str(species.pk), "code": "F-9"}
    form |= {"notes": "a long note,\nin two lines", "origin": "bought"}
    restored(owner_client, address())
    answer = helper_client.post("/animals/new/", form)
    assert answer.status_code == 409
    said = answer.content.decode()
    assert "The book was restored meanwhile" in said
    assert "a long note,<br>in two lines" in said and "F-9" in said
    assert (
        form[submission.TOKEN] not in said
        and "csrf" not in said.partition("<main")[2].partition("</main")[0]
    )
    assert not m.Animal.objects.exists()


def test_a_button_on_a_record_that_is_no_more_is_refused_and_not_404(
    owner_client: Client, helper_client: Client, owner: m.Account
) -> None:
    species = SpeciesFactory.create()
    making.make("by hand")
    with writing(by=owner, what="Added NOW") as book:
        animal = book.keep(m.Animal(species=species, code="NOW"))
    change = reverse("animals-edit", args=[animal.pk])
    form = opened(helper_client, change) | {"code": "NEW", "password": "not to be shown"}
    restored(owner_client, address())
    answer = helper_client.post(change, form)
    assert answer.status_code == 409
    assert "NEW" in text(answer) and "not to be shown" not in text(answer)


def test_a_form_that_was_saved_before_the_copy_leads_to_its_entry(
    owner_client: Client, helper_client: Client
) -> None:
    at = reverse("register-laboratory-new")
    form = filled(helper_client, at) | {"name": "Ebbmark"}
    assert helper_client.post(at, form).status_code == 302
    making.make("by hand")
    restored(owner_client, address())
    assert helper_client.post(at, form).status_code == 302
    assert m.Laboratory.objects.get().name == "Ebbmark"


def test_a_form_without_an_epoch_counts_while_there_was_one_life(owner: m.Account) -> None:
    token = "0123456789abcdef" * 2
    with submitted(token, ""), writing(by=owner, what="One") as book:
        book.keep(m.Species(name="royal python", sex_determination="XY"))
    m.Book.objects.update_or_create(pk=1, defaults={"restored_at": timezone.now()})
    with (
        submitted(token[::-1], ""),
        pytest.raises(BookRestored),
        writing(by=owner, what="Two") as book,
    ):
        book.keep(m.Species(name="corn snake", sex_determination="ZW"))
    assert m.Species.objects.get().name == "royal python"


def test_the_epoch_is_asked_for_once_a_page(owner_client: Client) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    epoch.book()  # the tests' own tidying takes the row away
    with CaptureQueriesContext(connection) as asked:
        owner_client.get("/accounts/")
    assert sum("keeper_book" in one["sql"] for one in asked.captured_queries) == 1
