"""A source's record: of what it stated, how much was tested here, and how much of that held.

Nobody's word counts in it. Every statement, of this source and of all others, is taken out of the
book, and so is what stands in an open dispute; each founder may then carry anything, and what is
left (looks, young, laboratories, the pedigree) is solved anew. A statement is tested where that
leaves only what was said (it held) or nothing of it (it did not). Where a rate of error keeps
everything possible, looks, young that showed the trait and laboratories are taken at their word,
if they agree and the book leans their way. Clean young alone lower a chance and settle nothing.
A statement withdrawn to settle a dispute in which it stood did not hold, unless the source's word
was entered anew.

Of k that held among n tested the 95 % interval is that of Clopper and Pearson (Biometrika 26,
1934, 404): from the 2.5 % point of Beta(k, n - k + 1) to the 97.5 % point of
Beta(k + 1, n - k). The proposal is Laplace's rule of succession, (k + 1) / (n + 2).
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from django.contrib.contenttypes.models import ContentType

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.trying import Outcome, Trial, Tried
from keeper.domain.inference.reading.carriers import Component
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.standings.computing import SpeciesBook
from keeper.domain.inference.standings.copies import Figure, Whose, figures
from keeper.domain.inference.standings.facts import gather
from keeper.domain.saying.counts import how_many
from keeper.models import Claim, Contact, Dispute, Species, Standing, Statement, Touch

# Table components that one solution may take; a page waits for it.
_CELLS = 2.0**22
_TESTED = (Outcome.HELD, Outcome.NOT_HELD)
_SET_ASIDE = "set aside to settle a dispute"


@dataclass(frozen=True)
class ClaimCount:
    """Of one kind of claim: how many were stated, how many of them tested, how many held.

    `interval` is the 95 % interval of the share that holds, None where nothing was tested.
    """

    claim: Claim
    stated: int
    tested: int
    held: int
    interval: tuple[float, float] | None


@dataclass(frozen=True)
class PossibleCount:
    """Possible hets of one figure.

    Attributes:
        stated: how many.
        proved, excluded: how many turned out to carry it, and not to.
        clean: how many of the others have young that could have shown it and did not.
        expected: how many of all should carry it.
    """

    chance: Fraction
    stated: int
    proved: int
    excluded: int
    clean: int
    expected: Fraction


@dataclass(frozen=True)
class SourceRecord:
    """What became of a source's statements.

    Attributes:
        tried: each with its outcome, those set aside last.
        stated, tested, held: counts without the possible hets.
        clean, disputed: of those not tested, how many were bred clean, how many are in dispute.
        interval: 95 % interval of the share that holds; None: nothing was tested.
        proposal: what the record alone would have one expect of the next; None likewise.
        by_claim, possible: the same by what was stated, and possible hets by their figure.
        exact: False where families were too large to be solved: then what follows from the rest
            of the book is not counted.
    """

    tried: tuple[Tried, ...]
    stated: int
    tested: int
    held: int
    clean: int
    disputed: int
    interval: tuple[float, float] | None
    proposal: Fraction | None
    by_claim: tuple[ClaimCount, ...]
    possible: tuple[PossibleCount, ...]
    exact: bool


def source_record(contact: Contact) -> SourceRecord:
    """Count what a source stated, how much of it was tested here, and how much held."""
    rows = Statement.objects.live().filter(source=contact, animal__withdrawn_at=None, signed=None)
    live = list(
        rows.select_related("animal__species", "trait__base", "line").order_by(
            "animal__species_id", "animal__code", "pk"
        )
    )
    tried: list[Tried] = []
    exact = True
    for _, listed in groupby(live, key=lambda one: one.animal.species_id):
        found, solved = _tried(list(listed))
        tried += found
        exact = exact and solved
    tried += [Tried(one, Outcome.NOT_HELD, _SET_ASIDE) for one in _set_aside(contact, live)]
    return _counted(tried, exact=exact)


def interval(held: int, tested: int) -> tuple[float, float] | None:
    """Return the 95 % interval of a share of which `held` of `tested` were seen.

    Bounds of Clopper and Pearson (1934), so at least 95 % of such intervals hold the true share
    whatever it is. None where nothing was tested.

    >>> [round(bound, 4) for bound in interval(0, 10)]
    [0.0, 0.3085]
    """
    from scipy.special import betaincinv

    if not tested:
        return None
    low = float(betaincinv(held, tested - held + 1, 0.025)) if held else 0.0
    high = float(betaincinv(held + 1, tested - held, 0.975)) if held < tested else 1.0
    return low, high


def _tried(statements: list[Statement]) -> tuple[list[Tried], bool]:
    """Each statement on animals of one species, tested; whether the families were solved."""
    species = statements[0].animal.species
    animals = {one.animal_id for one in statements}
    clashing = _clashing(species)
    disputed = _disputed(animals)
    clean = _clean(animals)
    trial, exact = _trial(species, animals, clashing)
    found = []
    for one in statements:
        whose = (one.animal_id, one.trait_id)
        if ("statement", one.pk) in clashing or whose in disputed:
            found.append(Tried(one, Outcome.DISPUTED, ""))
            continue
        outcome, why = trial.of(one)
        young = clean.get(whose, 0)
        if outcome == Outcome.OPEN and young and one.claim != Claim.CLEAR:
            outcome, why = Outcome.CLEAN, how_many(young, "hatchling")
        found.append(Tried(one, outcome, why))
    return found, exact


def _trial(species: Species, animals: set[int], clashing: set[Source]) -> tuple[Trial, bool]:
    """What the book says of some animals without anybody's word, and without what clashes."""
    of = SpeciesBook(species)
    components = of.components(Touched(animals={(pk, None) for pk in animals}))
    of = of.attending(components)
    members = animals & of.rows.animals.keys()
    clutches = {clutch for pk in members for clutch in of.rows.bred.get(pk, ())}
    facts = gather(of.inheritance, of.rows, _with_young(of.rows, members), clutches)
    known: dict[Whose, Figure] = {}
    inside: dict[frozenset[int], set[int]] = {}
    exact = True
    for component in components:
        found = _figures(of, component, animals, clashing)
        if found is None:
            exact = False
            continue
        known |= found
        for group, pks in component.animals.items():
            inside.setdefault(group.traits, set()).update(pks & animals)
    return Trial(of.inheritance, of.rows, facts, known, inside), exact


def _figures(
    of: SpeciesBook, component: Component, animals: set[int], clashing: set[Source]
) -> dict[Whose, Figure] | None:
    """The figures of the animals in a part of the book, or None if it cannot be worked out."""
    book = engine_book(of.inheritance, of.rows, component)
    dropped = {
        name
        for name, sources in book.sources.items()
        if any(one[0] == "statement" or one in clashing for one in sources)
    }
    kept = genetics.kept_only(book.population, set(genetics.records(book.population)) - dropped)
    groups = {group: pks & animals for group, pks in component.animals.items()}
    try:
        solved = genetics.solve(kept, limit=_CELLS, exact_only=True)
        without = EngineBook(kept, groups, book.sources)
        return figures(of.inheritance, of.rows, without, solved)
    except (genetics.BeyondExact, genetics.ImpossibleEvidence):
        return None


def _with_young(rows: Rows, animals: set[int]) -> set[int]:
    """The animals, and their young without a clutch: a look at those tells of their parents."""
    return animals | {
        child
        for pk in animals
        for child in rows.children.get(pk, ())
        if rows.animals[child].clutch is None
    }


def _clashing(species: Species) -> set[Source]:
    """The records of open disputes."""
    return {
        (str(one["model"]), int(one["pk"]))
        for dispute in Dispute.objects.filter(species=species, closed=None)
        for one in dispute.conflict
    }


def _disputed(animals: set[int]) -> set[tuple[int, int]]:
    """Animals and traits whose figure rests on a dispute."""
    rows = Standing.objects.filter(animal__in=animals).exclude(dispute=None)
    return set(rows.values_list("animal_id", "trait_id"))


def _clean(animals: set[int]) -> dict[tuple[int, int], int]:
    """Hatchlings that could have shown a trait and did not, by animal and trait."""
    rows = Standing.objects.filter(animal__in=animals, line=None, clean_young__gt=0)
    return {
        (animal, trait): young
        for animal, trait, young in rows.values_list("animal_id", "trait_id", "clean_young")
    }


def _set_aside(contact: Contact, live: Sequence[Statement]) -> list[Statement]:
    """Statements withdrawn by an entry that settled a dispute in which they stood.

    Not what was undone, which was never meant, and not what the same source's word replaces.
    """
    anew = {(one.animal_id, one.trait_id) for one in live}
    every = Statement.objects.withdrawn().filter(source=contact, signed=None)
    gone = every.filter(animal__withdrawn_at=None)
    waiting = {
        one.pk: one
        for one in gone.select_related("animal", "trait", "line").order_by("animal__code", "pk")
        if (one.animal_id, one.trait_id) not in anew
    }
    if not waiting:
        return []
    settled: dict[int, set[int]] = {}
    closed = Dispute.objects.filter(closed__isnull=False, closed__undoes=None)
    for dispute in closed:
        named = {one["pk"] for one in dispute.conflict if one["model"] == "statement"}
        if dispute.closed_id is not None and named & waiting.keys():
            settled.setdefault(dispute.closed_id, set()).update(named & waiting.keys())
    touches = Touch.objects.filter(
        entry__in=settled,
        record_type=ContentType.objects.get_for_model(Statement),
        record_id__in=waiting,
    ).values_list("entry_id", "record_id")
    excluded = {pk for entry, pk in touches if pk in settled[entry]}
    return [one for pk, one in waiting.items() if pk in excluded]


def _counted(tried: list[Tried], *, exact: bool) -> SourceRecord:
    certain = [one for one in tried if not one.is_possible]
    tested = [one for one in certain if one.outcome in _TESTED]
    held = sum(one.outcome == Outcome.HELD for one in tested)
    return SourceRecord(
        tried=tuple(tried),
        stated=len(certain),
        tested=len(tested),
        held=held,
        clean=sum(one.outcome == Outcome.CLEAN for one in certain),
        disputed=sum(one.outcome == Outcome.DISPUTED for one in certain),
        interval=interval(held, len(tested)),
        proposal=Fraction(held + 1, len(tested) + 2) if tested else None,
        by_claim=_by_claim(certain),
        possible=_possible(one for one in tried if one.is_possible),
        exact=exact,
    )


def _by_claim(certain: Sequence[Tried]) -> tuple[ClaimCount, ...]:
    found = []
    for claim in (Claim.VISUAL, Claim.DOUBLE, Claim.CARRIES, Claim.CLEAR):
        mine = [one for one in certain if one.claim == claim]
        if mine:
            outcomes = Counter(one.outcome for one in mine)
            held = outcomes[Outcome.HELD]
            tested = held + outcomes[Outcome.NOT_HELD]
            found.append(ClaimCount(claim, len(mine), tested, held, interval(held, tested)))
    return tuple(found)


def _possible(tried: Iterable[Tried]) -> tuple[PossibleCount, ...]:
    by_chance: dict[Fraction, list[Tried]] = {}
    for one in tried:
        by_chance.setdefault(one.statement.chance or Fraction(0), []).append(one)
    return tuple(
        PossibleCount(
            chance=chance,
            stated=len(mine),
            proved=sum(one.outcome == Outcome.HELD for one in mine),
            excluded=sum(one.outcome == Outcome.NOT_HELD for one in mine),
            clean=sum(one.outcome == Outcome.CLEAN for one in mine),
            expected=chance * len(mine),
        )
        for chance, mine in sorted(by_chance.items(), reverse=True)
    )
