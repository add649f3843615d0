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

OfAnimal = m.Observation | m.Statement | m.LabTest


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


def trait_of(record: OfAnimal) -> int:
    """Return the trait that a record of an animal is about."""
    return record.line.trait_id if isinstance(record, m.LabTest) else record.trait_id


def bears_nothing(record: m.Record) -> bool:
    """Return whether a new record tells nothing: a look at which nothing could be told."""
    return isinstance(record, m.Observation) and record.seen == m.Seen.UNSURE


def _agree(records: Iterable[OfAnimal]) -> bool:
    """Whether no new look differs from an earlier one of its animal and trait."""
    looks = [one for one in records if isinstance(one, m.Observation) and not bears_nothing(one)]
    if not looks:
        return True
    others = m.Observation.objects.live().exclude(seen=m.Seen.UNSURE)
    others = others.filter(animal__in={one.animal_id for one in looks}).order_by()
    known: dict[tuple[int, int], set[str]] = defaultdict(set)
    own = {one.pk for one in looks}
    for pk, animal, trait, seen in others.values_list("pk", "animal_id", "trait_id", "seen"):
        if pk not in own:
            known[animal, trait].add(seen)
    return all(known[one.animal_id, one.trait_id] <= {str(one.seen)} for one in looks)


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
            if not animal.has_parents:
                return False
        elif animal.began or not (animal.has_parents or {trait, base.get(trait)} & animal.spoken):
            return False
    return True


def _tells_of_genes(record: OfAnimal) -> bool:
    """Whether a record says that something is there."""
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
