"""What a prospect brings to a goal and what it mixes, by what is said and by the register."""

import pytest

from keeper.domain.book.writing import writing
from keeper.domain.prospects.queries import with_words
from keeper.models import Account, Animal, GoalPart, Line, OpenPair, Prospect, ProspectWord
from keeper.pages.prospects.page import ProspectPage, prospect_page
from tests.factories import LineFactory, TraitFactory
from tests.keeper.prospects.rows import Yard, yard


@pytest.fixture
def place(owner: Account) -> Yard:
    return yard(owner)


def page_of(place: Yard, *words: ProspectWord, **given: object) -> ProspectPage:
    pk = place.prospect(*words, **given).pk
    return prospect_page(with_words(Prospect.objects.all()).get(pk=pk))


def fits(page: ProspectPage) -> list[tuple[str, str, str]]:
    return [
        (part.goal, part.verdict, part.fit.words) for one in page.projects for part in one.parts
    ]


QUILL = ("shows Quillwort", "does not bring it", "nothing is said of it")


@pytest.mark.parametrize(
    ("line", "claim", "chance", "verdict", "words"),
    [
        ("har", "carries", None, "brings the gene", "said to be 100 % het Saltgrass HAR"),
        ("har", "possible", "2/3", "may bring it", "said to be possible het 66 % Saltgrass HAR"),
        (
            None,
            "visual",
            None,
            "may bring it",
            "said to be visual Saltgrass, line not known: it serves if it is HAR",
        ),
    ],
)
def test_a_word_serves_the_part_of_its_line(
    place: Yard, line: str | None, claim: str, chance: str | None, verdict: str, words: str
) -> None:
    said = place.word(getattr(place, line) if line else None, claim, chance)
    assert fits(page_of(place, said)) == [("shows Saltgrass HAR", verdict, words), QUILL]


@pytest.mark.parametrize(
    ("line", "claim", "words"),
    [
        ("pel", "visual", "said to be visual Saltgrass PEL: another gene than HAR"),
        (
            "tor",
            "visual",
            "said to be visual Saltgrass TOR: whether that and HAR are one gene is not settled",
        ),
        ("har", "clear", "said not to carry Saltgrass"),
    ],
)
def test_another_line_of_the_look_does_not_serve(
    place: Yard, line: str, claim: str, words: str
) -> None:
    page = page_of(place, place.word(getattr(place, line), claim), place.word(place.dun, "visual"))
    assert fits(page)[0] == ("shows Saltgrass HAR", "does not bring it", words)
    # Any line of Quillwort will do.
    assert fits(page)[1] == (
        "shows Quillwort",
        "brings the gene",
        "said to be visual Quillwort DUN",
    )


def test_another_line_of_the_same_gene_is_said_to_be_that(place: Yard) -> None:
    sister = LineFactory.create(trait=place.har.trait, locus=place.har.locus, code="SIS")
    page = page_of(place, place.word(sister, "carries"), place.word(place.dun, "visual"))
    assert fits(page)[0][1:] == (
        "does not bring it",
        "said to be 100 % het Saltgrass SIS: one gene with HAR, and yet another line of it",
    )
    assert [(row.label, row.mix.text) for row in page.mixes] == [
        (
            "",
            "Saltgrass SIS and Saltgrass HAR are one gene: nothing mixes, and the lines are told "
            "apart in their young.",
        )
    ]


def test_projects_that_it_does_not_serve_are_named_apart(place: Yard) -> None:
    page = page_of(place, place.word(place.pel, "visual"))
    assert (page.projects, page.others) == ((), (place.project,))


def test_a_double_form_is_served_by_lines_of_its_base(place: Yard) -> None:
    single = TraitFactory.create(species=place.species, name="Tideglass", shown="single")
    line = LineFactory.create(trait=single, code="MAR")
    double = TraitFactory.create(
        species=place.species, name="Double tideglass", shown="every", base=single
    )
    with writing(by=place.by, what="Widened the goal") as book:
        book.keep(GoalPart(project=place.project, trait=double, need="shows"))
    page = page_of(place, place.word(line, "visual"))
    assert fits(page)[2] == (
        "shows Double tideglass",
        "brings the gene",
        "said to be visual Tideglass MAR",
    )


def mixing(page: ProspectPage) -> list[tuple[str, str, str]]:
    return [(row.mix.relation.name, row.mix.text, str(row.mix.held)) for row in page.mixes]


def test_two_genes_and_open_pairs_are_told_with_who_carries_them(place: Yard) -> None:
    place.here("M-1", "male", (place.har, "visual"))
    place.here("M-2", "male", (place.tor, "carries"))
    assert mixing(page_of(place, place.word(place.pel, "visual"))) == [
        (
            "TWO",
            "Saltgrass PEL and Saltgrass HAR are two genes: their young can carry both and look "
            "normal.",
            "1 here carries it",
        ),
        (
            "TWO",
            "Saltgrass PEL and Saltgrass TOR are two genes: their young can carry both and look "
            "normal.",
            "1 here carries it",
        ),
    ]
    page = page_of(place, place.word(place.tor, "visual"))
    assert [row[:2] for row in mixing(page)] == [
        (
            "OPEN",
            "Saltgrass TOR and Saltgrass HAR may be one gene or two, which is not settled: their "
            "young might carry both.",
        )
    ]
    assert page.mixes[0].mix.wanted_by == ("Double tide",)


def test_a_line_not_known_is_told_by_the_worst_it_may_be(place: Yard) -> None:
    assert mixing(page_of(place, place.word(None, "carries"))) == [
        (
            "TWO",
            "If it is PEL, it and Saltgrass HAR are two genes: their young can carry both and "
            "look normal. If it is TOR, that is not settled.",
            "nothing here carries it",
        )
    ]


def test_a_line_not_known_of_one_gene_mixes_nothing(place: Yard) -> None:
    OpenPair.objects.all().delete()
    for line in (place.pel, place.tor):
        Line.objects.filter(pk=line.pk).update(locus=place.har.locus)
    place.here("M-1", "male", (place.har, "visual"))
    page = page_of(place, place.word(None, "carries"))
    assert [(row.label, row.mix.text) for row in page.mixes] == [
        (
            "",
            "Whichever line it is, it and Saltgrass HAR are one gene: nothing mixes, and the "
            "lines are told apart in their young.",
        )
    ]


def test_what_the_collection_lacks_is_marked_and_what_left_does_not_count(place: Yard) -> None:
    gone = place.here("M-1", "male", (place.har, "visual"))
    Animal.objects.filter(pk=gone.pk).update(status="sold")
    place.here("M-2", "male", (place.dun, "carries"))
    page = page_of(place, place.word(place.har, "visual"), place.word(place.dun, "clear"))
    assert [(str(row.word.line), str(row.here), row.lacking) for row in page.said] == [
        ("Quillwort DUN", "1 here carries it", False),
        ("Saltgrass HAR", "nothing here carries it", True),
    ]
