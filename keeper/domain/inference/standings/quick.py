"""What new records move, worked out from what is near them; the rest of the book is not touched.

Only where everything in an entry is new: new evidence narrows what can be, so who is certain stays
certain. A correction or a withdrawal can make the certain uncertain again; then the families are
solved whole (`computing`). Both ways must give the same rows, always (tested).
"""

from dataclasses import dataclass, replace

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.reading.carriers import Component
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.standings import computing
from keeper.domain.inference.standings.computing import Computed
from keeper.domain.inference.standings.copies import Figure, Whose, figures
from keeper.domain.inference.standings.customary import customary
from keeper.domain.inference.standings.facts import gather, word_of
from keeper.domain.inference.standings.nearby import FamilyNeeded, Neighbourhood, Store, near
from keeper.models import Dispute, LabTest, Statement


def compute(inheritance: Inheritance, rows: Rows, touched: Touched) -> computing.Recomputed | None:
    """The standings that new records move, or None where families must be solved whole."""
    if not touched.only_new or touched.species:
        return None
    try:
        return _Quick(inheritance, rows, touched).compute()
    except (FamilyNeeded, genetics.ImpossibleEvidence, genetics.BeyondExact):
        return None


# Below it two figures differ by rounding alone.
_SAME = 1e-12


@dataclass
class _Solved:
    """One group solved nearby."""

    part: Neighbourhood
    book: EngineBook
    solved: object
    figures: dict[Whose, Figure]


class _Quick:
    def __init__(self, inheritance: Inheritance, rows: Rows, touched: Touched) -> None:
        self.inheritance, self.rows, self.touched = inheritance, rows, touched
        self.store = Store(inheritance.species.pk)
        self.starts = {pk for pk, _ in touched.animals if pk in rows.animals}
        self.fresh = touched.fresh & rows.animals.keys()

    def compute(self) -> computing.Recomputed:
        self.store.fetch(self.starts)
        told = self._told()
        disputed = self._disputed()
        bearing = [one for one in self.inheritance.groups if self._bears_on(one, told)]
        if any(disputed & one.traits for one in bearing):
            raise FamilyNeeded
        parts = [
            near(self.inheritance, self.rows, self.store, group, self.starts, fresh=self.fresh)
            for group in bearing
        ]
        if any(len(self.rows.clutches[pk].sires) > 1 for pk in self.touched.clutches):
            raise FamilyNeeded
        for part in parts:
            # Between certain parents too: what hatched may be what they cannot give.
            part.clutches |= self.touched.clutches
        self.rows.attend(
            {pk for part in parts for pk in (*part.inside, *part.border)},
            {clutch for part in parts for clutch in part.clutches},
        )
        solved = [self._solve(part) for part in parts]
        reported = [self._reported(one) for one in solved]
        self._attend_to_words(set().union(*reported))
        answer = computing.Recomputed()
        answer.books = [one.book for one in solved]
        for one, whose in zip(solved, reported, strict=True):
            self._answer(answer, one, whose)
        return answer

    def _disputed(self) -> set[int]:
        """Traits of which a standing is disputed, all of them if a dispute leaves no mark.

        What new records say in a family at odds with itself shows only when it is solved whole.
        """
        found = set[int]()
        for dispute in Dispute.objects.filter(species=self.inheritance.species, closed=None):
            traits = set(dispute.standings.order_by().values_list("trait_id", flat=True))
            found |= traits or {one.pk for one in self.inheritance.shown_traits}
        return found

    def _told(self) -> set[int]:
        """Traits that the new records say or show of somebody."""
        said = Statement.objects.live().filter(animal__in=self.fresh)
        found = set(said.values_list("trait_id", flat=True))
        tests = LabTest.objects.live().filter(animal__in=self.fresh)
        found |= set(tests.values_list("line__trait_id", flat=True))
        for seen in self.rows.shown(self.fresh).values():
            found |= seen
        for seen in self.rows.hatched_looks(self.touched.clutches).values():
            found |= seen
        return found

    def _bears_on(self, group: LocusGroup, told: set[int]) -> bool:
        """Whether anybody touched carries something of the group, or is said or seen to."""
        carried = {trait for pk in self.starts for trait, _ in self.store.of(pk)}
        return not group.traits.isdisjoint(carried | told)

    def _solve(self, part: Neighbourhood) -> _Solved:
        component = Component({part.group: part.inside}, {part.group: part.clutches})
        book = engine_book(
            self.inheritance, self.rows, component, also=part.border, certain=part.border
        )
        solved = genetics.solve(book.population)
        if not solved.exact:
            raise FamilyNeeded
        return _Solved(part, book, solved, figures(self.inheritance, self.rows, book, solved))

    def _moved(self, one: _Solved) -> set[int]:
        """Those inside whose figures are not as they were."""
        before = self.store.figures(one.part.inside, one.part.group)
        return {
            whose[0]
            for whose in before.keys() | one.figures.keys()
            if _differ(before.get(whose), one.figures.get(whose))
        }

    def _reported(self, one: _Solved) -> set[int]:
        """Everyone whose figure or word may change: who moved, their young and their mates."""
        moved = self._moved(one)
        found = moved | self.starts
        for pk in moved:
            for clutch in self.rows.bred.get(pk, ()):
                found |= self._with_parents(clutch)
            for child in self.rows.children.get(pk, ()):
                found |= {child} | self.rows.parents(self.rows.animals[child])
        for clutch in self.touched.clutches:
            found |= self._with_parents(clutch)
        return found

    def _with_parents(self, clutch: int) -> set[int]:
        return {*self.rows.clutches[clutch].parents, *self.rows.hatched.get(clutch, ())}

    def _attend_to_words(self, reported: set[int]) -> None:
        """Read what words rest on: everyone's own looks, clutches, mates and young."""
        clutches = {clutch for pk in reported for clutch in self.rows.bred.get(pk, ())}
        mates = {pk for clutch in clutches for pk in self.rows.clutches[clutch].parents}
        young = {pk for clutch in clutches for pk in self.rows.hatched.get(clutch, ())}
        for pk in reported:
            mates |= self.rows.parents(self.rows.animals[pk])
            for child in self.rows.children.get(pk, ()):
                young.add(child)
                mates |= self.rows.parents(self.rows.animals[child])
        self.rows.attend(reported | mates | young, clutches)
        self.store.fetch(reported | mates)
        self.known = reported | mates

    def _answer(self, answer: computing.Recomputed, one: _Solved, reported: set[int]) -> None:
        group = one.part.group
        known = self.store.figures(self.known - one.part.inside, group) | {
            whose: figure for whose, figure in one.figures.items() if whose[0] in self.known
        }
        young = {child for pk in reported for child in self.rows.children.get(pk, ())}
        facts = gather(
            self.inheritance,
            self.rows,
            reported | {pk for pk in young if self.rows.animals[pk].clutch is None},
            {clutch for pk in reported for clutch in self.rows.bred.get(pk, ())},
        )
        usual = self._customary(one, reported)
        answer.scope[group] = reported
        answer.carriers[group] = set()
        for whose, figure in known.items():
            if whose[0] in reported:
                word, clean = word_of(
                    self.inheritance, self.rows, facts, whose, known, usual.get(whose)
                )
                answer.standings[whose] = Computed(figure, usual.get(whose), word, clean)

    def _customary(self, one: _Solved, reported: set[int]) -> dict[Whose, float]:
        """The customary figures of those whose parents may have moved; others keep theirs."""
        parents = {pk: self.rows.parents(self.rows.animals[pk]) for pk in reported}
        anew = {pk for pk in reported if pk in self.fresh or parents[pk] & one.part.inside}
        found = {
            (pk, trait, line): stored.customary
            for pk in reported - anew
            for (trait, line), stored in self.store.of(pk).items()
            if stored.customary is not None
        }
        carrying = {pk for pk, _, _ in one.figures}
        wanted = {pk for pk in anew if pk in carrying or self.store.of(pk)}
        # Of the certain ones at the border too: their parents may have moved.
        book = replace(one.book, groups={one.part.group: one.part.inside | wanted})
        return found | customary(self.inheritance, self.rows, book, one.solved, wanted)


def _differ(old: Figure | None, new: Figure | None) -> bool:
    if old is None or new is None:
        return old is not new
    return max(abs(old.two - new.two), abs(old.one - new.one), abs(old.none - new.none)) > _SAME
