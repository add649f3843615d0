"""What a pair gives: looks, what the young carry, what would mix, hide or harm."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import prod

import genetics
from keeper.domain.inference.questions.asking import (
    STRANGER,
    YOUNG,
    Asked,
    Couple,
    Subproblem,
    Unanswerable,
    around,
)
from keeper.domain.inference.questions.family import kinship_of
from keeper.domain.inference.questions.kinds import (
    BySex,
    Kinds,
    apart,
    by_sex_of,
    kinds_of,
    looks_of,
    sexed_of,
)
from keeper.domain.inference.questions.survival import expected_loss, loss_queries
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.inheritance import Inheritance, codes_of
from keeper.domain.inference.reading.rows import AnimalRow
from keeper.domain.inference.results import Copies, Look, Mixing, Pairing
from keeper.domain.inference.standings.copies import figures, unsure
from keeper.models import Animal, Clutch, Line


def pairing(dam: Animal, sire: Animal | None, eggs: Sequence[int]) -> Pairing:
    """What the two give; without a sire, what the dam gives with a normal male."""
    return _pairing(around(dam.species, [dam] if sire is None else [dam, sire]), dam, sire, eggs)


def _pairing(asked: Asked, dam: Animal, sire: Animal | None, eggs: Sequence[int]) -> Pairing:
    given = [_give(one, dam, sire) for one in asked.subproblems]
    return put_together(asked, given, kinship_of(asked.of.rows, dam, sire), eggs)


def put_together(
    asked: Asked, given: Sequence["Given"], kinship: float, eggs: Sequence[int]
) -> Pairing:
    """What a pair gives over all subproblems, of what it gives in each.

    Raises:
        Unanswerable: the couple may be too many kinds.
    """
    inheritance = asked.of.inheritance
    by_sex = [one.by_sex for one in given]
    looks = looks_of(inheritance, [one.kinds for one in given], eggs, by_sex)
    young = [copies for one in given for copies in one.young]
    seen = {pk for look in looks for pk in look.traits}
    scored = tuple(sorted(seen, key=lambda pk: inheritance.traits[pk].name))
    return Pairing(
        looks=looks,
        scored=scored,
        young=tuple(sorted(young, key=lambda one: (one.trait, one.line or 0))),
        mixing=tuple(mix for one in given for mix in one.mixing),
        lost=1.0 - prod(1.0 - one.lost for one in given),
        harmful=_harmful(inheritance, looks),
        masking=_masking(inheritance, scored),
        kinship=kinship,
        exact=all(one.error == 0 for one in given),
        error=max((one.error for one in given), default=0.0),
        conflict=asked.conflict,
        sons=next((one.born["male"] for one in by_sex if one is not None), 0.5),
    )


def clutch_looks(clutch: Clutch, eggs: Sequence[int]) -> Pairing:
    """The same over all candidate sires of a clutch, each by its share."""
    candidates = list(clutch.candidates.live().select_related("sire"))
    if clutch.dam is None:
        raise ValueError("a clutch without a recorded dam gives nothing to look up")
    # None stands for a male not recorded; the dam herself, for none at all.
    sires = [clutch.dam if one.alone else one.sire for one in candidates] or [None]
    asked = around(clutch.dam.species, [clutch.dam, *(one for one in sires if one is not None)])
    shares = [float(one.share) for one in candidates] or [1.0]
    whole = sum(shares)
    found = [
        (share / whole, _pairing(asked, clutch.dam, sire, eggs))
        for share, sire in zip(shares, sires, strict=True)
    ]
    return found[0][1] if len(found) == 1 else _mixed(found)


@dataclass
class Given:
    """What a pair gives at the loci of one subproblem."""

    kinds: Kinds
    young: list[Copies]
    mixing: list[Mixing]
    lost: float
    error: float
    by_sex: BySex | None


def _give(one: Subproblem, dam: Animal, sire: Animal | None) -> Given:
    mother, father = one.code(dam), STRANGER if sire is None else one.code(sire)
    if sire == dam:
        return _give_alone(one, mother)
    strangers = [genetics.Animal(id=STRANGER, sex="male")] if sire is None else []
    return _solved_for(one.with_records(animals=strangers), [(mother, father)])[0]


def give_each(one: Subproblem, couples: Sequence[Couple]) -> list[Given | None]:
    """What each couple gives at the loci of one subproblem, solved once for all of them.

    Without what the young carry, which nobody asks of many. Where all at once are more than can be
    worked out exactly it is solved for one after the other. None: it is too large for that couple.
    """
    try:
        return list(_solved_for(one, couples, exact_only=True, with_young=False))
    except (Unanswerable, genetics.BeyondExact):
        return [_alone_or_none(one, couple) for couple in couples]


def _alone_or_none(one: Subproblem, couple: Couple) -> Given | None:
    try:
        return _solved_for(one, [couple], with_young=False)[0]
    except (Unanswerable, genetics.BeyondExact):
        return None


def _solved_for(
    one: Subproblem,
    couples: Sequence[Couple],
    *,
    exact_only: bool = False,
    with_young: bool = True,
) -> list[Given]:
    """Solve a subproblem with one hatchling of each couple in it."""
    inheritance = one.of.inheritance
    young = [f"{YOUNG} {number}" for number in range(len(couples))]
    questions = [genetics.OffspringQuestion(dam=dam, sire=sire) for dam, sire in couples]
    one = one.with_young(dict(zip(young, couples, strict=True)))
    apart = [pair for pair in _apart(inheritance) if pair[0].locus_id in one.loci]
    places = [tuple(inheritance.loci[line.locus_id].name for line in pair) for pair in apart]
    queries = [genetics.couple_query(one.book.population, question) for question in questions]
    queries += [tuple((name, place) for place in pair) for name in young for pair in places]
    for dam, sire in couples:
        queries += loss_queries(inheritance, one.loci, dam, sire)
    solved = one.solve(queries, exact_only=exact_only)
    copies = _young(one, solved, young) if with_young else {}
    mixes = _Mixes(inheritance, solved, apart)
    sexed = [sexed_of(solved, question) for question in questions]
    return [
        Given(
            kinds=kinds_of(inheritance, kinds),
            young=copies.get(name, []),
            mixing=list(mixes.of(name, dam, sire)),
            lost=expected_loss(inheritance, solved, one.loci, dam, sire),
            error=_error(solved, (dam, sire)),
            by_sex=by_sex_of(inheritance, kinds) if one.decides_sex else None,
        )
        for name, (dam, sire), kinds in zip(young, couples, sexed, strict=True)
    ]


def _error(solved: "genetics.Solved", parents: Iterable[str]) -> float:
    if solved.exact:
        return 0.0
    loci = [locus.id for locus in solved.population.loci]
    return max(solved.error(who, locus) for who in parents for locus in loci)


def _give_alone(one: Subproblem, dam: str) -> Given:
    """What a dam gives without a male: two copies of one of her alleles at each locus."""
    inheritance = one.of.inheritance
    stays = inheritance.retained(one.loci) or 0
    young = genetics.Animal(id=YOUNG, dam=dam, sire=genetics.NO_SIRE, retained=stays)
    one = one.with_records(animals=[young])
    question = genetics.OffspringQuestion(dam=dam, sire=genetics.NO_SIRE, retained=stays)
    solved = one.solve([genetics.couple_query(one.book.population, question)])
    sexed = sexed_of(solved, question)
    return Given(
        kinds=kinds_of(inheritance, sexed),
        young=_young(one, solved, [YOUNG])[YOUNG],
        mixing=[],
        lost=0.0,
        error=_error(solved, [dam]),
        by_sex=by_sex_of(inheritance, sexed) if one.decides_sex else None,
    )


def _young(
    one: Subproblem, solved: "genetics.Solved", names: Sequence[str]
) -> dict[str, list[Copies]]:
    """By name what each hatchling carries."""
    rows = one.of.rows
    ids = {-number: name for number, name in enumerate(names, 1)}
    for pk, name in ids.items():
        rows.animals[pk] = AnimalRow(pk, name, "unknown", None, None, None, None)
    groups = {group: set(ids) for group in one.book.groups}
    found = figures(one.of.inheritance, rows, EngineBook(solved.population, groups), solved)
    copies: dict[str, list[Copies]] = {name: [] for name in names}
    for pk, trait, line in sorted(found, key=lambda whose: (whose[1], whose[2] or 0)):
        figure = found[pk, trait, line]
        copies[ids[pk]].append(Copies(trait, line, figure.two, figure.one, figure.none))
    return copies


def _apart(inheritance: Inheritance) -> list[tuple[Line, Line]]:
    """Pairs of lines of one look that sit at two loci."""
    lines = sorted(inheritance.lines.values(), key=lambda line: line.pk)
    return [
        (a, b)
        for a, b in product(lines, repeat=2)
        if a.pk < b.pk and a.trait_id == b.trait_id and a.locus_id != b.locus_id
    ]


class _Mixes:
    """What of some pairs of lines at two loci would come together in young."""

    def __init__(
        self,
        inheritance: Inheritance,
        solved: "genetics.Solved",
        apart: Sequence[tuple[Line, Line]],
    ) -> None:
        self.inheritance, self.solved, self.apart = inheritance, solved, apart
        self.open = {frozenset({one.one_id, one.other_id}) for one in inheritance.open_pairs}
        self.keys = {
            line: [key for key in self._every_key(line) if line.code in codes_of(key)]
            for pair in apart
            for line in pair
        }

    def of(self, young: str, dam: str, sire: str) -> Iterable[Mixing]:
        """What would mix in a hatchling of two parents."""
        for a, b in self.apart:
            both = genetics.joint(
                self.solved, young, {self._place(line): self.keys[line] for line in (a, b)}
            )
            if both <= 0:
                continue
            straight = self._carries(dam, a) * self._carries(sire, b) >= self._carries(
                dam, b
            ) * self._carries(sire, a)
            mother, father = (a, b) if straight else (b, a)
            yield Mixing(
                a.trait_id, mother.pk, father.pk, frozenset({a.pk, b.pk}) in self.open, both
            )

    def _place(self, line: Line) -> str:
        return self.inheritance.loci[line.locus_id].name

    def _every_key(self, line: Line) -> tuple[str, ...]:
        return self.solved.posterior_table(self._place(line))[1]

    def _carries(self, code: str, line: Line) -> float:
        chances = self.solved.posterior(code, self._place(line))
        return float(sum(p for key, p in chances.items() if line.code in codes_of(key)))


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


def _sure(found: list[tuple[float, Pairing]], traits: tuple[int, ...]) -> bool:
    """Whether every candidate gives nothing but this look."""
    return all([look.traits for look in one.looks] == [traits] for _, one in found)


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
    # What is certain with one candidate and not with another is not certain.
    looks = {traits: p if _sure(found, traits) else unsure(p) for traits, p in looks.items()}
    for traits, by_number in least.items():
        if not _sure(found, traits):
            least[traits] = {n: unsure(p) for n, p in by_number.items()}
    by_sex = _mixed_by_sex(found)
    first = found[0][1]
    masking: dict[int, tuple[int, ...]] = {}
    for _, one in found:
        for trait, hidden in one.masking.items():
            masking[trait] = tuple(dict.fromkeys((*masking.get(trait, ()), *hidden)))
    return replace(
        first,
        looks=tuple(
            Look(traits, p, dict(least[traits]), *by_sex[traits])
            for traits, p in sorted(looks.items(), key=lambda row: (-round(row[1], 12), row[0]))
        ),
        scored=tuple(dict.fromkeys(pk for _, one in found for pk in one.scored)),
        young=tuple(
            Copies(trait, line, two, single, max(0.0, 1.0 - two - single))
            for (trait, line), (two, single) in young.items()
        ),
        mixing=_mixed_lines(found),
        lost=sum(share * one.lost for share, one in found),
        harmful=dict(harmful),
        masking=masking,
        kinship=sum(share * one.kinship for share, one in found),
        exact=all(one.exact for _, one in found),
        error=max(one.error for _, one in found),
        conflict=tuple(dict.fromkeys(text for _, one in found for text in one.conflict)),
        sons=sum(share * one.sons for share, one in found),
    )


def _mixed_lines(found: list[tuple[float, Pairing]]) -> tuple[Mixing, ...]:
    mixing = {(x.trait, x.dam_line, x.sire_line): (x, 0.0) for _, one in found for x in one.mixing}
    for share, one in found:
        for x in one.mixing:
            key = (x.trait, x.dam_line, x.sire_line)
            mixing[key] = (x, mixing[key][1] + share * x.chance)
    return tuple(replace(x, chance=p) for x, p in mixing.values())


def _mixed_by_sex(
    found: list[tuple[float, Pairing]],
) -> dict[tuple[int, ...], tuple[float | None, float | None]]:
    """Look → the share of sons and of daughters over all candidates; None: that of all.

    A candidate counts by how many sons, or daughters, it gives.
    """
    sons = [(share * one.sons, _shares_of(one, sons=True)) for share, one in found]
    daughters = [(share * (1 - one.sons), _shares_of(one, sons=False)) for share, one in found]
    every = {look.traits for _, one in found for look in one.looks}
    return {look: apart(_average(sons, look), _average(daughters, look)) for look in every}


def _shares_of(one: Pairing, *, sons: bool) -> dict[tuple[int, ...], float]:
    own = ((look, look.sons if sons else look.daughters) for look in one.looks)
    return {look.traits: look.chance if share is None else share for look, share in own}


def _average(
    weighed: list[tuple[float, dict[tuple[int, ...], float]]], look: tuple[int, ...]
) -> float:
    values = [(weight, shares.get(look, 0.0)) for weight, shares in weighed if weight > 0]
    if all(share == 1 for _, share in values):
        return 1.0 if values else 0.0
    return unsure(sum(w * share for w, share in values) / sum(w for w, _ in values))
