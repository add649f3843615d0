"""The customary figure: what the parents alone give, with the animal's own look.

It is what the trade writes beside an animal (66 %, 50 %, 33 %): the parents' standings as if they
were independent, Mendel, and that the animal itself does or does not show the trait. Sibs, own
young and tests count only in the tested figure. For a founder it is what its source said.
"""

from collections.abc import Iterable
from dataclasses import replace

import genetics
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.inheritance import LABORATORY, Inheritance
from keeper.domain.inference.reading.rows import AnimalRow, Rows
from keeper.domain.inference.standings.copies import Figure, Whose, figures


def customary(
    inheritance: Inheritance,
    rows: Rows,
    book: EngineBook,
    solved: "genetics.Solved",
    wanted: Iterable[int],
) -> dict[Whose, float]:
    """Return the customary chance of carrying for the animals wanted.

    Each gets parents of its own in a population of small families, solved by the same engine;
    animals with the same parents and the same look share one.
    """
    maker = _Families(inheritance, rows, book, solved)
    for pk in sorted(wanted):
        maker.add(rows.animals[pk])
    return maker.answers()


# Dam, sire and the share of each couple that an animal may be of.
_Parents = tuple[tuple[int | None, int | None, genetics.Number], ...]
# Parents, sex and looks; or the animal itself, if it has no parents.
_Alike = tuple[_Parents, str, tuple[tuple[str, bool], ...]] | int


class _Families:
    def __init__(
        self, inheritance: Inheritance, rows: Rows, book: EngineBook, solved: "genetics.Solved"
    ) -> None:
        self.inheritance, self.rows, self.book, self.solved = inheritance, rows, book, solved
        self.known = book.population.animal_index
        self.lines = {line for group in book.groups for line in group.lines}
        self.animals: list[genetics.Animal] = []
        self.clutches: list[genetics.Clutch] = []
        self.named: set[str] = set()
        self.stands_for: dict[_Alike, list[int]] = {}
        self.marginals: dict[int, dict[str, dict[str, float]]] = {}

    def add(self, one: AnimalRow) -> None:
        record = self.book.population.animals[self.known[one.code]]
        shows = {
            name: look for name, look in record.shows.items() if not name.startswith(LABORATORY)
        }
        looks = tuple(sorted((name, s.seen) for name, s in shows.items()))
        parents = self._parents(one)
        key = (parents, record.sex, looks) if parents else one.pk
        same = self.stands_for.setdefault(key, [])
        same.append(one.pk)
        if len(same) > 1:
            return
        if not parents:
            self.animals.append(record._replace(shows=shows))
            return
        # No code has a line break in it, so the name is nobody's own.
        nest = f"{one.code}\nclutch"
        clutch = genetics.Clutch(
            id=nest,
            candidates=tuple(
                genetics.Couple(
                    dam=self._stand_in(one, dam, "dam"), sire=self._stand_in(one, sire, "sire"), p=p
                )
                for dam, sire, p in parents
            ),
            stated_candidates=len(parents) > 1,
        )
        self.clutches.append(clutch)
        self.animals.append(genetics.Animal(id=one.code, sex=record.sex, clutch=nest, shows=shows))

    def _parents(self, one: AnimalRow) -> _Parents:
        if self.rows.arisen.get(one.pk, {}).keys() & self.lines:
            return ()
        if one.clutch is None:
            return ((one.dam, one.sire, 1),) if one.dam or one.sire else ()
        clutch = self.rows.clutches[one.clutch]
        return tuple((clutch.dam, sire, share) for sire, share in clutch.sires)

    def _stand_in(self, young: AnimalRow, parent: int | None, role: str) -> str | None:
        """A founder with the parent's standing, for this young alone; wild needs none."""
        if parent is None:
            return None
        # No code has a line break in it, so the name is nobody's own.
        name = f"{young.code}\n{role}\n{parent}"
        if name not in self.named:
            self.named.add(name)
            sex: genetics.Sex = "female" if role == "dam" else "male"
            self.animals.append(genetics.Animal(id=name, sex=sex, founder=self._standing(parent)))
        return name

    def _standing(self, parent: int) -> dict[str, dict[str, float]]:
        if parent not in self.marginals:
            code = self.rows.animals[parent].code
            found = {}
            for locus in self.book.population.loci:
                chances = self.solved.posterior(code, locus.id)
                whole = sum(chances.values())
                found[locus.id] = {key: p / whole for key, p in chances.items() if p > 0}
            self.marginals[parent] = found
        return self.marginals[parent]

    def answers(self) -> dict[Whose, float]:
        if not self.animals:
            return {}
        population = replace(
            self.book.population,
            animals=tuple(self.animals), clutches=tuple(self.clutches), same_locus=(),
        )  # fmt: skip
        try:
            solved = genetics.solve(population)
        except genetics.ImpossibleEvidence:
            # A look that these parents cannot give by themselves; there is no such figure.
            return {}
        first = {members[0]: members for members in self.stands_for.values()}
        groups = {group: animals & set(first) for group, animals in self.book.groups.items()}
        small = EngineBook(population, groups)
        found: dict[Whose, Figure] = figures(self.inheritance, self.rows, small, solved)
        return {
            (pk, trait, line): one.carries
            for (head, trait, line), one in found.items()
            for pk in first[head]
        }
