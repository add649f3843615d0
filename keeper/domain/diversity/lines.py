"""On how few animals each line rests: who carries it, and to whom they go back."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from keeper.domain.inference import Descent, Numbered, Origins
from keeper.models import Animal, Arising, Line, Species, Standing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# So many rows are taken from the database at a time.
_CHUNK = 2000


@dataclass(frozen=True)
class LineRest:
    """A line among some animals.

    Attributes:
        certain: how many carry it for certain; a disputed figure is not certain.
        possible: how many more may.
        least, most: to how many animals those that are certain go back: no fewer, and no more.
        earliest: the animals that they may go back to, by code: the first that may have had it.
        every: to how many all of them go back at most, the possible ones too.
    """

    line: Line
    certain: int
    possible: int
    least: int
    most: int
    earliest: tuple[Animal, ...]
    every: int


@dataclass(frozen=True)
class _Carriers:
    """Who may carry a line, of all that are here or whose descendants are; by number.

    Attributes:
        here: those that are asked about, with the chance of each as `weights`.
        sure: those of them that carry it for certain.
        origins: who may have brought it to them.
    """

    here: "NDArray[np.int64]"
    weights: "NDArray[np.float64]"
    sure: "NDArray[np.int64]"
    origins: Origins


def lines_of(
    species: Species, descent: Descent, among: Collection[int]
) -> list[tuple[LineRest, Numbered]]:
    """Return every line that some of these animals may carry, with their chances, rarest first."""
    found = _read(species, descent, among)
    lines = Line.objects.select_related("trait").in_bulk(found)
    brought = {pk: one.origins.all_of(one.sure) for pk, one in found.items()}
    named = Animal.objects.in_bulk({animal for own in brought.values() for animal in own})
    rests = [
        (
            _rest(line, found[pk], [named[animal] for animal in brought[pk]]),
            Numbered(found[pk].here, found[pk].weights),
        )
        for pk, line in sorted(lines.items())
    ]
    return sorted(rests, key=lambda one: (one[0].certain, one[0].possible, str(one[0].line)))


def fewest(sets: Iterable[frozenset[int]]) -> int:
    """Return a number of animals below which none can have one of each set: sets that lie apart."""
    taken: set[int] = set()
    count = 0
    for one in sorted(sets, key=lambda found: (len(found), sorted(found))):
        if one.isdisjoint(taken):
            taken |= one
            count += 1
    return count


def _read(species: Species, descent: Descent, among: Collection[int]) -> dict[int, _Carriers]:
    """The carriers of each line that some of these animals may carry."""
    import numpy as np

    lines = list(Line.objects.live().filter(trait__species=species).values_list("pk", flat=True))
    rows = Standing.objects.filter(line__in=lines, none__lt=1).order_by()
    disputed = rows.exclude(dispute=None).values_list("line_id", "animal_id")
    began = Arising.objects.live().filter(animal__species=species, line__in=lines)
    beginnings = _numbers(began.values_list("line_id", "animal_id"), descent)
    unsure = _numbers(disputed, descent)
    kind = [("line", np.int64), ("animal", np.int64), ("none", np.float64)]
    read = np.fromiter(rows.values_list("line_id", "animal_id", "none").iterator(_CHUNK), kind)
    numbers = descent.numbers(read["animal"])
    asked = np.zeros(len(descent) + 1, dtype=bool)
    asked[descent.numbers(np.fromiter(among, np.int64, len(among)))] = True
    asked[-1] = False  # of nobody
    found = {}
    for line in lines:
        own = (read["line"] == line) & (numbers >= 0)
        carriers, without = numbers[own], read["none"][own]
        here = asked[carriers]
        if here.any():
            sure = carriers[here & (without == 0)]
            found[line] = _Carriers(
                carriers[here],
                1 - without[here],
                np.setdiff1d(sure, unsure[line]),
                descent.origins(carriers, beginnings[line]),
            )
    return found


def _numbers(
    pairs: Iterable[tuple[int, int]], descent: Descent
) -> "defaultdict[int, NDArray[np.int64]]":
    """The numbers of those animals of each line that are anybody's ancestors here."""
    import numpy as np

    of: dict[int, list[int]] = defaultdict(list)
    for line, animal in pairs:
        of[line].append(animal)
    found: defaultdict[int, NDArray[np.int64]] = defaultdict(lambda: np.zeros(0, dtype=np.int64))
    for line, animals in of.items():
        numbers = descent.numbers(np.array(animals, dtype=np.int64))
        found[line] = numbers[numbers >= 0]
    return found


def _rest(line: Line, of: _Carriers, brought: list[Animal]) -> LineRest:
    return LineRest(
        line=line,
        certain=len(of.sure),
        possible=len(of.here) - len(of.sure),
        least=fewest(of.origins.among(of.sure)),
        most=len(brought),
        earliest=tuple(sorted(brought, key=str)),
        every=of.origins.number_of(of.here),
    )
