"""Animals in the words of the trade: read, handed back where they cannot be, and written again."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from keeper.domain.saying.shorthand import Gene, Read, Word, in_full, written
from keeper.domain.saying.shorthand_reading import read
from keeper.models import SIGNED_CLAIMS, Claim, Sex

SALT = Gene(1, "Saltgrass", {"Harvesk": 11, "HAR": 11, "PEL": 12}, {11: "HAR", 12: "PEL"})
QUILL = Gene(2, "Quillwort", {"DUN": 21}, {21: "DUN"})
TIDE = Gene(3, "Tide glass", {"ULV": 31}, {31: "ULV"})
TWICE = Gene(4, "Double tide glass", {"ULV": 31}, {31: "ULV"}, double_of=3)
EBB = Gene(5, "Ebb", {}, {})
GENES = (SALT, QUILL, TIDE, TWICE, EBB)


def said(text: str) -> list[tuple[object, ...]]:
    found = read(text, GENES)
    assert found.unread == ()
    return [(one.trait, one.line, one.claim, one.chance) for one in found.words]


def unread(text: str) -> list[tuple[str, tuple[str, ...]]]:
    return [(one.text, one.near) for one in read(text, GENES).unread]


def visual(trait: int, line: int | None = None) -> tuple[object, ...]:
    return trait, line, Claim.VISUAL, None


def het(trait: int, line: int | None = None) -> tuple[object, ...]:
    return trait, line, Claim.CARRIES, None


def maybe(trait: int, chance: Fraction, line: int | None = None) -> tuple[object, ...]:
    return trait, line, Claim.POSSIBLE, chance


@pytest.mark.parametrize(
    ("text", "sex"),
    [
        ("1.0 Saltgrass", Sex.MALE),
        ("0.1 het Saltgrass", Sex.FEMALE),
        ("0,1 Saltgrass", Sex.FEMALE),
        ("0.0.1 Saltgrass", Sex.UNKNOWN),
        ("0,0,1 Saltgrass", Sex.UNKNOWN),
        ("Saltgrass, FEMALE", Sex.FEMALE),
        ("Saltgrass", None),
    ],
)
def test_the_sex_comes_as_males_females_unknown(text: str, sex: Sex | None) -> None:
    found = read(text, GENES)
    assert (found.sex, found.unread, len(found.words)) == (sex, (), 1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("visual Saltgrass", [visual(1)]),
        ("saltgrass", [visual(1)]),
        ("100% het QUILLWORT", [het(2)]),
        ("100 % het Quillwort", [het(2)]),
        ("het Quillwort", [het(2)]),
        ("66% poss het Tide glass", [maybe(3, Fraction(66, 100))]),
        ("66 % possible het tide glass", [maybe(3, Fraction(66, 100))]),
        ("50% het Quillwort", [maybe(2, Fraction(1, 2))]),
        ("66,6 % het Quillwort", [maybe(2, Fraction(666, 1000))]),
        ("66 het Quillwort", [maybe(2, Fraction(66, 100))]),
        ("2/3 poss het Quillwort", [maybe(2, Fraction(2, 3))]),
        ("possible het 66 % Quillwort", [maybe(2, Fraction(66, 100))]),
        ("DH Saltgrass Quillwort", [het(1), het(2)]),
        ("double het Saltgrass, Quillwort", [het(1), het(2)]),
        ("super Tide glass", [(3, None, Claim.DOUBLE, None)]),
        ("Double tide glass", [(3, None, Claim.DOUBLE, None)]),
        ("two copies of Tide glass", [(3, None, Claim.DOUBLE, None)]),
        ("no Quillwort", [(2, None, Claim.CLEAR, None)]),
        ("visual Saltgrass (HAR)", [visual(1, 11)]),
        ("visual Saltgrass har", [visual(1, 11)]),
        ("het saltgrass (harvesk)", [het(1, 11)]),
        ("het Saltgrass (PEL) / Quillwort (DUN)", [het(1, 12), het(2, 21)]),
        ("het Saltgrass and Quillwort", [het(1), het(2)]),
        ("het Saltgrass + Quillwort", [het(1), het(2)]),
        # A comma ends a word, and a name without one is visual.
        ("het Saltgrass, Quillwort", [het(1), visual(2)]),
        ("visual Saltgrass het Quillwort", [visual(1), het(2)]),
    ],
)
def test_what_the_trade_writes_is_read(text: str, words: list[tuple[object, ...]]) -> None:
    assert said(text) == words


def test_what_was_taken_for_granted_is_said_beside_it() -> None:
    assert in_full(read("0.1 Saltgrass HAR, het Quillwort / Tide glass", GENES), GENES) == [
        "a female",
        "shows Saltgrass, line HAR (taken as visual: no word stands before it)",
        "certainly carries one copy of Quillwort, line not known",
        "certainly carries one copy of Tide glass, line not known (taken as het like the one "
        "before)",
    ]
    assert in_full(read("normal", GENES), GENES) == [
        "of a sex that is not told",
        "of normal looks: nothing is said of what it carries",
    ]


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("1.0 Saltgras", [("Saltgras", ("Saltgrass",))]),
        (
            "het Quilwort, tide glas",
            [("Quilwort", ("Quillwort",)), ("tide glas", ("Tide glass", "Double tide glass"))],
        ),
        ("1.0 Saltgrass (HAX)", [("(HAX)", ("(HAR)",))]),
        ("saltgrass zzz", [("zzz", ())]),
        ("1.2 Saltgrass", [("1.2", ())]),
        ("0.1 1.0 Saltgrass", [("1.0", ())]),
        ("poss het Saltgrass", [("poss het Saltgrass", ("Saltgrass",))]),
        ("0.5 poss het Saltgrass", [("0.5 poss het", ())]),
        ("120 % het Saltgrass", [("120 % het", ())]),
        ("DH Saltgrass", [("DH", ())]),
        ("visual", [("visual", ())]),
        ("Saltgrass, het Saltgrass", [("het Saltgrass", ())]),
        ("het Double tide glass", [("het Double tide glass", ())]),
        ("Ebb", [("Ebb", ())]),
        ("Saltgrass (HAR", [("(", ())]),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_handed_back_with_the_nearest_names(
    text: str, left: list[tuple[str, tuple[str, ...]]]
) -> None:
    found = unread(text)
    # What follows from it, as a code behind a bracket that is not closed, may be handed back too.
    assert found[: len(left)] == left
    assert read(text, GENES).text == text


def test_a_mistake_is_mended_where_it_stands() -> None:
    found = read("1.0 visual Saltgras (HAR), het Quillwort", GENES)
    (one,) = [it for it in found.unread if it.near]
    mended = found.mended(one, one.near[0])
    assert mended == "1.0 visual Saltgrass (HAR), het Quillwort"
    assert said(mended) == [visual(1, 11), het(2)]


@pytest.mark.parametrize("line", ["HAR", "(HAR)", "(Harvesk)"])
def test_the_line_of_a_name_that_is_handed_back_is_not_handed_back_too(line: str) -> None:
    assert unread(f"visual Saltgras {line}, het Quillwort") == [("Saltgras", ("Saltgrass",))]


def test_a_name_wins_over_a_word_of_the_shorthand() -> None:
    genes = [*GENES, Gene(6, "Super Quillwort", {"SUP": 61}, {61: "SUP"})]
    (one,) = read("super Quillwort", genes).words
    assert (one.trait, one.claim) == (6, Claim.VISUAL)


# --- laws --------------------------------------------------------------------------------------

# Words that the shorthand has for itself may stand in a name, only not at its beginning: names win.
PLAIN = st.text(st.sampled_from("abehnopstvw"), min_size=4, max_size=6)
PART = PLAIN | st.sampled_from(["het", "no", "super", "visual", "2", "wort-leaf", "o'clock"])
NAME = st.builds(lambda first, more: " ".join([first, *more]), PLAIN, st.lists(PART, max_size=2))
CODES = st.text(st.sampled_from("ABCXYZ"), min_size=2, max_size=3)


@st.composite
def registers(draw: st.DrawFn) -> list[Gene]:
    names = draw(st.lists(NAME, min_size=1, max_size=6, unique_by=lambda name: name.casefold()))
    genes = []
    for number, name in enumerate(names, 1):
        codes = draw(st.lists(CODES, min_size=1, max_size=3, unique=True))
        lines = {code: 100 * number + place for place, code in enumerate(codes)}
        genes.append(Gene(number, name, lines, {pk: code for code, pk in lines.items()}))
    return genes


@st.composite
def animals(draw: st.DrawFn) -> tuple[list[Gene], Sex | None, tuple[Word, ...]]:
    genes = draw(registers())
    words = []
    for gene in draw(st.lists(st.sampled_from(genes), unique_by=lambda one: one.trait)):
        claim = draw(st.sampled_from([one for one in Claim if one not in SIGNED_CLAIMS]))
        chance = None
        if claim == Claim.POSSIBLE:
            chance = draw(st.fractions(min_value="1/99", max_value="98/99", max_denominator=99))
        line = draw(st.sampled_from([None, *gene.codes]))
        words.append(Word(gene.trait, line, claim, chance))
    return genes, draw(st.sampled_from([None, *Sex])), tuple(words)


@settings(max_examples=60, deadline=None)
@given(animals())
def test_what_is_written_is_read_back_the_same(
    animal: tuple[list[Gene], Sex | None, tuple[Word, ...]],
) -> None:
    genes, sex, words = animal
    found = read(written(sex, words, genes), genes)
    assert (found.unread, found.sex, found.words) == ((), sex, words)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=80), registers())
def test_anything_typed_is_read_or_handed_back_where_it_stands(
    text: str, genes: list[Gene]
) -> None:
    found: Read = read(text, genes)
    assert found.text == text
    for one in found.unread:
        assert text[one.start : one.end] == one.text != ""
    assert len({word.trait for word in found.words}) == len(found.words)


@given(
    st.lists(
        st.sampled_from(
            [
                *("1.0", "0.1", "het", "66 %", "50", "poss", "DH", "super", "double", "two", "no"),
                *("Saltgrass", "Quillwort", "Tide glass", "tide", "visual", "(", "HAR", ")"),
                *(",", "/"),
            ]
        ),
        max_size=12,
    )
)
def test_no_order_of_its_own_words_breaks_it(parts: list[str]) -> None:
    text = " ".join(parts)
    found = read(text, GENES)
    assert all(text[one.start : one.end] == one.text for one in found.unread)
