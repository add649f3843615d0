"""Checks of who descends from whom: ids, parents, clutches, sexes by use, and cycles."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from genetics.checks import (
    check_between,
    check_distribution,
    check_one,
    listed,
    refuse,
    refuse_unknown,
    shown,
)
from genetics.columns import SEX_CODE, SEX_NAMES, Columns
from genetics.population import NO_SIRE, Animal, Clutch, Couple, OffspringQuestion, Population

_PATERNITIES = ("one", "each")
_MOST_NAMED = 20


def check_pedigree(population: Population) -> None:
    """Check ids, parents, couples, sexes and descent.

    Raises:
        MalformedCase: one of them contradicts the contract.
    """
    columns = population.columns
    _check_ids(columns.ids, columns.index, "animals", "animal")
    if NO_SIRE in columns.index:
        refuse(
            f"animals[{columns.index[NO_SIRE]}].id",
            f"{shown(NO_SIRE)} says that there was no sire; expected another id",
        )
    _check_ids(columns.clutch_ids, columns.clutch_index, "clutches", "clutch")
    _check_no_shared_id(columns)
    _check_clutches(population, columns)
    _check_parents(population, columns)
    _check_sexes(population, columns)
    if not columns.in_order:
        _check_descent(population, columns)


def _check_ids(ids: Sequence[str], index: Mapping[str, int], section: str, what: str) -> None:
    if "" in index:
        refuse(f"{section}[{index['']}].id", 'an id is empty; expected a name such as "a"')
    if len(index) == len(ids):
        return
    first: dict[str, int] = {}
    for position, name in enumerate(ids):
        earlier = first.setdefault(name, position)
        if earlier != position:
            refuse(
                f"{section}[{position}].id",
                f"{shown(name)} is already the id of {section}[{earlier}]; "
                f"expected a different id for each {what}",
            )


def _check_no_shared_id(columns: Columns) -> None:
    """Ids of animals and clutches are one name space, so that each names one record."""
    shared = columns.index.keys() & columns.clutch_index.keys()
    if shared:
        name = min(shared, key=columns.clutch_index.__getitem__)
        refuse(
            f"clutches[{columns.clutch_index[name]}].id",
            f"{shown(name)} is already the id of animals[{columns.index[name]}]; "
            "expected an id that no animal has",
        )


def _check_clutches(population: Population, columns: Columns) -> None:
    known = columns.couples_known and set(columns.paternity) <= set(_PATERNITIES)
    for position, clutch in enumerate(population.clutches):
        if known and _one_certain(clutch.candidates):
            continue
        place = f"clutches[{position}]"
        check_one(clutch.paternity, _PATERNITIES, f"{place}.paternity")
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
            _check_animal(couple.dam, f"{within}.dam", columns)
            _check_sire(couple.sire, f"{within}.sire", columns)
            check_retained(couple, population, within)
            check_between(couple.p, f"{within}.p")
        check_distribution((couple.p for couple in clutch.candidates), f"{place}.candidates")


def _one_certain(candidates: Sequence[Couple]) -> bool:
    """Whether there is one couple, exactly certain, as in most clutches."""
    if len(candidates) != 1 or candidates[0].sire == NO_SIRE or candidates[0].retained != 0:
        return False
    p = candidates[0].p
    return (type(p) is int or type(p) is Fraction) and p == 1


def _couple_place(clutch: Clutch, place: str, index: int) -> str:
    return f"{place}.candidates[{index}]" if clutch.stated_candidates else place


def _check_sire(name: str | None, place: str, columns: Columns) -> None:
    if name != NO_SIRE:
        _check_animal(name, place, columns)


def check_retained(
    record: Animal | Couple | OffspringQuestion, population: Population, place: str
) -> None:
    """Check what young of a dam alone retain.

    Raises:
        MalformedCase: there is a sire, a chance is none, or loci that are one piece, or may be one
            locus, retain differently.
    """
    retained, place = record.retained, f"{place}.retained"
    if record.sire != NO_SIRE:
        if retained != 0:
            sire = shown(record.sire)
            refuse(
                place, f"the sire is {sire}; expected retained only with the sire {shown(NO_SIRE)}"
            )
        return
    if not isinstance(retained, tuple):
        check_between(retained, place)
        return
    known, chances = population.locus_index, dict(retained)
    for locus, chance in chances.items():
        if locus not in known:
            refuse_unknown(f"{place}.{locus}", "locus", locus, known)
        check_between(chance, f"{place}.{locus}")
    for one, other in _pieces(population):
        if chances.get(one, 0) != chances.get(other, 0):
            refuse(
                f"{place}.{one if one in chances else other}",
                f"{shown(one)} and {shown(other)} never recombine or may be one locus; "
                "expected the same chance for both",
            )


def _pieces(population: Population) -> Iterator[tuple[str, str]]:
    """Pairs of loci that are retained together or may be one."""
    for group in population.linkage:
        for pair, interval in zip(pairwise(group.loci), group.recombination, strict=True):
            if interval.female == 0:
                yield pair
    for entry in population.same_locus:
        yield entry.loci


def check_begins(begins: Sequence[str], population: Population, place: str) -> None:
    """Check that what begins with an animal are whole pieces: loci that can be told apart.

    Raises:
        MalformedCase: there is no such locus, or one that belongs with another begins alone.
    """
    for locus in begins:
        if locus not in population.locus_index:
            refuse_unknown(place, "locus", locus, population.locus_index)
    sexed = [one.id for one in population.loci if one.chromosome != "autosome"]
    pieces = [*(group.loci for group in population.linkage), sexed]
    pieces += [one.loci for one in population.same_locus]
    for piece in pieces:
        left = [locus for locus in piece if locus not in begins]
        if left and len(left) < len(piece):
            refuse(
                place,
                f"{listed(left)} of {listed(piece)} is missing; expected all or none of loci that "
                "are linked, that may be one locus or that lie on the sex chromosomes",
            )


def _check_animal(name: str | None, place: str, columns: Columns) -> None:
    if name is not None and name not in columns.index:
        refuse_unknown(place, "animal", name, columns.index)


def _check_parents(population: Population, columns: Columns) -> None:
    plain = not columns.alone and columns.retained.count(0) == len(columns.ids)
    if plain and columns.parents_known and all(columns.clutch[i] < 0 for i in columns.own):
        return
    for position, animal in enumerate(population.animals):
        place = f"animals[{position}]"
        if animal.clutch is not None:
            _check_birth(animal, columns.clutch_index, place)
        else:
            _check_animal(animal.dam, f"{place}.dam", columns)
            _check_sire(animal.sire, f"{place}.sire", columns)
        check_retained(animal, population, place)


def _check_birth(animal: Animal, clutches: Mapping[str, int], place: str) -> None:
    if animal.clutch is not None and animal.clutch not in clutches:
        refuse_unknown(f"{place}.clutch", "clutch", animal.clutch, clutches)
    for role, parent in (("dam", animal.dam), ("sire", animal.sire)):
        if parent is not None:
            refuse(
                f"{place}.{role}",
                f"{shown(parent)} is not accepted beside clutch {shown(animal.clutch)}; "
                "expected the clutch or dam and sire, not both",
            )


def _check_sexes(population: Population, columns: Columns) -> None:
    dams, sires = columns.dams, columns.sires
    both = dams & sires
    if both:
        name = columns.ids[min(both)]
        dam_of, sire_of = _use(population, "dam", name), _use(population, "sire", name)
        refuse(sire_of, f"{shown(name)} is named as a dam at {dam_of}; expected a male")
    recorded = columns.recorded_sex
    fit = all(recorded[i] != "male" for i in dams) and all(recorded[i] != "female" for i in sires)
    if fit and set(recorded) <= SEX_CODE.keys():
        return
    for position, animal in enumerate(population.animals):
        check_one(animal.sex, SEX_NAMES, f"animals[{position}].sex")
        if animal.sex != "unknown" and position in (sires if animal.sex == "female" else dams):
            role, used = ("sire", "male") if animal.sex == "female" else ("dam", "female")
            refuse(
                f"animals[{position}].sex",
                f"{shown(animal.sex)} is not accepted, as {shown(animal.id)} is named as a {role} "
                f'at {_use(population, role, animal.id)}; expected {shown(used)} or "unknown"',
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


def _check_descent(population: Population, columns: Columns) -> None:
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
        waiting = [_above(start, population, columns)]
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
                waiting.append(_above(parent, population, columns))


def _above(node: int, population: Population, columns: Columns) -> Iterator[int]:
    size = len(population.animals)
    if node >= size:
        for couple in population.clutches[node - size].candidates:
            for parent in (couple.dam, couple.sire):
                if parent is not None and parent != NO_SIRE:
                    yield columns.index[parent]
        return
    animal = population.animals[node]
    if animal.clutch is not None:
        yield size + columns.clutch_index[animal.clutch]
        return
    for parent in (animal.dam, animal.sire):
        if parent is not None and parent != NO_SIRE:
            yield columns.index[parent]


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
