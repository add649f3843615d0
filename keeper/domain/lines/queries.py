"""Reading what bears on two lines of a look: words, decisions, animals to cross."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db.models import Prefetch, Q, QuerySet

from keeper.models import (
    GONE,
    Animal,
    CandidateSire,
    Clutch,
    DaybookEntry,
    Line,
    OpenPair,
    PairWord,
    Standing,
    Touch,
    Trait,
)

# Where an animal is not at hand any more.


def in_order(one: Line, other: Line) -> tuple[Line, Line]:
    """Return two lines as rows about both name them: the earlier first."""
    return (one, other) if one.pk < other.pk else (other, one)


def lines_compared(trait: Trait) -> QuerySet[Line]:
    """Return the lines of a look that count, by code."""
    return Line.objects.live().filter(trait=trait).select_related("trait", "locus").order_by("code")


def open_pair(one: Line, other: Line) -> OpenPair | None:
    """Return the open pair of two lines, if nobody is sure of them."""
    found = OpenPair.objects.live().filter(one__in=(one, other), other__in=(one, other))
    return found.select_related("one__trait", "other__trait").first()


def open_ids(lines: Iterable[Line]) -> set[tuple[int, int]]:
    """Return the ids of lines that are open pairs, the earlier first."""
    those = [line.pk for line in lines]
    found = OpenPair.objects.live().filter(one__in=those, other__in=those)
    return set(found.values_list("one_id", "other_id"))


def may_be_open(one: Line, other: Line) -> bool:
    """Whether two lines may be in doubt: by an open pair of theirs, or by way of a third line."""
    if one.locus_id == other.locus_id:
        return False
    pairs = OpenPair.objects.live().filter(one__trait=one.trait_id)
    named = {pk for row in pairs.values_list("one_id", "other_id") for pk in row}
    return {one.pk, other.pk} <= named


def open_pairs_of(trait: Trait) -> QuerySet[OpenPair]:
    """Return the open pairs of a look's lines."""
    return OpenPair.objects.live().filter(one__trait=trait, other__trait=trait)


def words_of(trait: Trait) -> list[PairWord]:
    """Return what counts of what sources said of a look's lines, reports of crosses among it."""
    found = PairWord.objects.live().filter(one__trait=trait, other__trait=trait)
    return list(found.select_related("source"))


def words_on(one: Line, other: Line) -> list[PairWord]:
    """Return what sources said of two lines, withdrawn words last."""
    found = PairWord.objects.filter(one__in=(one, other), other__in=(one, other))
    words = found.select_related("source", "one__trait", "other__trait").order_by("-on", "-pk")
    return sorted(words, key=lambda word: word.is_withdrawn)


def with_parents(clutches: QuerySet[Clutch]) -> QuerySet[Clutch]:
    """Fetch dam and candidate sires along."""
    sires = CandidateSire.objects.live().select_related("sire").order_by("pk")
    return clutches.select_related("dam").prefetch_related(Prefetch("candidates", sires))


@dataclass(frozen=True)
class AtHand:
    """Animals that may carry one of two lines and could be crossed.

    Attributes:
        females, males: grown, or of an age not known.
        young: how many more are known to be too young to breed.
    """

    females: tuple[Animal, ...]
    males: tuple[Animal, ...]
    young: int


def at_hand(one: Line, other: Line, *, today: date) -> AtHand:
    """Return the animals, neither sold nor dead, that may carry one of two lines."""
    carrying = Standing.objects.filter(line__in=(one, other), none__lt=1).values("animal")
    animals = (
        Animal.objects.live()
        .filter(pk__in=carrying, sex__in=("female", "male"))
        .exclude(status__in=GONE)
        .select_related("species")
        .order_by("code")
    )
    grown, young = [], 0
    for animal in animals:
        if _too_young(animal, today):
            young += 1
        else:
            grown.append(animal)
    return AtHand(
        tuple(one for one in grown if one.sex == "female"),
        tuple(one for one in grown if one.sex == "male"),
        young,
    )


def _too_young(animal: Animal, today: date) -> bool:
    return animal.breeds_from is not None and animal.breeds_from > today


def decisions_on(one: Line, other: Line) -> list[DaybookEntry]:
    """Return the entries that decided, opened or weighed a pair of lines, or noted words on it."""
    pairs = OpenPair.objects.filter(one__in=(one, other), other__in=(one, other))
    words = PairWord.objects.filter(one__in=(one, other), other__in=(one, other))
    about = _touches(OpenPair, pairs) | _touches(PairWord, words)
    about |= Q(
        record_type=_kind(Line), record_id__in=(one.pk, other.pk), history_id__in=_moves(one, other)
    )
    entries = DaybookEntry.objects.filter(pk__in=Touch.objects.filter(about).values("entry"))
    return list(entries.select_related("by", "undone_by").order_by("-pk"))


def _kind(model: Any) -> ContentType:
    return ContentType.objects.get_for_model(model)


def _touches(model: Any, rows: QuerySet[Any]) -> Q:
    return Q(record_type=_kind(model), record_id__in=list(rows.values_list("pk", flat=True)))


def _moves(one: Line, other: Line) -> list[int]:
    """Rows of the lines' history by which the two came together at a locus, or parted."""
    history: Any = Line.history
    rows = history.filter(id__in=(one.pk, other.pk)).order_by("history_id")
    sits: dict[int, int] = {}
    found = []
    for row, line, locus in rows.values_list("history_id", "id", "locus_id"):
        before = len(set(sits.values())) == 1 and len(sits) == 2
        new = line not in sits
        sits[line] = locus
        if not new and before != (len(set(sits.values())) == 1 and len(sits) == 2):
            found.append(row)
    return found
