"""Whether new records only add evidence, so that whoever is certain stays certain.

A record narrows what can be if it gives nobody genes or parents anew, and takes the place of no
earlier evidence. Of an animal that is new to the book anything does. Of an older one:

* a look that agrees with every sure look at it for the trait. One that does not may replace an
  earlier one, or be replaced;
* a trait seen on it, or a line found in it by a laboratory, where it has its genes from recorded
  parents, or where its source's word speaks of that trait already. Of another founder it would
  say that the gene is in the book by it;
* a source's word, where it has recorded parents: then they decide, and it counts for nothing.

What is not known to narrow is worked out with whole families (`inference`).
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from keeper import models as m

OfAnimal = m.Look | m.Observation | m.Statement | m.LabTest


def only_narrow(records: Collection[m.Record], *, fresh: set[int], clutches: set[int]) -> bool:
    """Return whether new records only narrow; `fresh` are new animals, `clutches` new clutches.

    The queries do not grow with the records.
    """
    of_older: list[OfAnimal] = []
    for record in records:
        if isinstance(record, m.Arising):
            return False
        if isinstance(record, m.CandidateSire) and record.clutch_id not in clutches:
            return False
        if isinstance(record, OfAnimal) and record.animal_id not in fresh:
            of_older.append(record)
    return not of_older or (_agree(of_older) and _bring_nothing(of_older))


def trait_of(record: OfAnimal) -> int | None:
    """Return the trait that a record of an animal is about; None for all of them."""
    if isinstance(record, m.Look):
        return None
    return record.line.trait_id if isinstance(record, m.LabTest) else record.trait_id


def bears_nothing(record: m.Record) -> bool:
    """Return whether a new record tells nothing: husbandry, or a look that could tell nothing."""
    if isinstance(record, m.HusbandryRecord):
        return True
    return isinstance(record, m.Observation) and record.seen == m.Seen.UNSURE


def _agree(records: Iterable[OfAnimal]) -> bool:
    """Whether no new look differs from an earlier one of its animal and trait."""
    whole = [one for one in records if isinstance(one, m.Look)]
    looks = [one for one in records if isinstance(one, m.Observation) and not bears_nothing(one)]
    if not (looks or whole):
        return True
    new: list[m.Look | m.Observation] = [*looks, *whole]
    known = _Known({one.animal_id for one in new}, new)
    return all(known.agrees(one) for one in looks) and all(known.bears_out(one) for one in whole)


class _Known:
    """What earlier looks at some animals saw; what no look of that age can tell is among it."""

    def __init__(self, animals: set[int], new: Collection[m.Look | m.Observation]) -> None:
        every = m.Observation._base_manager.filter(animal__in=animals).order_by()
        columns = ("pk", "animal_id", "trait_id", "seen", "look_id", "withdrawn_at")
        fresh = {one.pk for one in new if isinstance(one, m.Observation)}
        self._seen: dict[tuple[int, int], set[str]] = defaultdict(set)
        # Traits that each look names: of all others it says that they were not seen.
        self._named: dict[int, set[int]] = defaultdict(set)
        for pk, animal, trait, seen, look, gone in every.values_list(*columns):
            if look is not None:
                self._named[look].add(trait)
            if pk not in fresh and gone is None and seen != m.Seen.UNSURE:
                self._seen[animal, trait].add(seen)
        self._looks: dict[int, set[int]] = defaultdict(set)
        looks = m.Look.objects.live().filter(animal__in=animals).order_by()
        old = looks.exclude(pk__in=[one.pk for one in new if isinstance(one, m.Look)])
        for pk, animal in old.values_list("pk", "animal_id"):
            self._looks[animal].add(pk)

    def agrees(self, one: m.Observation) -> bool:
        """Whether no earlier look at the animal says otherwise."""
        if not self._seen[one.animal_id, one.trait_id] <= {str(one.seen)}:
            return False
        return one.seen == m.Seen.NO or all(
            one.trait_id in self._named[look] for look in self._looks[one.animal_id]
        )

    def bears_out(self, one: m.Look) -> bool:
        """Whether nothing was seen before of which a whole look says that it was not."""
        return all(
            m.Seen.YES not in seen or trait in self._named[one.pk]
            for (animal, trait), seen in self._seen.items()
            if animal == one.animal_id
        )


@dataclass(frozen=True)
class _Older:
    """What decides whether a record can bring genes in by an older animal."""

    has_parents: bool
    began: bool
    spoken: frozenset[int]


def _bring_nothing(records: Collection[OfAnimal]) -> bool:
    """Whether nobody has genes by these that he had not before."""
    telling = [one for one in records if _tells_of_genes(one)]
    if not telling:
        return True
    older = _older({one.animal_id for one in telling})
    base = dict(m.Trait.objects.exclude(base=None).order_by().values_list("pk", "base_id"))
    for one in telling:
        animal, trait = older[one.animal_id], trait_of(one)
        if isinstance(one, m.Statement):
            if not animal.has_parents or one.claim == m.Claim.RESULTS:
                return False
        elif animal.began or not (animal.has_parents or {trait, base.get(trait)} & animal.spoken):
            return False
    return True


def _tells_of_genes(record: OfAnimal) -> bool:
    """Whether a record says that something is there."""
    if isinstance(record, m.Look):
        return False
    if isinstance(record, m.Observation):
        return record.seen == m.Seen.YES
    return isinstance(record, m.Statement) or record.found != m.Found.NONE


def _older(pks: set[int]) -> dict[int, _Older]:
    """Read animals; a parent or a clutch that was withdrawn is one not recorded."""
    began = set(m.Arising.objects.live().filter(animal__in=pks).values_list("animal_id", flat=True))
    spoken: dict[int, set[int]] = defaultdict(set)
    said = m.Statement.objects.live().filter(animal__in=pks).order_by()
    for animal, trait in said.values_list("animal_id", "trait_id"):
        spoken[animal].add(trait)
    named = ("dam", "sire", "clutch")
    columns = [one for name in named for one in (f"{name}_id", f"{name}__withdrawn_at")]
    found = {}
    for pk, *values in m.Animal.objects.filter(pk__in=pks).values_list("pk", *columns):
        pairs = zip(values[::2], values[1::2], strict=True)
        parents = any(one is not None and gone is None for one, gone in pairs)
        found[pk] = _Older(parents, pk in began, frozenset(spoken[pk]))
    return found
