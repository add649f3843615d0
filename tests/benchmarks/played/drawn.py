"""A project as it is drawn: founders with their papers, a goal, its rules, and what is true.

What is true follows from what is said as the book's own rules have it (a doubted word is true as
often as it is trusted), and from then on by Mendel. Nobody who decides may ask it.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from random import Random

# The two copies at a locus: codes of lines, "" for the wild type.
Copies = tuple[str, str]
Genes = dict[str, Copies]

LINES: dict[str, tuple[str, ...]] = {
    "Saltgrass": ("HAR",),
    "Quillwort": ("TAR",),
    "Blaze": ("ULV",),
}
COMPATIBLE = ("HAR", "PEL")
DOUBLE = "Superblaze"
DOUBTED = Fraction(4, 5)
# What an animal of which nothing is said carries, all lines of a look together.
COMMON = 0.01
RECESSIVE = (("clear", None), ("possible", Fraction(1, 2)), ("possible", Fraction(2, 3)),
             ("carries", None), ("visual", None))  # fmt: skip
# Words that can bring a look into the project.
HOPEFUL = {"possible", "carries", "visual"}


@dataclass(frozen=True)
class Word:
    """What a source says of one look: as a claim of the book; no line: it is not said which."""

    claim: str
    chance: Fraction | None
    line: str | None
    doubted: bool


@dataclass(frozen=True)
class Founder:
    """An animal that came with papers: look → word; what it truly carries."""

    code: str
    sex: str
    age: int
    said: dict[str, Word]
    genes: Genes


@dataclass(frozen=True)
class Case:
    """A project with its rules.

    Attributes:
        looks: what a hatchling that meets the goal shows.
        lines: look → its lines, all at one locus.
        young: genes of a clutch of the first two founders of the season before, with their sex.
        places: for how many there is room; nothing for no limit.
        pairs, matings, wanted, eggs, lives: as the forecast is asked.
    """

    seed: int
    looks: tuple[str, ...]
    lines: dict[str, tuple[str, ...]]
    founders: tuple[Founder, ...]
    young: tuple[tuple[str, Genes], ...]
    places: int | None
    pairs: int
    matings: int
    wanted: int
    eggs: int
    lives: float


@dataclass
class Luck:
    """What chance does to a case, each thing with dice of its own: equal for all its keepers."""

    seed: int
    made: dict[str, Random] = field(default_factory=dict)

    def of(self, what: str) -> Random:
        """The dice of one thing."""
        return self.made.setdefault(what, Random(f"{self.seed} {what}"))


def drawn(seed: int) -> Case:
    """Draw a case; somebody at hand may carry each look of its goal."""
    while True:
        random = Random(seed)
        kind = random.choice(("recessives", "recessives", "compatible", "double"))
        lines = {"Saltgrass": COMPATIBLE if kind == "compatible" else LINES["Saltgrass"]}
        second = "Blaze" if kind == "double" else "Quillwort"
        lines[second] = LINES[second]
        count = random.choice((1, 1, 2))
        sexes = ["female", "male", *["female"] * count, *["male"] * random.choice((0, 1))]
        founders = tuple(_founder(random, n, sex, lines) for n, sex in enumerate(sexes))
        if all(any(one.said[look].claim in HOPEFUL for one in founders) for look in lines):
            break
        seed += 1_000_003
    young = tuple(
        (random.choice(("female", "male")), child(founders[0].genes, founders[1].genes, random))
        for _ in range(random.choice((0, 3, 5)))
    )
    at_hand = len(founders) + min(2, len(young))
    return Case(
        seed=seed,
        looks=("Saltgrass", DOUBLE if kind == "double" else second),
        lines=lines,
        founders=founders,
        young=young,
        places=random.choice((at_hand + 2, at_hand + 4, at_hand + 4, None)),
        pairs=random.choice((1, 2, 2)),
        matings=random.choice((1, 2, 3)),
        wanted=random.choice((1, 1, 1, 2)),
        eggs=random.choice((5, 6, 8)),
        lives=random.choice((0.97, 0.97, 0.9)),
    )


def _founder(random: Random, number: int, sex: str, lines: dict[str, tuple[str, ...]]) -> Founder:
    said, genes = {}, {}
    for look, codes in lines.items():
        word = _word(random, look, codes)
        said[look], genes[look] = word, _truth(random, word, codes)
    # The two that bred the year before are grown.
    age = 5 if number < 2 else random.choice((1, 3, 4))
    return Founder(f"{sex[0].upper()}{number}", sex, age, said, genes)


def _word(random: Random, look: str, codes: tuple[str, ...]) -> Word:
    if look == "Blaze":
        claim, chance = random.choice((("clear", None), ("visual", None), ("visual", None)))
    else:
        claim, chance = random.choice(RECESSIVE)
    line = random.choice(codes) if len(codes) == 1 or random.random() < 0.6 else None
    doubted = claim in {"possible", "carries"} and random.random() < 0.25
    return Word(claim, chance, line, doubted)


def _truth(random: Random, word: Word, codes: tuple[str, ...]) -> Copies:
    """What an animal carries of which this is said."""
    meant = codes if word.line is None else (word.line,)
    if word.doubted and random.random() >= DOUBTED:
        common = COMMON / len(meant)
        return tuple(_common(random, meant, common) for _ in range(2))  # type: ignore[return-value]
    if word.claim == "visual" and codes != LINES["Blaze"]:
        return random.choice(meant), random.choice(meant)
    carries = word.claim in {"carries", "visual"} or (
        word.chance is not None and random.random() < word.chance
    )
    return ("", random.choice(meant) if carries else "")


def _common(random: Random, lines: tuple[str, ...], each: float) -> str:
    place = int(random.random() / each)
    return lines[place] if place < len(lines) else ""


def child(dam: Genes, sire: Genes, random: Random) -> Genes:
    """A hatchling: one copy of either parent at each locus."""
    return {look: (random.choice(dam[look]), random.choice(sire[look])) for look in dam}


def shown(genes: Genes) -> frozenset[str]:
    """The looks of an animal."""
    found = {look for look, copies in genes.items() if look != "Blaze" and all(copies)}
    if "Blaze" in genes and any(genes["Blaze"]):
        found.add(DOUBLE if all(genes["Blaze"]) else "Blaze")
    return frozenset(found)
