"""On how few animals each line rests: who carries it, and to whom they go back."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from keeper.domain.inference import Descent
from keeper.models import Animal, Arising, Line, Species, Standing

_NOBODY: frozenset[int] = frozenset()


@dataclass(frozen=True)
class LineRest:
    """A line among some animals.

    Attributes:
        certain: how many carry it for certain; a disputed figure is not certain.
        possible: how many more may.
        least, most: to how many animals those that are certain go back: no fewer, and no more.
        earliest: the animals that they may go back to, by code: the first that may have had it.
        every: to how many all of them go back at most, the possible ones too.
        weights: the chance of carrying it, by animal.
    """

    line: Line
    certain: int
    possible: int
    least: int
    most: int
    earliest: tuple[Animal, ...]
    every: int
    weights: Mapping[int, float]


@dataclass
class _Bearers:
    """Who may carry a line, anywhere in the book: the chance that it does not, and who is sure."""

    without: dict[int, float]
    sure: set[int]
    began: set[int]


def lines_of(species: Species, descent: Descent, among: Collection[int]) -> list[LineRest]:
    """Return every line that some of these animals may carry, the rarest first."""
    bearers = _read(species)
    lines = Line.objects.live().filter(pk__in=bearers).select_related("trait").order_by("pk")
    found = []
    for line in lines:
        own = bearers[line.pk]
        here = [pk for pk in own.without if pk in among]
        if here:
            found.append((line, own, here, _earliest(own, here, descent)))
    named = Animal.objects.in_bulk(
        {pk for _, own, here, of in found for one in here if one in own.sure for pk in of[one]}
    )
    rests = [_rest(*one, named) for one in found]
    return sorted(rests, key=lambda one: (one.certain, one.possible, str(one.line)))


def fewest(sets: Iterable[frozenset[int]]) -> int:
    """Return a number of animals below which none can have one of each set: sets that lie apart."""
    taken: set[int] = set()
    count = 0
    for one in sorted(sets, key=lambda found: (len(found), sorted(found))):
        if one.isdisjoint(taken):
            taken |= one
            count += 1
    return count


def _read(species: Species) -> dict[int, _Bearers]:
    found: dict[int, _Bearers] = defaultdict(lambda: _Bearers({}, set(), set()))
    rows = Standing.objects.filter(
        animal__species=species, animal__withdrawn_at=None, line__isnull=False, none__lt=1
    )
    columns = ("line_id", "animal_id", "none", "dispute_id")
    for line, animal, none, dispute in rows.values_list(*columns):
        found[line].without[animal] = none
        if none == 0 and dispute is None:
            found[line].sure.add(animal)
    began = Arising.objects.live().filter(animal__species=species)
    for line, animal in began.values_list("line_id", "animal_id"):
        if line in found:
            found[line].began.add(animal)
    return dict(found)


def _earliest(own: _Bearers, animals: Iterable[int], descent: Descent) -> dict[int, frozenset[int]]:
    """The first that may have brought the line to each animal: no parent of theirs may have it."""
    found: dict[int, frozenset[int]] = {}
    ahead = list(animals)
    while ahead:
        one = ahead[-1]
        above = _NOBODY if one in own.began else descent.parents(one) & own.without.keys()
        waiting = [pk for pk in above if pk not in found]
        if waiting:
            ahead += waiting
            continue
        found[one] = _NOBODY.union(*(found[pk] for pk in above)) if above else frozenset({one})
        ahead.pop()
    return found


def _rest(
    line: Line,
    own: _Bearers,
    here: list[int],
    earliest: dict[int, frozenset[int]],
    named: dict[int, Animal],
) -> LineRest:
    certain = [earliest[pk] for pk in here if pk in own.sure]
    brought = _NOBODY.union(*certain)
    return LineRest(
        line=line,
        certain=len(certain),
        possible=len(here) - len(certain),
        least=fewest(certain),
        most=len(brought),
        earliest=tuple(sorted((named[pk] for pk in brought), key=str)),
        every=len(_NOBODY.union(*(earliest[pk] for pk in here))),
        weights={pk: 1 - own.without[pk] for pk in here},
    )
