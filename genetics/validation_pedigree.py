"""Checks of who descends from whom: ids, parents, clutches, sexes by use, and cycles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from genetics.checks import (
    check_between,
    check_distribution,
    check_one,
    listed,
    refuse,
    refuse_unknown,
    shown,
)
from genetics.population import Animal, Clutch, Population, Sex

_SEXES = ("female", "male", "unknown")
_RECORDED = frozenset(_SEXES)
_MOST_NAMED = 20


@dataclass(frozen=True, slots=True)
class Pedigree:
    """Positions of animals and clutches by id, and the animals named as dams and as sires."""

    animals: dict[str, int]
    clutches: dict[str, int]
    dams: set[str]
    sires: set[str]

    def sex(self, animal: Animal) -> Sex:
        """Sex of an animal, as recorded or as its use tells."""
        if animal.id in self.dams:
            return "female"
        return "male" if animal.id in self.sires else animal.sex


def check_pedigree(population: Population) -> Pedigree:
    """Check ids, parents, couples, sexes and descent.

    Raises:
        MalformedCase: one of them contradicts the contract.
    """
    animals = _index([animal.id for animal in population.animals], "animals", "animal")
    clutches = _index([clutch.id for clutch in population.clutches], "clutches", "clutch")
    pedigree = Pedigree(animals, clutches, set(), set())
    _check_clutches(population, pedigree)
    in_order = _check_parents(population, pedigree)
    _check_sexes(population, pedigree)
    if not in_order:
        _check_descent(population, pedigree)
    return pedigree


def _index(ids: list[str], section: str, what: str) -> dict[str, int]:
    positions = dict(zip(ids, range(len(ids)), strict=True))
    if "" in positions:
        refuse(f"{section}[{positions['']}].id", 'an id is empty; expected a name such as "a"')
    if len(positions) == len(ids):
        return positions
    first: dict[str, int] = {}
    for position, name in enumerate(ids):
        earlier = first.setdefault(name, position)
        if earlier != position:
            refuse(
                f"{section}[{position}].id",
                f"{shown(name)} is already the id of {section}[{earlier}]; "
                f"expected a different id for each {what}",
            )
    return positions


def _check_clutches(population: Population, pedigree: Pedigree) -> None:
    for position, clutch in enumerate(population.clutches):
        place = f"clutches[{position}]"
        check_one(clutch.paternity, ("one", "each"), f"{place}.paternity")
        if not clutch.candidates:
            refuse(f"{place}.candidates", "no couple is listed; expected one or more")
        if len(clutch.candidates) > 1 and not clutch.stated_candidates:
            refuse(
                f"{place}.candidates",
                f"{len(clutch.candidates)} couples in a clutch without stated candidates; "
                "expected one",
            )
        for index, couple in enumerate(clutch.candidates):
            within = _couple_place(clutch, place, index)
            _check_parent(couple.dam, f"{within}.dam", pedigree, pedigree.dams)
            _check_parent(couple.sire, f"{within}.sire", pedigree, pedigree.sires)
            check_between(couple.p, f"{within}.p")
        check_distribution((couple.p for couple in clutch.candidates), f"{place}.candidates")


def _couple_place(clutch: Clutch, place: str, index: int) -> str:
    return f"{place}.candidates[{index}]" if clutch.stated_candidates else place


def _check_parent(name: str | None, place: str, pedigree: Pedigree, role: set[str]) -> None:
    if name is None:
        return
    if name not in pedigree.animals:
        refuse_unknown(place, "animal", name, pedigree.animals)
    role.add(name)


def _check_parents(population: Population, pedigree: Pedigree) -> bool:
    """Check each animal's parents; whether every parent is listed before its children, as in
    most books: then none descends from itself."""
    position_of, clutches = pedigree.animals.get, pedigree.clutches
    dams, sires = pedigree.dams, pedigree.sires
    latest = _latest_parents(population, pedigree)
    in_order = True
    for position, animal in enumerate(population.animals):
        dam, sire = animal.dam, animal.sire
        if animal.clutch is not None:
            _check_birth(animal, clutches, f"animals[{position}]")
            in_order = in_order and latest[animal.clutch] < position
            continue
        if dam is not None:
            above = position_of(dam)
            if above is None:
                refuse_unknown(f"animals[{position}].dam", "animal", dam, pedigree.animals)
            in_order = in_order and above < position
            dams.add(dam)
        if sire is not None:
            above = position_of(sire)
            if above is None:
                refuse_unknown(f"animals[{position}].sire", "animal", sire, pedigree.animals)
            in_order = in_order and above < position
            sires.add(sire)
    return in_order


def _latest_parents(population: Population, pedigree: Pedigree) -> dict[str, int]:
    """Position of the last listed parent of each clutch; -1 where none is recorded."""
    return {
        clutch.id: max(
            (
                pedigree.animals[parent]
                for couple in clutch.candidates
                for parent in (couple.dam, couple.sire)
                if parent is not None
            ),
            default=-1,
        )
        for clutch in population.clutches
    }


def _check_birth(animal: Animal, clutches: dict[str, int], place: str) -> None:
    if animal.clutch is not None and animal.clutch not in clutches:
        refuse_unknown(f"{place}.clutch", "clutch", animal.clutch, clutches)
    for role, parent in (("dam", animal.dam), ("sire", animal.sire)):
        if parent is not None:
            refuse(
                f"{place}.{role}",
                f"{shown(parent)} is not accepted beside clutch {shown(animal.clutch)}; "
                "expected the clutch or dam and sire, not both",
            )


def _check_sexes(population: Population, pedigree: Pedigree) -> None:
    dams, sires = pedigree.dams, pedigree.sires
    both = dams & sires
    if both:
        name = min(both, key=lambda each: pedigree.animals[each])
        dam_of, sire_of = _use(population, "dam", name), _use(population, "sire", name)
        refuse(sire_of, f"{shown(name)} is named as a dam at {dam_of}; expected a male")
    for position, animal in enumerate(population.animals):
        sex = animal.sex
        if sex == "unknown":
            continue
        if sex not in _RECORDED:
            check_one(sex, _SEXES, f"animals[{position}].sex")
        if animal.id in (sires if sex == "female" else dams):
            role, used = ("sire", "male") if sex == "female" else ("dam", "female")
            refuse(
                f"animals[{position}].sex",
                f"{shown(sex)} is not accepted, as {shown(animal.id)} is named as a {role} at "
                f'{_use(population, role, animal.id)}; expected {shown(used)} or "unknown"',
            )


def _use(population: Population, role: str, name: str) -> str:
    """Place of the first record that names an animal in that role."""
    for position, animal in enumerate(population.animals):
        if getattr(animal, role) == name:
            return f"animals[{position}].{role}"
    for position, clutch in enumerate(population.clutches):
        for index, couple in enumerate(clutch.candidates):
            if getattr(couple, role) == name:
                return f"{_couple_place(clutch, f'clutches[{position}]', index)}.{role}"
    raise LookupError(name)


def _check_descent(population: Population, pedigree: Pedigree) -> None:
    """Walk up from every animal and refuse the first that meets itself.

    Clutches are nodes of their own (numbered after the animals), so that many candidates times
    many hatchlings stay linear.
    """
    done = bytearray(len(population.animals) + len(population.clutches))
    for start in range(len(population.animals)):
        if done[start]:
            continue
        path = [start]
        on_path = {start: 0}
        waiting = [_above(start, population, pedigree)]
        while path:
            parent = next(waiting[-1], None)
            if parent is None:
                waiting.pop()
                done[path[-1]] = 1
                del on_path[path.pop()]
            elif parent in on_path:
                _refuse_cycle(path[on_path[parent] :], population)
            elif not done[parent]:
                on_path[parent] = len(path)
                path.append(parent)
                waiting.append(_above(parent, population, pedigree))


def _above(node: int, population: Population, pedigree: Pedigree) -> Iterator[int]:
    size = len(population.animals)
    if node >= size:
        for couple in population.clutches[node - size].candidates:
            for parent in (couple.dam, couple.sire):
                if parent is not None:
                    yield pedigree.animals[parent]
        return
    animal = population.animals[node]
    if animal.clutch is not None:
        yield size + pedigree.clutches[animal.clutch]
        return
    for parent in (animal.dam, animal.sire):
        if parent is not None:
            yield pedigree.animals[parent]


def _refuse_cycle(cycle: list[int], population: Population) -> None:
    size = len(population.animals)
    members = [node for node in cycle if node < size]
    turn = members.index(min(members))
    # The walk goes from child to parent; the record that closes the circle is the first listed.
    members = members[turn:] + members[:turn]
    first = population.animals[members[0]]
    above = population.animals[members[1 % len(members)]].id
    field = "clutch" if first.clutch is not None else "dam" if first.dam == above else "sire"
    names = listed((population.animals[node].id for node in members), _MOST_NAMED)
    refuse(
        f"animals[{members[0]}].{field}",
        f"{shown(first.id)} descends from itself, going up through {names}; "
        "expected parents that do not descend from their children",
    )
