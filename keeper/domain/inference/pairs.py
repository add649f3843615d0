"""What a pair gives: looks, what the young carry, what would mix, hide or harm."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import product
from typing import Any

import genetics
from keeper.domain.inference.asking import STRANGER, YOUNG, Asked, around
from keeper.domain.inference.copies import figures
from keeper.domain.inference.engine_book import EngineBook
from keeper.domain.inference.family import kinship_of
from keeper.domain.inference.inheritance import Inheritance
from keeper.domain.inference.results import Copies, Look, Mixing, Pairing
from keeper.domain.inference.rows import AnimalRow
from keeper.domain.inference.survival import expected_loss
from keeper.models import Animal, Clutch

_YOUNG_PK = -1


def pairing(dam: Animal, sire: Animal | None, eggs: Sequence[int]) -> Pairing:
    """What the two give; without a sire, what the dam gives with a normal male."""
    asked = around(dam.species, [dam] if sire is None else [dam, sire])
    if not asked.of.inheritance.groups:
        return Pairing(
            looks=(Look((), 1.0, dict.fromkeys(eggs, 1.0)),), scored=(), young=(), mixing=(),
            lost=0.0, harmful={}, masking={}, kinship=kinship_of(dam, sire),
        )  # fmt: skip
    mother, father = asked.code(dam), STRANGER if sire is None else asked.code(sire)
    strangers = [genetics.Animal(id=STRANGER, sex="male")] if sire is None else []
    asked = asked.with_records(
        animals=[*strangers, genetics.Animal(id=YOUNG, dam=mother, sire=father)]
    )
    return _answer(asked, mother, father, eggs, kinship_of(dam, sire))


def clutch_looks(clutch: Clutch, eggs: Sequence[int]) -> Pairing:
    """The same over all candidate sires of a clutch, each by its share."""
    candidates = list(clutch.candidates.live().select_related("sire"))
    if clutch.dam is None:
        raise ValueError("a clutch without a recorded dam gives nothing to look up")
    whole = sum(float(one.share) for one in candidates)
    found = [
        (float(one.share) / whole, pairing(clutch.dam, one.sire, eggs)) for one in candidates
    ] or [(1.0, pairing(clutch.dam, None, eggs))]
    return found[0][1] if len(found) == 1 else _mixed(found)


def _answer(asked: Asked, dam: str, sire: str, eggs: Sequence[int], kinship: float) -> Pairing:
    from genetics.couple import couple_query

    inheritance = asked.of.inheritance
    question = genetics.OffspringQuestion(dam=dam, sire=sire)
    queries = [couple_query(asked.book.population, question), *_mixing_queries(inheritance)]
    solved = asked.solve(queries)
    by_name = {trait.name: pk for pk, trait in inheritance.traits.items()}
    looks = _looks(solved, question, by_name, eggs)
    scored = tuple(pk for _, pk in sorted((n, pk) for n, pk in by_name.items()
                   if any(pk in look.traits for look in looks)))  # fmt: skip
    error = 0.0
    if not solved.exact:
        error = max(solved.error(who, locus.id) for who in (dam, sire)
                    for locus in asked.book.population.loci)  # fmt: skip
    return Pairing(
        looks=looks,
        scored=scored,
        young=tuple(_young(asked, solved)),
        mixing=tuple(_mixing(inheritance, solved, dam, sire)),
        lost=expected_loss(inheritance, solved, dam, sire),
        harmful=_harmful(inheritance, looks),
        masking=_masking(inheritance, scored),
        kinship=kinship,
        exact=solved.exact,
        error=error,
        conflict=asked.conflict,
    )


def _looks(
    solved: Any, question: Any, by_name: dict[str, int], eggs: Sequence[int]
) -> tuple[Look, ...]:
    """Looks with their chances; kinds of parents are averaged over, not their chances."""
    from genetics.clutch_size import at_least_one
    from genetics.couple import kinds

    chances: dict[tuple[str, ...], list[tuple[float, float]]] = defaultdict(list)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        for weight, by_look, _ in kinds(solved, world, question):
            for look, p in by_look.items():
                if p > 0:
                    chances[look].append((share * weight, min(p, 1.0)))
    found = []
    for look, rows in chances.items():
        missing = max(0.0, 1.0 - sum(weight for weight, _ in rows))
        every = [*rows, (missing, 0.0)] if missing > 0 else rows
        found.append(
            Look(
                traits=tuple(by_name[name] for name in sorted(look)),
                chance=sum(weight * p for weight, p in rows),
                at_least_one={n: float(at_least_one(_whole(every), n)) for n in eggs},
            )
        )
    return tuple(sorted(found, key=lambda one: (-round(one.chance, 12), one.traits)))


def _whole(rows: list[tuple[float, float]]) -> list[tuple[float, float]]:
    total = sum(weight for weight, _ in rows)
    return [(weight / total, p) for weight, p in rows]


def _young(asked: Asked, solved: Any) -> Iterable[Copies]:
    rows = asked.of.rows
    rows.animals[_YOUNG_PK] = AnimalRow(_YOUNG_PK, YOUNG, "unknown", None, None, None, None)
    names = {locus.id for locus in solved.population.loci}
    groups = {
        group: {_YOUNG_PK}
        for group in asked.of.inheritance.groups
        if {asked.of.inheritance.loci[pk].name for pk in group.loci} <= names
    }
    found = figures(asked.of.inheritance, rows, EngineBook(solved.population, groups), solved)
    for (_, trait, line), one in sorted(found.items(), key=lambda row: (row[0][1], row[0][2] or 0)):
        yield Copies(trait, line, one.two, one.one, one.none)


def _apart(inheritance: Inheritance) -> list[tuple[Any, Any]]:
    """Pairs of lines of one look that sit at two loci."""
    lines = sorted(inheritance.lines.values(), key=lambda line: line.pk)
    return [
        (a, b)
        for a, b in product(lines, repeat=2)
        if a.pk < b.pk and a.trait_id == b.trait_id and a.locus_id != b.locus_id
    ]


def _mixing_queries(inheritance: Inheritance) -> list[tuple[tuple[str, str], ...]]:
    return [
        tuple((YOUNG, inheritance.loci[line.locus_id].name) for line in pair)
        for pair in _apart(inheritance)
    ]


def _mixing(inheritance: Inheritance, solved: Any, dam: str, sire: str) -> Iterable[Mixing]:
    from genetics.couple import joint

    open_pairs = {(pair.one_id, pair.other_id) for pair in inheritance.open_pairs}
    for a, b in _apart(inheritance):
        both = joint(
            solved,
            YOUNG,
            {
                inheritance.loci[line.locus_id].name: _bearing(inheritance, solved, line)
                for line in (a, b)
            },
        )
        if both <= 0:
            continue
        from_dam = {line.pk: _carries(inheritance, solved, dam, line) for line in (a, b)}
        from_sire = {line.pk: _carries(inheritance, solved, sire, line) for line in (a, b)}
        straight = from_dam[a.pk] * from_sire[b.pk] >= from_dam[b.pk] * from_sire[a.pk]
        mother, father = (a, b) if straight else (b, a)
        is_open = (a.pk, b.pk) in open_pairs or (b.pk, a.pk) in open_pairs
        yield Mixing(a.trait_id, mother.pk, father.pk, is_open, both)


def _bearing(inheritance: Inheritance, solved: Any, line: Any) -> list[str]:
    keys = solved.posterior_table(inheritance.loci[line.locus_id].name)[1]
    return [key for key in keys if line.code in key.replace("|", "/").split("/")]


def _carries(inheritance: Inheritance, solved: Any, code: str, line: Any) -> float:
    chances = solved.posterior(code, inheritance.loci[line.locus_id].name)
    return float(
        sum(p for key, p in chances.items() if line.code in key.replace("|", "/").split("/"))
    )


def _harmful(inheritance: Inheritance, looks: Iterable[Look]) -> dict[int, float]:
    found: dict[int, float] = defaultdict(float)
    for look in looks:
        for trait in look.traits:
            if inheritance.traits[trait].harm:
                found[trait] += look.chance
    return dict(found)


def _masking(inheritance: Inheritance, scored: Sequence[int]) -> dict[int, tuple[int, ...]]:
    found = {}
    for pk in scored:
        trait = inheritance.traits[pk]
        hidden = set(scored) - {pk} if trait.hides_all else inheritance.hides.get(pk, frozenset())
        if here := tuple(other for other in scored if other in hidden):
            found[pk] = here
    return found


def _mixed(found: list[tuple[float, Pairing]]) -> Pairing:
    """Average over candidate sires, one for the whole clutch."""
    looks: dict[tuple[int, ...], float] = defaultdict(float)
    least: dict[tuple[int, ...], dict[int, float]] = defaultdict(lambda: defaultdict(float))
    young: dict[tuple[int, int | None], list[float]] = defaultdict(lambda: [0.0, 0.0])
    harmful: dict[int, float] = defaultdict(float)
    for share, one in found:
        for look in one.looks:
            looks[look.traits] += share * look.chance
            for n, p in look.at_least_one.items():
                least[look.traits][n] += share * p
        for copies in one.young:
            young[copies.trait, copies.line][0] += share * copies.two
            young[copies.trait, copies.line][1] += share * copies.one
        for trait, p in one.harmful.items():
            harmful[trait] += share * p
    first = found[0][1]
    masking: dict[int, tuple[int, ...]] = {}
    for _, one in found:
        for trait, hidden in one.masking.items():
            masking[trait] = tuple(dict.fromkeys((*masking.get(trait, ()), *hidden)))
    mixing = {(x.trait, x.dam_line, x.sire_line): (x, 0.0) for _, one in found for x in one.mixing}
    for share, one in found:
        for x in one.mixing:
            key = (x.trait, x.dam_line, x.sire_line)
            mixing[key] = (x, mixing[key][1] + share * x.chance)
    return replace(
        first,
        looks=tuple(
            Look(traits, p, dict(least[traits]))
            for traits, p in sorted(looks.items(), key=lambda row: (-round(row[1], 12), row[0]))
        ),
        scored=tuple(dict.fromkeys(pk for _, one in found for pk in one.scored)),
        young=tuple(
            Copies(trait, line, two, single, max(0.0, 1.0 - two - single))
            for (trait, line), (two, single) in young.items()
        ),
        mixing=tuple(replace(x, chance=p) for x, p in mixing.values()),
        lost=sum(share * one.lost for share, one in found),
        harmful=dict(harmful),
        masking=masking,
        kinship=sum(share * one.kinship for share, one in found),
        exact=all(one.exact for _, one in found),
        error=max(one.error for _, one in found),
        conflict=tuple(dict.fromkeys(text for _, one in found for text in one.conflict)),
    )
