"""What hatched, look by look and by sex, against what the book said before anything had hatched.

Only what was kept then is used (`Foretold`): a chance worked out now has the answer in it.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import prod

from django.db.models import QuerySet, Sum

from keeper.domain import inference
from keeper.domain.clutches.hatch_plan import look_name
from keeper.domain.figures.chances import Kind, Tested, compare, holm
from keeper.models import Clutch, Foretold, HatchRow, Sex, SexDetermination, Trait

# A look: the traits that are seen.
Look = frozenset[int]
# Kinds of parents, and their looks, above which a clutch is not tested by whole looks.
_MOST_KINDS, _MOST_LOOKS = 5_000, 500
# Where half of all being sons is no expectation.
_NO_HALF = (SexDetermination.TEMPERATURE, SexDetermination.NONE)


@dataclass(frozen=True)
class LookCount:
    """One look of a clutch: how many had it, of how many it was expected."""

    name: str
    seen: int
    expected: float
    chance: float


@dataclass(frozen=True)
class LooksTested:
    """A clutch's looks against what was said of them.

    Attributes:
        told: of how many hatchlings every trait was told; left: of how many it was not.
        looks: the likeliest first; looks that were said to be impossible come last.
        result: the test of this clutch alone; `p` is corrected for how many are shown.
        certain: whether the parents were of one kind for certain.
        why: why it is not tested, in words; else "".
    """

    clutch: Clutch
    told: int
    left: int
    looks: tuple[LookCount, ...]
    result: Tested
    certain: bool
    why: str
    p: float | None = None


@dataclass(frozen=True)
class SexesTested:
    """Sons among the hatchlings of a species, a dam or a sire whose sex is known."""

    name: str
    kind: str
    pk: int
    sons: int
    sexed: int
    hatched: int
    clutches: int
    interval: tuple[float, float] | None
    result: Tested
    p: float | None = None


def foretold() -> QuerySet[Foretold]:
    """Return all that was said of clutches that count and hatched."""
    rows = Foretold.objects.live().filter(clutch__withdrawn_at=None)
    found: QuerySet[Foretold] = rows.select_related("clutch__species", "clutch__dam").order_by(
        "-clutch__hatched_on", "-pk"
    )
    return found


def hatched_of(rows: Iterable[Foretold]) -> dict[int, Sequence[inference.Alike]]:
    """Return what hatched in the clutches of some forecasts."""
    by_species: dict[int, list[Clutch]] = defaultdict(list)
    for one in rows:
        by_species[one.clutch.species_id].append(one.clutch)
    found: dict[int, Sequence[inference.Alike]] = {}
    for listed in by_species.values():
        found |= inference.hatched_looks(listed[0].species, [one.pk for one in listed])
    return found


def looks_tested(rows: Sequence[Foretold]) -> list[LooksTested]:
    """Test each clutch's looks; corrected for how many are tested here."""
    hatched = hatched_of(rows)
    names = Trait.objects.in_bulk()
    found = [_tested(one, hatched[one.clutch_id], names) for one in rows]
    found = [one for one in found if one.looks]
    corrected = holm([one.result.p for one in found])
    return [replace(one, p=p) for one, p in zip(found, corrected, strict=True)]


def whole_looks(told: Foretold) -> list[tuple[float, dict[Look, float]]] | None:
    """Return the kinds that a clutch's parents were said to be, over all of the genome.

    None: they are too many, or each egg may have had a sire of its own.
    """
    if told.each:
        return None
    found: dict[tuple[tuple[Look, float], ...], float] = defaultdict(float)
    for share, parts in told.sires:
        if prod(len(kinds) for kinds in parts) > _MOST_KINDS:
            return None
        if prod(max(len(looks) for _, looks in kinds) for kinds in parts) > _MOST_LOOKS:
            return None
        for choice in product(*parts):
            weight = share * prod(kind[0] for kind in choice)
            looks: dict[Look, float] = {frozenset(): 1.0}
            for _, part in choice:
                looks = _joined(looks, part)
            found[tuple(sorted(looks.items(), key=lambda one: sorted(one[0])))] += weight
    return [(weight, dict(looks)) for looks, weight in found.items()]


def _joined(
    looks: dict[Look, float], part: Iterable[tuple[list[int], list[int], float]]
) -> dict[Look, float]:
    joined: dict[Look, float] = defaultdict(float)
    for shown, p in looks.items():
        for more, _, q in part:
            joined[shown | frozenset(more)] += p * q
    return joined


def _tested(
    told: Foretold, hatched: Sequence[inference.Alike], names: dict[int, Trait]
) -> LooksTested:
    kinds = whole_looks(told)
    every = {look for _, looks in kinds or () for look in looks}
    scored = {trait for look in every for trait in look}
    counts: Counter[Look] = Counter()
    left = 0
    hides = _hidden(told)
    for one in hatched:
        seen = one.shown & scored
        unclear = scored - one.shown - one.not_shown - hides.get(seen, frozenset())
        if unclear:
            left += one.count
        else:
            # A look nobody foresaw is counted by all that it showed.
            counts[seen if one.shown <= scored else one.shown] += one.count
    number = sum(counts.values())
    mean = {look: sum(w * looks.get(look, 0.0) for w, looks in kinds or ()) for look in every}
    order = sorted({*every, *counts}, key=lambda one: (-mean.get(one, 0.0), sorted(one)))
    listed = tuple(
        LookCount(_named(look, names), counts[look], number * chance, chance)
        for look, chance in ((look, mean.get(look, 0.0)) for look in order)
    )
    why = _why_not(told, kinds, number, every, counts)
    by_kind: list[Kind] = [
        (w, [looks.get(look, 0.0) for look in order]) for w, looks in kinds or ()
    ]
    result = Tested(None) if why else compare([counts[look] for look in order], by_kind)
    certain = len(by_kind) == 1
    return LooksTested(told.clutch, number, left, listed, result, certain, why)


def _hidden(told: Foretold) -> dict[Look, frozenset[int]]:
    """What each look of one part hides; looks over several parts hide what their parts do."""
    found: dict[Look, frozenset[int]] = {}
    singles = {
        frozenset(shown): frozenset(hidden)
        for _, parts in told.sires
        for kinds in parts
        for _, looks in kinds
        for shown, hidden, _ in looks
        if hidden
    }
    for kind in whole_looks(told) or ():
        for look in kind[1]:
            found[look] = frozenset().union(*(h for s, h in singles.items() if s <= look))
    return found


def _why_not(
    told: Foretold,
    kinds: list[tuple[float, dict[Look, float]]] | None,
    number: int,
    every: set[Look],
    counts: Counter[Look],
) -> str:
    if kinds is None:
        return "each egg may have had a sire of its own, or the parents may be of too many kinds"
    if not told.exact:
        return "what was said before rested on records in dispute, or was not exact"
    if set(counts) - every:
        return "a look hatched that was said to be impossible: no chance, but a contradiction"
    if len(every) < 2:
        return "one look alone was expected"
    return "" if number else "of no hatchling all traits were told"


def _named(look: Look, names: dict[int, Trait]) -> str:
    listed = sorted((names[one] for one in look if one in names), key=lambda one: one.name)
    bases = {one.base_id for one in listed if one.base_id}
    return look_name(one for one in listed if one.pk not in bases)


# --- sexes ---------------------------------------------------------------------------------------


def sexes_tested(clutches: Sequence[Clutch]) -> list[SexesTested]:
    """Test the share of sons: of all of a species, by dam, by the one sire that there can be.

    Where sex follows temperature, or nobody knows what, nothing is expected and nothing is tested.
    Chances that were said of sons count where they were kept; half of all is expected else.
    """
    sexed = _sexed([one.pk for one in clutches])
    said = dict(Foretold.objects.live().values_list("clutch", "sons"))
    groups: dict[tuple[str, int, str], list[Clutch]] = defaultdict(list)
    for one in clutches:
        if one.species.sex_determination in _NO_HALF:
            continue
        for group in _groups(one):
            groups[group].append(one)
    found = [
        row
        for (kind, pk, name), listed in groups.items()
        if (row := _sexes(kind, pk, name, listed, sexed, said)).sexed
    ]
    corrected = holm([one.result.p for one in found])
    rows = [replace(one, p=p) for one, p in zip(found, corrected, strict=True)]
    order = ("species", "dam", "sire")
    return sorted(rows, key=lambda one: (order.index(one.kind), one.name))


def _groups(clutch: Clutch) -> Iterator[tuple[str, int, str]]:
    yield "species", clutch.species_id, str(clutch.species)
    if clutch.dam is not None:
        yield "dam", clutch.dam.pk, clutch.dam.code
    sires = [one.sire for one in clutch.candidates.all()]
    if len(sires) == 1 and sires[0] is not None:
        yield "sire", sires[0].pk, sires[0].code


def _sexed(clutches: Sequence[int]) -> dict[int, Counter[str]]:
    rows = HatchRow.objects.live().filter(clutch__in=clutches).order_by()
    found: dict[int, Counter[str]] = defaultdict(Counter)
    for clutch, sex, many in rows.values_list("clutch", "sex").annotate(Sum("count")):
        found[clutch][sex] += many
    return found


def _sexes(
    kind: str,
    pk: int,
    name: str,
    clutches: Sequence[Clutch],
    sexed: dict[int, Counter[str]],
    said: dict[int, float],
) -> SexesTested:
    # Clutches of which another share of sons was said are no sample of the same thing.
    alike = [one for one in clutches if abs(said.get(one.pk, 0.5) - 0.5) < 1e-9]
    counts = [sexed.get(one.pk, Counter[str]()) for one in alike]
    sons = sum(one[Sex.MALE] for one in counts)
    known = sons + sum(one[Sex.FEMALE] for one in counts)
    return SexesTested(
        name, kind, pk, sons, known,
        hatched=sum(one.total() for one in counts),
        clutches=sum(1 for one in counts if one.total()),
        interval=inference.interval(sons, known),
        result=compare([sons, known - sons], [(1.0, [0.5, 0.5])]),
    )  # fmt: skip
