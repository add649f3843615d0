"""Statements, papers with their scans, and photos: kept without what a camera adds to them."""

import io
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from keeper.models import Account, Animal, Line, Paper, Photo, StandingChange, Statement
from tests.factories import AnimalFactory, ContactFactory
from tests.keeper.animals.rows import het, saltgrass_har


@pytest.fixture
def saltgrass(db: None) -> Line:
    return saltgrass_har()


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def picture(
    size: tuple[int, int] = (60, 40), *, kind: str = "JPEG", turned: bool = False
) -> SimpleUploadedFile:
    """A picture as a phone writes it: with the place, and how it was held."""
    exif = Image.Exif()
    exif[0x010F] = "a camera of some make"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    if turned:
        exif[0x0112] = 6
    out = io.BytesIO()
    Image.new("RGB", size, "tan").save(out, kind, exif=exif)
    return SimpleUploadedFile("snake.jpg", out.getvalue(), content_type="image/jpeg")


def sent(client: Client, animal: Animal, file: Any, **more: Any) -> Any:
    return client.post(reverse("animals-photo-new", args=[animal.pk]), {"picture": file} | more)


def test_photo_loses_its_place_and_stands_upright(owner_client: Client, saltgrass: Line) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    sent(owner_client, animal, picture((60, 40), turned=True), caption="after its shed")
    photo = Photo.objects.get()
    with photo.image.open() as file:
        kept = Image.open(file)
        assert (kept.format, kept.size, dict(kept.getexif())) == ("JPEG", (40, 60), {})
    assert b"a camera of some make" not in Path(photo.image.path).read_bytes()
    assert (photo.width, photo.height, photo.caption) == (40, 60, "after its shed")


def test_photo_is_made_smaller(owner_client: Client, saltgrass: Line) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    sent(owner_client, animal, picture((3000, 1500)))
    photo = Photo.objects.get()
    assert (photo.width, photo.height) == (2000, 1000)
    small = owner_client.get(reverse("animals-picture", args=[photo.pk]), {"size": "small"})
    assert Image.open(io.BytesIO(small.content)).size == (480, 240)


def test_photo_with_transparency_stands_on_white(owner_client: Client, saltgrass: Line) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    out = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(out, "PNG")
    sent(owner_client, animal, SimpleUploadedFile("a.png", out.getvalue()))
    with Photo.objects.get().image.open() as file:
        assert Image.open(file).getpixel((4, 4)) == (255, 255, 255)


@pytest.mark.parametrize("content", [b"no picture at all", b"\xff\xd8\xff\xe0 cut off", b"GIF89a"])
def test_photo_that_is_no_picture_is_refused_in_words(
    owner_client: Client, saltgrass: Line, content: bytes
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    page = sent(owner_client, animal, SimpleUploadedFile("a.jpg", content), caption="kept")
    assert "This file is no picture that can be read here." in page.content.decode()
    assert 'value="kept"' in page.content.decode()
    assert not Photo.objects.exists()


def test_photo_is_served_to_those_logged_in_alone(
    client: Client, owner_client: Client, saltgrass: Line
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    sent(owner_client, animal, picture())
    address = reverse("animals-picture", args=[Photo.objects.get().pk])
    answer: Any = owner_client.get(address)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Cache-Control"] == "private, max-age=604800, immutable"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert b"".join(answer.streaming_content)[:2] == b"\xff\xd8"
    assert client.get(address).status_code == 302


def test_caption_is_changed_and_the_photo_withdrawn(owner_client: Client, saltgrass: Line) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    sent(owner_client, animal, picture(), caption="frist")
    photo = Photo.objects.get()
    data = {"caption": "first", "taken_on": "2024-01-02"}
    owner_client.post(reverse("animals-photo", args=[photo.pk]), data)
    photo.refresh_from_db()
    assert (photo.caption, photo.taken_on) == ("first", date(2024, 1, 2))
    away = reverse("animals-record-withdraw", args=["photo", photo.pk])
    owner_client.post(away, {"reason": "another animal"})
    page = owner_client.get(reverse("animals-one", args=[animal.pk])).content.decode()
    assert "A photo, withdrawn: another animal" in page and "<img" not in page


def test_paper_with_a_scan_is_kept_and_handed_out_as_a_file(
    owner_client: Client, saltgrass: Line
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species, code="F-014")
    source = ContactFactory.create(name="Ines Varga")
    scan = SimpleUploadedFile("bill.pdf", b"%PDF-1.7 bill", content_type="application/pdf")
    data = {"source": source.pk, "says": "100 % het", "upload": scan}
    owner_client.post(reverse("animals-document-new", args=[animal.pk]), data)
    paper = Paper.objects.get()
    answer: Any = owner_client.get(reverse("animals-scan", args=[paper.pk]))
    assert answer["Content-Disposition"].startswith('attachment; filename="F-014-paper-')
    assert b"".join(answer.streaming_content) == b"%PDF-1.7 bill"


def test_paper_with_a_scan_of_another_kind_is_refused(
    owner_client: Client, saltgrass: Line
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    page_file = SimpleUploadedFile("bill.html", b"<html><script>", content_type="text/html")
    data = {"source": ContactFactory.create().pk, "says": "het", "upload": page_file}
    page = owner_client.post(reverse("animals-document-new", args=[animal.pk]), data)
    assert "This file is no picture that can be read here." in page.content.decode()
    assert not Paper.objects.exists()


def test_paper_is_corrected_and_a_scan_that_is_not_there_is_not_found(
    owner_client: Client, saltgrass: Line
) -> None:
    animal = AnimalFactory.create(species=saltgrass.trait.species)
    paper = Paper.objects.create(animal=animal, source=ContactFactory.create(), says="hte")
    data = {"source": paper.source_id, "says": "het", "reason": "misread"}
    owner_client.post(reverse("animals-document", args=[paper.pk]), data)
    paper.refresh_from_db()
    assert paper.says == "het"
    assert owner_client.get(reverse("animals-scan", args=[paper.pk])).status_code == 404


def test_statement_is_added_with_the_animals_source_filled_in(
    owner_client: Client, saltgrass: Line
) -> None:
    source = ContactFactory.create(name="Ines Varga")
    animal = AnimalFactory.create(species=saltgrass.trait.species, source=source)
    address = reverse("animals-statement-new", args=[animal.pk])
    page = owner_client.get(address).content.decode()
    assert f'<option value="{source.pk}" selected>Ines Varga</option>' in page
    data = {"line": saltgrass.pk, "claim": "carries", "source": source.pk}
    owner_client.post(address, data)
    statement = Statement.objects.get()
    assert (statement.trait, statement.line) == (saltgrass.trait, saltgrass)


def test_second_statement_of_a_source_on_a_trait_is_refused_with_what_to_do(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    data = {"line": saltgrass.pk, "claim": "carries", "source": str(animal.source_id)}
    address = reverse("animals-statement-new", args=[animal.pk])
    page = owner_client.post(address, data).content.decode()
    assert "There is a word of this source on this trait already: change that one." in page
    # Another's word on it is another record, weighed with the first.
    owner_client.post(address, data | {"source": str(ContactFactory.create().pk)})
    assert Statement.objects.count() == 2


def test_corrected_statement_moves_the_numbers(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    statement = Statement.objects.get()
    data = {
        "line": saltgrass.pk, "claim": "possible", "chance": "50 %", "source": statement.source_id,
        "reason": "read the paper again",
    }  # fmt: skip
    answer = owner_client.post(reverse("animals-statement", args=[statement.pk]), data)
    statement.refresh_from_db()
    assert statement.chance == Fraction(1, 2)
    change = StandingChange.objects.filter(animal=animal, line=saltgrass).latest("pk")
    assert (round(change.none_before or 0, 6), change.none) == (round(1 / 3, 6), 0.5)
    page = owner_client.get(answer["Location"]).content.decode()
    assert "66 %" in page and "50 %" in page


@pytest.mark.parametrize(
    ("name", "day", "more"),
    [
        ("animals-observe", "on", {"scope": "whole"}),
        ("animals-statement-new", "on", {"claim": "carries"}),
        ("animals-document-new", "dated", {"says": "het"}),
    ],
)
def test_day_that_is_still_to_come_is_refused_and_kept_as_typed(
    owner_client: Client, saltgrass: Line, name: str, day: str, more: dict[str, str]
) -> None:
    source = ContactFactory.create()
    animal = AnimalFactory.create(species=saltgrass.trait.species, source=source)
    data = {"trait": saltgrass.trait.pk, "source": source.pk, day: "2999-01-01", **more}
    answer = owner_client.post(reverse(name, args=[animal.pk]), data)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert (
        ("That day is still to come. Enter today or an earlier day.") in text,
        'value="2999-01-01"' in text,
    ) == (True, True)
