"""Trying explanations on, and what speaks for each."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from math import exp, inf, log, prod

from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.db import transaction

from keeper.domain import inference
from keeper.domain.book.previewing import Preview, preview
from keeper.domain.book.writing import Refused, Writing, wait_for_other_writers, writing
from keeper.domain.explaining.candidates import candidates
from keeper.domain.explaining.changes import Explanation
from keeper.domain.explaining.clusters import DisputeCluster
from keeper.domain.explaining.rates import RATES, Kind, Rate
from keeper.domain.inference import Unanswerable, Weight
from keeper.models import Account, DaybookEntry

# Kinds of mistakes that may have been made more than once, each time at the same cost.
_REPEATED = {Kind.LOOK, Kind.RESULT, Kind.WORD, Kind.MIXED_UP}
_MOST_REPEATED = 6


@dataclass(frozen=True)
class Weighed:
    """An explanation with its odds.

    Attributes:
        key: names it in addresses.
        kind, text: what happened; several mistakes of a kind in one sentence.
        chance: how often that happens, before the records are looked at.
        share: its part in all explanations listed; they sum to 1.
        rate: the base rate that it was weighed with, and its ground.
    """

    key: str
    kind: Kind
    text: str
    chance: Fraction
    share: float
    rate: Rate


def explained(cluster: DisputeCluster) -> tuple[Weighed, ...]:
    """Return the explanations that make all records of a cluster possible, the likeliest first.

    Empty: none of those that were tried does.

    Raises:
        Unanswerable: the families are beyond exact inference.
    """
    moment = _moment()
    name = f"explained:{moment}:{'-'.join(str(one.pk) for one in cluster.disputes)}"
    found: tuple[Weighed, ...] | None = cache.get(name)
    if found is None:
        found = _explained(cluster)
        # Each trial waits for whoever is writing. What was written between two of them may have
        # moved what they are compared by: such odds serve this page alone.
        if _moment() == moment:
            cache.set(name, found)
    return found


def _moment() -> str:
    """The last entry; by its moment too: the ids of a book put back from a copy begin again."""
    last = DaybookEntry.objects.order_by("-pk").first()
    return f"{last.pk}:{last.at.timestamp()}" if last is not None else ""


def _explained(cluster: DisputeCluster) -> tuple[Weighed, ...]:
    pool = candidates(cluster)
    found: dict[str, tuple[tuple[Explanation, ...], float]] = {}
    for one in pool:
        tried = _enough(cluster, one, pool)
        if tried is not None:
            parts, weight = tried
            found[_key(parts)] = parts, weight + log(prod(part.chance for part in parts))
    most = max((weight for _, weight in found.values()), default=0.0)
    whole = sum(exp(weight - most) for _, weight in found.values())
    weighed = [
        Weighed(
            key,
            parts[0].kind,
            "; and ".join(part.text for part in parts),
            prod((part.chance for part in parts), start=Fraction(1)),
            exp(weight - most) / whole,
            RATES[parts[0].kind],
        )
        for key, (parts, weight) in found.items()
    ]
    return tuple(sorted(weighed, key=lambda one: (-one.share, one.key)))


def _key(parts: Sequence[Explanation]) -> str:
    return "+".join(sorted(part.key for part in parts))


def _enough(
    cluster: DisputeCluster, first: Explanation, pool: Sequence[Explanation]
) -> tuple[tuple[Explanation, ...], float] | None:
    """The explanation, with others of its kind where one alone leaves records that cannot be."""
    parts = [first]
    repeated = first.kind in _REPEATED
    while True:
        found = _try(cluster, parts, search=repeated)
        if found is None:
            return None
        if found.log > -inf:
            return tuple(parts), found.log
        more = [
            other
            for other in pool
            if repeated and other.kind == first.kind and other not in parts
            if other.about & found.clash
        ]
        if not more or len(parts) == _MOST_REPEATED:
            return None
        parts.append(more[-1])


def _try(cluster: DisputeCluster, parts: Sequence[Explanation], *, search: bool) -> Weight | None:
    """Weigh the records if it was so; None: the book cannot be changed like that."""
    try:
        with _tried_on(parts):
            return inference.weigh(
                cluster.species,
                cluster.scope,
                cluster.traits,
                excluded=cluster.excluded,
                search=search,
            )
    except (ValidationError, Refused):
        return None


@contextmanager
def _tried_on(parts: Sequence[Explanation]) -> Iterator[None]:
    """Make the changes, without computing any standing, and take them back."""
    with transaction.atomic():
        wait_for_other_writers()
        entry = DaybookEntry.objects.create(what="tried on")
        book = Writing(entry, None)
        for part in parts:
            part.change(book)
        yield
        transaction.set_rollback(True)


def adopt(*, cluster: DisputeCluster, key: str, by: Account, reason: str = "") -> DaybookEntry:
    """Make an explanation true in the book.

    Raises:
        Refused: there is no such explanation now.
        ValidationError: what it changes is not in order.
    """
    return _adoption(cluster, key, by, reason)()


def look_ahead(*, cluster: DisputeCluster, key: str, by: Account) -> Preview:
    """Return what adopting an explanation would move; nothing is kept.

    Raises:
        Refused, ValidationError: as `adopt`.
    """
    return preview(_adoption(cluster, key, by, ""))


def _adoption(
    cluster: DisputeCluster, key: str, by: Account, reason: str
) -> Callable[[], DaybookEntry]:
    pool = {one.key: one for one in candidates(cluster)}
    names = key.split("+")
    if not set(names) <= pool.keys():
        raise Refused("The book has changed since: this is no explanation of it any more.")
    parts = [pool[name] for name in names]
    what = f"Adopted: {'; and '.join(part.text for part in parts)}"

    def write() -> DaybookEntry:
        with writing(by=by, what=what, reason=reason) as book:
            for part in parts:
                part.change(book)
        return book.entry

    return write


__all__ = ["Unanswerable", "Weighed", "adopt", "explained", "look_ahead"]
