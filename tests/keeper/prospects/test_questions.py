"""What to ask a seller: what is missing or in doubt, no more; and the message that asks it."""

import pytest

from keeper.domain.book.writing import writing
from keeper.domain.prospects import questions as asking
from keeper.domain.prospects.queries import with_words
from keeper.models import Account, Locus, PairWord, Prospect, ProspectWord, Trait
from keeper.pages.prospects.page import ProspectPage, prospect_page
from tests.factories import ContactFactory
from tests.keeper.prospects.rows import Yard, yard


@pytest.fixture
def place(owner: Account) -> Yard:
    return yard(owner)


def page_of(place: Yard, *words: ProspectWord, **given: object) -> ProspectPage:
    pk = place.prospect(*words, **given).pk
    return prospect_page(with_words(Prospect.objects.all()).get(pk=pk))


def asked(page: ProspectPage) -> list[str]:
    return [one.text for one in page.questions]


ALWAYS = [
    "Who are its parents, and what is each of them known to carry?",
    "How was it told that it is female?",
    "What does it feed on, how often, and when did it last eat?",
    "Was it, or any animal kept with it, ever ill, and of what?",
    "What was it treated with, against what, and when?",
    "Was it in quarantine with you, for how long, and what was it tested for?",
    "Is there a sheet or a note that says all this, with your name and the day?",
    "Which papers go with it by law where you are, and where it is going?",
]
TESTS = "Were it or its parents tested, by a laboratory or by breeding, and with what result?"


def test_nothing_said_asks_what_it_carries(place: Yard) -> None:
    page = page_of(place, hatched_year=2023)
    assert asked(page) == [
        "What does it carry, from which line, and how sure is that?",
        *ALWAYS,
    ]


def test_a_visual_of_a_line_that_is_settled_needs_no_proof(place: Yard) -> None:
    place.here("M-1", "male", (place.har, "visual"))
    page = page_of(place, place.word(place.pel, "visual"), hatched_year=2023)
    assert asked(page) == ALWAYS


def test_a_possible_het_is_asked_for_its_figure_and_what_is_missing(place: Yard) -> None:
    word = place.word(place.har, "possible", "2/3")
    assert asked(page_of(place, word, sex="unknown")) == [
        "What is the 66 % for Saltgrass of the Harvesk line based on: what were its parents in "
        "that?",
        ALWAYS[0],
        TESTS,
        "Which sex is it, and how was that told?",
        "When did it hatch?",
        *ALWAYS[2:],
    ]


def test_a_line_not_known_is_asked_for_and_held_against_mine(place: Yard) -> None:
    place.here("M-1", "male", (place.har, "visual"))
    page = page_of(place, place.word(None, "carries"), hatched_year=2023)
    assert asked(page)[:2] == [
        "Which line is its Saltgrass from, and from whom did you have that line?",
        "Was it, or a relative with the same Saltgrass, ever bred to Saltgrass of the Harvesk "
        "line? What hatched?",
    ]
    assert page.questions[0].why == (
        "Its line is not known here, so its figures are spread over all lines of the look. "
        "Here there is HAR, and not all lines of the look are one gene."
    )


def test_an_open_pair_is_asked_about_until_the_source_has_told(place: Yard) -> None:
    place.here("M-1", "male", (place.har, "visual"))
    question = (
        "Are Saltgrass of the Torle line and Saltgrass of the Harvesk line one gene, as far as you "
        "know? Who bred the two together, and what hatched?"
    )
    assert asked(page_of(place, place.word(place.tor, "visual")))[0] == question
    with writing(by=place.by, what="Heard") as book:
        book.keep(PairWord(one=place.har, other=place.tor, one_gene=True, source=place.seller))
    assert question not in asked(page_of(place, place.word(place.tor, "visual")))
    other = page_of(place, place.word(place.tor, "visual"), source=ContactFactory.create())
    assert asked(other)[0] == question


@pytest.mark.parametrize(
    ("claim", "question"),
    [
        (
            "clear",
            "How is it known that it does not carry Saltgrass: by its parents or a test?",
        ),
        (
            "double",
            "How is it known that it has two copies of Saltgrass of the Harvesk line: by young, "
            "or by a test?",
        ),
        (
            "carries",
            "What makes it certain that it carries Saltgrass of the Harvesk line: which parent "
            "showed it, or what did it produce?",
        ),
    ],
)
def test_each_claim_is_asked_for_its_proof(place: Yard, claim: str, question: str) -> None:
    assert asked(page_of(place, place.word(place.har, claim)))[0] == question


def test_a_gene_on_both_sex_chromosomes_asks_a_male_for_the_parent(place: Yard) -> None:
    Locus.objects.filter(pk=place.dun.locus_id).update(chromosome="both", recombination="1/10")
    question = "From which parent did it get Quillwort: from the sire or from the dam?"
    word = place.word(place.dun, "visual")
    # An XY male has one of each, a female two of a kind: only of him it tells which.
    assert asked(page_of(place, word, sex="male"))[0] == question
    assert question not in asked(page_of(place, place.word(place.dun, "visual"), sex="female"))


def test_a_known_harm_is_asked_about(place: Yard) -> None:
    trait = Trait.objects.filter(pk=place.dun.trait_id)
    trait.update(harm="an unsteady head", harm_source="own notes")
    page = page_of(place, place.word(place.dun, "visual"))
    assert (page.questions[0].text, page.questions[0].why) == (
        "Is there any sign of what Quillwort is known for on it or its parents?",
        "The register notes of Quillwort: an unsteady head",
    )


def test_the_message_asks_everything_of_the_seller_by_name(place: Yard) -> None:
    page = page_of(place, where="the autumn table", hatched_year=2023)
    assert asking.message(page.prospect, page.questions[:2], "Mara") == (
        "Hello Ansel of Pelnaw,\n"
        "\n"
        "I am thinking of buying this animal of yours: grey female (the autumn table).\n"
        "Before I decide I would like to know:\n"
        "\n"
        "1. What does it carry, from which line, and how sure is that?\n"
        "2. Who are its parents, and what is each of them known to carry?\n"
        "\n"
        "If you do not know one of these, tell me so: that helps as well.\n"
        "\n"
        "Thank you\n"
        "Mara"
    )


@pytest.mark.parametrize(
    ("reach", "url"),
    [
        (
            "ansel@keeper.example",
            "mailto:ansel@keeper.example?subject=grey%20%26%20black&body=Is%20it%3F%0D%0AYes",
        ),
        (" +44 (0)20 555-01.23 ", "sms:+44205550123?body=Is%20it%3F%0AYes"),
        ("the autumn table, third row", None),
        ("", None),
        ("2026", None),
    ],
)
def test_a_link_is_made_of_a_mail_address_or_a_number_alone(reach: str, url: str | None) -> None:
    way = asking.way_to(ContactFactory.build(reach=reach), "grey & black", "Is it?\nYes")
    assert (way and way.url) == url


def test_no_link_without_a_seller() -> None:
    assert asking.way_to(None, "grey", "Is it?") is None
