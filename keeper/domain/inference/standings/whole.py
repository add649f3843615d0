"""The whole book at once: solved ahead while others write, and taken only where it still holds.

Reading and solving take no lock. When the answers are to be compared or written, nobody else can
write any more; if something was written since, the book is read anew, and an answer is taken where
the subproblem is the same as it was. A subproblem decides its answer, so none is ever out of date.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import genetics
from keeper.domain.book.snapshots import snapshot
from keeper.domain.book.touched import Touched
from keeper.domain.inference.standings.computing import Posed, Recomputed, SpeciesBook
from keeper.domain.inference.standings.solving import Here, Solver
from keeper.models import DaybookEntry, Species

# Told how many records were solved, of how many.
Told = Callable[[int, int], None]

# What a subproblem is known by until it is compared: its loci and the first of its animals.
_Name = tuple[frozenset[int], int]


@dataclass
class _Read:
    """A species as it was read, with what there is to solve and the answers."""

    book: SpeciesBook
    posed: list[Posed]
    answers: "list[genetics.Answer | None]"


class SolvedAhead:
    """Every species of the book, solved as it was when this was made.

    Within an entry that is being written it is made with that entry.

    Attributes:
        reused, anew: how many answers were taken as solved ahead, and how many solved again.
    """

    def __init__(
        self,
        solver: Solver | None = None,
        told: Told = lambda done, of: None,
        *,
        entry: DaybookEntry | None = None,
    ) -> None:
        solver = solver or Here()
        self.reused = self.anew = 0
        with snapshot():
            self._last = _last_entry(entry)
            self._read = {species.pk: _read(species, solver) for species in Species.objects.all()}
        self._parts: dict[int, Recomputed] = {}
        every = [one for read in self._read.values() for one in read.posed]
        of, done = sum(one.size for one in every), 0
        answers = solver.answers()
        for read in self._read.values():
            for one in read.posed:
                read.answers.append(next(answers))
                done += one.size
                told(done, of)

    def part(self, species: Species, entry: DaybookEntry | None = None) -> Recomputed:
        """What the book computes for a species now; for within `snapshot` or `writing`.

        `entry` is the one being written, if there is one; it may have written nothing yet.
        """
        last = _last_entry(entry)
        if last != self._last:
            self._parts.clear()
            self._read = {one.pk: self._read_anew(one) for one in Species.objects.all()}
            self._last = last
        if species.pk not in self._parts:
            read = self._read[species.pk]
            self._parts[species.pk] = read.book.put_together(
                Touched(species={species.pk}), zip(read.posed, read.answers, strict=True)
            )
        return self._parts[species.pk]

    def parts(self, entry: DaybookEntry | None = None) -> Iterator[tuple[Species, Recomputed]]:
        """`part` of every species."""
        for species in Species.objects.all():
            yield species, self.part(species, entry)

    def book(self, species: Species) -> SpeciesBook:
        """The rows that `part` was computed from."""
        return self._read[species.pk].book

    def _read_anew(self, species: Species) -> _Read:
        """Take the answers of subproblems that are the same, and solve the others here."""
        old = self._read.get(species.pk)
        known: dict[_Name, list[tuple[genetics.Subproblem, genetics.Answer | None]]] = {}
        if old is not None:
            for one, answer in zip(old.posed, old.answers, strict=True):
                known.setdefault(_name(one), []).append((one.subproblem, answer))
        read = _read(species, Here())
        for one in read.posed:
            before = known.get(_name(one), ())
            same = [answer for other, answer in before if other == one.subproblem]
            self.reused += bool(same)
            self.anew += not same
            read.answers.append(same[0] if same else genetics.answered(one.subproblem))
        return read


def _read(species: Species, solver: Solver) -> _Read:
    book = SpeciesBook(species)
    posed = []
    for one in book.all_posed():
        solver.put(one.subproblem)
        posed.append(one)
    return _Read(book, posed, [])


def _name(one: Posed) -> _Name:
    animals = [pk for some in one.component.animals.values() for pk in some]
    loci = frozenset(pk for group in one.component.animals for pk in group.loci)
    return loci, min(animals, default=0)


def _last_entry(entry: DaybookEntry | None) -> int:
    """The last entry of the daybook besides the one being written."""
    written = DaybookEntry.objects.order_by("-pk")
    if entry is not None:
        written = written.exclude(pk=entry.pk)
    return written.values_list("pk", flat=True).first() or 0
