"""Who stays certain whichever one young of its own is left out of the book.

A customary figure is worked out without the animal that it is of. What makes a parent certain may
be that animal alone, and then the parent is open there. It is not where a look beside it settles
what it has: of a recessive gene at a locus of its own, one copy that a visual young got or a
visual parent gave, and not two since it looks normal itself or its source says so.

Of a visual young its own figure is its look's, whatever its parents have; and it is in the book
without any other, unless that one is an ancestor of it through its other parent. So that parent
must not descend from whoever it proves.
"""

from collections.abc import Collection, Iterable, Mapping
from fractions import Fraction

from django.db.models import Q

from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.prepared import Prepared
from keeper.domain.inference.standings.stored import Store
from keeper.domain.inference.walking.kin import ancestors
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Chromosome, Claim, Shown, Standing, Trait, Word

# Who is certain in one of these senses may be so by a young of its own alone.
_BY_YOUNG = frozenset({Word.PROVEN, Word.DEDUCED, Word.TESTED})


def may_be_by_young(inheritance: Inheritance, store: Store, group: LocusGroup, pk: int) -> bool:
    """Whether a certain animal may be so by what its young show; it must have been fetched."""
    return any(
        one.none < 1 and (one.word in _BY_YOUNG or _shows_either(inheritance, trait, one.word))
        for (trait, _), one in store.at(pk, group).items()
    )


def _shows_either(inheritance: Inheritance, trait: int, word: str) -> bool:
    """Whether the look leaves open if it has one copy or two."""
    return word == Word.VISUAL and inheritance.traits[trait].shown == Shown.DOMINANT


def steady(
    inheritance: Inheritance, rows: ReachedRows, asked: Mapping[LocusGroup, Collection[int]]
) -> dict[LocusGroup, set[int]]:
    """Those of some certain animals of whom a look beside them settles what they have.

    What is needed of their parents, mates and young is read, a few queries for all of them.
    """
    plain = {group: set(pks) for group, pks in asked.items() if _is_plain(inheritance, group)}
    found: dict[LocusGroup, set[int]] = {group: set() for group in asked}
    rows.attend(set().union(*plain.values()), ())
    single = {
        group: {pk for pk in pks if _has_at_most_one(rows, group, pk)}
        for group, pks in plain.items()
    }
    everyone = set().union(*single.values())
    if not everyone:
        return found
    rows.reach(everyone)
    showing = _showing({one for pk in everyone for one in _kin(rows, pk)})
    open_: dict[LocusGroup, dict[int, set[int]]] = {}
    for group, pks in single.items():
        beside = {pk: _Beside(rows, showing, group, pk) for pk in pks}
        found[group] = {pk for pk, one in beside.items() if one.is_given() or one.by_founder()}
        open_[group] = {pk: beside[pk].mates() for pk in pks - found[group]}
    mates = {mate for of in open_.values() for some in of.values() for mate in some}
    if mates:
        rows.with_ancestors(mates)
    for group, of in open_.items():
        found[group] |= {
            pk
            for pk, some in of.items()
            if any(pk not in ancestors(rows, one) for one in some - {pk})
        }
    return found


def _is_plain(inheritance: Inheritance, group: LocusGroup) -> bool:
    """Whether the group is one recessive trait of one line at one locus, looks taken as seen."""
    if len(group.loci) != 1 or len(group.lines) != 1 or len(group.traits) != 1:
        return False
    (trait,), (locus,) = group.traits, group.loci
    one = inheritance.traits[trait]
    return (
        one.shown == Shown.RECESSIVE
        and inheritance.loci[locus].chromosome == Chromosome.AUTOSOME
        and _is_taken_as_seen(one)
    )


def _is_taken_as_seen(trait: Trait) -> bool:
    misread = (trait.overlooked, trait.mistaken)
    return Fraction(trait.penetrance) == 1 and not any(map(Fraction, misread))


def _kin(rows: ReachedRows, pk: int) -> set[int]:
    return {*rows.parents(rows.animals[pk]), *rows.children.get(pk, ())}


# Animal, trait, and the word by which it has two copies there for certain.
_Showing = set[tuple[int, int, str]]


def _showing(animals: Collection[int]) -> _Showing:
    """Of which traits animals have two copies for certain, undisputed."""
    found = _Showing()
    doubtful = set[tuple[int, int]]()
    for animal, trait, two, word, dispute, error in _TWO_OR_DOUBTFUL.rows(animals):
        if dispute or error:
            doubtful.add((animal, trait))
        elif two == 1:
            found.add((animal, trait, word))
    return {one for one in found if one[:2] not in doubtful}


_TWO_OR_DOUBTFUL = Prepared(
    lambda pks: (
        Standing.objects.filter(animal__in=pks)
        .filter(Q(two=1) | Q(dispute__isnull=False) | Q(error__gt=0))
        .values_list("animal_id", "trait_id", "two", "word", "dispute_id", "error")
    ),
    as_stored=True,
)


def _has_at_most_one(rows: ReachedRows, group: LocusGroup, pk: int) -> bool:
    """Whether an animal's own look, or its source, says that it has not two copies."""
    (trait,) = group.traits
    look = rows.observations[pk].get(trait)
    if look is not None:
        return not any(one.seen for one in look.all())
    said = [one for one in rows.statements.get(pk, ()) if one.trait == trait]
    return (
        rows.animals[pk].is_founder
        and bool(said)
        and all(
            one.reliability == 1 and one.claim in (Claim.CARRIES, Claim.POSSIBLE) for one in said
        )
    )


class _Beside:
    """What looks beside a certain animal settle at a group."""

    def __init__(self, rows: ReachedRows, showing: _Showing, group: LocusGroup, pk: int) -> None:
        self.rows, self.showing, self.group, self.pk = rows, showing, group, pk
        (self.trait,) = group.traits

    def is_given(self) -> bool:
        """Whether a visual parent gave it a copy."""
        animal = self.rows.animals[self.pk]
        return self._has_certain_parents(self.pk) and any(
            self._shows(parent, (Word.VISUAL, Word.STATED)) for parent in self.rows.parents(animal)
        )

    def by_founder(self) -> bool:
        """Whether it bred a visual with a mate of whom no parents are recorded."""
        return any(mate is None or self.rows.animals[mate].is_founder for mate in self._mates())

    def mates(self) -> set[int]:
        """The mates with whom it bred a visual."""
        return {mate for mate in self._mates() if mate is not None}

    def _mates(self) -> Iterable[int | None]:
        for child in self.rows.children.get(self.pk, ()):
            if self._shows(child, (Word.VISUAL,)) and self._has_certain_parents(child):
                others = self.rows.parents(self.rows.animals[child]) - {self.pk}
                yield next(iter(others), None)

    def _shows(self, pk: int, words: Collection[str]) -> bool:
        """Whether an animal is certain to have two copies by its own look or its source."""
        return any((pk, self.trait, word) in self.showing for word in words)

    def _has_certain_parents(self, pk: int) -> bool:
        if self.rows.arisen.get(pk, {}).keys() & self.group.lines:
            return False
        clutch = self.rows.animals[pk].clutch
        return clutch is None or len(self.rows.clutches[clutch].sires) <= 1
