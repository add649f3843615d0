"""What each explanation changes in the book. Rows are made and read anew each time."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from keeper.domain.animals.queries import by_code
from keeper.domain.book.writing import Writing
from keeper.domain.explaining.rates import Kind, rates
from keeper.domain.inference import Source
from keeper.domain.register.placing import Place, settle
from keeper.models import (
    Animal,
    Arising,
    CandidateSire,
    Chromosome,
    Claim,
    Clutch,
    HatchRow,
    LabTest,
    Line,
    Locus,
    Look,
    Observation,
    Paternity,
    RowSighting,
    Seen,
    Sex,
    Statement,
    Status,
    Trait,
)

REASON = "adopted in a dispute"


@dataclass(frozen=True)
class Explanation:
    """Something that may have gone wrong.

    Attributes:
        key: names it in addresses: its kind and the rows it is about.
        text: what happened, as a sentence without its full stop.
        chance: how often such a thing happens; 1 where the change itself brings its chance in.
        change: makes it so in the book.
        about: the records that it says are wrong, of those that cannot all be true.
        decides: what it decides anew, as who sired a clutch: two that decide the same are no two
            mistakes.
    """

    kind: Kind
    key: str
    text: str
    chance: Fraction
    change: partial[None]
    about: frozenset[Source] = frozenset()
    decides: str = ""

    @property
    def traits(self) -> dict[int, Trait]:
        """The traits that the change leaves open, by id."""
        return {trait.pk: trait for trait in self.change.keywords.get("traits", ())}

    def joined(self, other: "Explanation") -> "Explanation":
        """The same change, tried in two places: for the traits of both."""
        traits = self.traits | other.traits
        if traits.keys() == self.traits.keys():
            return self
        both = [traits[pk] for pk in sorted(traits)]
        return replace(self, change=partial(self.change, traits=both))


def withdraw_look(book: Writing, pk: int) -> None:
    """The look was misread: it says nothing."""
    book.withdraw(Observation.objects.get(pk=pk), reason=REASON)


def unsay(book: Writing, look: int, trait: int) -> None:
    """A whole look was misread for a trait: it says nothing of that one."""
    one = Look.objects.select_related("animal").get(pk=look)
    book.keep(
        Observation(
            animal=one.animal, trait_id=trait, look=one, seen=Seen.UNSURE, on=one.on, by=one.by
        )
    )


def unsay_of_row(book: Writing, row: int, trait: int) -> None:
    """All hatchlings of a row were misread for a trait: it says nothing of that one."""
    there = RowSighting.objects.live().filter(row=row, trait=trait).first()
    one = there or RowSighting(row_id=row, trait_id=trait)
    one.seen = None
    book.keep(one)


def withdraw_result(book: Writing, pk: int) -> None:
    """The laboratory was wrong."""
    book.withdraw(LabTest.objects.get(pk=pk), reason=REASON)


def withdraw_word(book: Writing, pk: int, traits: Iterable[Trait]) -> None:
    """The source was wrong; where it denied one of some traits, the animal may carry it."""
    said = Statement.objects.get(pk=pk)
    if said.claim == Claim.CLEAR and traits:
        declare(book, said.animal, [one for one in traits if one.pk == said.trait_id])
    else:
        book.withdraw(said, reason=REASON)


def declare(book: Writing, animal: Animal, traits: Iterable[Trait]) -> None:
    """A founder may carry what nobody declared; what was said against it is withdrawn."""
    rate = str(rates()[Kind.UNDECLARED].chance)
    for trait in traits:
        for said in Statement.objects.live().filter(animal=animal, trait=trait):
            book.withdraw(said, reason=REASON)
        book.keep(Statement(animal=animal, trait=trait, claim=Claim.POSSIBLE, chance=rate))


def stranger(book: Writing, clutch: Clutch, sex: str, traits: Iterable[Trait]) -> Animal:
    """A parent that is not in the book: it may carry the traits as any animal may."""
    role = "sire" if sex == Sex.MALE else "dam"
    code = stem = f"{clutch.code}-{role}"[:22]
    number = 1
    while by_code(code) is not None:
        number += 1
        code = f"{stem}{number}"
    one = Animal(
        species=clutch.species,
        code=code,
        sex=sex,
        name=f"not recorded: {role} of {clutch}"[:60],
        status=Status.LENT,
        notes="Stands for an animal of which nothing is known but its young.",
    )
    book.keep(one)
    declare(book, one, traits)
    return one


def replace_sire(book: Writing, clutch: int, sire: int | None, traits: Iterable[Trait]) -> None:
    """Another male sired the whole clutch: one that is recorded, or a stranger."""
    one = Clutch.objects.get(pk=clutch)
    for candidate in one.candidates.live():
        book.withdraw(candidate, reason=REASON)
    book.keep(CandidateSire(clutch=one, sire=_male(book, one, sire, traits)))


def leave_alone(book: Writing, clutch: int) -> None:
    """No male sired the clutch: it is of its dam alone."""
    one = Clutch.objects.get(pk=clutch)
    for candidate in one.candidates.live():
        book.withdraw(candidate, reason=REASON)
    book.keep(CandidateSire(clutch=one, alone=True))


def add_sire(book: Writing, clutch: int, sire: int | None, traits: Iterable[Trait]) -> None:
    """Another male sired a part of the clutch: an egg in five, before anything hatched.

    The share is common practice, no source; a smaller one than half lets a single hatchling be his.
    """
    one = Clutch.objects.get(pk=clutch)
    if not one.candidates.live().exists():
        book.keep(CandidateSire(clutch=one, sire=None))
    others = sum((Fraction(candidate.share) for candidate in one.candidates.live()), Fraction(0))
    male, share = _male(book, one, sire, traits), str(min(others / 4, Fraction(1)))
    book.keep(CandidateSire(clutch=one, sire=male, share=share))
    if one.paternity != Paternity.EACH:
        one.paternity = Paternity.EACH
        book.keep(one)


def _male(book: Writing, clutch: Clutch, sire: int | None, traits: Iterable[Trait]) -> Animal:
    if sire is None:
        return stranger(book, clutch, Sex.MALE, traits)
    return Animal.objects.get(pk=sire)


def replace_dam(book: Writing, clutch: int, dam: int | None, traits: Iterable[Trait]) -> None:
    """Another female laid the clutch: one that is recorded, or a stranger."""
    one = Clutch.objects.get(pk=clutch)
    if dam is None:
        one.dam = stranger(book, one, Sex.FEMALE, traits)
    else:
        one.dam = Animal.objects.get(pk=dam)
    book.keep(one)


def take_out(
    book: Writing, animal: int, traits: Iterable[Trait] = (), shown: Iterable[Trait] = ()
) -> None:
    """The animal is not the hatchling that it was taken for, nor of the parents stated.

    One hatchling less is counted in its row. What it carries is open for some traits; what it
    shows it has from wherever it is, as is said of an animal that was bought.
    """
    one = Animal.objects.get(pk=animal)
    row, one.clutch, one.hatch_row, one.dam, one.sire = one.hatch_row, None, None, None, None
    book.keep(one)
    if row is not None:
        _count_one_less(book, row)
    declare(book, one, traits)
    for trait in shown:
        if not Statement.objects.live().filter(animal=one, trait=trait).exists():
            book.keep(Statement(animal=one, trait=trait, claim=Claim.VISUAL))


def _count_one_less(book: Writing, row: HatchRow) -> None:
    if row.count > 1:
        row.count -= 1
        book.keep(row)
        return
    for sighting in row.sightings.live():
        book.withdraw(sighting, reason=REASON)
    book.withdraw(row, reason=REASON)


def make_one_gene(book: Writing, line: int, other: int) -> None:
    """Two lines at two loci are alleles of one."""
    settle(
        book,
        line=Line.objects.get(pk=other),
        place=Place(locus=Line.objects.get(pk=line).locus),
    )


def make_two_genes(book: Writing, line: int) -> None:
    """A line sits at a locus of its own."""
    settle(book, line=Line.objects.get(pk=line), place=Place())


def let_cross(book: Writing, locus: int) -> None:
    """The gene can change over between the sex chromosomes, once in a hundred."""
    one = Locus.objects.get(pk=locus)
    one.chromosome, one.recombination = Chromosome.BOTH, Fraction(1, 100)
    book.keep(one)


def withdraw_beginning(book: Writing, pk: int) -> None:
    """The gene did not begin there."""
    book.withdraw(Arising.objects.get(pk=pk), reason=REASON)


def begin(book: Writing, animal: int, line: int) -> None:
    """The gene is new: it began with the animal."""
    book.keep(Arising(animal=Animal.objects.get(pk=animal), line=Line.objects.get(pk=line)))
