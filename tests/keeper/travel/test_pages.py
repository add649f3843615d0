"""The pages on which signed papers are looked at and brought in."""

import base64
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keeper import models as m
from tests.keeper.books import Book
from tests.keeper.travel.books import OtherBook, brought, file_of
from tests.keeper.travel.test_arriving import breeder

IN = "animals-signed-papers"


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def file(another: OtherBook) -> bytes:
    with another("breeder") as book:
        return file_of(breeder(book), book.by)


@pytest.fixture
def here(another: OtherBook, owner: m.Account, settings: Any, tmp_path: Any) -> Book:
    settings.DATA = tmp_path / "here"
    book = Book(owner, name="royal python", scientific_name="Python regius")
    m.Line.objects.update(name="Harvesk")
    return book


def sent(file: bytes, **more: Any) -> dict[str, Any]:
    """What the page of the dry run sends."""
    asked = {
        "paper": base64.b64encode(file).decode(),
        "look": "1",
        "source": "",
        "name": "Osk",
        "trust": "100 %",
        "compared": "on",
        "code": "C1-a",
        "on": "2026-07-01",
    }
    return asked | more


def chosen(book: Book) -> dict[str, Any]:
    return {"trait-0": book.trait.pk, "line-0-0": book.line.pk}


def test_a_paper_is_read_without_writing_anything(
    owner_client: Client, file: bytes, here: Book
) -> None:
    answer = owner_client.post(reverse(IN), {"file": SimpleUploadedFile("sheet.json", file)})
    said = text_of(answer)
    assert "The signature holds" in said
    assert "No paper in this book was signed with that key before" in said
    assert "It arrives as a founder by the papers of their signer" in said
    assert 'Saltgrass HAR</th><td class="number">53 %</td><td class="number">53 %</td>' in said
    # Its own trait and line are offered as what they seem to be.
    assert f'<option value="{here.trait.pk}" selected>Saltgrass</option>' in said
    assert f'<option value="{here.line.pk}" selected>' in said
    assert not m.Animal.objects.exists()
    assert not m.SignedPaper.objects.exists()


def test_what_it_moves_is_seen_before_it_is_brought_in(
    owner_client: Client, file: bytes, here: Book
) -> None:
    looked = owner_client.post(reverse(IN), sent(file, **chosen(here)))
    assert "It moves 1 figure of 1 animal" in text_of(looked)
    assert not m.Animal.objects.exists()
    seen = looked.context["preview"].digest
    done = owner_client.post(reverse(IN), sent(file, **chosen(here), seen=seen), follow=True)
    paper = m.SignedPaper.objects.get()
    assert done.redirect_chain[0][0].startswith(reverse("animals-signed-paper", args=[paper.pk]))
    said = text_of(done)
    assert "The signature holds." in said
    assert (
        '<td class="number">53 %</td><td class="number">53 %</td><td class="number">53 %</td>'
        in said
    )
    animal = text_of(owner_client.get(reverse("animals-one", args=[paper.animal_id])))
    assert "stated a possible carrier 53 % by the papers of Osk, not tested here" in animal
    assert f'id="signed-paper-{paper.pk}"' in animal
    assert "proven" not in animal.split('id="sources"')[1]
    # The words of the sheet are kept too.
    assert m.Paper.objects.get().says.startswith("Sale sheet no. 1, signed with the key ")
    given = owner_client.get(reverse("animals-signed-paper-file", args=[paper.pk]))
    assert given.content == file


def test_what_is_wrong_is_said_and_nothing_typed_is_lost(
    owner_client: Client, file: bytes, here: Book
) -> None:
    answer = owner_client.post(reverse(IN), sent(file, compared="", **chosen(here)))
    said = text_of(answer)
    assert "Compare its fingerprint with the one on the printed paper" in said
    assert 'value="Osk"' in said
    assert base64.b64encode(file).decode() in said
    answer = owner_client.post(reverse(IN), sent(file) | {"trait-0": here.trait.pk})
    assert "Say what Saltgrass HAR Harvesk is here." in text_of(answer)
    here.founder("C1-a", "male")
    answer = owner_client.post(reverse(IN), sent(file, **chosen(here)))
    assert "This code is in use already. Choose another." in text_of(answer)
    assert m.SignedPaper.objects.count() == 0


def test_an_altered_paper_says_so(owner_client: Client, file: bytes, here: Book) -> None:
    changed = file.replace(b"carries", b"CARRIES", 1)
    answer = owner_client.post(reverse(IN), {"file": SimpleUploadedFile("sheet.json", changed)})
    assert answer.status_code == 200
    assert "The signature does not hold" in text_of(answer)


def test_a_species_that_is_called_otherwise_is_asked_for(
    owner_client: Client, file: bytes, here: Book
) -> None:
    m.Species.objects.update(name="ball python", scientific_name="")
    answer = owner_client.post(reverse(IN), {"file": SimpleUploadedFile("sheet.json", file)})
    assert "This book has no species “royal python”" in text_of(answer)
    data = {"paper": base64.b64encode(file).decode(), "species": here.species.pk}
    assert "The signature holds" in text_of(owner_client.post(reverse(IN), data))


def test_traits_and_lines_that_are_new_are_added(
    owner_client: Client, file: bytes, here: Book
) -> None:
    more = {"trait-0": "new", "line-0-0": "new"}
    m.Trait.objects.update(name="Ashfall")
    looked = owner_client.post(reverse(IN), sent(file, **more))
    seen = looked.context["preview"].digest
    owner_client.post(reverse(IN), sent(file, **more, seen=seen))
    line = m.Line.objects.get(trait__name="Saltgrass")
    assert (line.code, line.name, line.trait.shown) == ("HAR", "Harvesk", "recessive")
    assert m.Standing.objects.get(line=line).carries == pytest.approx(0.535, abs=1e-3)


def test_what_is_left_out_is_kept_in_words(owner_client: Client, file: bytes, here: Book) -> None:
    more = {"trait-0": "leave"}
    looked = owner_client.post(reverse(IN), sent(file, **more))
    assert "It moves no figure" in text_of(looked)
    seen = looked.context["preview"].digest
    owner_client.post(reverse(IN), sent(file, **more, seen=seen))
    assert not m.Statement.objects.exists()
    assert "Saltgrass, HAR: possible het 53 %" in m.Paper.objects.get().says


def test_kin_by_their_papers_are_pointed_out(
    owner_client: Client, another: OtherBook, owner: m.Account, settings: Any, tmp_path: Any
) -> None:
    with another("breeder") as book:
        first = file_of(breeder(book), book.by)
        second = file_of(m.Animal.objects.get(code="C1-b"), book.by)
    settings.DATA = tmp_path / "here"
    Book(owner, name="royal python", scientific_name="Python regius")
    m.Line.objects.update(name="Harvesk")
    brought(first, owner)
    answer = owner_client.post(reverse(IN), {"file": SimpleUploadedFile("sheet.json", second)})
    assert "kinship and inbreeding between them read too low" in text_of(answer)


def test_a_pair_that_is_kin_by_its_papers_says_so(
    owner_client: Client, another: OtherBook, owner: m.Account, settings: Any, tmp_path: Any
) -> None:
    with another("breeder") as book:
        files = [file_of(breeder(book), book.by)]
        files.append(file_of(m.Animal.objects.get(code="C1-b"), book.by))
    settings.DATA = tmp_path / "here"
    book = Book(owner, name="royal python", scientific_name="Python regius")
    m.Line.objects.update(name="Harvesk")
    dam, sire = (brought(file, owner, name=f"Osk {n}").animal for n, file in enumerate(files))
    other = book.founder("M9", "male", "visual")
    kin = "the kinship given here is too low"
    address = reverse("clutches-pairing")
    told = owner_client.get(address, {"dam": dam.pk, "sire": sire.pk})
    assert kin in text_of(told)
    assert kin not in text_of(owner_client.get(address, {"dam": dam.pk, "sire": other.pk}))


def test_what_a_signed_paper_says_is_not_corrected_by_hand(
    owner_client: Client, file: bytes, here: Book
) -> None:
    paper = brought(file, here.by)
    said = m.Statement.objects.get()
    answer = owner_client.get(reverse("animals-statement", args=[said.pk]), follow=True)
    assert "stands as it was signed" in text_of(answer)
    asked = owner_client.get(reverse("animals-statement-new", args=[paper.animal_id]))
    assert "as its signed papers say" not in text_of(asked)


def test_only_the_owner_brings_papers_in(client: Client, helper_client: Client, db: None) -> None:
    assert helper_client.get(reverse(IN)).status_code == 403
    assert client.get(reverse(IN)).status_code == 302
