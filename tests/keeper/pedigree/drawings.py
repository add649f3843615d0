"""Small pedigrees to draw, and a measure of a drawing that knows nothing of how it was made."""

import itertools
import random
from collections.abc import Iterator

from keeper.domain.pedigree.graph import Family, Pedigree, Union
from keeper.domain.pedigree.layout import Drawn, Sizes, drawn_in_order
from keeper.domain.pedigree.nets import Nets

Segment = tuple[int, float, float, float]


def family(parents: str, *young: str) -> Family:
    """`"S×D"`; several couples as `"S×D or T×D"`; a lone parent by itself."""
    couples = (tuple(one.split("×")) for one in parents.split(" or "))
    return Family(tuple(Union(one) for one in couples), young)


def pedigree(*families: Family) -> Pedigree:
    """All who are named, in the order in which they are."""
    named = [
        key
        for one in families
        for key in (*(up for union in one.unions for up in union.parents), *one.young)
    ]
    return Pedigree(tuple(dict.fromkeys(named)), families)


EIGHT_DAMS = pedigree(*(family(f"S×D{at}", f"y{at}", f"z{at}") for at in range(8)))
ON_HIS_GRANDDAUGHTER = pedigree(
    family("S×D", "a", "b"), family("M×a", "g", "h"), family("S×g", "z")
)
TWO_SIRES = pedigree(family("S×D or T×D", "a", "b", "c"))
DAM_ALONE = pedigree(family("D", "a", "b"), family("S×a", "c"))
# Two sires, one of whom is a son of the dam, and the dam alone beside them.
THREE_WAYS = pedigree(family("S×D", "T"), family("S×D or T×D or D", "a", "b"))
COUSINS = pedigree(
    family("A×B", "c", "d"), family("c×E", "f"), family("G×d", "h"), family("f×h", "z")
)
SIBS = pedigree(family("A×B", "c", "d"), family("c×d", "z", "y"))
CROSSED = pedigree(
    family("A×B", "c", "d"), family("E×F", "g", "h"), family("c×g", "k"), family("d×h", "m")
)
# Every male with every female: without crossings it cannot be drawn.
THREE_BY_THREE = pedigree(*(family(f"m{i}×f{j}", f"y{i}{j}") for i in range(2) for j in range(3)))
ANCESTORS = pedigree(
    family("s×d", "x"),
    family("ss×sd", "s"),
    family("ds×dd", "d"),
    family("sss×ssd", "ss"),
    family("sds×sdd", "sd"),
    family("dss×dsd", "ds"),
    family("dds×ddd", "dd"),
)
NAMED = {
    "eight dams": EIGHT_DAMS,
    "on his granddaughter": ON_HIS_GRANDDAUGHTER,
    "two sires": TWO_SIRES,
    "dam alone": DAM_ALONE,
    "three ways": THREE_WAYS,
    "cousins": COUSINS,
    "sibs": SIBS,
    "crossed": CROSSED,
    "three by three": THREE_BY_THREE,
    "ancestors": ANCESTORS,
}


def at_random(animals: int, seed: int, *, founders: int = 12) -> Pedigree:
    """A closed collection: later animals are young of recent ones, several of a couple."""
    draw = random.Random(seed)
    keys: list[str] = []
    male: dict[str, bool] = {}
    young: dict[tuple[str, str], list[str]] = {}
    for at in range(animals):
        males = [one for one in keys if male[one]][-8:]
        females = [one for one in keys if not male[one]][-8:]
        if at >= founders and males and females:
            couple = draw.choice(males), draw.choice(females)
            if young and draw.random() < 0.6:
                couple = draw.choice(list(young)[-8:])
            young.setdefault(couple, []).append(f"a{at}")
        keys.append(f"a{at}")
        male[keys[-1]] = draw.random() < 0.5
    return Pedigree(
        tuple(keys), tuple(Family((Union(of),), tuple(all_)) for of, all_ in young.items())
    )


def segments(drawn: Drawn) -> tuple[list[Segment], list[Segment]]:
    """Every straight piece, level and upright: of which family, from, to, and at what place."""
    level, upright = [], []
    for line in drawn.lines:
        for (x, y), (to_x, to_y) in itertools.pairwise(line.points):
            assert x == to_x or y == to_y
            if y == to_y:
                level.append((line.family, min(x, to_x), max(x, to_x), y))
            else:
                upright.append((line.family, min(y, to_y), max(y, to_y), x))
    return level, upright


def crossings(drawn: Drawn) -> int:
    """How often lines of two families cross."""
    level, upright = segments(drawn)
    return sum(
        one != other and left < x < right and top < y < foot
        for one, left, right, y in level
        for other, top, foot, x in upright
    )


def on_another(drawn: Drawn) -> list[tuple[Segment, Segment]]:
    """Pieces of two families that lie on each other, or as good as."""
    return [
        (one, other)
        for pieces in segments(drawn)
        for one, other in itertools.combinations(pieces, 2)
        if one[0] != other[0]
        and abs(one[3] - other[3]) < 1
        and min(one[2], other[2]) - max(one[1], other[1]) > 1
    ]


def through_symbols(drawn: Drawn, size: float) -> list[tuple[str, Segment]]:
    """Symbols, and lines that run through them without ending there."""
    level, upright = segments(drawn)
    half = size / 2 - 0.5
    ends = {(point, line.family) for line in drawn.lines for point in line.points}
    found = []
    for key, (x, y) in drawn.at.items():
        own = {family for (at, _), family in ends if at == x} | {
            family for (_, at), family in ends if at == y
        }
        found += [
            (key, one)
            for one in level
            if one[0] not in own
            and abs(one[3] - y) < half
            and one[1] < x + half
            and one[2] > x - half
        ]
        found += [
            (key, one)
            for one in upright
            if one[0] not in own
            and abs(one[3] - x) < half
            and one[1] < y + half
            and one[2] > y - half
        ]
    return found


def every_order(of: Pedigree) -> Iterator[Drawn]:
    """Draw a pedigree with its rows in every order there is."""
    nets = Nets(of)
    rows: list[list[int]] = [[] for _ in range(nets.rows)]
    for item, row in enumerate(nets.row):
        rows[row].append(item)
    for orders in itertools.product(*(itertools.permutations(row) for row in rows)):
        yield drawn_in_order(nets, [list(row) for row in orders], Sizes())


def any_orders(of: Pedigree, number: int, seed: int) -> Iterator[Drawn]:
    """Draw a pedigree with its rows in so many random orders."""
    nets, draw = Nets(of), random.Random(seed)
    rows: list[list[int]] = [[] for _ in range(nets.rows)]
    for item, row in enumerate(nets.row):
        rows[row].append(item)
    for _ in range(number):
        yield drawn_in_order(nets, [draw.sample(row, len(row)) for row in rows], Sizes())
