"""An animal in the words of the trade: `1.0 visual Saltgrass (HAR), 66 % poss het Quillwort`.

    shorthand_reading.read("0.1 DH Saltgrass Quillwort", genes)    # what is said, and what is not
    written(Sex.FEMALE, words, genes)                              # the same the other way

Names are those of one register. The sex comes as males.females.unknown. A word holds for the genes
that are joined to it by a slash, a plus or “and”, or by nothing; a comma ends it. A name without a
word is visual, and a name wins over a word. Nothing is guessed: what cannot be read is handed back
as it was typed, and a word that was taken over, or none, is noted beside what was made of it.

Nothing here knows a page, a form or the database: whoever imports a list may use it as well.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Claim, Sex

_MARKS = {Sex.MALE: "1.0", Sex.FEMALE: "0.1", Sex.UNKNOWN: "0.0.1"}
_SEXES_SAID = {Sex.MALE: "a male", Sex.FEMALE: "a female", Sex.UNKNOWN: "of unknown sex"}


@dataclass(frozen=True)
class Gene:
    """A look of the register that somebody may name.

    Attributes:
        trait: its id.
        name: its name.
        lines: its lines' ids by their codes, and by their names; of one without, none.
        codes: what stands for each line after the name: its code, if it has one.
        double_of: of a double form, the id of the look of which two copies make it.
        parts: of a named look of several genes, the looks that make it, each with its line if it
            is of one line alone; it has no id of its own.
    """

    trait: int
    name: str
    lines: Mapping[str, int] = field(default_factory=dict)
    codes: Mapping[int, str] = field(default_factory=dict)
    double_of: int | None = None
    parts: tuple[tuple[int, int | None], ...] = ()


@dataclass(frozen=True)
class Word:
    """What is said of one look: ids of the register, a claim, and its chance if it is possible.

    Attributes:
        text: what was typed of it.
        note: what was taken for granted in reading it, in words; or empty.
    """

    trait: int
    line: int | None
    claim: Claim
    chance: Fraction | None = None
    text: str = field(default="", compare=False)
    note: str = field(default="", compare=False)


# Why a name could not be read that no look of the register has.
NO_NAME = "no name of your register, and no word known here"


@dataclass(frozen=True)
class Unread:
    """What could not be read: as typed, where it begins and ends, why, and the nearest names.

    Where it stands for a line of a look, `gene` is the look's id.
    """

    text: str
    start: int
    end: int
    why: str
    near: tuple[str, ...] = ()
    gene: int | None = None


@dataclass(frozen=True)
class Read:
    """An animal as somebody typed it.

    Attributes:
        text: all that was typed.
        sex: what it is said to be; None: nothing is said.
        words: what is said of its looks, one a look.
        normal: whether it is said to look normal.
        unread: what could not be read.
    """

    text: str
    sex: Sex | None
    words: tuple[Word, ...]
    normal: bool
    unread: tuple[Unread, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all is said of its genes."""
        return not (self.words or self.normal)

    def mended(self, one: Unread, name: str) -> str:
        """Return what was typed with another name in the place of what could not be read."""
        return self.text[: one.start] + name + self.text[one.end :]


def written(sex: Sex | None, words: Iterable[Word], genes: Sequence[Gene]) -> str:
    """Write an animal as `read` reads it: `1.0 visual Saltgrass (HAR), 66 % poss het Quillwort`."""
    by_trait = {gene.trait: gene for gene in genes if gene.double_of is None and not gene.parts}
    parts = []
    for word in words:
        gene = by_trait[word.trait]
        line = "" if word.line is None else f" ({gene.codes[word.line]})"
        parts.append(f"{_claim_written(word)} {gene.name}{line}")
    mark = "" if sex is None else _MARKS[sex]
    return " ".join(filter(None, (mark, ", ".join(parts))))


def _claim_written(word: Word) -> str:
    match word.claim:
        case Claim.VISUAL:
            return "visual"
        case Claim.DOUBLE:
            return "super"
        case Claim.CLEAR:
            return "no"
        case Claim.CARRIES:
            return "100 % het"
        case _:
            return f"{as_typed(word.chance or Fraction(0))} poss het"


def claim_said(word: Word) -> str:
    """Return what is said of a look, short, as of a statement: "visual", "possible het 66 %"."""
    if word.claim == Claim.CARRIES:
        return "100 % het"
    if word.claim == Claim.POSSIBLE:
        return f"possible het {as_typed(word.chance or Fraction(0))}"
    return str(word.claim.label)


def in_full(read: Read, genes: Sequence[Gene]) -> list[str]:
    """Return what was read in whole sentences' words, the sex first: "a male", "visual …"."""
    names = {gene.trait: gene for gene in genes if not gene.parts}
    found = ["of a sex that is not told" if read.sex is None else _SEXES_SAID[read.sex]]
    if read.normal and not read.words:
        found.append("of normal looks: nothing is said of what it carries")
    for word in read.words:
        gene = names[word.trait]
        line = "line not known" if word.line is None else f"line {gene.codes[word.line]}"
        note = f" ({word.note})" if word.note else ""
        found.append(f"{_claim_in_full(word)} {gene.name}, {line}{note}")
    return found


def _claim_in_full(word: Word) -> str:
    match word.claim:
        case Claim.VISUAL:
            return "shows"
        case Claim.DOUBLE:
            return "has two copies of"
        case Claim.CLEAR:
            return "does not carry"
        case Claim.CARRIES:
            return "certainly carries one copy of"
        case _:
            return f"carries with {as_typed(word.chance or Fraction(0))} one copy of"
