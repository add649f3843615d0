"""The odds of explanations; looking ahead at one, and adopting it."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from keeper.domain.book.aside import tried_aside
from keeper.domain.book.daybook import moment
from keeper.domain.book.previewing import Preview, preview
from keeper.domain.book.writing import Refused, writing
from keeper.domain.explaining.changes import Explanation
from keeper.domain.explaining.clusters import DisputeCluster
from keeper.domain.explaining.keeping import keep, kept
from keeper.domain.explaining.rates import Kind, Rate, rates
from keeper.domain.explaining.together import explain_together
from keeper.domain.inference import Unanswerable
from keeper.models import Account, DaybookEntry


@dataclass(frozen=True)
class Weighed:
    """An explanation with its odds.

    Attributes:
        key: names it in addresses.
        kind, text: what happened; several mistakes in one sentence.
        chance: how often that happens, before the records are looked at.
        share: its part in all explanations listed; they sum to 1.
        rates: the base rates that it was weighed with, one a kind, and their grounds.
        parts: the mistakes that it is made of.
    """

    key: str
    kind: Kind
    text: str
    chance: Fraction
    share: float
    rates: dict[Kind, Rate]
    parts: tuple[Explanation, ...]


def explained(cluster: DisputeCluster) -> tuple[Weighed, ...]:
    """Return the explanations that make all records of a cluster possible, the likeliest first.

    Empty: none of those that were tried does.

    Raises:
        Unanswerable: the families are beyond exact inference.
    """
    found: tuple[Weighed, ...] | None = kept("explained", cluster)
    if found is None:
        found = tried_aside(lambda: _explained(cluster))
    return found


def _explained(cluster: DisputeCluster) -> tuple[Weighed, ...]:
    known = rates()
    weighed = [
        Weighed(
            one.key,
            one.parts[0].kind,
            "; and ".join(part.text for part in one.parts),
            one.chance,
            share,
            {part.kind: known[part.kind] for part in one.parts},
            one.parts,
        )
        for one, share in explain_together(cluster, known)
    ]
    found = tuple(sorted(weighed, key=lambda one: (-one.share, one.key)))
    keep("explained", cluster, found)
    return found


def adopt(*, cluster: DisputeCluster, key: str, by: Account, reason: str = "") -> DaybookEntry:
    """Make an explanation true in the book.

    Raises:
        Refused: there is no such explanation now.
        ValidationError: what it changes is not in order.
        Unanswerable: the families are beyond exact inference.
    """
    return _adoption(cluster, key, by, reason)()


def look_ahead(*, cluster: DisputeCluster, key: str, by: Account) -> Preview:
    """Return what adopting an explanation would move; nothing is kept.

    Raises:
        Refused, ValidationError, Unanswerable: as `adopt`.
    """
    return preview(_adoption(cluster, key, by, ""))


_MOVED_ON = (
    "The book has changed since: this explains it no more. Look again at what may be behind it."
)


def _adoption(
    cluster: DisputeCluster, key: str, by: Account, reason: str
) -> Callable[[], DaybookEntry]:
    now = moment()
    one = next((one for one in explained(cluster) if one.key == key), None)
    if one is None:
        raise Refused(_MOVED_ON)

    def write() -> DaybookEntry:
        with writing(by=by, what=f"Adopted: {one.text}", reason=reason) as book:
            if moment(before=book.entry) != now:
                raise Refused(_MOVED_ON)
            for part in one.parts:
                part.change(book)
        return book.entry

    return write


__all__ = ["Unanswerable", "Weighed", "adopt", "explained", "look_ahead"]
