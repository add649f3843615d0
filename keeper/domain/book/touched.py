"""Which animals' numbers a record can move; `inference` finds how far the movement goes."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import singledispatch

from django.db.models import Q, QuerySet

from keeper import models as m
from keeper.domain.book.narrowing import OfAnimal, bears_nothing, only_narrow, trait_of


@dataclass
class Touched:
    """Where inference must begin.

    Attributes:
        animals: ids of animals, each with the trait it is about, or None for all.
        species: ids of species whose inheritance changed: all of their animals.
        only_new: whether everything that bears was made anew and only narrows what can be.
        fresh, clutches: then the ids of the new animals, and of the clutches that were added to.
        rows: the ids of the new rows of a hatch.
        looked: animals, new or not, with the traits that something new is recorded of; None at
            a whole look.
    """

    animals: set[tuple[int, int | None]] = field(default_factory=set)
    species: set[int] = field(default_factory=set)
    only_new: bool = False
    fresh: set[int] = field(default_factory=set)
    clutches: set[int] = field(default_factory=set)
    rows: set[int] = field(default_factory=set)
    looked: set[tuple[int, int | None]] = field(default_factory=set)

    def __bool__(self) -> bool:
        return bool(self.animals or self.species)

    def add(self, other: "Touched") -> None:
        """Take in another's."""
        self.animals |= other.animals
        self.species |= other.species


def _of(animals: Iterable[int | None], trait: int | None = None) -> Touched:
    return Touched(animals={(animal, trait) for animal in animals if animal is not None})


@singledispatch
def touched_by(record: m.Record) -> Touched:
    """Return what a record bears on, as it now stands in memory; most bear on nothing."""
    return Touched()


# Of these only the columns named bear on inheritance; of other records all do.
_BEARING = {
    m.Animal: {
        *("species_id", "sex", "dam_id", "sire_id", "clutch_id", "hatch_row_id"),
        # What can be told of an animal depends on its age.
        *("hatched_on", "hatched_year"),
        # What is said of an animal is weighed with what is said of those that came with it.
        *("source_id", "acquired_on"),
    },
    m.Clutch: {"species_id", "dam_id", "paternity", "hatched_on"},
    m.Contact: {"reliability"},
    m.LabTest: {"animal_id", "line_id", "found", "laboratory_id"},
    m.Laboratory: {"misses", "mistakes"},
    m.Species: {"sex_determination"},
    m.Locus: {"species_id", "chromosome", "recombination", "retained"},
    m.Line: {"trait_id", "locus_id", "background", "share"},
    m.Trait: {
        *("species_id", "shown", "base_id", "hides_all", "penetrance", "mistaken", "overlooked"),
        *("looked_for_since", "told_from", "told_until"),
    },
    m.Look: {"animal_id", "on"},
    m.NamedLook: {"species_id"},
    m.OpenPair: {"one_id", "other_id", "prior"},
    m.PairWord: {"one_id", "other_id", "one_gene", "weight"},
    m.Arising: {"animal_id", "line_id"},
}


def bears(before: m.Record, after: m.Record) -> bool:
    """Return whether what changed between two versions of a record can move a number."""
    columns = _BEARING.get(type(after))
    if columns is None:
        return True
    return any(getattr(before, one) != getattr(after, one) for one in columns | {"withdrawn_at"})


@touched_by.register
def _animal(record: m.Animal) -> Touched:
    touched = _of([record.pk, record.dam_id, record.sire_id])
    touched.animals |= _spoken_of_with(record, m.Statement.objects.live())
    if record.clutch is not None:
        touched.add(touched_by(record.clutch))
    if record.pk:
        # If it goes, its young and its mates have one relative less.
        for young in (record.stated_young_as_dam, record.stated_young_as_sire):
            for row in young.live().values_list("pk", "dam_id", "sire_id"):
                touched.add(_of(row))
        for clutch in m.Clutch.objects.live().filter(
            Q(dam=record.pk) | Q(candidates__sire=record.pk)
        ):
            touched.add(touched_by(clutch))
    return touched


def touched_by_new(records: Iterable[m.Record]) -> Touched:
    """Return what records bear on that were just made; the queries do not grow with them."""
    records = [record for record in records if not bears_nothing(record)]
    touched = Touched(only_new=True)
    clutches, made = touched.clutches, set[int]()
    for record in records:
        if isinstance(record, m.RowSighting):
            clutches.add(record.row.clutch_id)
        elif isinstance(record, m.HatchRow):
            clutches.add(record.clutch_id)
            touched.rows.add(record.pk)
        elif isinstance(record, m.Animal):
            # Nobody descends from it yet.
            touched.fresh.add(record.pk)
            touched.add(_of([record.pk, record.dam_id, record.sire_id]))
            if record.clutch_id is not None:
                clutches.add(record.clutch_id)
        elif isinstance(record, m.Clutch):
            # Eggs alone tell nothing of their parents; what hatched is a record of its own.
            made.add(record.pk)
    for record in records:
        if isinstance(record, OfAnimal):
            touched.looked.add((record.animal_id, trait_of(record)))
        elif isinstance(record, m.CandidateSire) and record.clutch_id in made:
            continue
        elif not isinstance(record, m.RowSighting | m.HatchRow | m.Animal | m.Clutch):
            touched.add(touched_by(record))
    touched.only_new = only_narrow(records, fresh=touched.fresh, clutches=made)
    touched.animals |= touched.looked | _parents_of(touched.looked, touched.fresh)
    if clutches:
        sires = m.CandidateSire.objects.live().filter(clutch__in=clutches)
        young = m.Animal.objects.live().filter(clutch__in=clutches)
        dams = m.Clutch.objects.filter(pk__in=clutches)
        touched.add(_of(dams.values_list("dam_id", flat=True)))
        touched.add(_of(sires.values_list("sire_id", flat=True)))
        touched.add(_of(young.values_list("pk", flat=True)))
    return touched


def _parents_of(
    looked: set[tuple[int, int | None]], fresh: set[int]
) -> set[tuple[int, int | None]]:
    """Parents of older animals that were looked at, with the trait: it is their young's look."""
    older = {animal for animal, _ in looked} - fresh
    if not older:
        return set()
    parents: dict[int, set[int | None]] = {}
    of_clutch: dict[int, list[int]] = {}
    rows = m.Animal.objects.filter(pk__in=older)
    columns = ("pk", "dam_id", "sire_id", "clutch_id", "clutch__dam_id")
    for pk, dam, sire, clutch, mother in rows.values_list(*columns):
        parents[pk] = {dam, sire, mother}
        if clutch is not None:
            of_clutch.setdefault(clutch, []).append(pk)
    sires = m.CandidateSire.objects.live().filter(clutch__in=of_clutch)
    for clutch, father in sires.values_list("clutch_id", "sire_id"):
        for pk in of_clutch[clutch]:
            parents[pk].add(father)
    return {
        (parent, trait)
        for pk, trait in looked
        for parent in parents.get(pk, ())
        if parent is not None
    }


@touched_by.register
def _observation(record: m.Observation) -> Touched:
    return _of([record.animal_id], record.trait_id)


@touched_by.register
def _look(record: m.Look) -> Touched:
    return _of([record.animal_id])


@touched_by.register
def _statement(record: m.Statement) -> Touched:
    touched = _of([record.animal_id], record.trait_id)
    of_source = m.Statement.objects.live().filter(source=record.source_id, trait=record.trait_id)
    touched.animals |= _spoken_of_with(record.animal, of_source)
    return touched


def _spoken_of_with(
    animal: m.Animal, statements: QuerySet[m.Statement]
) -> set[tuple[int, int | None]]:
    """Animals of one purchase with another, each with the trait of one of the statements on it.

    Doubted words on them hold together or not at all (`inference.reading.statements`).
    """
    if animal.source_id is None or animal.acquired_on is None:
        return set()
    bought = statements.filter(
        animal__source=animal.source_id, animal__acquired_on=animal.acquired_on
    )
    return set(bought.exclude(animal=animal.pk).values_list("animal_id", "trait_id"))


@touched_by.register
def _clutch(record: m.Clutch) -> Touched:
    young = list(record.young.live().values_list("pk", flat=True))
    if not young and not record.hatch_rows.live().exists():
        # Eggs alone tell nothing of their parents.
        return Touched()
    # With parents unrecorded the young alone tie the clutch to the book.
    touched = _of([record.dam_id, *young])
    touched.add(_of(record.candidates.live().values_list("sire_id", flat=True)))
    return touched


@touched_by.register
def _candidate(record: m.CandidateSire) -> Touched:
    touched = touched_by(record.clutch)
    if touched:
        touched.add(_of([record.sire_id]))
    return touched


@touched_by.register
def _hatch_row(record: m.HatchRow) -> Touched:
    clutch = record.clutch
    touched = _of([clutch.dam_id])
    touched.add(_of(clutch.candidates.live().values_list("sire_id", flat=True)))
    touched.add(_of(clutch.young.live().values_list("pk", flat=True)))
    return touched


@touched_by.register
def _row_sighting(record: m.RowSighting) -> Touched:
    return touched_by(record.row)


@touched_by.register
def _contact(record: m.Contact) -> Touched:
    said = record.statements.live().values_list("animal_id", "trait_id")
    reports = record.pair_words.live().exclude(digest="")
    return Touched(
        animals=set(said), species=set(reports.values_list("one__locus__species_id", flat=True))
    )


@touched_by.register
def _lab_test(record: m.LabTest) -> Touched:
    return _of([record.animal_id], record.line.trait_id)


@touched_by.register
def _laboratory(record: m.Laboratory) -> Touched:
    tested = record.results.live().values_list("animal_id", "line__trait_id")
    return Touched(animals=set(tested))


@touched_by.register
def _arising(record: m.Arising) -> Touched:
    return touched_by(record.animal)


@touched_by.register(m.Locus)
@touched_by.register(m.Trait)
@touched_by.register(m.NamedLook)
def _inheritance(record: m.Locus | m.Trait | m.NamedLook) -> Touched:
    return Touched(species={record.species_id})


@touched_by.register
def _species(record: m.Species) -> Touched:
    return Touched(species={record.pk})


@touched_by.register
def _line(record: m.Line) -> Touched:
    return Touched(species={record.locus.species_id})


@touched_by.register
def _interval(record: m.Interval) -> Touched:
    return Touched(species={record.left.species_id})


@touched_by.register
def _showing(record: m.Showing) -> Touched:
    return Touched(species={record.trait.species_id})


@touched_by.register
def _condition(record: m.Condition) -> Touched:
    return Touched(species={record.showing.trait.species_id})


@touched_by.register
def _look_part(record: m.LookPart) -> Touched:
    return Touched(species={record.look.species_id})


@touched_by.register
def _survival(record: m.Survival) -> Touched:
    return Touched(species={record.locus.species_id})


@touched_by.register(m.OpenPair)
@touched_by.register(m.PairWord)
def _pair(record: m.OpenPair | m.PairWord) -> Touched:
    return Touched(species={record.one.locus.species_id})
