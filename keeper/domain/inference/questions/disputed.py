"""Which groups of loci an open dispute leaves in question for some animals.

A dispute bears on the groups of what was seen, said or tested in its records, and there on those
who are related to the animals of these records. All others have the figures, and the notice of what
clashes, that they would have without it: their families hold none of the records.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence

from keeper import models as m
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.walking import kin

# The animal or clutch of a record, and the trait that it tells of.
_TOLD: dict[str, tuple[type[m.Record], str, str]] = {
    "observation": (m.Observation, "animal_id", "trait_id"),
    "statement": (m.Statement, "animal_id", "trait_id"),
    "labtest": (m.LabTest, "animal_id", "line__trait_id"),
    "arising": (m.Arising, "animal_id", "line__trait_id"),
    "look": (m.Look, "animal_id", "pk"),
    "hatchrow": (m.HatchRow, "clutch_id", "pk"),
}
# What tells of many traits at once.
_OF_MANY = {"look", "hatchrow"}
# A node of `kin` and a trait, or none of a record that tells of parents.
_Told = tuple[int, int | None]


def groups_in_dispute(
    inheritance: Inheritance, groups: Iterable[LocusGroup], animals: Collection[int]
) -> set[LocusGroup]:
    """Return those of the groups in which a dispute may bear on some of the animals."""
    disputes = m.Dispute.objects.filter(species=inheritance.species, closed=None)
    conflicts = list(disputes.values_list("conflict", flat=True))
    if not conflicts:
        return set()
    told = _told({(one["model"], one["pk"]) for conflict in conflicts for one in conflict})
    asked = list(groups)
    moved: list[set[LocusGroup]] = []
    nodes: list[set[int]] = []
    for conflict in conflicts:
        said = {one for record in conflict for one in told[record["model"], record["pk"]]}
        traits = {trait for _, trait in said if trait is not None}
        # Where nothing tells of a trait, or something of many, it may be any.
        any_ = not traits or any(record["model"] in _OF_MANY for record in conflict)
        here = {one for one in asked if any_ or one.traits & traits}
        if here:
            moved.append(here)
            nodes.append({node for node, _ in said})
    return set().union(*(moved[n] for n in _of_kin(nodes, animals)))


def _of_kin(nodes: Sequence[Collection[int]], animals: Collection[int]) -> Iterator[int]:
    """Places of those sets of nodes that may be kin of some of the animals."""
    if not nodes:
        return
    kin_of = kin.relatives([(n, node) for n, among in enumerate(nodes) for node in among])
    # Those without young are not met on the way, but their clutches are.
    own = m.Animal.objects.filter(pk__in=animals).values_list("clutch_id", flat=True)
    wanted = {*animals, *(-pk for pk in own if pk is not None)}
    for n, among in enumerate(nodes):
        if kin_of is None or not among or kin_of[n] & wanted:
            yield n


def _told(records: Iterable[tuple[str, int]]) -> dict[tuple[str, int], set[_Told]]:
    """Of whom each record tells, and of what; one that is gone tells of nobody."""
    by_kind: dict[str, list[int]] = defaultdict(list)
    for kind, pk in records:
        by_kind[kind].append(pk)
    found: dict[tuple[str, int], set[_Told]] = defaultdict(set)
    for kind, pks in by_kind.items():
        if kind in _TOLD:
            model, whose, trait = _TOLD[kind]
            rows = model._base_manager.filter(pk__in=pks)
            sign = -1 if whose == "clutch_id" else 1
            for pk, owner, about in rows.values_list("pk", whose, trait):
                found[kind, pk].add((sign * owner, about))
        else:
            sign = -1 if kind == "clutch" else 1
            for pk in pks:
                found[kind, pk].add((sign * pk, None))
    return found
