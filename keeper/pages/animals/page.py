"""An animal's page: what it carries, where it is from, and everything that was entered about it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.urls import reverse

from keeper.domain.animals import queries
from keeper.domain.saying.shows import ShownLook, shown_by
from keeper.domain.saying.wording import Carried
from keeper.domain.sources.queries import Sources, sources_of
from keeper.models import (
    Animal,
    Line,
    Look,
    Observation,
    Paper,
    Photo,
    Seen,
    Standing,
    Statement,
    Trait,
    Word,
)
from keeper.pages.animals.broods import Brood, broods
from keeper.pages.animals.mixed import MixedRow, mixed_rows
from keeper.pages.animals.sexlinked import SexLinkedPart, sex_linked_part
from keeper.pages.frame.notices import DisputeNotice, notice

# So many of each are shown; the rest is a link away.
_CLUTCHES, _YOUNG = 20, 30


@dataclass(frozen=True)
class Row:
    """One strip of the page: a trait, or one line of it.

    Attributes:
        standing: the standing it draws.
        carried: the trait with its lines; for a line's own row the trait it belongs to.
        line: the line of a line's own row.
        statement: what a `stated` word rests on.
        grounds: address of its grounds.
    """

    standing: Standing
    carried: Carried
    line: Line | None
    statement: Statement | None
    grounds: str

    @property
    def key(self) -> str:
        """Part of the page's element identifiers."""
        return f"{self.standing.trait_id}-{self.standing.line_id or 'all'}"

    @property
    def how_telling(self) -> str:
        """Address of how telling the clean hatchlings of the standing are; or empty."""
        if self.standing.word != Word.CLEAN or self.standing.is_disputed:
            return ""
        return f"{self.grounds}{'&' if '?' in self.grounds else '?'}by=telling"


@dataclass(frozen=True)
class Answer:
    """One part of the answer to "what is proven?": a word and the traits it holds for."""

    word: str
    traits: tuple[Carried, ...]


@dataclass(frozen=True)
class Parent:
    """A parent, or one that may be: its role, the chance where there are several, its traits."""

    role: str
    animal: Animal | None
    carried: tuple[Carried, ...]
    candidate: bool = False
    missing: str = "not recorded"


@dataclass(frozen=True)
class AnimalPage:
    """Everything on an animal's page."""

    animal: Animal
    rows: tuple[Row, ...]
    absent: tuple[Carried, ...]
    answers: tuple[Answer, ...]
    shows: tuple[ShownLook, ...]
    mixed: tuple[MixedRow, ...]
    sex_linked: SexLinkedPart | None
    disputes: tuple[DisputeNotice, ...]
    parents: tuple[Parent, ...]
    broods: tuple[Brood, ...]
    more_young: bool
    looks: tuple[Look, ...]
    observations: tuple[Observation, ...]
    not_seen: tuple[Observation, ...]
    statements: tuple[Statement, ...]
    papers: tuple[Paper, ...]
    sources: Sources
    photos: tuple[Photo, ...]

    @property
    def portrait(self) -> Photo | None:
        """The latest photo, which stands beside the code."""
        return next((one for one in self.photos if not one.is_withdrawn), None)

    @property
    def visible(self) -> tuple[Carried, ...]:
        """The traits that it is known to show."""
        return tuple(
            one
            for one in (row.carried for row in self.rows if row.line is None)
            if one.over_all.word == Word.VISUAL and not one.over_all.is_disputed
        )

    @property
    def harms(self) -> tuple[Trait, ...]:
        """What is known to be wrong with animals that look like it."""
        looks = [one.look for one in self.shows if one.is_certain]
        shown = [*(one.trait for one in self.visible), *(x for x in looks if isinstance(x, Trait))]
        return tuple(one for one in dict.fromkeys(shown) if one.harm)

    @property
    def was_looked_at(self) -> bool:
        """Whether anything that counts was logged of how it looks."""
        told = (*self.looks, *self.observations, *self.not_seen)
        return any(not one.is_withdrawn for one in told)


def animal_page(animal: Animal) -> AnimalPage:
    """Return the page's data; the queries do not grow with what is on it."""
    parents = _parents(animal)
    young = list(queries.young_of(animal)[: _YOUNG + 1])
    clutches = list(queries.clutches_of(animal)[: _CLUTCHES + 1])
    seen = list(queries.observations_of(animal))
    near = [animal, *young[:_YOUNG], *(one.animal for one in parents if one.animal is not None)]
    carried = queries.carried_by({one.pk for one in near})
    own = carried.get(animal.pk, [])
    statements = tuple(queries.statements_of(animal))
    papers = tuple(queries.papers_of(animal))
    return AnimalPage(
        animal=animal,
        rows=_rows(own, statements),
        absent=tuple(one for one in own if one.over_all.word == Word.ABSENT),
        answers=answers(own),
        shows=tuple(shown_by([animal.pk]).get(animal.pk, ())),
        mixed=mixed_rows(own),
        sex_linked=sex_linked_part(animal, own),
        disputes=_disputes(animal),
        parents=tuple(
            replace(one, carried=tuple(carried.get(one.animal.pk, ()))) if one.animal else one
            for one in parents
        ),
        broods=broods(animal, clutches[:_CLUTCHES], young[:_YOUNG], carried),
        more_young=len(clutches) > _CLUTCHES or len(young) > _YOUNG,
        looks=tuple(queries.looks_of(animal)),
        observations=tuple(one for one in seen if not _plainly_not_seen(one)),
        not_seen=tuple(one for one in seen if _plainly_not_seen(one)),
        statements=statements,
        papers=papers,
        sources=sources_of(animal, statements, papers),
        photos=tuple(queries.photos_of(animal)),
    )


def _rows(own: Sequence[Carried], statements: Sequence[Statement]) -> tuple[Row, ...]:
    said = {one.trait_id: one for one in statements if not one.is_withdrawn}
    rows = []
    for carried in own:
        if carried.over_all.word == Word.ABSENT:
            continue
        for standing in (carried.over_all, *carried.parts):
            address = reverse("animals-grounds", args=[carried.animal_id, carried.trait.pk])
            # Named by its line wherever that is certain, so are its grounds.
            line = carried.lines[0] if len(carried.lines) == 1 else None
            line = standing.line or (None if carried.parts else line)
            rows.append(
                Row(
                    standing=standing,
                    carried=carried,
                    line=standing.line,
                    statement=said.get(carried.trait.pk),
                    grounds=f"{address}?line={line.pk}" if line else address,
                )
            )
    return tuple(rows)


def answers(own: Sequence[Carried]) -> tuple[Answer, ...]:
    """Return what is proven, seen, or certain by birth, never what is said; or that nothing is."""
    told = []
    for word in (Word.PROVEN, Word.VISUAL, Word.PARENTAGE, Word.TESTED, Word.DEDUCED):
        traits = tuple(
            one for one in own if one.over_all.word == word and not one.over_all.is_disputed
        )
        if traits:
            told.append(Answer(str(word.label), traits))
    return tuple(told) or (Answer(str(Word.PROVEN.label), ()),)


def _parents(animal: Animal) -> list[Parent]:
    """The parents, or those that may be, without what they carry."""
    if animal.clutch is None:
        stated = (("Dam", animal.dam), ("Sire", animal.sire))
        return [Parent(role, one, ()) for role, one in stated if one is not None]
    candidates = list(animal.clutch.candidates.all())
    several = len(candidates) > 1
    role = "Possible sire" if several else "Sire"
    sires = [
        Parent(role, one.sire, (), several, "none: the dam alone" if one.alone else "not recorded")
        for one in candidates
    ]
    return [Parent("Dam", animal.clutch.dam, ()), *(sires or [Parent(role, None, ())])]


def _plainly_not_seen(one: Observation) -> bool:
    """Whether all there is to say of it is that the trait was not seen."""
    return one.seen == Seen.NO and not one.note and not one.is_withdrawn


def _disputes(animal: Animal) -> tuple[DisputeNotice, ...]:
    return tuple(notice(dispute) for dispute in queries.disputes_about(animal))
