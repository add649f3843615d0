"""The text of an offer never says more than the standings, and names nobody."""

import re
from fractions import Fraction
from io import BytesIO
from math import floor
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from keeper.domain.saying import shorthand_reading
from keeper.domain.saying.shorthand import Gene
from keeper.domain.sheets.listing import card, listing
from keeper.models import Account, Animal, Line, Standing, Statement, Word
from keeper.paper.typesetting import CannotPrint, typeset_card
from tests.factories import AnimalFactory, ContactFactory, LineFactory, TraitFactory
from tests.keeper.sheets.rows import dispute_of, stand
from tests.keeper.world import World


@pytest.fixture
def animal(db: None) -> Animal:
    made: Animal = AnimalFactory.create(
        code="K-1", name="Nettle", sex="female", species__name="royal python",
        species__scientific_name="Python regius", hatched_year=2026,
    )  # fmt: skip
    return made


@pytest.fixture
def line(animal: Animal) -> Line:
    trait = TraitFactory.create(species=animal.species, name="Saltgrass")
    made: Line = LineFactory.create(trait=trait, code="HAR")
    return made


def genes(animal: Animal, by: Account) -> str:
    """The part of the shorthand that is about genes."""
    return listing(animal, by=by).short.split(" · ")[2]


def test_shorthand_and_full_words_of_one_animal(animal: Animal, line: Line, owner: Account) -> None:
    stand(animal, line, owner, one=0.669)
    quillwort = TraitFactory.create(species=animal.species, name="Quillwort")
    LineFactory.create(trait=quillwort, code="DUN")
    stand(animal, quillwort, owner, two=1, word="visual")
    text = listing(animal, by=owner, licence=" R 17 ")
    assert text.short == (
        "0.1 royal python K-1 · hatched in 2026, day not known · "
        "visual Quillwort (line not known), 66 % poss het Saltgrass (HAR) · licence R 17"
    )
    assert text.full.splitlines() == [
        "royal python (Python regius), K-1 “Nettle”: female, how told not recorded, "
        "hatched in 2026, day not known.",
        "Quillwort, line not known: visual.",
        "Saltgrass, line HAR: possible het 66 %.",
        "Licence R 17.",
        "Percentages are chances by its records, rounded down.",
    ]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"two": 1, "word": "visual"}, "visual Saltgrass (HAR)"),
        ({"two": 0.985, "word": "visual"}, "visual Saltgrass (HAR), 98 % sure"),
        ({"one": 1, "word": "proven", "proof_looks": 3}, "proven het Saltgrass (HAR)"),
        ({"one": 0.5, "two": 0.5, "word": "proven", "proof_looks": 3}, "proven Saltgrass (HAR)"),
        ({"one": 1, "word": "parentage"}, "100 % het Saltgrass (HAR)"),
        ({"one": 1, "word": "deduced"}, "100 % het Saltgrass (HAR)"),
        ({"one": 0.75, "two": 0.25, "word": "deduced"}, "100 % carrier Saltgrass (HAR)"),
        ({"one": 0.9999, "word": "possible"}, "99 % poss het Saltgrass (HAR)"),
        ({"one": 0.004, "word": "possible"}, "under 1 % poss het Saltgrass (HAR)"),
        ({"one": 0.4, "two": 0.25, "word": "possible"}, "65 % poss carrier Saltgrass (HAR)"),
        ({"one": 0.97, "word": "tested"}, "97 % het Saltgrass (HAR) by a laboratory"),
        (
            {"one": 0.5, "word": "labs"},
            "50 % poss het Saltgrass (HAR), laboratories disagree",
        ),
        (
            {"one": 0.9, "word": "stated"},
            "Saltgrass (HAR) stated by its source, not tested here",
        ),
        ({"one": 0.041, "word": "clean"}, "Saltgrass (HAR) tested clean so far, 5 % left"),
        ({"word": "absent"}, "no gene claimed"),
    ],
)
def test_each_word_in_shorthand(
    animal: Animal, line: Line, owner: Account, values: dict[str, Any], said: str
) -> None:
    stand(animal, line, owner, **values)
    assert genes(animal, owner) == said


def test_what_the_shorthand_says_can_be_read_back_and_is_no_more(
    animal: Animal, line: Line, owner: Account
) -> None:
    known = Gene(line.trait_id, "Saltgrass", {"HAR": line.pk}, {line.pk: "HAR"})
    for chance in (0.5, 0.669, 0.9999, 0.01):
        Standing.objects.all().delete()
        stand(animal, line, owner, one=chance)
        read = shorthand_reading.read(genes(animal, owner), [known])
        (word,) = read.words
        assert (word.trait, word.line, read.unread) == (line.trait_id, line.pk, ())
        assert word.chance == Fraction(floor(chance * 100), 100)


def test_a_proof_by_one_look_has_the_figure_that_misreading_leaves(
    animal: Animal, line: Line, owner: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand(animal, line, owner, one=1, word="proven", proof_looks=1, proof_young=1)
    for left, said in (
        (0.987, "98 % het Saltgrass (HAR), shown by 1 hatchling looked at once"),
        (None, "Saltgrass (HAR), shown by 1 hatchling looked at once"),
    ):
        monkeypatch.setattr("keeper.domain.inference.if_misread", lambda *_, left=left: left)
        assert genes(animal, owner) == said


def test_nothing_is_claimed_of_a_disputed_gene(animal: Animal, line: Line, owner: Account) -> None:
    stand(animal, line, owner, two=1, word="visual", dispute=dispute_of(animal, owner))
    text = listing(animal, by=owner)
    assert genes(animal, owner) == "no gene claimed; nothing claimed of Saltgrass (disputed)"
    assert "Disputed, so nothing is claimed: Saltgrass." in text.full
    assert "visual" not in text.short + text.full


def test_a_stated_gene_names_no_source_and_no_figure(
    animal: Animal, line: Line, owner: Account
) -> None:
    source = ContactFactory.create(name="Zyrwick", reliability="83/100")
    Statement.objects.create(
        animal=animal, trait=line.trait, line=line, claim="carries", source=source
    )
    stand(animal, line, owner, one=0.83, word="stated", customary=0.83)
    text = listing(animal, by=owner)
    assert "Saltgrass, line HAR: stated by its source, not tested here." in text.full
    for said in ("Zyrwick", "83", "100 %"):
        assert said not in text.short + text.full


PERCENT = re.compile(r"(\d+) %")


@pytest.mark.parametrize("seed", [3, 11])
def test_no_figure_of_a_random_book_is_above_its_standing(owner: Account, seed: int) -> None:
    world = World(owner, seed)
    for _ in range(12):
        world.act()
    checked = 0
    for animal in Animal.objects.live().select_related("species"):
        text = listing(animal, by=owner)
        rows = Standing.objects.filter(animal=animal, line=None).select_related("trait")
        for one in rows:
            lines = [row for row in text.full.splitlines() if row.startswith(f"{one.trait.name}, ")]
            if one.is_disputed or one.none == 1:
                assert lines == []
                continue
            most = 100 if one.none == 0 else floor(one.carries * 100 + 1e-9)
            if one.word == Word.CLEAN:
                most = floor(one.carries * 100) + 1
            for row in lines:
                said = row.partition(": ")[2]
                figures = [int(each) for each in PERCENT.findall(said.partition(" by its ")[0])]
                assert [each for each in figures if each > most] == [], (str(animal), row)
                checked += 1
    assert checked > 2


def test_the_page_shows_both_with_the_licence(
    animal: Animal, line: Line, owner: Account, owner_client: Client
) -> None:
    stand(animal, line, owner, one=0.5)
    page = owner_client.get(f"/animals/{animal.pk}/listing/?licence=R<17>").content.decode()
    assert "50 % poss het Saltgrass (HAR) · licence R&lt;17&gt;" in page
    assert "Saltgrass, line HAR: possible het 50 %." in page
    assert 'value="R&lt;17&gt;"' in page


def test_more_genes_ask_for_no_more(animal: Animal, line: Line, owner: Account) -> None:
    stand(animal, line, owner, one=0.5)

    def asked() -> int:
        with CaptureQueriesContext(connection) as made:
            listing(Animal.objects.get(pk=animal.pk), by=owner)
        return len(made)

    one = asked()
    for name in ("Quillwort", "Ebb", "Thrift"):
        trait = TraitFactory.create(species=animal.species, name=name)
        stand(animal, LineFactory.create(trait=trait), owner, one=0.5)
    assert asked() == one


# --- as a picture ---------------------------------------------------------------------------------


def drawn(content: dict[str, Any], picture: bytes = b"") -> Image.Image:
    """The picture of what a card says."""
    made = Image.open(BytesIO(typeset_card(content, picture=picture)))
    made.load()
    return made


def test_picture_says_the_full_words_and_nothing_else(
    animal: Animal, line: Line, owner: Account
) -> None:
    stand(animal, line, owner, one=0.669)
    other = TraitFactory.create(species=animal.species, name="Ebb")
    stand(animal, other, owner, two=1, word="visual", dispute=dispute_of(animal, owner))
    animal.source = ContactFactory.create(name="Zyr Canary", reach="canary@zyr.example")
    animal.save()
    content = card(animal, by=owner, licence=" R 17 ")
    full = listing(animal, by=owner, licence=" R 17 ").full
    assert content["lines"] == [
        ["Saltgrass, line HAR", "possible het 66 %"],
        ["Ebb", "disputed, so nothing is claimed"],
    ]
    for name, said in content["lines"][:1]:
        assert f"{name}: {said}." in full
    assert content["foot"].startswith(
        "Licence R 17. Percentages are chances by its records, rounded down. As the records are on"
    )
    assert "canary" not in f"{content}".lower()


def test_picture_is_as_high_as_its_words_without_a_photo(
    animal: Animal, line: Line, owner: Account
) -> None:
    stand(animal, line, owner, one=0.669)
    content = card(animal, by=owner)
    plain, photo = drawn(content), drawn(content, flat("#a03020"))
    assert photo.size == (1080, 1350)
    assert plain.width == 1080 and 300 < plain.height < 900
    assert photo.convert("RGB").getpixel((540, 300)) == (160, 48, 32)
    assert plain.convert("RGB").getpixel((540, plain.height - 9)) == (247, 245, 236)


def flat(colour: str) -> bytes:
    """A photo of one colour."""
    out = BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "PNG")
    return out.getvalue()


def test_picture_holds_many_genes_and_says_when_it_cannot(animal: Animal, owner: Account) -> None:
    content = card(animal, by=owner)
    content["lines"] = [[f"Gene {n}, line HAR", "possible het 66 %"] for n in range(18)]
    assert drawn(content, flat("#a03020")).size == (1080, 1350)
    content["lines"] *= 5
    with pytest.raises(CannotPrint, match="too much for one picture"):
        typeset_card(content)
    content["lines"] = [['#"*$@<>`\\_[]{}', "\N{SNAKE}"]]
    with pytest.raises(CannotPrint, match="a character that the printed font does not have"):
        typeset_card(content)


def test_picture_of_an_animal_is_a_file(owner_client: Client, animal: Animal) -> None:
    page = owner_client.get(reverse("animals-listing", args=[animal.pk])).content.decode()
    address = reverse("animals-listing-picture", args=[animal.pk])
    assert f'src="{address}"' in page
    answer = owner_client.get(f"{address}?download=1")
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/png")
    assert answer["Content-Disposition"] == 'attachment; filename="K-1.png"'
