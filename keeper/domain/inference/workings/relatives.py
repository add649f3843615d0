"""What is known of an animal's parents and mates without the animal's own evidence.

A working that went from the parents' present figures would count the animal's own look twice: it
has moved theirs. So these are asked of the book without what was seen on the animal and on its
young.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator
from fractions import Fraction
from functools import cached_property

import genetics
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.inheritance import codes_of
from keeper.domain.inference.reading.rows import AnimalRow, TestedRow
from keeper.domain.inference.reading.showed import told_of
from keeper.domain.inference.workings.questions import Question
from keeper.models import Chromosome

# A fraction with a larger denominator is none that a person works with.
_LARGEST = 10_000


class Relatives:
    """One animal's parents, mates and young, as far as a number at one locus rests on them."""

    def __init__(
        self, part: Subproblem, book: genetics.Population, question: Question, animal: AnimalRow
    ) -> None:
        self.part, self.book, self.question, self.animal = part, book, question, animal
        self.rows, self.inheritance = part.of.rows, part.of.inheritance

    def name(self, pk: int | None) -> str:
        """The code of a parent or mate."""
        return "an animal not recorded" if pk is None else self.rows.animals[pk].code

    @cached_property
    def locus(self) -> str | None:
        """The one locus at which the animal may carry; None if there are several."""
        code = self.animal.code
        may = [name for name in self.question.places if sum(self._chances(code, name)) > 0]
        return may[0] if len(may) == 1 else None

    @property
    def chromosome(self) -> str:
        """Where that locus sits."""
        loci = self.inheritance.loci.values()
        return next((one.chromosome for one in loci if one.name == self.locus), "")

    def copies(self, pk: int | None, locus: str | None = None) -> tuple[Fraction, Fraction] | None:
        """Exact chances of one copy and of two; None if they are no simple fractions."""
        place = locus or self.locus
        if pk is None or place is None:
            return Fraction(0), Fraction(0)
        one, two = (_simple(p) for p in self._chances(self.rows.animals[pk].code, place))
        return None if one is None or two is None else (one, two)

    def places_of(self, pk: int | None) -> list[str]:
        """The loci at which a mate may carry the look."""
        code = None if pk is None else self.rows.animals[pk].code
        return [one for one in self.question.places if code and sum(self._chances(code, one)) > 0]

    def tests(self) -> list[TestedRow]:
        """What laboratories found of the lines in question."""
        return [
            row
            for row in self.rows.lab_tests.get(self.animal.pk, ())
            if self.inheritance.lines[row.line].code in self._codes(row.line)
        ]

    def clean_young(self, trait: int) -> list[tuple[int | None, int]]:
        """Each mate with the young that could have shown the trait and did not."""
        found: dict[int | None, int] = defaultdict(int)
        for mate, sex, count in self._unseen(trait):
            if self._could_show(mate, sex):
                found[mate] += count
        return list(found.items())

    def _unseen(self, trait: int) -> Iterator[tuple[int | None, str, int]]:
        """Young that do not show it: mate, sex, how many."""
        rows, own = self.rows, self.animal.pk
        for pk in rows.bred.get(own, ()):
            clutch = rows.clutches[pk]
            sires = [sire or None for sire, _ in clutch.sires]
            mate = sires[0] if clutch.dam == own else clutch.dam
            if len(sires) > 1:
                continue
            for row in rows.tallies.get(pk, ()):
                if row.tally and self._denied(trait, row.seen, row.unseen):
                    yield mate, row.sex, row.tally
        for young in self._young():
            looks = rows.observations.get(young.pk, {})
            seen = {one for one, look in looks.items() if look.seen}
            parents = self._certain_parents(young)
            if self._denied(trait, seen, looks.keys() - seen) and own in parents:
                yield next((one for one in parents if one != own), None), young.sex, 1

    def _denied(self, trait: int, seen: Collection[int], unseen: Collection[int]) -> bool:
        return trait in told_of(self.inheritance, seen, unseen)[1]

    def _young(self) -> Iterator[AnimalRow]:
        for pk in sorted(self.rows.children.get(self.animal.pk, ())):
            yield self.rows.animals[pk]

    def _certain_parents(self, young: AnimalRow) -> tuple[int | None, ...]:
        if young.clutch is None:
            return young.dam, young.sire
        clutch = self.rows.clutches[young.clutch]
        return (clutch.dam, clutch.sires[0][0] or None) if len(clutch.sires) == 1 else ()

    def _could_show(self, mate: int | None, sex: str) -> bool:
        """Whether such a young of a carrier could have shown the trait."""
        chances = self._carrying(mate)
        if self.chromosome != Chromosome.ONE:
            return chances > 0
        return sex == self.inheritance.heterogametic or chances == 1

    def _carrying(self, pk: int | None) -> float:
        if pk is None:
            return 0.0
        code = self.rows.animals[pk].code
        places = self.question.places if self.locus is None else [self.locus]
        return max(sum(self._chances(code, place)) for place in places)

    @cached_property
    def _solved(self) -> "genetics.Solved":
        """The book without what was seen on the animal and on its young."""
        young = {self.animal.code, *(one.code for one in self._young())}
        ids = self.part.book.clutch_ids
        clutches = {ids.get(pk) for pk in self.rows.bred.get(self.animal.pk, ())}
        known = [
            name
            for name in genetics.records(self.book)
            if not (name.part == "shows" and name.owner in young)
            and not (name.part == "tally" and name.owner in clutches)
        ]
        return genetics.solve(genetics.known_only(self.book, known))

    def _chances(self, code: str, locus: str) -> tuple[float, float]:
        """Chances of one copy and of two of the lines in question."""
        if code not in self.book.animal_index:
            return 0.0, 0.0
        codes = self.question.places[locus]
        found = [0.0, 0.0, 0.0]
        for key, p in self._solved.posterior(code, locus).items():
            found[sum(one in codes for one in codes_of(key))] += p
        return found[1], found[2]

    def _codes(self, line: int) -> frozenset[str]:
        locus = self.inheritance.loci[self.inheritance.lines[line].locus_id].name
        return self.question.places.get(locus, frozenset())


def _simple(figure: float) -> Fraction | None:
    """The fraction that a figure is, if it is one that a person works with."""
    near = Fraction(figure).limit_denominator(_LARGEST)
    return near if abs(float(near) - figure) < 1e-12 else None
