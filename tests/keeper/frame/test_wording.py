"""What is said of a standing: the words are kept apart, figures are rounded down."""

from fractions import Fraction

import pytest

from keeper.domain.saying import wording
from keeper.models import (
    Claim,
    Contact,
    Line,
    Shown,
    Standing,
    StandingChange,
    Statement,
    Trait,
    Word,
)

SALTGRASS = Trait(pk=1, name="Saltgrass", shown=Shown.RECESSIVE)
MARROWSTONE = Trait(pk=2, name="Marrowglass", shown=Shown.SINGLE)
DOUBLE = Trait(pk=3, name="Whitestone", shown=Shown.EVERY, base=MARROWSTONE)
HAR = Line(pk=1, trait=SALTGRASS, code="HAR", name="Harvesk")
PEL = Line(pk=2, trait=SALTGRASS, code="PEL", name="Pelnaw")
VARGA = Contact(name="Ines Varga", reliability="9/10")


def standing(
    word: Word, two: float, one: float, none: float, *, trait: Trait = SALTGRASS, **more: object
) -> Standing:
    return Standing(
        animal_id=more.pop("animal_id", 1),  # type: ignore[misc]
        trait=trait,
        word=word,
        two=two,
        one=one,
        none=none,
        **more,
    )


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (standing(Word.VISUAL, 1, 0, 0), "visual"),
        (standing(Word.VISUAL, 0, 1, 0, trait=MARROWSTONE), "visual, one copy"),
        (standing(Word.VISUAL, 1, 0, 0, trait=MARROWSTONE), "visual, two copies"),
        (standing(Word.VISUAL, 1 / 3, 2 / 3, 0, trait=MARROWSTONE), "visual; 33 % has two copies"),
        (standing(Word.VISUAL, 0.5, 0, 0.5, line=HAR), "visual, 50 % of this line"),
        (standing(Word.VISUAL, 0.97, 0, 0.03), "visual, 97 % sure"),
        (standing(Word.PROVEN, 0, 1, 0), "proven"),
        (standing(Word.PROVEN, 1, 0, 0), "proven, two copies"),
        (standing(Word.PARENTAGE, 0, 1, 0), "het by parentage"),
        (standing(Word.PARENTAGE, 1, 0, 0), "two copies by parentage"),
        (standing(Word.PARENTAGE, 0.5, 0.5, 0), "carries it by parentage; 50 % has two copies"),
        (standing(Word.DEDUCED, 0, 1, 0), "must carry it"),
        (standing(Word.DEDUCED, 1 / 3, 2 / 3, 0), "must carry it; 33 % has two copies"),
        (standing(Word.POSSIBLE, 0.25, 0.5, 0.25), "75 % carries it; 25 % has two copies"),
        (standing(Word.POSSIBLE, 0, 2 / 3, 1 / 3), "possible het 66 %"),
        (standing(Word.POSSIBLE, 0, 0.004, 0.996), "possible het under 1 %"),
        (standing(Word.POSSIBLE, 0, 1.0, 1e-12), "possible het 99 %"),
        (
            standing(Word.CLEAN, 0, 0.0499, 0.9501, clean_young=12),
            "tested clean so far: 12 hatchlings, 5 % left",
        ),
        (
            standing(Word.CLEAN, 0, 0.4, 0.6, clean_young=1),
            "tested clean so far: 1 hatchling, 40 % left",
        ),
        (
            standing(Word.CLEAN, 0, 0.004, 0.996, clean_young=9),
            "tested clean so far: 9 hatchlings, under 1 % left",
        ),
        (
            standing(Word.CLEAN, 0, 0.03, 0.97, clean_young=5),
            "tested clean so far: 5 hatchlings, 3 % left",
        ),
        (standing(Word.ABSENT, 0, 0, 1), "does not carry it"),
        (standing(Word.STATED, 0, 1, 0), "stated by the source, not tested here"),
        (
            standing(Word.POSSIBLE, 0, 0.66, 0.34, error=0.011),
            "possible het 66 % (estimate, ± 2 %)",
        ),
        (
            standing(Word.POSSIBLE, 0, 0.5, 0.5, dispute_id=7),
            "disputed; before that: possible het 50 %",
        ),
    ],
)
def test_said_gives_each_standing_its_own_words(row: Standing, words: str) -> None:
    assert wording.said(row).words == words


@pytest.mark.parametrize(
    ("claim", "chance", "none", "words"),
    [
        ("carries", None, 0, "stated 100 % het by Ines Varga, not tested here"),
        ("double", None, 0, "stated two copies by Ines Varga, not tested here"),
        (
            "carries",
            None,
            0.1,
            "stated 100 % het by Ines Varga, not tested here; 90 % as far as their word is taken",
        ),
        (
            "possible",
            Fraction(2, 3),
            Fraction(1, 3),
            "stated possible het 66 % by Ines Varga, not tested here",
        ),
    ],
)
def test_said_names_whose_word_it_is(
    claim: str, chance: Fraction | None, none: float | Fraction, words: str
) -> None:
    statement = Statement(claim=claim, source=VARGA)
    statement.chance = chance
    row = standing(Word.STATED, 0, float(1 - none), float(none))
    assert wording.said(row, statement).words == words


@pytest.mark.parametrize(
    ("chance", "usual", "words"),
    [
        (1 / 2, 1 / 2, "; 50 % by this line's part, not tested here"),
        (1 / 3, 1 / 2, "; 33 % of this line by all that is known here"),
        (1, 1, ", not tested here"),
    ],
)
def test_said_of_a_line_puts_no_line_in_the_mouth_of_a_source(
    chance: float, usual: float, words: str
) -> None:
    row = standing(Word.STATED, 0, chance, 1 - chance, line=HAR, customary=usual)
    statement = Statement(claim=Claim.CARRIES, source=VARGA)
    who = f"stated 100 % het by {VARGA}, who named no line"
    assert wording.said(row, statement).words == f"{who}{words}"


def test_said_of_a_line_is_not_what_was_said_of_another() -> None:
    row = standing(Word.STATED, 0, 1, 0, line=HAR)
    statement = Statement(claim=Claim.CARRIES, source=VARGA, line=PEL)
    assert wording.said(row, statement).words == "stated by the source, not tested here"
    statement.line = HAR
    assert wording.said(row, statement).words == f"stated 100 % het by {VARGA}, not tested here"


def test_said_puts_the_customary_figure_beside_where_it_differs() -> None:
    tested = standing(Word.CLEAN, 0, 0.04, 0.96, customary=2 / 3, clean_young=9)
    same = standing(Word.POSSIBLE, 0, 2 / 3, 1 / 3, customary=0.667)
    certain = standing(Word.PROVEN, 0, 1, 0, customary=2 / 3)
    assert [wording.said(row).beside for row in (tested, same, certain)] == [
        "66 % by its parents alone",
        "",
        "66 % by its parents alone",
    ]
    assert wording.said(tested, founder=True).beside == "66 % by its source alone"


def test_carried_names_the_line_only_where_it_is_certain() -> None:
    one_line = [
        standing(Word.POSSIBLE, 0, 0.5, 0.5),
        standing(Word.POSSIBLE, 0, 0.5, 0.5, line=HAR),
    ]
    either = [
        standing(Word.VISUAL, 1, 0, 0),
        standing(Word.VISUAL, 0.5, 0, 0.5, line=HAR),
        standing(Word.VISUAL, 0.5, 0, 0.5, line=PEL),
    ]
    compound = [
        standing(Word.VISUAL, 1, 0, 0),
        standing(Word.VISUAL, 0, 1, 0, line=HAR),
        standing(Word.VISUAL, 0, 1, 0, line=PEL),
    ]
    half_told = [
        standing(Word.VISUAL, 1, 0, 0),
        standing(Word.VISUAL, 0.5, 0.5, 0, line=HAR),
        standing(Word.VISUAL, 0, 0.5, 0.5, line=PEL),
    ]
    names = [wording.carried(rows)[0].name for rows in (one_line, either, compound, half_told)]
    assert names == [
        "Saltgrass HAR",
        "Saltgrass, line not known",
        "Saltgrass HAR / PEL",
        "Saltgrass, line not known",
    ]


def test_carried_keeps_the_parts_that_say_more() -> None:
    one_line = [
        standing(Word.PROVEN, 0, 1, 0),
        standing(Word.PROVEN, 0, 1, 0, line=HAR),
        standing(Word.ABSENT, 0, 0, 1, line=PEL),
    ]
    either = [
        standing(Word.PROVEN, 0, 1, 0),
        standing(Word.POSSIBLE, 0, 0.25, 0.75, line=HAR),
        standing(Word.POSSIBLE, 0, 0.75, 0.25, line=PEL),
    ]
    assert wording.carried(one_line)[0].parts == ()
    assert [row.line for row in wording.carried(either)[0].parts] == [PEL, HAR]


def test_carried_asks_for_no_line_where_there_is_none() -> None:
    rows = [
        standing(Word.ABSENT, 0, 0, 1),
        standing(Word.VISUAL, 1, 0, 0, trait=DOUBLE),
    ]
    assert [one.name for one in wording.carried(rows)] == ["Whitestone", "Saltgrass"]


def test_carried_puts_the_surest_first_for_each_animal() -> None:
    rows = [
        standing(Word.POSSIBLE, 0, 0.5, 0.5, trait=MARROWSTONE, animal_id=2),
        standing(Word.POSSIBLE, 0, 0.66, 0.34, animal_id=1),
        standing(Word.VISUAL, 0, 1, 0, trait=MARROWSTONE, animal_id=1),
    ]
    assert [(one.animal_id, one.trait.name) for one in wording.carried(rows)] == [
        (1, "Marrowglass"),
        (1, "Saltgrass"),
        (2, "Marrowglass"),
    ]


@pytest.mark.parametrize(
    ("change", "before", "after"),
    [
        (
            {"word_before": "possible", "two_before": 0, "none_before": 1 / 3, "word": "proven"},
            "possible het 66 %",
            "proven",
        ),
        ({"word": "possible", "none": 0.5}, "nothing known", "possible het 50 %"),
        (
            {"word_before": "possible", "two_before": 0, "none_before": 0.5, "word": "clean"}
            | {"none": 0.966},
            "possible het 50 %",
            "tested clean so far, 4 % left",
        ),
        (
            {"word_before": "proven", "two_before": 0, "none_before": 0, "word": "proven"}
            | {"two": 1.0},
            "proven",
            "proven, two copies",
        ),
        (
            {"word_before": "proven", "two_before": 0, "none_before": 0, "word": "proven"}
            | {"disputed": True},
            "proven",
            "disputed; before that: proven",
        ),
        (
            {"word_before": "stated", "two_before": 0, "none_before": 0.1, "word": "absent"}
            | {"none": 1.0},
            "stated by the source, not tested here, 90 %",
            "not a carrier by the book",
        ),
    ],
)
def test_before_and_after_say_what_moved(
    change: dict[str, object], before: str, after: str
) -> None:
    row = StandingChange(**{"two": 0.0, "none": 0.0} | change)
    assert (wording.before(row), wording.after(row)) == (before, after)
