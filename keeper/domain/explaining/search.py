"""Which explanations, alone or together, let all records of a cluster be true.

Each is tried on in a transaction that is taken back, and weighed as the book then stood. One that
leaves anything of it impossible is none. Several mistakes of a kind are tried together as far as
they are needed; two mistakes of any kinds where no single one does, or where two such would be
about as likely as the best single one; and last the records themselves, one by one.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from math import inf, log, prod

from django.core.exceptions import ValidationError
from django.db import transaction

from keeper.domain.book.writing import Refused, Writing, wait_for_other_writers
from keeper.domain.explaining.candidates import candidates
from keeper.domain.explaining.changes import Explanation
from keeper.domain.explaining.clusters import DisputeCluster
from keeper.domain.explaining.rates import Kind, Rates
from keeper.domain.inference import Scale, Unanswerable, Weight, rows_of
from keeper.models import DaybookEntry

# Kinds of mistakes that may have been made more than once, each time at the same cost.
_REPEATED = {Kind.LOOK, Kind.RESULT, Kind.WORD, Kind.MIXED_UP}
_MOST_REPEATED = 6

# Two mistakes together are tried while they can be this part of the best explanation's odds.
_COMPETING = 1 / 50
# So many second mistakes are tried with each first one, and so many pairs in all.
_SECOND, _PAIRS = 24, 60

# Records as they stand in the book, withdrawn one by one where nothing else explains it.
_OF_RECORDS = {Kind.LOOK, Kind.RESULT, Kind.WORD, Kind.BEGINNING, Kind.MIXED_UP, Kind.PEDIGREE}
_MOST_RECORDS, _SETS = 12, 4


@dataclass(frozen=True)
class Found:
    """Mistakes that together let all records be true, and how likely these are then."""

    parts: tuple[Explanation, ...]
    log: float

    @property
    def key(self) -> str:
        """Names it in addresses."""
        return "+".join(sorted(one.key for one in self.parts))

    @property
    def chance(self) -> Fraction:
        """How often all of it happens."""
        return prod((one.chance for one in self.parts), start=Fraction(1))

    @property
    def score(self) -> float:
        """The logarithm of its odds, up to what is the same for all."""
        return self.log + log(self.chance)


def _needed(found: Sequence[Found]) -> list[Found]:
    """Those of which no part alone would do: in them everything is needed."""
    changed = list(map(_changed, found))
    return [
        one
        for one, own in zip(found, changed, strict=True)
        if not any(other < own for other in changed)
    ]


def _changed(one: Found) -> frozenset[str]:
    return frozenset(map(change_of, one.parts))


@dataclass
class Search:
    """Changes of the book, tried on for one cluster; each is weighed once.

    Attributes:
        refusal: why something could not be weighed.
    """

    cluster: DisputeCluster
    rates: Rates
    scale: Scale
    refusal: Unanswerable | None = None
    _tried: dict[frozenset[str], Weight | None] = field(default_factory=dict)

    @classmethod
    def of(cls, cluster: DisputeCluster, rates: Rates) -> "Search":
        """A search by all that the book says but for its other disputes."""
        return cls(cluster, rates, Scale(cluster.species, cluster.about, cluster.excluded))

    def found(self) -> list[Found]:
        """Every explanation that there is.

        Raises:
            Unanswerable: nothing could be weighed, as the families are beyond exact inference.
        """
        found = [*self.singles(), *self.repeated()]
        found += self.pairs(found)
        found = found or self.records()
        if not found and self.refusal is not None:
            raise self.refusal
        # One that was tried for more traits than another is the same: the likelier one stays.
        found.sort(key=lambda one: one.score)
        return _needed(list({_changed(one): one for one in found}.values()))

    @cached_property
    def pool(self) -> list[Explanation]:
        """What is tried alone."""
        return candidates(self.cluster, self.rates)

    def settles(self, one: Explanation) -> bool:
        """Whether one is enough alone."""
        weight = self.weigh([one], search=False)
        return weight is not None and weight.log > -inf

    @cached_property
    def enough(self) -> frozenset[str]:
        """The changes of which one alone is enough: with another it would be one too many."""
        return frozenset(change_of(one.parts[0]) for one in self.singles())

    def singles(self) -> list[Found]:
        """Each that is enough alone."""
        weights = ((one, self.weigh([one], search=False)) for one in self.pool)
        return [
            Found((one,), weight.log) for one, weight in weights if weight and weight.log > -inf
        ]

    def repeated(self) -> list[Found]:
        """Mistakes of one kind, as many as are needed."""
        clash = self._clash([]).clash
        firsts = [one for one in self.failed if one.kind in _REPEATED and one.about & clash]
        grown = (self._grown([first], _MOST_REPEATED, self._alike) for first in firsts)
        return [one for one in grown if one is not None]

    @cached_property
    def failed(self) -> list[Explanation]:
        """Those that can be tried and are not enough alone."""
        return [
            one
            for one in self.pool
            if change_of(one) not in self.enough and self.weigh([one], search=False) is not None
        ]

    def pairs(self, found: Sequence[Found]) -> list[Found]:
        """Two mistakes together, the likeliest first, while they can compete with what is found.

        Whatever explains all of it has a part in the first clash. If that leaves another, the
        second mistake has a part in that one.
        """
        best = max((one.score for one in found), default=-inf)
        most = max((one.log for one in found), default=0.0)
        clash, pairs = self._clash([]).clash, dict[frozenset[str], Found | None]()
        firsts = self._behind([])
        highest = max(map(self.likely, firsts), default=0.0)
        for first in firsts:
            least = best + log(_COMPETING) - most
            if self.likely(first) + highest < least or len(pairs) >= _PAIRS:
                break
            if self._clash([first]).clash in (frozenset(), clash):
                continue
            for second in self._behind([first])[:_SECOND]:
                if self.likely(first) + self.likely(second) < least:
                    break
                both = frozenset({first.key, second.key})
                if both not in pairs:
                    pairs[both] = one = self._whole([first, second])
                    best = max(best, one.score if one is not None else best)
        return [one for one in pairs.values() if one is not None]

    def records(self) -> list[Found]:
        """Records withdrawn one by one until the others can all be true, from several ends."""
        found: list[Found] = []
        for first in sorted(self.failed, key=self.likely, reverse=True):
            if first.kind in _OF_RECORDS and len(found) < _SETS:
                grown = self._grown([first], _MOST_RECORDS, self._of_records)
                found += [grown] if grown is not None else []
        return found

    def _grown(
        self,
        parts: list[Explanation],
        most: int,
        more: Callable[[Sequence[Explanation]], list[Explanation]],
    ) -> Found | None:
        while True:
            whole = self._whole(parts)
            following = more(parts) if whole is None and len(parts) < most else []
            if not following:
                return whole
            parts = [*parts, following[0]]

    def _alike(self, parts: Sequence[Explanation]) -> list[Explanation]:
        """Others of the same kind that are about what still clashes, the latest first."""
        clash = self._clash(parts).clash
        kind, made = parts[0].kind, {one.key for one in parts}
        return [
            one
            for one in reversed(self.pool)
            if one.kind == kind and one.about & clash
            if one.key not in made and change_of(one) not in self.enough
        ]

    def _of_records(self, parts: Sequence[Explanation]) -> list[Explanation]:
        return [one for one in self._behind(parts) if one.kind in _OF_RECORDS]

    def _behind(self, parts: Sequence[Explanation]) -> list[Explanation]:
        """What may be behind that which clashes after some changes, the likeliest first.

        What is enough alone is left out, and what was changed already.
        """
        weight = self._clash(parts)
        clash = frozenset(rows_of(sorted(weight.clash)))
        if not clash:
            return []
        left = DisputeCluster(self.cluster.species, self.cluster.disputes, clash, weight.traits)
        made = {change_of(one) for one in parts} | self.enough
        decided = {one.decides for one in parts if one.decides}
        found = [
            one
            for one in candidates(left, self.rates)
            if change_of(one) not in made and one.decides not in decided
        ]
        return sorted(found, key=self.likely, reverse=True)

    def _clash(self, parts: Sequence[Explanation]) -> Weight:
        return self.weigh(parts, search=True) or Weight(-inf)

    def _whole(self, parts: Sequence[Explanation]) -> Found | None:
        weight = self.weigh(parts, search=False)
        return Found(tuple(parts), weight.log) if weight and weight.log > -inf else None

    def likely(self, one: Explanation) -> float:
        """How often it happens at most, as a logarithm: some changes bring their chance along."""
        return log(min(one.chance, self.rates[one.kind].chance))

    def weigh(self, parts: Sequence[Explanation], *, search: bool) -> Weight | None:
        """Weigh the records if it was so; None: the book cannot be changed or weighed like that."""
        key = frozenset(one.key for one in parts)
        known = self._tried.get(key, _UNKNOWN)
        if known is None or (known is not _UNKNOWN and not (search and _unsearched(known))):
            return known
        try:
            with _tried_on(parts) as book:
                changed = self.scale.changed(book.bears_on())
            self._tried[key] = self.scale.weigh(changed, search=search)
        except (ValidationError, Refused):
            self._tried[key] = None
        except Unanswerable as refusal:
            self._tried[key], self.refusal = None, refusal
        return self._tried[key]


_UNKNOWN = Weight(0.0)


def _unsearched(weight: Weight) -> bool:
    return weight.log == -inf and not weight.clash


def change_of(one: Explanation) -> str:
    """Name what is changed, whatever traits it is tried for."""
    return one.key.partition(".")[0]


@contextmanager
def _tried_on(parts: Iterable[Explanation]) -> Iterator[Writing]:
    """Make the changes, without computing any standing, and take them back."""
    with transaction.atomic():
        wait_for_other_writers()
        entry = DaybookEntry.objects.create(what="tried on")
        book = Writing(entry, None)
        for part in parts:
            part.change(book)
        yield book
        transaction.set_rollback(True)
