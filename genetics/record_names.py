"""What each record of a population is called: whose it is, and what it says.

In a case file's answer a name is written `K1.shows.Saltgrass`, `M1.founder.sg`,
`M1.founder_joint`, `K2.likelihood.sg`, `C1.tally[0]`, `M1.statements[0]`, `K1.parents` or
`C1.parents`; that is `str(name)`, and is never read back.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from genetics.population import Animal, Clutch, Population

OwnerKind = Literal["animal", "clutch"]
Part = Literal["parents", "founder", "founder_joint", "shows", "likelihood", "tally", "statements"]


class RecordName(NamedTuple):
    """One record: of which animal or clutch, and which of what is recorded of it.

    Attributes:
        kind, owner: whether it is an animal's or a clutch's, and the id of that.
        part: the field of the case file that holds it.
        of: the locus of a statement or likelihood, the trait that was looked for, else "".
        line: the position of a tally line or of a statement, else 0.

    >>> str(RecordName("animal", "K1", "shows", "Saltgrass"))
    'K1.shows.Saltgrass'
    >>> str(RecordName("clutch", "C1", "tally", line=2))
    'C1.tally[2]'
    """

    kind: OwnerKind
    owner: str
    part: Part
    of: str = ""
    line: int = 0

    def __str__(self) -> str:
        if self.part in ("tally", "statements"):
            return f"{self.owner}.{self.part}[{self.line}]"
        if self.part in ("parents", "founder_joint"):
            return f"{self.owner}.{self.part}"
        return f"{self.owner}.{self.part}.{self.of}"

    @property
    def about_founder(self) -> bool:
        """Whether it is a statement of what a founder is."""
        return self.part in ("founder", "founder_joint", "statements")


def parents_of(record: Animal | Clutch) -> RecordName:
    """The name of the record of whose young an animal, or all of a clutch, is.

    An animal of a clutch has none of its own.
    """
    return RecordName("animal" if isinstance(record, Animal) else "clutch", record.id, "parents")


def tally_line(clutch: str, line: int) -> RecordName:
    """The name of a line of a clutch's tally."""
    return RecordName("clutch", clutch, "tally", line=line)


def has_parents(animal: Animal) -> bool:
    """Whether an animal names parents itself, instead of a clutch or none."""
    return animal.dam is not None or animal.sire is not None


def statement_of(animal: str, line: int) -> RecordName:
    """The name of a statement on an animal that hangs on a trust."""
    return RecordName("animal", animal, "statements", line=line)


def stated_of(animal: Animal) -> Iterator[RecordName]:
    """The names of what is stated of a founder, and of what was said of any animal."""
    for locus in animal.founder:
        yield RecordName("animal", animal.id, "founder", locus)
    if animal.founder_joint:
        yield RecordName("animal", animal.id, "founder_joint")
    for line in range(len(animal.statements)):
        yield statement_of(animal.id, line)


def seen_of(record: Animal | Clutch) -> Iterator[RecordName]:
    """The names of what was seen or measured on an animal, or on the young of a clutch."""
    if isinstance(record, Clutch):
        for position, line in enumerate(record.tally):
            if line.count:
                yield tally_line(record.id, position)
        return
    for trait in record.shows:
        yield RecordName("animal", record.id, "shows", trait)
    for locus in record.likelihood:
        yield RecordName("animal", record.id, "likelihood", locus)


def records(population: Population) -> tuple[RecordName, ...]:
    """Names of all records that may be in conflict, those most often wrong last."""
    parents, stated, seen = [], list[RecordName](), list[RecordName]()
    for animal in population.animals:
        if has_parents(animal):
            parents.append(parents_of(animal))
        stated += stated_of(animal)
        seen += seen_of(animal)
    for clutch in population.clutches:
        parents.append(parents_of(clutch))
        seen += seen_of(clutch)
    return tuple(parents + stated + seen)


def unused_id(population: Population, like: str) -> str:
    """An id like the one given that no animal and no clutch has.

    >>> unused_id(Population(loci=(), animals=(Animal("K"), Animal("K'"))), "K")
    "K''"
    """
    while like in population.animal_index or like in population.clutch_index:
        like += "'"
    return like
