"""Which part of the book bears on which numbers: possible carriers, family by family.

Without a background frequency an allele enters the book only by a founder of whom something is
said or seen. So for each group of loci only those animals matter, and their descendants; their
other mates are normal for certain and cut the pedigree. What is left falls into families, and a
record can move the numbers of its own family alone. Animals of one purchase are of one family where
the doubted words on them stand or fall together (`statements`).
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.reading.statements import lots

# A family: the place of its group, and its root.
_Node = tuple[int, int]


@dataclass
class Families:
    """The possible carriers of one group of loci, as families.

    Attributes:
        group: the loci.
        root: possible carrier → a member that names its family.
        clutch_root: clutch that bears on them → the same.
    """

    group: LocusGroup
    root: dict[int, int]
    clutch_root: dict[int, int]

    def family(self, root: int) -> tuple[set[int], set[int]]:
        """Animals and clutches of one family."""
        return set(self._animals.get(root, ())), set(self._clutches.get(root, ()))

    @cached_property
    def _animals(self) -> dict[int, list[int]]:
        return _by_root(self.root)

    @cached_property
    def _clutches(self) -> dict[int, list[int]]:
        return _by_root(self.clutch_root)


def _by_root(root: dict[int, int]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    for pk, top in root.items():
        found[top].append(pk)
    return found


@dataclass
class Component:
    """A part of the book to be solved together: groups of loci and, for each, who matters there."""

    animals: dict[LocusGroup, set[int]]
    clutches: dict[LocusGroup, set[int]]

    @property
    def size(self) -> int:
        """About how much work it is to solve: everyone and every clutch at each group."""
        return sum(map(len, (*self.animals.values(), *self.clutches.values())))


def families(inheritance: Inheritance, rows: Rows, group: LocusGroup) -> Families:
    """Find the possible carriers of a group and their families."""
    carriers = _carriers(inheritance, rows, group)
    clutches = {
        clutch.pk for clutch in rows.clutches.values() if not clutch.parents.isdisjoint(carriers)
    } | _surprising(rows, group)
    began = _began(rows, group)
    clutches |= {own for pk in carriers - began if (own := rows.animals[pk].clutch) is not None}
    # An animal goes by its id, a clutch by its own below zero; so do the families they name.
    kin = genetics.Components[int]()
    for clutch in sorted(clutches):
        for parent in rows.clutches[clutch].parents & carriers:
            kin.join(parent, -clutch)
    for pk in sorted(carriers - began):
        one = rows.animals[pk]
        if one.clutch is not None:
            kin.join(pk, -one.clutch)
            continue
        for stated in rows.parents(one) & carriers:
            kin.join(pk, stated)
    for words in lots(rows, carriers & rows.statements.keys(), group.traits).values():
        # Words that came with one purchase hold together or not at all.
        first, *others = words
        for pk in others:
            kin.join(pk, first)
    if group.open:
        # Whether two lines are one gene is learnt from all families, and told to all.
        nodes = [*carriers, *(-pk for pk in clutches)]
        for node in nodes[1:]:
            kin.join(node, nodes[0])
    return Families(
        group, {pk: kin.head(pk) for pk in carriers}, {pk: kin.head(-pk) for pk in clutches}
    )


def has_background(inheritance: Inheritance, group: LocusGroup) -> bool:
    """Whether a gene of the group comes into the book by itself, with any founder."""
    return any(inheritance.lines[pk].background for pk in group.lines)


def _carriers(inheritance: Inheritance, rows: Rows, group: LocusGroup) -> set[int]:
    if has_background(inheritance, group):
        return set(rows.animals)
    found = {
        pk for pk, said in rows.statements.items() if any(one.trait in group.traits for one in said)
    }
    found |= {
        pk for pk, seen in rows.all_shown.items() if pk in rows.animals and seen & group.traits
    }
    found |= {
        pk for pk, lines in rows.all_tested.items() if pk in rows.animals and lines & group.lines
    }
    found |= _began(rows, group)
    return rows.with_descendants(found)


def _began(rows: Rows, group: LocusGroup) -> set[int]:
    """Animals with which a line of the group began: they have no parents there."""
    return {
        pk for pk, lines in rows.arisen.items() if pk in rows.animals and lines.keys() & group.lines
    }


def _surprising(rows: Rows, group: LocusGroup) -> set[int]:
    """Clutches in which something of the group was seen, whoever the parents are."""
    looks = rows.all_hatched_looks.items()
    return {clutch for clutch, seen in looks if clutch in rows.clutches and seen & group.traits}


def bearing(inheritance: Inheritance, touched: Touched) -> list[LocusGroup]:
    """The groups of loci that a change can be about."""
    traits = {trait for _, trait in touched.animals}
    if inheritance.species.pk in touched.species or None in traits:
        return list(inheritance.groups)
    return [group for group in inheritance.groups if group.traits & traits]


def touched_components(
    inheritance: Inheritance,
    rows: Rows,
    found: Callable[[LocusGroup], Families],
    touched: Touched,
) -> list[Component]:
    """The components that a change can move; families are asked for at the groups it can be about.

    Families of different groups are one component where a clutch with several candidates ties them:
    what is seen at one locus tells of the sire, and he of the other locus. A family in which a
    gene began is not tied: one of its animals has parents elsewhere that it has not there.
    """
    groups = bearing(inheritance, touched)
    chosen = _chosen(inheritance, rows, [found(group) for group in groups], touched)
    tops = {(groups[place], top) for place, top in chosen}
    tying = [one.pk for one in rows.clutches.values() if len(one.sires) > 1]
    if any((one, found(one).clutch_root.get(pk)) in tops for one in groups for pk in tying):
        groups = list(inheritance.groups)
        chosen = _chosen(inheritance, rows, [found(group) for group in groups], touched)
    return _joined(rows, [found(group) for group in groups], chosen)


def _chosen(
    inheritance: Inheritance, rows: Rows, every: list[Families], touched: Touched
) -> set[_Node]:
    """The families that a change is about."""
    chosen: set[_Node] = set()
    for place, one in enumerate(every):
        if inheritance.species.pk in touched.species:
            chosen |= {(place, top) for top in _roots(one)}
            continue
        for animal, trait in touched.animals:
            if trait is not None and trait not in one.group.traits:
                continue
            if animal in one.root:
                chosen.add((place, one.root[animal]))
            for clutch in rows.bred.get(animal, ()):
                if clutch in one.clutch_root:
                    chosen.add((place, one.clutch_root[clutch]))
            # It may be a possible carrier no more, and its young still are by their other parent.
            chosen |= {
                (place, one.root[child])
                for child in rows.children.get(animal, ())
                if child in one.root
            }
    return chosen


def whole(components: Iterable[Component]) -> Component:
    """Put components into one, to be asked about at once."""
    found = Component(defaultdict(set), defaultdict(set))
    for component in components:
        for group, members in component.animals.items():
            found.animals[group] |= members
            found.clutches[group] |= component.clutches.get(group, set())
    return found


def apart(rows: Rows, whole: Component) -> list[Component]:
    """Cut what was put together by its groups where a gene began; none if there is nothing.

    So an animal's figures are those of its standings, which are worked out group by group there.
    """
    lines = {line for group in whole.animals for line in group.lines}
    members = set().union(*whole.animals.values())
    if any(rows.arisen[pk].keys() & lines for pk in members & rows.arisen.keys()):
        return [
            Component({group: animals}, {group: whole.clutches[group]})
            for group, animals in whole.animals.items()
        ]
    return [whole] if whole.animals else []


def together(rows: Rows, components: Iterable[Component]) -> list[Component]:
    """Put components into one, but where a gene began a group each; none if there are none."""
    return apart(rows, whole(components))


def _roots(one: Families) -> set[int]:
    return set(one.root.values()) | set(one.clutch_root.values())


def _joined(rows: Rows, every: list[Families], chosen: set[_Node]) -> list[Component]:
    ties = [
        {
            (place, one.clutch_root[clutch.pk])
            for place, one in enumerate(every)
            if clutch.pk in one.clutch_root
        }
        for clutch in rows.clutches.values()
        if len(clutch.sires) > 1
    ]
    begun = {
        (place, one.root[pk]) for place, one in enumerate(every) for pk in _began(rows, one.group)
    }
    # A gene that begins, or did not begin after all, cuts or makes ties: both sides are solved.
    wide = _reached(_by_node(ties), chosen)
    strict = _by_node(tie - begun for tie in ties)
    components, done = [], set[_Node]()
    for start in sorted(wide):
        if start in done:
            continue
        together = _reached(strict, {start})
        done |= together
        component = Component(defaultdict(set), defaultdict(set))
        for place, top in together:
            animals, clutches = every[place].family(top)
            component.animals[every[place].group] |= animals
            component.clutches[every[place].group] |= clutches
        components.append(component)
    return components


def _by_node(ties: Iterable[set[_Node]]) -> Mapping[_Node, list[set[_Node]]]:
    found: dict[_Node, list[set[_Node]]] = defaultdict(list)
    for tie in ties:
        for node in tie:
            found[node].append(tie)
    return found


def _reached(ties: Mapping[_Node, list[set[_Node]]], starts: set[_Node]) -> set[_Node]:
    """The families that are tied to some, directly or by others."""
    found, waiting = set(starts), list(starts)
    while waiting:
        for tie in ties.get(waiting.pop(), ()):
            waiting += tie - found
            found |= tie
    return found
