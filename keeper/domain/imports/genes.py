"""The shorthand of a table's cells, read with what the keeper answered about names and lines.

A name that no look of the register has is asked about once. Words that always stand together in
the file are taken for one name; the keeper can say that they are several.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from keeper.domain.saying.shorthand import NO_NAME, Gene, Read, Unread, Word
from keeper.domain.saying.shorthand_reading import read
from keeper.domain.saying.shorthand_words import nearest
from keeper.models import LINE_NOT_NAMED, Sex

Answer = Mapping[str, str]
# What a cell under a trait's name says when the animal shows it, and when nothing is said.
_SHOWS = {"x", "yes", "y", "1", "visual", "vis", "v"}
_NOTHING = {"", "0", "-", "n/a", "?"}
# A part of a cell says itself how an animal has what it names.
_SAYS_HOW = re.compile(r"\b(?:het|hets|dh|th|qh|visual|vis|super|no|not)\b|%", re.I)
_BARE = re.compile(r"\d+(?:[.,]\d+)? ?%?|\d+/\d+")


@dataclass(frozen=True)
class NewTrait:
    """A trait that the keeper says the register shall get, with its first line."""

    key: int
    name: str
    shown: str
    code: str
    line: str
    species: int


@dataclass(frozen=True)
class NewLine:
    """A line that a trait of the register shall get."""

    key: int
    trait: int
    code: str
    name: str


@dataclass(frozen=True)
class Asked:
    """A name or a line of the file that is not known."""

    key: str
    kind: str
    text: str
    about: str = ""
    near: tuple[str, ...] = ()


@dataclass(frozen=True)
class Said:
    """What a cell says of an animal's genes.

    Attributes:
        words: one a look; ids below zero are of traits and lines that are yet to be made.
        problems: what cannot be read, in sentences.
        asked: what is not known and not answered.
        noted: whether part of it goes to the notes alone.
    """

    words: tuple[Word, ...] = ()
    sex: Sex | None = None
    normal: bool = False
    problems: tuple[str, ...] = ()
    asked: tuple[Asked, ...] = ()
    noted: bool = False


def under_a_name(cell: str, name: str) -> str:
    """Return in the shorthand what a cell under a trait's name says.

    >>> under_a_name("66 %", "Saltgrass"), under_a_name("x", "Saltgrass"), under_a_name("-", "S")
    ('66 % poss het Saltgrass', 'visual Saltgrass', '')
    """
    key = cell.strip().casefold()
    if key in _NOTHING:
        return ""
    if key in _SHOWS:
        return f"visual {name}"
    if _BARE.fullmatch(key):
        sign = "" if "%" in key or "/" in key else " %"
        return f"{cell.strip()}{sign} poss het {name}"
    return f"{cell.strip()} {name}"


def under_hets(cell: str, head: str) -> str:
    """Return in the shorthand what a cell says whose head, as a key, says that all in it are hets.

    >>> under_hets("Saltgrass, 66 % het Thrift", "hets"), under_hets("Thrift", "traits")
    ('het Saltgrass, 66 % het Thrift', 'Thrift')
    """
    words = head.split()
    if not {"het", "hets"} & set(words):
        return cell
    het = "poss het" if {"poss", "possible", "pos"} & set(words) else "het"
    parts = [part.strip() for part in re.split(r"[,;]", cell) if part.strip()]
    return ", ".join(part if _SAYS_HOW.search(part) else f"{het} {part}" for part in parts)


class Genes:
    """Reads the cells of one species' animals."""

    def __init__(
        self,
        species: int,
        genes: Sequence[Gene],
        answers: Mapping[str, Answer],
        texts: Iterable[str],
    ) -> None:
        self.species, self.register, self.answers = species, list(genes), answers
        self.names = [gene.name for gene in genes]
        self.first = {text: read(text, self.register) for text in set(texts)}
        self.together = self._always_together()
        self.traits: dict[str, NewTrait] = {}
        self.lines: dict[str, NewLine] = {}
        self._read: dict[str, Said] = {}
        self.genes = self._with_new()

    def said(self, text: str) -> Said:
        """Return what a cell says; equal cells are read once."""
        if text not in self._read:
            self._read[text] = self._said(text)
        return self._read[text]

    # --- names that are not known ----------------------------------------------------------------

    def _said(self, text: str) -> Said:
        if not text.strip():
            return Said()
        asked: list[Asked] = []
        noted = False
        for phrase, start, end in reversed(self.phrases_of(text)):
            key = self.key("trait", phrase)
            name = self._name_of(self.answers.get(key))
            if key not in self.answers:
                asked.insert(0, Asked(key, "trait", phrase, near=nearest(phrase, self.names)))
            elif name is None:
                noted = True
            else:
                text = text[:start] + name + text[end:]
        text, lines, left_out = self._with_lines(text)
        done = read(text, self.genes)
        open_ = {word for one in asked for word in one.text.casefold().split()}
        problems = tuple(
            f"“{one.text}”: {one.why}."
            for one in done.unread
            if one.why != NO_NAME and one.gene is None and not (asked or noted)
        )
        unknown = [one for one in done.unread if one.why == NO_NAME]
        if not noted and any(one.text.casefold() not in open_ for one in unknown):
            problems += (f"“{unknown[0].text}”: {NO_NAME}.",)
        return Said(
            done.words, done.sex, done.normal, problems, (*asked, *lines), noted or left_out
        )

    def phrases_of(self, text: str) -> list[tuple[str, int, int]]:
        """Return the names of a text that the register does not have, with their places."""
        return list(self._phrases(self.first_read(text)))

    def first_read(self, text: str) -> Read:
        """Return a text as the register alone reads it."""
        if text not in self.first:
            self.first[text] = read(text, self.register)
        return self.first[text]

    def key(self, kind: str, text: str, of: str = "") -> str:
        """Return what an answer is kept under."""
        return f"{kind}:{self.species}:{of}:{' '.join(text.casefold().split())}"[:200]

    def _name_of(self, answer: Answer | None) -> str | None:
        """The name that stands for what was not known; None: it is noted, or not answered."""
        if answer is None or answer["is"] == "note":
            return None
        return answer["name"]

    def _phrases(self, read_: Read) -> Iterator[tuple[str, int, int]]:
        """Unknown names of a text with their places: words that always stand together are one."""
        run: list[Unread] = []
        for one in (*(u for u in read_.unread if u.why == NO_NAME), None):
            if run and one is not None and self._joined(read_, run[-1], one):
                run.append(one)
                continue
            if run:
                yield read_.text[run[0].start : run[-1].end], run[0].start, run[-1].end
            run = [] if one is None else [one]

    def _joined(self, read_: Read, one: Unread, other: Unread) -> bool:
        return _beside(read_, one, other) and (
            (one.text.casefold(), other.text.casefold()) in self.together
        )

    def _always_together(self) -> set[tuple[str, str]]:
        """Pairs of unknown words that never stand one without the other."""
        single: Counter[str] = Counter()
        pairs: Counter[tuple[str, str]] = Counter()
        for read_ in self.first.values():
            unknown = [one for one in read_.unread if one.why == NO_NAME]
            single.update(one.text.casefold() for one in unknown)
            for one, other in pairwise(unknown):
                if _beside(read_, one, other):
                    pairs[one.text.casefold(), other.text.casefold()] += 1
        apart = {
            key.rpartition(":")[2] for key, said in self.answers.items() if said["is"] == "apart"
        }
        return {
            pair
            for pair, count in pairs.items()
            if count == single[pair[0]] == single[pair[1]]
            and not any(" ".join(pair) in phrase for phrase in apart)
        }

    # --- lines that are not known ----------------------------------------------------------------

    def _with_lines(self, text: str) -> tuple[str, list[Asked], bool]:
        """Put lines that were answered into a text; what is not answered, and if one is noted."""
        asked: list[Asked] = []
        noted = False
        for one in reversed(read(text, self.genes).unread):
            if one.gene is None:
                continue
            gene = next(gene for gene in self.genes if gene.trait == one.gene)
            inside = one.text.strip("() ")
            key = self.key("line", inside, gene.name.casefold())
            answer = self.answers.get(key)
            if answer is None:
                near = tuple(gene.codes.values())
                asked.insert(0, Asked(key, "line", inside, gene.name, near))
                continue
            code = answer.get("code", "")
            noted = noted or not code
            text = text[: one.start] + (f"({code})" if code else "") + text[one.end :]
        return text, asked, noted

    # --- what the register gets ------------------------------------------------------------------

    def _with_new(self) -> list[Gene]:
        """The register with the traits and lines that the keeper adds."""
        genes = {gene.name.casefold(): gene for gene in self.register}
        number = 0
        for key, said in self.answers.items():
            kind, species, *_ = key.split(":", 2)
            if species != str(self.species) or not said["is"].startswith("new"):
                continue
            if kind == "trait" and said["name"].casefold() not in genes:
                number -= 1
                trait = NewTrait(
                    number, said["name"], said["is"][4:], said["code"], said["line"], self.species
                )
                self.traits[key] = trait
                named = {trait.line: number, trait.code: number} if trait.line else {}
                genes[trait.name.casefold()] = Gene(
                    number, trait.name, named, {number: trait.code or LINE_NOT_NAMED}
                )
        for key, said in self.answers.items():
            kind, species, name, *_ = [*key.split(":", 3), "", ""]
            if kind != "line" or species != str(self.species) or said["is"] != "new":
                continue
            gene = genes.get(name)
            if gene is None or said["code"] in gene.lines:
                continue
            if gene.trait < 0 and not gene.lines:
                genes[name] = self._named_by(gene, said)
                continue
            number -= 1
            line = NewLine(number, gene.trait, said["code"], said["name"])
            self.lines[key] = line
            genes[name] = replace(
                gene,
                lines={**gene.lines, line.code: number},
                codes={**gene.codes, number: line.code},
            )
        return list(genes.values())

    def _named_by(self, gene: Gene, said: Answer) -> Gene:
        """Take a line that the file names for the only one of a trait that it brings."""
        key, trait = next((k, one) for k, one in self.traits.items() if one.key == gene.trait)
        self.traits[key] = replace(trait, code=said["code"], line=said["name"])
        return replace(
            gene,
            lines={said["code"]: gene.trait, said["name"]: gene.trait},
            codes={gene.trait: said["code"]},
        )


def _beside(read_: Read, one: Unread, other: Unread) -> bool:
    return not read_.text[one.end : other.start].strip() and one.end < other.start
