"""The PDF: what it says, one tagged page in both sizes, no markup out of what was typed."""

from datetime import date
from io import BytesIO
from typing import Any

import pikepdf
import pypdfium2
import pytest

from keeper.domain.sheets.writes import draft
from keeper.models import Account, Animal, CandidateSire, Observation
from keeper.paper.typesetting import CannotPrint, typeset
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    ContactFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.keeper.sheets.rows import dispute_of, stand, text_of_pdf

HOSTILE = '#"*$@<>`\\/_[]{}//=-+~&%'
SIZES = {"a4": (595, 842), "a5": (420, 595)}


@pytest.fixture
def animal(db: None) -> Animal:
    """An animal with a gene of every kind."""
    species = SpeciesFactory.create(name="royal python", scientific_name="Python regius")
    made: Animal = AnimalFactory.create(
        species=species, code="K-1", sex="female", hatched_on=date(2026, 7, 3)
    )
    return made


def gene(animal: Animal, name: str, by: Account, **given: Any) -> None:
    trait = TraitFactory.create(species=animal.species, name=name)
    stand(animal, LineFactory.create(trait=trait, code="HAR"), by, **given)


def printed(content: dict[str, Any], size: str = "a4") -> str:
    pages, text = text_of_pdf(typeset(content, source="sheet", size=size))
    assert pages == 1
    return text


@pytest.mark.parametrize("size", SIZES)
def test_sheet_prints_what_the_standings_say_and_nothing_more(
    animal: Animal, owner: Account, size: str
) -> None:
    gene(animal, "Saltgrass", owner, two=1, word="visual")
    gene(animal, "Quillwort", owner, one=0.4899, customary=2 / 3)
    gene(animal, "Ebb", owner, one=1, word="proven")
    trait = TraitFactory.create(species=animal.species, name="Marrowglass")
    stand(animal, trait, owner, one=0.004)
    gene(animal, "Driftwrack", owner, two=1, word="visual", dispute=dispute_of(animal, owner))
    text = printed(draft(animal, by=owner), size)
    for said in (
        "Saltgrass HAR",
        "visual",
        "possible het 48 %",
        "Ebb HAR",
        "proven",
        "Marrowglass line not known",
        "possible het under 1 %",
        "Disputed: nothing is claimed. Driftwrack",
        "royal python Python regius",
        "hatched 3 July 2026",
        "Salmonella",
        "permits",
        "Sale sheet, not issued",
    ):
        assert said in text
    assert "49 %" not in text
    assert "66 %" not in text  # what its source is trusted with
    assert "Driftwrack HAR" not in text
    assert text.count("Driftwrack") == 1


@pytest.mark.parametrize("size", SIZES)
def test_sheet_is_one_tagged_page_of_its_size(animal: Animal, owner: Account, size: str) -> None:
    gene(animal, "Saltgrass", owner, one=0.5)
    made = typeset(draft(animal, by=owner), source="sheet", size=size)
    with pikepdf.open(BytesIO(made)) as pdf:
        assert len(pdf.pages) == 1
        box = [float(one) for one in pdf.pages[0].MediaBox]
        assert tuple(round(one) for one in box[2:]) == SIZES[size]
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en-GB"
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        assert "/StructTreeRoot" in pdf.Root
        with pdf.open_metadata() as about:
            assert about["dc:title"] == "Sale sheet of K-1"
            assert about["pdfuaid:part"] == "1"
        fonts = {str(font.BaseFont) for font in pdf.pages[0].Resources.Font.values()}
    assert all("SourceSans3" in name for name in fonts)


@pytest.mark.parametrize("size", SIZES)
def test_long_content_shrinks_onto_one_page_whole(
    animal: Animal, owner: Account, size: str
) -> None:
    species = animal.species
    species.cautions = "Keep the warm side at 31 °C and mind the season (own note). " * 3
    dam = AnimalFactory.create(species=species, code="F-1", sex="female")
    clutch = ClutchFactory.create(dam=dam, code="26-07")
    CandidateSire.objects.create(
        clutch=clutch, sire=AnimalFactory.create(species=species, code="M-1", sex="male")
    )
    animal.clutch = clutch
    names = [f"Saltgrass of the far shore {n}" for n in range(9)]
    for name in names:
        gene(animal, name, owner, one=0.4899, customary=2 / 3, clean_young=3)
        gene(dam, f"{name} too", owner, one=0.5)
    text = printed(draft(animal, by=owner), size)
    assert [name for name in names if f"{name} HAR" not in text] == []
    assert text.count("possible het 48 % · 66 % by its parents alone") == 9
    assert text.endswith("It says what the book said on that day and is not changed afterwards.")


def test_what_does_not_fit_is_refused_not_cut(animal: Animal, owner: Account) -> None:
    for n in range(60):
        gene(animal, f"Saltgrass {n}", owner, one=0.5, customary=2 / 3)
    with pytest.raises(CannotPrint) as error:
        typeset(draft(animal, by=owner), source="sheet", size="a5")
    assert str(error.value) == ("This is too much for one page of A5 in type that can be read.")


@pytest.mark.parametrize("size", SIZES)
def test_typed_markup_is_printed_as_it_stands(owner: Account, size: str) -> None:
    species = SpeciesFactory.create(name=f"python {HOSTILE}", cautions=f"mind {HOSTILE}")
    animal = AnimalFactory.create(
        species=species,
        name=f'name {HOSTILE} #eval("1+1") #sys.inputs',
        source=ContactFactory.create(name=f"source {HOSTILE}"),
    )
    gene(animal, f"trait {HOSTILE}", owner, one=0.5)
    text = printed(draft(animal, by=owner, buyer=ContactFactory.create(name=HOSTILE)), size)
    for said in (
        f"python {HOSTILE}",
        f"mind {HOSTILE}",
        f'name {HOSTILE} #eval("1+1") #sys.inputs',
        f"Came from source {HOSTILE}.",
        f"by Mara for {HOSTILE}.",
    ):
        assert said in text
    assert f"trait {HOSTILE} HAR".replace(" ", "") in text.replace(" ", "")


@pytest.mark.parametrize("size", SIZES)
def test_a_word_without_spaces_is_broken_not_cut(animal: Animal, owner: Account, size: str) -> None:
    animal.name = "W" * 60
    gene(animal, "M" * 60, owner, one=0.5)
    made = typeset(draft(animal, by=owner), source="sheet", size=size)
    page = pypdfium2.PdfDocument(made)[0].get_textpage()
    right = max(page.get_charbox(n)[2] for n in range(page.count_chars()))
    assert right < SIZES[size][0] - 25


def test_a_character_that_the_font_lacks_is_told(animal: Animal, owner: Account) -> None:
    animal.name = "漢"
    with pytest.raises(CannotPrint) as error:
        typeset(draft(animal, by=owner), source="sheet", size="a4")
    assert str(error.value).startswith("A name or note has a character that the printed font")


def test_the_same_content_gives_the_same_bytes(animal: Animal, owner: Account) -> None:
    Observation.objects.create(
        animal=animal,
        trait=TraitFactory.create(species=animal.species),
        seen="yes",
        on=date(2026, 7, 5),
        by=owner,
    )
    content = draft(animal, by=owner, on=date(2026, 11, 25))
    assert typeset(content, source="sheet", size="a5") == typeset(
        content, source="sheet", size="a5"
    )


def test_mixed_lines_are_printed_and_older_sheets_still_print(
    animal: Animal, owner: Account
) -> None:
    gene(animal, "Saltgrass", owner, one=1, word="proven", mixed=1)
    gene(animal, "Quillwort", owner, one=0.5, mixed=0.299)
    content = draft(animal, by=owner)
    text = printed(content, "a5")
    assert "Mixes two genes of one look: young that show it will not tell the line." in text
    assert "May mix two genes of one look (29 %): young that show it may not tell" in text
    # Issued before sheets said it.
    for row in content["claims"]:
        del row["mixed"]
    assert "two genes" not in printed(content)
