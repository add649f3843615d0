"""What sources say of animals and of lines, and which of it stands or falls together.

A source that is wrong about one animal is likelier wrong about those that came with it: they are of
one clutch more often than not, or were described at one time. So its doubted words on one trait of
animals of one purchase share a trust: one chance whether all of them hold or none (the contract's
`trust`).

A purchase is what came from one source on one day (`Animal.source`, `Animal.acquired_on`). The book
has no record of a purchase of its own, and needs none: two lots of one day from one hand are told
apart by nobody. An animal without a day, or without a source, came by itself. Whose word it is
counts too: the papers of one breeder, handed on with animals of several, are his alone.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import genetics
from keeper import models as m
from keeper.domain.inference.reading.prepared import Prepared

if TYPE_CHECKING:
    from keeper.domain.inference.reading.rows import Rows, Values

# What is read of a statement.
STATED = (
    *("pk", "animal_id", "trait_id", "line_id", "claim", "chance", "source__reliability"),
    *("source_id", "animal__source_id", "animal__acquired_on"),
    *("told", "signed_id"),
)


class Purchase(NamedTuple):
    """Whose word came with which animals: who speaks, from whom they came, and the day.

    The first two are ids of contacts.
    """

    said_by: int
    source: int
    on: date


def _purchase(said_by: int | None, source: int | None, on: date | None) -> Purchase | None:
    if said_by is None or source is None or on is None:
        return None
    return Purchase(said_by, source, on)


# Rows of what a signed paper tells: a weight, and copies by the ids of lines.
Told = tuple[tuple[Fraction, tuple[tuple[int, int], ...]], ...]


class StatedRow(NamedTuple):
    """What a source said of one trait of an animal.

    `bought` is the purchase with whose other words on the trait it stands or falls, if it is
    doubted at all; `told` what a signed paper tells in figures, `signed` which.
    """

    pk: int
    trait: int
    line: int | None
    claim: str
    chance: Fraction | None
    reliability: Fraction
    bought: Purchase | None = None
    told: Told = ()
    signed: int | None = None


# A purchase and the trait that is spoken of: what shares a trust.
Lot = tuple[Purchase, int]


def stated_row(values: "Values") -> tuple[int, StatedRow]:
    """The animal and the statement of a row read by `STATED`."""
    pk, animal, trait, line, claim, chance, reliability, said_by, source, on, *more = values
    full = Fraction(1) if reliability is None else reliability
    bought = _purchase(said_by, source, on) if 0 < full < 1 else None
    told, signed = more
    return animal, StatedRow(pk, trait, line, claim, chance, full, bought, told_rows(told), signed)


def told_rows(told: "genetics.JsonObject | None") -> Told:
    """What a signed paper tells, read from its statement; nothing where none does."""
    return tuple(
        (Fraction(weight), tuple((int(line), copies) for line, copies in has.items()))
        for weight, has in (told["rows"] if told else ())
    )


def weighed(said_of: StatedRow) -> genetics.Sighting:
    """A word beside what is known otherwise: if it is not true, it tells nothing."""
    doubt = 1 - said_of.reliability
    if said_of.claim == m.Claim.CLEAR:
        return genetics.Sighting(seen=False, false_negative=doubt)
    return genetics.Sighting(seen=True, false_positive=doubt)


def lots(
    rows: "Rows", animals: Iterable[int], traits: Collection[int]
) -> dict[Lot, dict[int, StatedRow]]:
    """The doubted words by which some founders are, by purchase and trait: animal → word."""
    found: dict[Lot, dict[int, StatedRow]] = defaultdict(dict)
    for pk in animals:
        if any(said.bought for said in rows.statements.get(pk, ())):
            for said in rows.first_words(pk):
                if said.bought is not None and said.trait in traits:
                    found[said.bought, said.trait][pk] = said
    return dict(found)


def shared(of: Mapping[Lot, Mapping[int, StatedRow]]) -> dict[int, str]:
    """The trust, by the name of it, on which each word hangs that does not hang alone."""
    several = sorted(lot for lot, words in of.items() if len(words) > 1)
    return {
        said.pk: f"purchase {number}, trait {lot[1]}"
        for number, lot in enumerate(several, 1)
        for said in of[lot].values()
    }


def hang_together(rows: "Rows", animals: Collection[int], traits: Collection[int]) -> bool:
    """Whether a word on some animals stands or falls with one on another, of them or not.

    One query, and none where nobody of them was bought on a doubted word.
    """
    found = lots(rows, animals, traits)
    return any(len(words) > 1 for words in found.values()) or bool(hanging_on(found))


def hanging_on(of: Mapping[Lot, Mapping[int, StatedRow]]) -> set[int]:
    """The animals beside those of some lots on whom words stand or fall with the words there."""
    if not of:
        return set()
    wanted = {(trait, *bought): set(words) for (bought, trait), words in of.items()}
    live = m.Statement.objects.live().filter(
        animal__withdrawn_at=None,
        trait__in={trait for trait, *_ in wanted},
        source__in={said_by for _, said_by, *_ in wanted},
        animal__source__in={source for _, _, source, _ in wanted},
        animal__acquired_on__in={on for *_, on in wanted},
    )
    columns = ("trait_id", "source_id", "animal__source_id", "animal__acquired_on", "animal_id")
    return {
        animal
        for trait, said_by, source, on, animal in live.order_by().values_list(*columns)
        if animal not in wanted.get((trait, said_by, source, on), {animal})
    }


def words_on(lines: Collection[int]) -> list[m.PairWord]:
    """What sources say of some lines, two and two, with reports of crosses."""
    found = [pk for (pk,) in _PAIR_WORDS.rows(lines)]
    # Few books have any.
    return list(m.PairWord.objects.filter(pk__in=found).select_related("source")) if found else []


def pair_prior(pair: m.OpenPair, words: Iterable[m.PairWord]) -> Fraction:
    """How likely two lines are one gene before any cross: the keeper's view, and sources' words.

    A word of weight w is right with chance w, and says one thing or the other at random
    otherwise: it multiplies the odds by (1 + w) / (1 - w), or divides them.
    """
    for_one, for_two = Fraction(pair.prior), 1 - Fraction(pair.prior)
    for word in words:
        if (word.one_id, word.other_id) == (pair.one_id, pair.other_id):
            right, wrong = 1 + word.taken, 1 - word.taken
            for_one *= right if word.one_gene else wrong
            for_two *= wrong if word.one_gene else right
    # Words that are certain and contradict each other leave nothing: then the view alone counts.
    whole = for_one + for_two
    return for_one / whole if whole else Fraction(pair.prior)


_PAIR_WORDS = Prepared(
    lambda pks: m.PairWord.objects.live().filter(one__in=pks, other__in=pks).values_list("pk")
)
