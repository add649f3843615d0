"""After an erasure a search through everything finds nothing of the person."""

import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain import inference
from keeper.domain.archives import making as archives
from keeper.domain.archives.opening import open_into_book
from keeper.domain.backups import making
from keeper.domain.backups.restoring import restore
from keeper.domain.book.refusing import Refused
from keeper.domain.erasure import apart, columns, sweeping, taking_out
from keeper.domain.erasure.person import Person
from keeper.domain.sheets import signing
from tests.keeper.archives.books import emptied
from tests.keeper.erasure.person import NAME, PRIVATE, WORDS, Named, found_below, found_in


@pytest.fixture(autouse=True)
def _own_folders(settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path / "data"
    settings.MEDIA_ROOT = tmp_path / "data" / "media"
    Path(settings.MEDIA_ROOT).mkdir(parents=True)


@pytest.fixture
def named(owner: m.Account) -> Named:
    return Named(owner)


def erase(named: Named) -> bool:
    return taking_out.erase(contact=named.contact, typed=NAME, by=named.by)[1]


def archived() -> bytes:
    made = io.BytesIO()
    archives.make(made, made_at=timezone.now())
    return made.getvalue()


def unpacked(packed: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        return b"".join([name.encode() + archive.read(name) for name in archive.namelist()])


def in_the_database() -> list[str]:
    """Words in the file of SQLite and its journal, or in what the tables of PostgreSQL hold."""
    if connection.vendor == "sqlite":
        path = Path(str(connection.settings_dict["NAME"]))
        journal = Path(f"{path}-wal")
        return found_in(path.read_bytes() + (journal.read_bytes() if journal.exists() else b""))
    return found_in(unpacked(archived()))


@pytest.mark.django_db(transaction=True)
def test_nothing_of_the_person_is_found_in_database_media_archives_and_copies(
    named: Named, tmp_path: Path, settings: Any
) -> None:
    assert in_the_database() and found_below(Path(settings.MEDIA_ROOT))
    assert set(found_in(unpacked(archived()))) == set(WORDS)
    figures = list(m.Standing.objects.order_by("pk").values())
    assert erase(named)
    assert in_the_database() == []
    assert found_below(Path(settings.DATA)) == {}
    assert found_in(unpacked(archived())) == []
    (copy,) = making.make("by hand").paths
    assert found_in(unpacked(copy.read_bytes())) == []
    assert list(m.Standing.objects.order_by("pk").values()) == figures
    assert inference.differences() == []
    # Lineage, and what was said, are there; on the word of a number.
    assert m.Clutch.objects.get(young__code="K-1").dam == named.dam
    assert m.Statement.objects.filter(source=named.contact).count() == 2
    assert str(m.Contact.objects.get(pk=named.contact.pk)) == f"person {named.contact.pk}"
    sheet = m.Sheet.objects.get(buyer=named.contact)
    assert sheet.content["buyer"] == f"person {named.contact.pk}"


@pytest.mark.django_db(transaction=True)
def test_signatures_outlive_an_erasure_and_nobody_can_try_names_on_them(
    named: Named, owner_client: Client
) -> None:
    stranger = Client()
    before = {
        one.pk: stranger.get(f"/papers/{one.page_code}/").content for one in m.Sheet.objects.all()
    }
    # One was for the person; the other names it as the source of the animal.
    assert len(before) == 2
    assert all(signing.paper_is_as_signed(one) for one in m.Sheet.objects.all())
    erase(named)
    for sheet in m.Sheet.objects.select_related("key"):
        assert signing.check(sheet) == signing.Verdict.HOLDS
        assert stranger.get(f"/papers/{sheet.page_code}/").content == before[sheet.pk]
        assert found_in(bytes(sheet.signed or b"")) == []
        salts = [sheet.salt, *sheet.history.values_list("salt", flat=True)]
        assert set(salts) == {""}
        page = owner_client.get(f"/sheets/{sheet.pk}/").content.decode()
        assert "This is not what the buyer" not in page
        assert "The signature holds." in page
    told = m.Told.objects.get()
    assert (told.message, told.note) == ("", "")


@pytest.mark.django_db(transaction=True)
def test_copy_from_before_brings_nobody_back(named: Named, settings: Any) -> None:
    (before,) = making.make("by hand").paths
    assert found_in(unpacked(before.read_bytes()))
    erase(named)
    restore(before, by=named.by)
    assert m.Contact.objects.get(pk=named.contact.pk).erased_on == timezone.localdate()
    assert in_the_database() == []
    assert found_below(Path(settings.MEDIA_ROOT)) == {}


@pytest.mark.django_db(transaction=True)
def test_archive_from_before_brings_nobody_back_here_and_everybody_elsewhere(
    named: Named, tmp_path: Path, settings: Any
) -> None:
    path = tmp_path / "before.zip"
    path.write_bytes(archived())
    erase(named)
    emptied()
    open_into_book(path)
    assert in_the_database() == []
    assert found_below(Path(settings.MEDIA_ROOT)) == {}
    settings.DATA = tmp_path / "elsewhere"
    settings.DATA.mkdir()
    emptied()
    open_into_book(path)
    assert m.Contact.objects.get(pk=named.contact.pk).name == NAME


@pytest.mark.django_db
def test_somebody_else_under_the_same_number_is_left_alone(named: Named) -> None:
    apart.note(named.contact.pk, ["Bryony"], "2026-01-01")
    assert taking_out.erase_again() == []
    apart.note(named.contact.pk, [NAME.upper()], "2026-01-01")
    assert taking_out.erase_again() == [named.contact.pk]
    assert found_in((Path(apart._path())).read_bytes()) == []


@pytest.mark.django_db
def test_erasure_is_refused_with_its_reason(named: Named, helper: m.Account) -> None:
    def refused(typed: str = NAME, by: m.Account = named.by) -> str:
        with pytest.raises(Refused) as error:
            taking_out.erase(contact=named.contact, typed=typed, by=by)
        return str(error.value)

    assert refused("Qwelfarn") == "That is not the name. Type it exactly as it stands on the page."
    assert refused(by=helper) == "Only the owner of the book can erase somebody. Ask them."
    m.Contact.objects.filter(pk=named.contact.pk).update(
        kept_until=timezone.localdate(), kept_why="Invoices are kept for ten years."
    )
    assert "Invoices are kept for ten years. Erase it after that day" in refused()
    m.Contact.objects.filter(pk=named.contact.pk).update(kept_until="2020-01-01")
    twin = m.Contact.objects.create(name=NAME.lower())
    assert refused().startswith("Another contact has the same name")
    twin.delete()
    assert apart.listed() == []
    erase(named)
    assert refused().endswith("was erased already: nothing is left to do.")


@pytest.mark.django_db
def test_erasure_that_fails_leaves_no_trace_on_the_list(
    named: Named, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("the disk")

    monkeypatch.setattr(taking_out, "_take_out", fail)
    with pytest.raises(RuntimeError):
        erase(named)
    assert apart.listed() == []
    assert m.Contact.objects.get(pk=named.contact.pk).name == NAME


@pytest.mark.django_db
def test_day_until_which_it_is_kept_needs_a_reason(named: Named) -> None:
    named.contact.kept_until = timezone.localdate()
    with pytest.raises(Exception, match="Say why it must be kept until then"):
        named.contact.full_clean()


def test_every_table_is_searched_or_left_out_with_a_reason() -> None:
    assert columns.undecided() == set()
    for label, why in columns.LEFT_OUT.items():
        name, _, column = label.partition(".")
        assert getattr(m, name)._meta.get_field(column)
        assert len(why.split()) >= 3


@pytest.mark.django_db
def test_page_tells_what_goes_and_what_stays_and_erases(named: Named, owner_client: Client) -> None:
    named.dam.name = f"Neap of {NAME}"
    m.Animal.objects.filter(pk=named.dam.pk).update(name=named.dam.name)
    address = reverse("register-contact-erase", args=[named.contact.pk])
    page = owner_client.get(address).content.decode()
    assert "This cannot be taken back" in page
    assert named.dam.name in page
    assert "1 scan of their papers" in page
    assert "1 table brought in" in page
    again = owner_client.post(address, {"name": "somebody"}).content.decode()
    assert "That is not the name" in again
    page = owner_client.post(address, {"name": NAME}, follow=True).content.decode()
    assert f"person {named.contact.pk}" in page
    assert found_in(page.replace(named.dam.name, "").encode()) == []
    assert owner_client.get(address).status_code == 404
    edit = reverse("register-contact-edit", args=[named.contact.pk])
    assert owner_client.get(edit).status_code == 404


@pytest.mark.django_db
def test_data_of_a_person_are_handed_out_whole(named: Named, owner_client: Client) -> None:
    answer = owner_client.get(reverse("register-contact-data", args=[named.contact.pk]))
    with zipfile.ZipFile(io.BytesIO(answer.getvalue())) as packed:
        said = json.loads(packed.read("person.json"))
        (scan,) = [name for name in packed.namelist() if name.startswith("scans/")]
        assert PRIVATE[1].encode() in packed.read(scan)
    assert set(found_in(json.dumps(said, ensure_ascii=False).encode())) == set(WORDS) - {PRIVATE[1]}
    assert [one["animal__code"] for one in said["papers"]] == ["F-1"]
    assert [one["number"] for one in said["sheets_to_them"]] == [1]


def test_person_is_found_as_a_word_however_it_is_spaced_and_in_no_other_word() -> None:
    one = Person(7, frozenset({"Ann Lee", "Bo"}), frozenset({"+49 1", "a@b.example"}))
    assert one.out_of("ann  lee wrote a@b.example") == "person 7 wrote person 7"
    assert one.out_of("Joann Leeward, Bo") == "Joann Leeward, Bo"  # too short a name is no word
    assert not one.is_partly_in("Ann Lee")
    two = Person(7, frozenset({"Annika Leeward"}), frozenset())
    assert two.is_partly_in("Annika Leeward and once more Annika")
    assert two.parts == ("Annika", "Leeward")


@pytest.mark.django_db
def test_part_of_a_name_is_told_and_left(named: Named) -> None:
    m.Animal.objects.filter(pk=named.dam.pk).update(notes="Qwelfarn fed her.")
    assert "Qwelfarn fed her." in taking_out.preview(named.contact).partly
    erase(named)
    assert m.Animal.objects.get(pk=named.dam.pk).notes == "Qwelfarn fed her."


@pytest.mark.django_db(transaction=True)
def test_what_an_erasure_that_was_cut_short_left_is_done_afterwards(
    named: Named, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    with monkeypatch.context() as cut:
        cut.setattr(sweeping, "finish", lambda: False)
        assert not erase(named)
    assert found_below(Path(settings.MEDIA_ROOT))
    assert sweeping.is_left()
    call_command("sweep", verbosity=0)
    assert not sweeping.is_left()
    assert in_the_database() == []
    assert found_below(Path(settings.DATA)) == {}


@pytest.mark.django_db(transaction=True)
def test_files_of_somebody_who_was_not_erased_after_all_stay(named: Named, settings: Any) -> None:
    before = found_below(Path(settings.MEDIA_ROOT))
    sweeping.begin(named.contact.pk, ["imports/2026/none.csv", *before])
    assert sweeping.finish()
    assert found_below(Path(settings.MEDIA_ROOT)) == before
