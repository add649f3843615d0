"""Disputes that one mistake may be behind: their explanations are weighed together.

A founder that carries what nobody declared makes a dispute in every clutch that shows it, and
another sire may make one in every trait. By itself each of these is explained as well by a look
that was misread; together they are not, since that would have happened every time. So where one
change would settle several disputes, what may be behind each is combined: one explanation a
dispute, a mistake that they share counted once, all their records weighed at once. The part of
an explanation is that of all combinations that it is in.
"""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from heapq import nlargest
from math import exp, inf, log

from keeper.domain.book.touched import Touched
from keeper.domain.explaining.changes import Explanation
from keeper.domain.explaining.clusters import DisputeCluster, clusters
from keeper.domain.explaining.keeping import keep, kept
from keeper.domain.explaining.rates import Kind, Rates
from keeper.domain.explaining.search import Found, Search, change_of
from keeper.domain.inference import Scale, Unanswerable

# So many other disputes at most are weighed along, those first with which most is shared.
_OTHERS = 5
# While combinations grow, so many are kept, the likeliest by what each dispute says by itself;
# of each dispute's explanations so many are combined.
_GROWN, _OF_EACH = 200, 30
# So many are then weighed by all records at once of those in which something is shared, and so
# many of the others, while they may be this part of the likeliest.
_SHARED, _APART, _COMPETING = 24, 8, 1 / 1000


@dataclass(frozen=True)
class _Combination:
    """One explanation for each of some disputes.

    Attributes:
        own: the one of the dispute that is asked about.
        parts: every mistake in them once, by what it changes.
        score: the logarithm of its odds, up to what is the same for all.
        shared: whether one mistake is behind several disputes.
    """

    own: Found
    parts: dict[str, Explanation]
    score: float
    shared: bool = False


def explain_together(cluster: DisputeCluster, rates: Rates) -> list[tuple[Found, float]]:
    """Return what may be behind a cluster, each with its part in all that may be.

    Raises:
        Unanswerable: nothing could be weighed, as the families are beyond exact inference.
    """
    own = _found(Search.of(cluster, rates))
    others = list(_sharing(cluster, own, rates))
    combined = _combined(cluster, own, others, rates) if others else []
    combined = combined or [_Combination(one, {}, one.score) for one in own]
    most = max((one.score for one in combined), default=0.0)
    whole = sum(exp(one.score - most) for one in combined)
    share = {one.key: 0.0 for one in own}
    for one in combined:
        share[one.own.key] += exp(one.score - most) / whole
    return [(one, share[one.key]) for one in own]


def _found(search: Search) -> list[Found]:
    found: list[Found] | None = kept("found", search.cluster)
    if found is None:
        found = search.found()
        keep("found", search.cluster, found)
    return found


def _sharing(
    cluster: DisputeCluster, own: Sequence[Found], rates: Rates
) -> Iterator[tuple[DisputeCluster, list[Found]]]:
    """Other disputes that a mistake behind this one would settle alone, each explained."""
    ours = {change_of(part): part for one in own for part in one.parts}
    searches = [
        Search.of(other, rates)
        for other in clusters()
        if other.species == cluster.species and not set(other.disputes) & set(cluster.disputes)
    ]
    common = [
        ([one for one in search.pool if _same(one, ours.get(change_of(one)))], search)
        for search in searches
    ]
    taken = 0
    for shared, search in sorted(common, key=lambda one: -len(one[0])):
        if taken == _OTHERS:
            return
        if any(map(search.settles, shared)):
            with suppress(Unanswerable):
                yield search.cluster, _found(search)
                taken += 1


def _same(one: Explanation, other: Explanation | None) -> bool:
    """Whether two of one name are one mistake: what a founder carried is one for each trait."""
    if other is None or one.kind != Kind.UNDECLARED:
        return other is not None
    return bool(one.traits.keys() & other.traits.keys())


def _combined(
    cluster: DisputeCluster,
    own: Sequence[Found],
    others: Sequence[tuple[DisputeCluster, list[Found]]],
    rates: Rates,
) -> list[_Combination]:
    """The likeliest combinations, those that may count weighed by all records at once."""
    search = _of_all([cluster, *(other for other, _ in others)], rates)
    grown = [_Combination(one, _parts(one), one.score) for one in own]
    for _, theirs in others:
        likeliest = nlargest(_OF_EACH, theirs, key=lambda one: one.score)
        most = max(one.log for one in theirs)
        joined = (_joined(one, other, most, search) for one in grown for other in likeliest)
        possible = [one for one in joined if one is not None]
        grown = nlargest(_GROWN, possible, key=lambda one: one.score)
    return _weighed(grown, search) if grown else []


def _weighed(guessed: Sequence[_Combination], search: Search) -> list[_Combination]:
    """The likeliest by all records at once, and the others as likely as they were guessed beside.

    `guessed` has the likeliest first. A guess takes nothing off for what a shared mistake makes
    unlikely twice: such a one is weighed or left out.
    """
    least = guessed[0].score + log(_COMPETING)
    shared = [one for one in guessed if one.shared and one.score > least]
    apart = [one for one in guessed if not one.shared]
    likely = sum(one.score > least for one in apart[:_APART])
    found = [by_all for one in shared[:_SHARED] if (by_all := _by_all(one, search))]
    beside = [(one, by_all) for one in apart[:likely] if (by_all := _by_all(one, search))]
    found += [by_all for _, by_all in beside]
    if beside:
        guess, by_all = beside[0]
        more = by_all.score - guess.score
        found += [replace(one, score=one.score + more) for one in apart[likely:]]
    return found


def _by_all(one: _Combination, search: Search) -> _Combination | None:
    """The same weighed by all records; None: it leaves some impossible, or cannot be weighed."""
    weight = search.weigh(list(one.parts.values()), search=False)
    if weight is None or weight.log == -inf:
        return None
    chances = sum(log(part.chance) for part in one.parts.values())
    return replace(one, score=weight.log + chances)


def _of_all(together: Sequence[DisputeCluster], rates: Rates) -> Search:
    """A search over all that some clusters are about, by all records but those of others."""
    whole = DisputeCluster(
        together[0].species, tuple(one for cluster in together for one in cluster.disputes)
    )
    about = Touched()
    for one in together:
        about.add(one.about)
    return Search(whole, rates, Scale(whole.species, about, whole.excluded))


def _parts(found: Found) -> dict[str, Explanation]:
    return {change_of(part): part for part in found.parts}


def _joined(one: _Combination, other: Found, most: float, search: Search) -> _Combination | None:
    """Both together; None: they decide one thing in two ways.

    What the other costs is told against `most`, the likeliest that its records are. What happened
    once for both was counted in each. Where nothing else is needed, nothing is counted again: then
    it is as likely as that at most.
    """
    parts, cost, shared = dict(one.parts), other.score - most, 0
    decided = {part.decides: name for name, part in parts.items() if part.decides}
    for name, part in _parts(other).items():
        if decided.get(part.decides, name) != name:
            return None
        known = parts.get(name)
        if _same(part, known):
            cost -= search.likely(part)
            shared += 1
        parts[name] = known.joined(part) if known is not None else part
    cost = 0.0 if shared == len(other.parts) else cost
    return _Combination(one.own, parts, one.score + cost, one.shared or shared > 0)
