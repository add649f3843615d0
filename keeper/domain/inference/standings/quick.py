"""What new records move, worked out from what is near them; the rest of the book is not touched.

Only where everything in an entry is new and only narrows what can be (`book.narrowing`), so that
who is certain stays certain. A correction or a withdrawal can make the certain uncertain again;
then the families are solved whole (`computing`). Both ways must give the same rows, always
(tested). Why there is `genetics.Solved.changed` beside it stands in `genetics.increment`.
"""

from dataclasses import dataclass, replace

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.reading.carriers import Component, has_background
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.shown_looks import asked_looks, shown_looks
from keeper.domain.inference.standings import computing
from keeper.domain.inference.standings.apart import disputed, lies_apart
from keeper.domain.inference.standings.computing import Computed
from keeper.domain.inference.standings.copies import Figure, Whose, figures, ids
from keeper.domain.inference.standings.customary import customary
from keeper.domain.inference.standings.facts import Facts, called, gather
from keeper.domain.inference.standings.nearby import (
    FamilyNeeded,
    Neighbourhood,
    near,
)
from keeper.domain.inference.standings.pieces import SeenPieces, pieces
from keeper.domain.inference.standings.stored import Store
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import LabTest, Statement

# New records on more animals than these are no entry of a day: the families are solved whole.
_MOST = 1000

# Below it two chances differ by rounding alone: the part of them, or of one.
_SAME = 1e-11


def compute(
    inheritance: Inheritance, rows: ReachedRows, touched: Touched
) -> computing.Recomputed | None:
    """The standings that new records move, or None where families must be solved whole."""
    if not touched.only_new or touched.species or len(touched.animals) > _MOST:
        return None
    try:
        return _Quick(inheritance, rows, touched).compute()
    except (FamilyNeeded, genetics.ImpossibleEvidence, genetics.BeyondExact):
        return None


@dataclass
class _Solved:
    """One group solved nearby."""

    part: Neighbourhood
    book: EngineBook
    solved: "genetics.Solved"
    figures: dict[Whose, Figure]


class _Quick:
    def __init__(self, inheritance: Inheritance, rows: ReachedRows, touched: Touched) -> None:
        self.inheritance, self.rows, self.touched = inheritance, rows, touched
        self.store = Store(inheritance)
        self.looks = shown_looks(inheritance)
        rows.animals.ask(pk for pk, _ in touched.animals)
        rows.clutches.ask(touched.clutches)
        rows.hatched.ask(touched.clutches)
        self.clutches = {pk for pk in touched.clutches if pk in rows.clutches}
        self.starts = {pk for pk, _ in touched.animals if pk in rows.animals}
        self.fresh = {pk for pk in touched.fresh if pk in rows.animals}
        self.looked = {(pk, trait) for pk, trait in touched.looked if pk in rows.animals}

    def compute(self) -> computing.Recomputed:
        self.store.fetch(self.starts)
        groups = self._bearing()
        if not all(
            self._apart(group, where) for group, where in disputed(self.inheritance, groups).items()
        ):
            raise FamilyNeeded
        if any(len(self.rows.clutches[pk].sires) > 1 for pk in self.clutches):
            raise FamilyNeeded
        self._read_ahead(groups)
        parts = near(
            self.inheritance, self.rows, self.store,
            {group: self._starts(group) for group in groups},
            anew={group: self._anew(group) for group in groups},
            fresh=self.fresh,
            customary=True,
        )  # fmt: skip
        for part in parts:
            # Between certain parents too: what hatched may be what they cannot give.
            part.clutches |= self.clutches
        self.rows.attend(
            {pk for part in parts for pk in (*part.inside, *part.border)},
            {clutch for part in parts for clutch in part.clutches},
        )
        solved = [self._solve(part) for part in parts]
        reported, usual = [], []
        for one in solved:
            may, also = self._reported(one), self._below_opened(one)
            usual.append(self._customary(one, may | also))
            reported.append(may | self._changed(one, also - may, usual[-1]))
        traits = {trait for part in parts for trait in part.group.traits}
        facts = self._facts(set().union(*reported), traits)
        answer = computing.Recomputed(rows=self.rows, before=self.store)
        answer.books = [one.book for one in solved]
        answer.looks = self.looks
        answer.looked = {one.part.group: one.part.inside for one in solved}
        for one in solved:
            answer.seen |= self._seen(one)
        for one, whose, alone in zip(solved, reported, usual, strict=True):
            self._answer(answer, one, whose, alone, facts)
        return answer

    def _read_ahead(self, groups: list[LocusGroup]) -> None:
        """Read what is near at once: a walk would ask for it step by step."""
        # Nothing stored leads the way on from who is new: it begins with the parents.
        parents = (self.rows.parents(self.rows.animals[pk]) for pk in self.fresh)
        begun = (self.starts - self.fresh).union(*parents)
        self.store.fetch(self.rows.read_ahead(self.inheritance, groups, begun) - self.fresh)

    def _bearing(self) -> list[LocusGroup]:
        """The groups of which anybody touched carries something, or is said or seen to."""
        told = self._told()
        found = []
        for group in self.inheritance.groups:
            starts = self._starts(group)
            carried = set().union(*map(self.store.traits, starts))
            # Where genes come by themselves anybody may carry them, a new animal too.
            if starts and (
                has_background(self.inheritance, group) or group.traits & (carried | told)
            ):
                found.append(group)
        return found

    def _starts(self, group: LocusGroup) -> set[int]:
        """Whom the new records touch there."""
        return {
            pk
            for pk, trait in self.touched.animals
            if pk in self.starts and (trait is None or trait in group.traits)
        }

    def _anew(self, group: LocusGroup) -> set[int]:
        """On whom something new is recorded that bears on the group."""
        return self.fresh | {
            pk for pk, trait in self.looked if trait is None or trait in group.traits
        }

    def _apart(self, group: LocusGroup, dispute: tuple[set[int], set[int]]) -> bool:
        """Whether a dispute at a group lies in another family than the new records."""
        return lies_apart(
            self.inheritance, self.rows, self.store, group,
            dispute=dispute, starts=self._starts(group), clutches=self.clutches,
        )  # fmt: skip

    def _told(self) -> set[int]:
        """Traits that the new records say or show of somebody."""
        found = {trait for _, trait in self.looked if trait is not None}
        said = Statement.objects.live().filter(animal__in=self.fresh)
        found |= set(said.values_list("trait_id", flat=True))
        tests = LabTest.objects.live().filter(animal__in=self.fresh)
        found |= set(tests.values_list("line__trait_id", flat=True))
        for seen in self.rows.shown(self.fresh).values():
            found |= seen
        for seen in self.rows.hatched_looks(self.clutches).values():
            found |= seen
        return found

    def _solve(self, part: Neighbourhood) -> _Solved:
        component = Component({part.group: part.inside}, {part.group: part.clutches})
        book = engine_book(
            self.inheritance, self.rows, component, also=part.border, certain=part.border
        )
        solved = genetics.solve(book.population)
        if not solved.exact:
            raise FamilyNeeded
        return _Solved(part, book, solved, figures(self.inheritance, self.rows, book, solved))

    def _seen(self, one: _Solved) -> SeenPieces:
        inside = {one.part.group: one.part.inside}
        asked = asked_looks(self.inheritance, self.rows, self.looks, inside)
        shown = genetics.look_chances(one.solved, asked)
        pks = ids(self.rows, inside)
        return pieces(self.inheritance, self.rows, pks, self.looks, asked, shown)

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
        found = moved | self._starts(one.part.group)
        for pk in moved | self._anew(one.part.group):
            for clutch in self.rows.bred.get(pk, ()):
                found |= self._with_parents(clutch)
            for child in self.rows.children.get(pk, ()):
                found |= {child} | self.rows.parents(self.rows.animals[child])
        for pk in self._anew(one.part.group):
            # What is seen on a young tells of its parents.
            found |= self.rows.parents(self.rows.animals[pk])
        for clutch in self.clutches:
            found |= self._with_parents(clutch)
        return found

    def _below_opened(self, one: _Solved) -> set[int]:
        """Young whose customary figure may move though no parent's figure does.

        An ancestor that is certain may be so by this young alone: without it that one is open, and
        what is beyond it may move the parents.
        """
        below, ahead = set[int](), list(one.part.opened)
        while ahead:
            more = set(self.rows.children.get(ahead.pop(), ())) - below
            below |= more
            ahead += more & one.part.inside
        return below

    def _changed(self, one: _Solved, young: set[int], usual: dict[Whose, float]) -> set[int]:
        """Those of some young whose customary figure is another than the stored one."""
        return {
            pk
            for pk in young
            for (trait, line), stored in self.store.at(pk, one.part.group).items()
            if abs((stored.customary or 0.0) - usual.get((pk, trait, line), 0.0)) > _SAME
        }

    def _with_parents(self, clutch: int) -> set[int]:
        return {*self.rows.clutches[clutch].parents, *self.rows.hatched.get(clutch, ())}

    def _facts(self, reported: set[int], traits: set[int]) -> Facts:
        """Read what words rest on: everyone's own looks, clutches, mates and young."""
        self.rows.reach(reported)
        clutches = {clutch for pk in reported for clutch in self.rows.bred[pk]}
        mates = {pk for clutch in clutches for pk in self.rows.clutches[clutch].parents}
        young = {child for pk in reported for child in self.rows.children[pk]}
        for pk in reported | young:
            mates |= self.rows.parents(self.rows.animals[pk])
        self.rows.attend(reported | mates | young, clutches)
        self.store.fetch(reported | mates)
        self.known = reported | mates
        alone = {pk for pk in young if self.rows.animals[pk].clutch is None}
        return gather(self.inheritance, self.rows, reported | alone, clutches, about=traits)

    def _answer(
        self,
        answer: computing.Recomputed,
        one: _Solved,
        reported: set[int],
        usual: dict[Whose, float],
        facts: Facts,
    ) -> None:
        group = one.part.group
        known = self.store.figures(self.known - one.part.inside, group) | {
            whose: figure for whose, figure in one.figures.items() if whose[0] in self.known
        }
        answer.scope[group] = reported
        answer.carriers[group] = set()
        for whose, figure in known.items():
            if whose[0] in reported:
                customary = usual.get(whose)
                said = called(self.inheritance, self.rows, facts, whose, known, customary)
                answer.standings[whose] = Computed(figure, customary, said)

    def _customary(self, one: _Solved, reported: set[int]) -> dict[Whose, float]:
        """The customary figures of those whose parents may have moved; others keep theirs."""
        parents = {pk: self.rows.parents(self.rows.animals[pk]) for pk in reported}
        told = self._anew(one.part.group)
        anew = {pk for pk in reported if pk in told or parents[pk] & one.part.inside}
        found = {
            (pk, trait, line): stored.customary
            for pk in reported - anew
            for (trait, line), stored in self.store.at(pk, one.part.group).items()
            if stored.customary is not None
        }
        carrying = {pk for pk, _, _ in one.figures}
        wanted = {pk for pk in anew if pk in carrying or self.store.traits(pk)}
        # Of the certain ones at the border too: their parents may have moved.
        book = replace(one.book, groups={one.part.group: one.part.inside | wanted})
        return found | customary(self.inheritance, self.rows, book, one.solved, wanted)


def _differ(old: Figure | None, new: Figure | None) -> bool:
    """Whether a figure moved, the smallest of its chances too.

    What is next to certain by one young moves hardly at all; without that young, by as large a
    part of it as its small chances do here.
    """
    if old is None or new is None:
        return old is not new
    pairs = ((old.two, new.two), (old.one, new.one), (old.none, new.none))
    return any(abs(one - other) > _SAME * max(one, other) for one, other in pairs)
