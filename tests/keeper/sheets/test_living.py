"""What a sheet says of the living animal: weight, meals, photo, and how its seller is reached."""

from datetime import date

import pypdfium2
import pypdfium2.raw as pdf
import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.animals.photos import add_photo
from keeper.domain.book.writing import writing
from keeper.domain.sheets import signing
from keeper.domain.sheets.living import picture_file
from keeper.domain.sheets.writes import draft, issue
from keeper.paper.typesetting import typeset
from tests.keeper.books import Book
from tests.keeper.sent import opened
from tests.keeper.world import picture

pytestmark = pytest.mark.django_db
DAY = date(2026, 9, 1)


@pytest.fixture
def animal(owner: m.Account) -> m.Animal:
    """A visual that eats, was weighed, and has its photo taken."""
    book = Book(owner)
    found = book.founder("F-1", "female", "visual")
    with writing(by=owner, what="Care") as entry:
        for day, outcome in ((1, "taken"), (8, "refused"), (15, "taken"), (22, "taken")):
            entry.keep(
                m.Meal(animal=found, on=DAY.replace(day=day), prey="rat", grams=40, outcome=outcome)
            )
        entry.keep(m.Weight(animal=found, on=DAY, grams="1480"))
    add_photo(animal=found, upload=picture(), by=owner)
    return found


def test_weight_and_the_last_three_meals_are_told(animal: m.Animal, owner: m.Account) -> None:
    assert draft(animal, by=owner)["care"] == [
        "Weighed 1480 g on 1 September 2026.",
        "Last meals: rat, 40 g, taken on 22 September 2026; rat, 40 g, taken on 15 September 2026; "
        "rat, 40 g, refused on 8 September 2026.",
    ]


def test_of_an_animal_without_any_nothing_is_said(owner: m.Account) -> None:
    content = draft(Book(owner).founder("F-1", "female"), by=owner)
    assert (content["care"], content["photo"]) == ([], {})


@pytest.mark.parametrize(
    ("size", "points"), [("a4", (595, 842)), ("a5", (420, 595)), ("letter", (612, 792))]
)
def test_paper_shows_the_photo_and_how_the_seller_is_reached(
    animal: m.Animal, owner: m.Account, size: str, points: tuple[int, int]
) -> None:
    owner.reach = "mara@example.org"
    content = draft(animal, by=owner)
    made = typeset(
        content, source="sheet", size=size, picture=picture_file(animal, content["photo"])
    )
    (page,) = pypdfium2.PdfDocument(made)
    assert tuple(round(one) for one in page.get_size()) == points
    assert len(list(page.get_objects([pdf.FPDF_PAGEOBJ_IMAGE]))) == 1
    said = " ".join(page.get_textpage().get_text_bounded().split())
    for words in ("Weighed 1480 g", "Last meals: rat", "mara@example.org"):
        assert words in said
    assert b"Photo of F-1" in made or "Photo of F-1".encode("utf-16-be") in made


def test_a_photo_that_is_not_the_one_of_that_day_is_not_printed(
    animal: m.Animal, owner: m.Account
) -> None:
    sheet, _ = issue(animal=animal, by=owner)
    told = sheet.content["photo"]
    assert picture_file(animal, told)
    image = m.Photo.objects.get().image
    name = str(image.name)
    with image.storage.open(name, "wb") as file:
        file.write(picture().read() + b"altered")
    assert picture_file(animal, told) == b""
    assert signing.paper_is_as_signed(sheet)
    image.storage.delete(name)
    assert picture_file(animal, told) == b""
    assert draft(animal, by=owner)["photo"] == {}


def test_a_later_meal_does_not_stop_an_issue(animal: m.Animal, owner_client: Client) -> None:
    address = reverse("animals-sheet", args=[animal.pk])
    typed = opened(owner_client, address)
    with writing(by=m.Account.objects.get(), what="Fed") as entry:
        entry.keep(m.Meal(animal=animal, on=DAY.replace(day=29), prey="rat"))
    owner_client.post(address, typed | {"buyer": ""})
    assert "29 September" in m.Sheet.objects.get().content["care"][1]


def test_one_says_oneself_how_one_is_reached(owner: m.Account, owner_client: Client) -> None:
    address = reverse("home-self-reach")
    owner_client.post(address, opened(owner_client, address) | {"reach": "+00 123 456"})
    owner.refresh_from_db()
    assert owner.reach == "+00 123 456"
    assert "+00 123 456" in owner_client.get(reverse("home-self")).content.decode()
