"""Mixed lines are marked wherever an animal, a pairing or a sheet is read."""

import csv
import io
from datetime import date

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain.animals import queries
from keeper.domain.book.writing import writing
from keeper.domain.clutches import queries as clutch_queries
from keeper.domain.collection.queries import Carrying, Filters, collection, left_out_as_disputed
from keeper.domain.saying.mixed import could_be_either, mixed_words
from keeper.domain.saying.wording import Carried, carried
from keeper.domain.sheets import writes as sheets
from keeper.pages.animals.mixed import mixed_rows, telling_page
from keeper.pages.clutches.page import clutch_page
from keeper.pages.collection.forms import FiltersForm, plain_query
from tests.factories import AnimalFactory, LineFactory
from tests.keeper.animals.mixed_rows import TwoGenes, standing_of
from tests.keeper.collection.rows import dispute, standing
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> TwoGenes:
    return TwoGenes(owner)


def text_of(client: Client, address: str, **asked: str) -> str:
    return " ".join(client.get(address, asked).content.decode().split())


def of(animal: m.Animal) -> Carried:
    (one,) = carried(queries.standings_of([animal.pk]))
    return one


# --- words -------------------------------------------------------------------------------------


def test_words_of_mixed_lines_round_down_and_say_disputed() -> None:
    line = LineFactory.create()
    one = AnimalFactory.create()
    mixed = standing(one, line.trait, 1, mixed=0.999)
    assert mixed_words(mixed) == "possibly mixed lines 99 %"
    mixed.mixed = 1
    assert mixed_words(mixed) == "mixed lines"
    mixed.dispute = dispute(one)
    assert mixed_words(mixed) == "disputed; before that: mixed lines"
    mixed.mixed = 0
    assert (mixed_words(mixed), mixed_words(None)) == ("", "")


def test_a_visual_could_be_either_until_one_gene_is_certain(book: TwoGenes) -> None:
    assert could_be_either(of(book.visual_of_mixed()))
    assert could_be_either(of(book.unnamed_visual("M5", "male")))
    # A visual of one line, and one that carries both and shows nothing, could not.
    first, second = (m.Animal.objects.get(code=code) for code in ("F1", "K1"))
    assert not could_be_either(of(first))
    assert not could_be_either(of(second))


# --- the animal's page -------------------------------------------------------------------------


def test_animal_page_marks_mixed_lines(book: TwoGenes, owner_client: Client) -> None:
    dam, _ = book.mixed_pair()
    page = text_of(owner_client, f"/animals/{dam.pk}/")
    assert page.count("</svg> mixed lines</span>") == 1
    assert "It has copies of two genes that look alike. Of its young that show Saltgrass" in page
    assert "The mating that would tell" not in page


def test_animal_page_of_a_visual_that_could_be_either(book: TwoGenes, owner_client: Client) -> None:
    visual = book.visual_of_mixed()
    page = text_of(owner_client, f"/animals/{visual.pk}/")
    assert "possibly mixed lines 71 %" in page
    assert "With a chance of 71 % it has copies of two genes that look alike." in page
    (row,) = mixed_rows([of(visual)])
    assert [line.code for line, _ in row.chances] == ["DUN", "HAR"]
    assert [chance for _, chance in row.chances] == pytest.approx([4 / 7, 4 / 7])
    assert row.telling == f"/animals/{visual.pk}/telling/{book.trait.pk}/"
    told = text_of(owner_client, row.telling)
    assert "If all 4 show Saltgrass: two copies of HAR. If not all: one at most." in told
    assert "Two copies of HAR and two copies of DUN" in told
    whole, part = (
        owner_client.get(row.telling),
        owner_client.get(row.telling, headers={"HX-Request": "true"}),
    )
    assert b"<html" in whole.content and b"<html" not in part.content


def test_open_pair_is_said_to_be_open(book: TwoGenes, owner_client: Client) -> None:
    with writing(by=book.by, what="Left open") as entry:
        entry.keep(m.OpenPair(one=book.line, other=book.other, prior="1/2"))
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries", line=book.other)
    clutch = book.clutch("C1", dam, sire)
    one = book.young("K1", clutch, seen=False, sex="male")
    assert 0 < standing_of(one).mixed < 1
    assert "(nobody is sure yet that they are two)" in text_of(owner_client, f"/animals/{one.pk}/")


def test_visual_of_two_lines_that_are_one_gene_is_not_in_doubt(book: TwoGenes) -> None:
    # A visual of two visuals of an open pair: they are one gene, and it has a copy of each line.
    with writing(by=book.by, what="Left open") as entry:
        entry.keep(m.OpenPair(one=book.line, other=book.other, prior="1/2"))
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual", line=book.other)
    clutch = book.clutch("C1", dam, sire)
    one = book.young("V1", clutch, seen=True, sex="male")
    assert (standing_of(one).mixed, could_be_either(of(one))) == (0, False)
    (reading,) = telling_page(one, book.trait).readings
    assert (reading.words, reading.chance) == ("one copy of each, the two being one gene", 1)


def test_mates_that_tell_the_same_stand_together(book: TwoGenes) -> None:
    visual = book.visual_of_mixed()
    book.founder("F4", "female", "visual")
    page = telling_page(visual, book.trait)
    (row,) = page.mates
    assert [mate.animal.code for mate in row.mates] == ["F1", "F4"]
    assert row.mates[0].pairing.endswith(f"?dam={row.mates[0].animal.pk}&sire={visual.pk}")


def test_what_cannot_be_told_is_said(book: TwoGenes, owner_client: Client) -> None:
    other = LineFactory.create(trait__species=book.species)
    one = book.founder("M1", "male", "visual")
    page = text_of(owner_client, f"/animals/{one.pk}/telling/{other.trait_id}/")
    assert "There is only one way in which M1 can have" in page
    assert owner_client.get(f"/animals/{one.pk}/telling/999/").status_code == 404


# --- before it happens -------------------------------------------------------------------------


def test_clutch_and_hatch_day_warn_of_lines_that_would_mix(
    book: TwoGenes, owner_client: Client
) -> None:
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "possible", "1/2", line=book.other)
    clutch = book.clutch("C1", dam, sire)
    shown = clutch_page(clutch_queries.with_parents(m.Clutch.objects.all()).get())
    assert [(str(one.dam_line), str(one.sire_line), one.certain) for one in shown.mixing] == [
        ("Saltgrass HAR", "Saltgrass DUN", False)
    ]
    assert "Lines mix in this clutch." in text_of(owner_client, f"/clutches/{clutch.pk}/")
    # 1/2 · 1/2 · 1/2 of the hatchlings carry both.
    hatch = text_of(owner_client, f"/clutches/{clutch.pk}/hatch/")
    assert "<strong>Lines would mix.</strong> 12 % of the hatchlings would carry" in hatch
    pair = {"dam": str(dam.pk), "sire": str(sire.pk)}
    assert "mixed lines, HAR with DUN, 12 %" in text_of(owner_client, "/clutches/pairing/", **pair)


def test_clutch_of_one_line_warns_of_nothing(book: TwoGenes) -> None:
    dam = book.founder("F1", "female", "carries")
    book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    shown = clutch_page(clutch_queries.with_parents(m.Clutch.objects.all()).get())
    assert shown.mixing == []


def test_members_of_a_project_are_marked(book: TwoGenes, owner_client: Client) -> None:
    dam, _ = book.mixed_pair()
    project = m.Project.objects.create(species=book.species, name="Harvesk alone")
    m.GoalPart.objects.create(project=project, trait=book.trait, line=book.line)
    m.Member.objects.create(project=project, animal=dam, since=date(2026, 6, 1), reason="breeder")
    page = text_of(owner_client, f"/projects/{project.pk}/")
    assert "</svg> mixed lines</span>" in page


# --- the collection ----------------------------------------------------------------------------


@pytest.fixture
def listed(book: TwoGenes) -> dict[str, m.Animal]:
    """Animals with standings said outright: certainly, possibly and not mixed, and disputed."""
    found = {}
    for code, mixed in (("A-certain", 1.0), ("B-possible", 0.4), ("C-not", 0.0), ("D-doubt", 1.0)):
        found[code] = AnimalFactory.create(species=book.species, code=code)
        standing(found[code], book.trait, 1, mixed=mixed)
    m.Standing.objects.filter(animal=found["D-doubt"]).update(dispute=dispute(found["D-doubt"]))
    found["E-none"] = AnimalFactory.create(species=book.species, code="E-none")
    return found


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ("certain", ["A-certain"]),
        ("possible", ["B-possible"]),
        ("any", ["A-certain", "B-possible"]),
        ("not", ["C-not", "E-none"]),
    ],
)
@pytest.mark.usefixtures("listed")
def test_collection_filters_on_mixed_lines(asked: str, codes: list[str]) -> None:
    filters = Filters(mixed=asked)
    assert [one.code for one in collection(filters)] == codes
    assert left_out_as_disputed(filters) == (asked in {"certain", "any"})


@pytest.mark.usefixtures("listed")
def test_mixed_lines_are_of_the_trait_that_is_asked_for(book: TwoGenes) -> None:
    other = LineFactory.create(trait__species=book.species).trait
    twice = AnimalFactory.create(species=book.species, code="F-twice")
    standing(twice, book.trait, 1)
    standing(twice, other, 1, mixed=1.0)
    of_this = Carrying(trait=book.trait.pk)
    assert [one.code for one in collection(Filters(mixed="certain", carrying=(of_this,)))] == [
        "A-certain"
    ]
    assert [one.code for one in collection(Filters(mixed="not", carrying=(of_this,)))] == [
        "C-not",
        "F-twice",
    ]
    disputed = Filters(mixed="certain", carrying=(of_this,), disputed=True)
    assert [one.code for one in collection(disputed)] == ["D-doubt"]


@pytest.mark.usefixtures("listed")
def test_list_paper_and_files_say_mixed_lines(owner_client: Client) -> None:
    query = plain_query({"mixed": "any", "status": "here"})
    assert query == "mixed=any"
    page = owner_client.get("/animals/", {"mixed": "any"})
    assert page.context["found"].words == "here · mixed or possibly"
    shown = " ".join(page.content.decode().split())
    assert "possibly mixed lines 40 %" in shown and 'name="mixed"' in shown
    assert "possibly mixed lines 40 %" in text_of(owner_client, "/animals/paper/", mixed="any")
    answer = owner_client.get("/animals/export.csv", {"mixed": "any"})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["Mixed lines"] for row in rows] == [
        "Saltgrass: mixed lines",
        "Saltgrass: possibly mixed lines 40 %",
    ]


def test_a_view_of_mixed_lines_can_be_kept(owner_client: Client) -> None:
    owner_client.post("/animals/views/new/", {"mixed": "certain", "name": "Mixed"})
    assert m.SavedView.objects.get().query == "mixed=certain"


def test_unknown_choice_of_mixed_lines_is_said_and_not_used() -> None:
    from django.http import QueryDict

    form = FiltersForm(QueryDict("mixed=perhaps"))
    assert form.filters().mixed == ""
    assert form.problems() == [
        "Mixed lines: Select a valid choice. perhaps is not one of the available choices."
    ]


def test_mixed_gene_is_not_hidden_behind_others(book: TwoGenes, owner_client: Client) -> None:
    one = AnimalFactory.create(species=book.species, code="A-1")
    for _ in range(5):
        gene = LineFactory.create(trait__species=book.species).trait
        standing(one, gene, 1, m.Word.VISUAL)
    standing(one, book.trait, 0.5, mixed=0.2)
    assert "possibly mixed lines 20 %" in text_of(owner_client, "/animals/")


def test_list_asks_as_often_for_three_mixed_as_for_one(
    book: TwoGenes, owner_client: Client
) -> None:
    def more() -> None:
        one = AnimalFactory.create(species=book.species)
        standing(one, book.trait, 1, mixed=1.0)

    more()
    once = queries_of(lambda: owner_client.get("/animals/", {"mixed": "any"}))
    more()
    more()
    assert queries_of(lambda: owner_client.get("/animals/", {"mixed": "any"})) == once


# --- sheets ------------------------------------------------------------------------------------


def test_sheet_says_that_it_mixes_two_genes(book: TwoGenes, owner_client: Client) -> None:
    dam, _ = book.mixed_pair()
    (row,) = sheets.draft(dam, by=book.by, on=date(2026, 8, 1))["claims"]
    said = "mixes two genes of one look: young that show it will not tell the line"
    assert row["mixed"] == said
    page = text_of(owner_client, f"/animals/{dam.pk}/sheet/")
    assert f"{said[0].upper()}{said[1:]}." in page


def test_sheet_of_one_that_may_mix_has_the_figure(book: TwoGenes) -> None:
    visual = book.visual_of_mixed()
    content = sheets.draft(visual, by=book.by, on=date(2026, 8, 1))
    (row,) = content["claims"]
    assert row["mixed"].startswith("may mix two genes of one look (71 %)")
    assert {parent["was"] for parent in content["parents"]} == {
        "Saltgrass DUN / HAR (proven by 1 hatchling, mixed lines)"
    }


def test_sheet_of_one_line_says_nothing_of_mixing(book: TwoGenes) -> None:
    one = book.founder("F1", "female", "visual")
    (row,) = sheets.draft(one, by=book.by)["claims"]
    assert row["mixed"] == ""
