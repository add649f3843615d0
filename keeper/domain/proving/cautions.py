"""What speaks against a test pairing: young that may show what harms, eggs that may die."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from keeper.domain.register.queries import Combinations, combinations
from keeper.domain.season.planning import DOUBT, LOST
from keeper.domain.season.queries import carriers, lethal_lines
from keeper.models import Animal, Line, Shown, Species, Trait

Pair = tuple[int, int]
_BOTH = (Shown.RECESSIVE, Shown.EVERY)


def cautions(pairs: Iterable[tuple[Animal, Animal]]) -> dict[Pair, tuple[str, ...]]:
    """Return by the ids of two animals of one species what speaks against pairing them.

    By stored standings: what both may carry, or what one of them may if one copy shows it.
    """
    found: dict[Pair, tuple[str, ...]] = {}
    known: dict[int, _Known] = {}
    for one, other in pairs:
        if one.species_id not in known:
            known[one.species_id] = _known(one.species)
        found[one.pk, other.pk] = tuple(known[one.species_id].against(one.pk, other.pk))
    return found


@dataclass(frozen=True)
class _Known:
    """Of a species: line → animal → its chance; harmful traits with their lines; lethal pairs.

    `combined` are the combinations of those that these show.
    """

    carriers: Mapping[int, Mapping[int, float]]
    harmful: Mapping[Trait, list[int]]
    combined: Combinations
    lethal: list[tuple[int, int]]

    def against(self, one: int, other: int) -> Iterable[str]:
        for trait, lines in self.harmful.items():
            chances = [self._carries(lines, animal) for animal in (one, other)]
            chance = min(chances) if trait.shown in _BOTH else max(chances)
            if chance > DOUBT or self._combine(trait, one, other):
                yield f"young may show {trait}, which harms"
        if any(
            min(self._carries([a], first), self._carries([b], second)) > DOUBT
            for a, b in self.lethal
            for first, second in ((one, other), (other, one))
        ):
            yield LOST

    def _combine(self, trait: Trait, one: int, other: int) -> bool:
        """Whether two may have between them all that one of a trait's combinations takes."""
        return any(
            all(
                max(self._carries([line.pk for line in among], pk) for pk in (one, other)) > DOUBT
                for among in parts
            )
            for parts in self.combined.get(trait.pk, ())
        )

    def _carries(self, lines: list[int], animal: int) -> float:
        return max((self.carriers.get(line, {}).get(animal, 0.0) for line in lines), default=0.0)


def _known(species: Species) -> _Known:
    traits = list(Trait.objects.live().filter(species=species).exclude(harm="").order_by("name"))
    lines: dict[int, list[int]] = {}
    rows = Line.objects.filter(trait__in={one.base_id or one.pk for one in traits})
    for pk, trait in rows.values_list("pk", "trait_id"):
        lines.setdefault(trait, []).append(pk)
    harmful = {one: lines.get(one.base_id or one.pk, []) for one in traits}
    return _Known(carriers(species), harmful, combinations(traits), lethal_lines(species))
