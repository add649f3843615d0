"""Candidate sires of a clutch, from introductions and locks before it was laid.

Each male that was with the dam in the fertile window weighs 1, and for each lock seen then as
much as the species says. They share what is left after stored sperm of an earlier season's mate,
and after the dam alone, each at the base rate of disputes. What is proposed becomes the shares of
the clutch, as the keeper leaves them; the introductions themselves are no evidence a second time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from keeper.domain.breeding.way import between
from keeper.domain.clutches.writes import Candidate
from keeper.domain.explaining.kin import earlier_mates
from keeper.domain.explaining.rates import Kind, rates
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Animal, BreedingEvent, Clutch, SeenKind

# However many mates she had before, their sperm together has no more of a clutch than this; nor
# has the dam alone, however often the keeper saw it.
_MOST = Fraction(1, 4)


@dataclass(frozen=True)
class Stay:
    """A male with a female: from a day until another (none: not separated), and locks seen."""

    male: Animal
    since: date
    until: date | None
    locks: tuple[date, ...] = ()


@dataclass(frozen=True)
class Proposed:
    """One possibility with its share and the ground for it; `weight` where it has one."""

    candidate: Candidate
    ground: str
    weight: int | None = None

    @property
    def who(self) -> str:
        """In words."""
        return "the dam alone" if self.candidate.alone else str(self.candidate.sire)

    @property
    def typed(self) -> str:
        """Its share, as it would be typed."""
        return as_typed(self.candidate.share)


@dataclass(frozen=True)
class Proposal:
    """What is proposed, and which males are not and why.

    The shares of all that is proposed sum to one; it is empty where nobody was with her.
    """

    proposed: tuple[Proposed, ...] = ()
    left_out: tuple[str, ...] = ()
    window: tuple[date, date] | None = None
    lock_weight: int = 1


def propose(dam: Animal, laid: date, *, lock_weight: int | None = None) -> Proposal:
    """Return the candidates for a clutch of a female laid (or born) on a day.

    `lock_weight` is what a lock weighs beside an introduction's 1; the species' figure if not
    given. The queries do not grow with the records.
    """
    species = dam.species
    weight = lock_weight or species.lock_weight
    window = (laid - timedelta(days=species.fertile_days), laid)
    proposed, left = _weighed(stays(dam), window, weight, last_laid(dam, laid))
    stored = _stored(dam, laid, [one.candidate.sire for one in proposed]) if proposed else []
    rate = rates()[Kind.ALONE]
    alone = min(rate.chance, _MOST) if proposed and species.alone_known else Fraction(0)
    rest = 1 - alone - sum((one.candidate.share for one in stored), Fraction(0))
    weights = [one.weight or 0 for one in proposed]
    shared = [
        Proposed(Candidate(one.candidate.sire, share), one.ground, one.weight)
        for one, share in zip(proposed, shares_of(rest, weights), strict=True)
    ]
    if alone:
        ground = f"at the base rate of disputes: {rate.ground}"
        stored.append(Proposed(Candidate(None, alone, alone=True), ground))
    return Proposal(tuple(shared + stored), tuple(left), window, weight)


def shares_of(rest: Fraction, weights: Sequence[int]) -> list[Fraction]:
    """Part what is left by weight, to a tenth of a percent; the heaviest has what is over.

    >>> [str(one) for one in shares_of(Fraction(999, 1000), [5, 1])]
    ['833/1000', '83/500']
    """
    whole = sum(weights)
    found = [Fraction(int(rest * one * 1000 / whole), 1000) for one in weights]
    if found:
        found[weights.index(max(weights))] += rest - sum(found, Fraction(0))
    return found


def last_laid(dam: Animal, before: date) -> date | None:
    """Return the day on which a female last laid, or bore, before another."""
    rows = Clutch.objects.live().filter(dam=dam.pk).values_list("laid_on", "hatched_on")
    ends = [laid or born for laid, born in rows if laid or born]
    return max((day for day in ends if day < before), default=None)


def stays(dam: Animal) -> list[Stay]:
    """Return when males were with a female, in order: each from put together to separated."""
    rows = BreedingEvent.objects.live().filter(dam=dam.pk).exclude(sire=None)
    found: list[Stay] = []
    open_: dict[int | None, Stay] = {}
    order = {SeenKind.INTRODUCED: 0, SeenKind.LOCK: 1, SeenKind.SEPARATED: 2}
    told = list(rows.select_related("sire__species").order_by("on", "pk"))
    for one in sorted(told, key=lambda one: (one.on, order[SeenKind(one.kind)])):
        here = open_.get(one.sire_id)
        if one.sire is None or (one.kind == SeenKind.SEPARATED and here is None):
            continue
        if one.kind == SeenKind.SEPARATED and here is not None:
            found.append(Stay(here.male, here.since, one.on, here.locks))
            del open_[one.sire_id]
        elif one.kind == SeenKind.LOCK and here is None:
            # Seen together without having been put together in the book: that day alone.
            found.append(Stay(one.sire, one.on, one.on, (one.on,)))
        elif one.kind == SeenKind.LOCK and here is not None:
            open_[one.sire_id] = Stay(one.sire, here.since, None, (*here.locks, one.on))
        elif here is None:
            open_[one.sire_id] = Stay(one.sire, one.on, None)
    found += open_.values()
    return sorted(found, key=lambda one: (one.since, one.male.pk))


def _weighed(
    all_: Sequence[Stay], window: tuple[date, date], weight: int, last: date | None
) -> tuple[list[Proposed], list[str]]:
    first, laid = window
    inside: dict[int, list[Stay]] = {}
    left: dict[int, str] = {}
    for stay in all_:
        # Not separated in the book: taken as with her until she next laid.
        ended = last if stay.until is None and last and stay.since <= last else stay.until
        if stay.since > laid:
            left[stay.male.pk] = f"{stay.male}: put in on {stay.since:%-d %B %Y}, after laying."
        elif ended is not None and ended < first:
            day = f"{ended:%-d %B %Y}"
            said = f"left on {day}," if stay.until else f"with her before she laid on {day},"
            left[stay.male.pk] = (
                f"{stay.male}: {said} {how_many((laid - ended).days, 'day')} before laying; "
                f"{(laid - first).days} count."
            )
        else:
            inside.setdefault(stay.male.pk, []).append(stay)
    proposed = []
    for those in inside.values():
        locks = [on for one in those for on in one.locks if first <= on <= laid]
        ground = _ground(those, locks, weight)
        proposed.append(Proposed(Candidate(those[0].male), ground, 1 + weight * len(locks)))
    return proposed, [said for pk, said in left.items() if pk not in inside]


def _ground(those: Sequence[Stay], locks: Sequence[date], weight: int) -> str:
    said = []
    for one in those:
        until = (
            between(one.since, one.until) if one.until
            else f"from {one.since:%-d %B %Y}, not separated in the book"
        )  # fmt: skip
        said.append(f"with her {until}")
    if locks:
        said.append(f"{how_many(len(locks), 'lock')} seen, each weighs {weight}")
    return "; ".join(said)


def _stored(dam: Animal, laid: date, with_her: Sequence[Animal | None]) -> list[Proposed]:
    """Earlier mates whose sperm she may have kept, each at the base rate."""
    if not dam.species.stores_sperm:
        return []
    here = {one.pk for one in with_her if one is not None}
    clutch = Clutch(species=dam.species, dam=dam, laid_on=laid)
    mates = [one for one in earlier_mates(clutch) if one.pk not in here]
    if not mates:
        return []
    rate = rates()[Kind.STORED]
    share = min(rate.chance, _MOST / len(mates))
    ground = f"sperm kept from an earlier season, at the base rate of disputes: {rate.ground}"
    return [Proposed(Candidate(one, share), ground) for one in mates]
