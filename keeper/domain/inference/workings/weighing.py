"""Why a standing is what it is: each record weighed, and how the number came about day by day."""

from collections import defaultdict
from collections.abc import Set
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import genetics
from keeper.domain.inference.questions.asking import Asked, Subproblem, Unanswerable, families_of
from keeper.domain.inference.results import Course, DatedRecord, Day, Ground, Grounds
from keeper.domain.inference.workings.clashing import without_each
from keeper.domain.inference.workings.describing import Described, described
from keeper.domain.inference.workings.evidence import Evidence, evidence_of, names_of
from keeper.domain.inference.workings.questions import Answer, Question, question_of
from keeper.domain.inference.workings.workings import working
from keeper.models import Animal, Line, Standing, Trait

# Records that are weighed for one number; each costs an inference. The nearest come first.
_MOST = 40
_SAME = 1e-9


def grounds(animal: Animal, trait: Trait, line: Line | None = None) -> Grounds:
    """The evidence behind one standing, the weightiest first, each item weighed by leaving it out.

    Raises:
        Unanswerable: the register itself leaves nothing possible, or it is too large.
    """
    asked, figure = _figure(animal, trait, line)
    if figure is None:
        return Grounds((), (), conflict=asked.conflict)
    stored = _standing(animal, trait, line)
    told = described(figure.part, figure.listed, animal, trait)
    weighed = figure.weighed()
    listed = [
        Ground(one.record, one.text, without, figure.now.carries)
        for one, without in zip(told, weighed, strict=True)
    ]
    listed += figure.together()
    shown = working(figure.part, figure.book, figure.question, animal, trait, line, stored)
    disputed: tuple[Ground, ...] = ()
    if stored is not None and stored.dispute is not None:
        disputed = without_each(
            figure.part, figure.question, stored.dispute, animal, trait, figure.now.carries
        )
    return Grounds(
        tuple(sorted(listed, key=_weight)),
        shown.steps,
        figure.exact,
        asked.conflict,
        shown.refusal,
        disputed,
    )


def course(animal: Animal, trait: Trait, line: Line | None = None) -> Course:
    """How the number of one standing came about, day by day.

    The pedigree is known from the start, as is what is too far off to be weighed singly.

    Raises:
        Unanswerable: the register itself leaves nothing possible, or it is too large.
    """
    _, figure = _figure(animal, trait, line)
    if figure is None:
        return Course(None, 0, ())
    singly = [one for one in figure.listed if not one.parents]
    days: dict[date | None, list[tuple[Evidence, Described]]] = defaultdict(list)
    for item, told in zip(singly, described(figure.part, singly, animal, trait), strict=True):
        days[told.on].append((item, told))
    order = sorted(days, key=lambda on: (on is not None, on or date.min))
    known = figure.names - names_of(singly)
    waiting = names_of(singly)
    start = after = figure.knowing(known, waiting)
    found = []
    for on in order:
        fresh = names_of(item for item, _ in days[on])
        known, waiting = known | fresh, waiting - fresh
        if not figure.is_settled(after, waiting | fresh):
            after = figure.knowing(known, waiting)
        told_then = tuple(DatedRecord(one.record, one.text) for _, one in days[on])
        found.append(Day(on, told_then, after))
    return Course(start, len(figure.further), tuple(found), figure.exact)


def part_of(animal: Animal, trait: Trait, line: Line | None) -> tuple[Subproblem, Question] | None:
    """The families that decide a standing, and the question it answers; None: nothing does.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
    """
    asked = families_of(animal.species, [animal.pk], [trait.pk], counted=True)
    return _asked_of(asked, animal, trait, line)


def _asked_of(
    asked: Asked, animal: Animal, trait: Trait, line: Line | None
) -> tuple[Subproblem, Question] | None:
    part = next((one for one in asked.subproblems if one.decides(trait.pk)), None)
    if part is None:
        return None
    wanted = question_of(part, animal, trait, line)
    return (part, wanted) if wanted.places else None


def _figure(animal: Animal, trait: Trait, line: Line | None) -> "tuple[Asked, _Figure | None]":
    try:
        asked = families_of(animal.species, [animal.pk], [trait.pk], counted=True)
        found = _asked_of(asked, animal, trait, line)
        return asked, None if found is None else _Figure.of(*found, animal)
    except genetics.BeyondExact as beyond:
        raise Unanswerable(
            "Too many records bear on this figure to weigh them one by one. "
            "Its working, or its family as a case file, can be read instead."
        ) from beyond


def _standing(animal: Animal, trait: Trait, line: Line | None) -> Standing | None:
    found = Standing.objects.filter(animal=animal, trait=trait, line=line)
    return found.select_related("dispute", "trait").first()


def _weight(ground: Ground) -> tuple[int, float]:
    """What moves the figure, then what the rest cannot do without, then what changes nothing."""
    if ground.without is None:
        return 1, 0.0
    moved = abs(ground.without - ground.now)
    return (0, -moved) if moved > _SAME else (2, 0.0)


@dataclass
class _Figure:
    """One number, the part of the book that bears on it, and its evidence.

    Attributes:
        listed: what is weighed singly.
        further: what is weighed together: it is further off, or there is too much.
        exact: whether all figures so far were exact.
    """

    animal: int
    part: Subproblem
    question: Question
    book: genetics.Population
    now: Answer
    listed: list[Evidence]
    further: list[Evidence]
    exact: bool

    @classmethod
    def of(cls, part: Subproblem, wanted: Question, animal: Animal) -> "_Figure":
        book = wanted.relevant(part.book.population)
        every = evidence_of(part, animal, book)
        listed = [one for one in every if one.far is not None][:_MOST]
        further = [one for one in every if one not in listed]
        now = wanted.ask(book)
        return cls(animal.pk, part, wanted, book, now, listed, further, now.exact)

    @cached_property
    def names(self) -> frozenset[genetics.RecordName]:
        return frozenset(genetics.records(self.book))

    def weighed(self) -> list[float | None]:
        """The chance without each item that is listed."""
        return [self.knowing(self.names - one.names) for one in self.listed]

    def together(self) -> list[Ground]:
        """What is weighed as one: what is not listed, and all that hatched below the animal.

        Of two clutches that each prove it neither alone seems to weigh anything.
        """
        rows = self.part.of.rows
        below = rows.with_descendants([self.animal])
        bred = {clutch for pk in below for clutch in rows.bred.get(pk, ())}
        hatched = [
            one for one in (*self.listed, *self.further) if one.hatchlings and one.source[1] in bred
        ]
        found = []
        if len(hatched) > 1:
            text = f"{len(hatched)} clutches of it and its descendants, taken together"
            found.append(self._as_one(text, hatched))
        count = len(self.further)
        if count:
            many = (
                "1 record of more distant relatives"
                if count == 1
                else f"{count} records of more distant relatives, taken together"
            )
            found.append(self._as_one(many, self.further))
        return found

    def _as_one(self, text: str, listed: list[Evidence]) -> Ground:
        without = self.knowing(self.names - names_of(listed))
        return Ground(None, text, without, self.now.carries)

    def knowing(
        self, known: Set[genetics.RecordName], waiting: Set[genetics.RecordName] | None = None
    ) -> float | None:
        """The chance by some of the records; None if they cannot all be true."""
        book = genetics.all_but(self.book, self.names - known)
        if waiting is not None:
            # Where little is known yet, little bears on it.
            book = self.question.relevant(book)
        try:
            found = self.question.ask(book)
        except genetics.ImpossibleEvidence:
            return None
        self.exact = self.exact and found.exact
        return found.carries

    def is_settled(self, chance: float | None, waiting: Set[genetics.RecordName]) -> bool:
        """Whether nothing that is still to come can move a chance.

        What is certain stays so, unless it is yet to be said what a founder may be.
        """
        return chance in (0.0, 1.0) and not any(name.about_founder for name in waiting)


def case_file(animal: Animal) -> genetics.JsonObject:
    """The animal's family as a case file; codes and names are the keeper's own.

    Raises:
        Unanswerable: nothing in the book bears on what it carries.
    """
    subproblems = families_of(animal.species, [animal.pk]).subproblems
    if not subproblems:
        raise Unanswerable(
            f"Nothing in the book bears on what {animal} carries. Note a look, its source or young."
        )
    if len(subproblems) > 1:
        raise Unanswerable(
            f"A gene began in the family of {animal}: it has parents at some loci and none at "
            "others, which one case cannot say. Read its grounds instead."
        )
    (part,) = subproblems
    return genetics.write_case(genetics.Case(population=part.book.population))
