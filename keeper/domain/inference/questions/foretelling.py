"""What the book says of a clutch's looks before anything hatched, to be kept as it was said.

Of each candidate sire, and of each part of the genome that is independent of the others, the
parents are one of several kinds; a kind gives looks with fixed chances. Averages alone would not
do: that five of eight show a trait is likelier of parents who may both carry it than eggs drawn one
by one at the mean chance would have it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import genetics
from keeper.domain.inference.questions.asking import STRANGER, Subproblem, Unanswerable, around
from keeper.domain.inference.questions.kinds import Kinds, by_sex_of, kinds_of, sexed_of
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.showed import Alike, alike, told_of
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Animal, Clutch, Paternity, Species

# Of a look: the traits that it shows, those that it hides, its chance.
ToldLook = tuple[tuple[int, ...], tuple[int, ...], float]
# A kind of couple at some loci: its weight, and what its young look like.
ToldKind = tuple[float, tuple[ToldLook, ...]]


@dataclass(frozen=True)
class ToldSire:
    """What a candidate sire's young can look like: kinds for each part of the genome."""

    share: float
    parts: tuple[tuple[ToldKind, ...], ...]


@dataclass(frozen=True)
class Foretelling:
    """What is said of a clutch's looks.

    Attributes:
        sires: the candidates; their shares sum to 1.
        each: whether each egg may have a sire of its own.
        sons: the chance of a hatchling to be a son.
        exact: whether every chance is.
    """

    sires: tuple[ToldSire, ...]
    each: bool
    sons: float
    exact: bool


def foretell(clutch: Clutch) -> Foretelling | None:
    """Return what is said of a clutch's looks now; None where its dam is not recorded.

    Raises:
        Unanswerable: it is too large to be worked out, or the register leaves nothing possible.
    """
    dam = clutch.dam
    if dam is None:
        return None
    candidates = list(clutch.candidates.live().select_related("sire"))
    sires = [dam if one.alone else one.sire for one in candidates] or [None]
    shares = [float(one.share) for one in candidates] or [1.0]
    asked = around(dam.species, [dam, *(one for one in sires if one is not None)])
    try:
        given = [[_given(part, dam, sire) for part in asked.subproblems] for sire in sires]
    except genetics.BeyondExact as beyond:
        raise Unanswerable("These parents may differ in too many genes at once.") from beyond
    whole = sum(shares)
    sons = [next((one.sons for one in parts if one.sons is not None), 0.5) for parts in given]
    return Foretelling(
        sires=tuple(
            ToldSire(share / whole, tuple(_kinds(asked.of.inheritance, one.kinds) for one in parts))
            for share, parts in zip(shares, given, strict=True)
        ),
        each=clutch.paternity == Paternity.EACH and len(candidates) > 1,
        sons=sum(share / whole * one for share, one in zip(shares, sons, strict=True)),
        exact=not asked.conflict and all(one.exact for parts in given for one in parts),
    )


def hatched_looks(species: Species, clutches: Sequence[int]) -> dict[int, tuple[Alike, ...]]:
    """Return what hatched in some clutches of a species, each look with how many had it."""
    inheritance = Inheritance.load(species)
    rows = ReachedRows(species.pk)
    rows.hatched.ask(clutches)
    rows.attend({pk for one in clutches for pk in rows.hatched.get(one, ())}, set(clutches))
    return {one: tuple(alike(inheritance, rows, one)) for one in clutches}


@dataclass(frozen=True)
class _Given:
    """What a couple gives in one part of the genome; `sons` where it decides the sex."""

    kinds: Kinds
    sons: float | None
    exact: bool


def _given(one: Subproblem, dam: Animal, sire: Animal | None) -> _Given:
    """Solve one part for what the couple's young look like, and nothing else."""
    inheritance, mother = one.of.inheritance, one.code(dam)
    if sire == dam:
        stays = inheritance.retained(one.loci) or 0
        question = genetics.OffspringQuestion(dam=mother, sire=genetics.NO_SIRE, retained=stays)
    elif sire is None:
        one = one.with_records(animals=[genetics.Animal(id=STRANGER, sex="male")])
        question = genetics.OffspringQuestion(dam=mother, sire=STRANGER)
    else:
        question = genetics.OffspringQuestion(dam=mother, sire=one.code(sire))
    solved = one.solve([genetics.couple_query(one.book.population, question)])
    sexed = sexed_of(solved, question)
    sons = by_sex_of(inheritance, sexed).born["male"] if one.decides_sex else None
    return _Given(kinds_of(inheritance, sexed), sons, solved.exact)


def _kinds(inheritance: Inheritance, kinds: Kinds) -> tuple[ToldKind, ...]:
    """Kinds by numbers of traits, a double form with the trait that it is one of."""
    by_name = {trait.name: pk for pk, trait in inheritance.traits.items()}
    told = []
    for weight, looks in kinds:
        found: list[ToldLook] = []
        for names, chance in sorted(looks.items()):
            seen = {by_name[name] for name in names}
            shown, _ = told_of(inheritance, seen, ())
            hidden = frozenset(inheritance.hidden_by(seen)) - shown
            found.append((tuple(sorted(shown)), tuple(sorted(hidden)), chance))
        told.append((weight, tuple(found)))
    return tuple(told)
