"""The clutch's page: parents, what hatched, what it told, and the list of clutches."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet

from keeper.domain import inference
from keeper.domain.book.ordering import newest, oldest
from keeper.domain.clutches import queries
from keeper.domain.clutches.hatch_plan import SEXES, look_name
from keeper.domain.lines.mixing import WouldMix, would_mix
from keeper.domain.saying import wording
from keeper.domain.saying.figures import percent
from keeper.models import (
    Animal,
    CandidateSire,
    Clutch,
    DaybookEntry,
    HatchRow,
    Standing,
    StandingChange,
    Trait,
)
from keeper.pages.frame.notices import DisputeNotice, notice

PER_PAGE = 50
# Chances nearer than this are said to be the same.
_SAME = 1e-9


@dataclass(frozen=True)
class Parent:
    """A parent, or one that may be; without an animal: one that is not recorded."""

    role: str
    animal: Animal | None
    share: str
    carried: list[wording.Carried]
    # How likely it is the sire by all that hatched; empty where there is no question.
    likely: str = ""
    missing: str = "not recorded"
    # The same in numbers: before anything hatched, and after.
    prior: Fraction | None = None
    chance: float | None = None


@dataclass(frozen=True)
class SireOdds:
    """A candidate: how likely it was before anything hatched, and how likely by all that did."""

    who: str
    before: str
    after: str
    words: str


@dataclass(frozen=True)
class Hatched:
    """A row of what hatched: its look, and how many of it are a tally still."""

    row: HatchRow
    look: str
    unsure: str
    own: list[Animal]
    tally: int


@dataclass(frozen=True)
class Tried:
    """What came out for one trait: so many showed it, of so many that could have."""

    trait: Trait
    showed: int
    of: int


@dataclass(frozen=True)
class ClutchPage:
    """All that a clutch's page shows.

    Attributes:
        parents: the dam, then every candidate sire.
        hatched: what hatched, row by row.
        total: how many that is; `by_sex` the same as males.females.unknown.
        left: eggs of which nothing is known yet, or None where eggs were not counted.
        due_on: about when it should hatch, if it has not.
        tried: by trait, how many showed it.
        told: how this clutch's entries moved its parents' numbers, from the first to the last.
        disputes: the records of each open one in which the clutch or its family has a part.
        mixing: lines of two genes of one look that the parents may hand on.
        entries: its pages in the daybook, latest first.
    """

    clutch: Clutch
    parents: list[Parent]
    hatched: list[Hatched]
    total: int
    by_sex: str
    left: int | None
    due_on: date | None
    tried: list[Tried]
    told: list[StandingChange]
    disputes: list[DisputeNotice]
    mixing: list[WouldMix]
    entries: list[DaybookEntry]

    @property
    def testing(self) -> list[tuple[Animal, wording.Carried]]:
        """What of its parents is not certain yet: what a test breeding can tell."""
        return [
            (parent.animal, one)
            for parent in self.parents
            if parent.animal is not None
            for one in parent.carried
            if one.over_all.none and one.over_all.none < 1
        ]

    @property
    def odds(self) -> list[SireOdds]:
        """Of several candidates, what each was given and what it is worth by now."""
        return [_odds(one) for one in self.parents[1:] if one.prior is not None]

    @property
    def sire(self) -> Animal | None:
        """The sire where there is one candidate alone."""
        sires = self.parents[1:]
        return sires[0].animal if len(sires) == 1 else None


def clutch_page(clutch: Clutch) -> ClutchPage:
    """Read a clutch's page; `clutch` with its parents fetched (`queries.with_parents`)."""
    rows = queries.rows_of(clutch)
    standings = _standings(clutch)
    tried = _tried(clutch, rows, standings)
    total = sum(row.count for row in rows)
    accounted = clutch.slugs + clutch.lost + total
    parents = _parents(clutch, standings, {one.trait.pk for one in tried})
    return ClutchPage(
        clutch=clutch,
        parents=parents,
        hatched=[_hatched(row, [one.trait for one in tried]) for row in rows],
        total=total,
        by_sex=".".join(str(sum(row.count for row in rows if row.sex == sex)) for sex in SEXES),
        left=None if clutch.eggs is None else max(0, clutch.eggs - accounted),
        due_on=clutch.due_on,
        tried=tried,
        told=_told(clutch, [one.trait.pk for one in tried]),
        disputes=_disputes(clutch, rows),
        mixing=_mixing(parents),
        entries=list(queries.entries_of(clutch)),
    )


def _standings(clutch: Clutch) -> list[Standing]:
    """What is said of all that may be its parents."""
    animals = [clutch.dam, *(one.sire for one in clutch.candidates.all())]
    found = Standing.objects.filter(animal__in=[one.pk for one in animals if one is not None])
    return list(found.select_related("trait", "line", "dispute"))


def _parents(clutch: Clutch, standings: Iterable[Standing], tried: set[int]) -> list[Parent]:
    candidates = list(clutch.candidates.all())
    by_animal: dict[int, list[wording.Carried]] = {}
    for known in wording.carried(standings):
        # What it cannot carry is worth a line only where this clutch asked for it.
        if known.over_all.none < 1 or known.trait.pk in tried:
            by_animal.setdefault(known.animal_id, []).append(known)
    dam = clutch.dam
    found = [Parent("Dam", dam, "", by_animal.get(dam.pk, []) if dam else [])]
    shares = _shares(candidates)
    chances = inference.sire_chances(clutch) if len(candidates) > 1 and clutch.hatched_on else {}
    for one, share in zip(candidates, shares, strict=True):
        role = "Sire" if len(candidates) == 1 else "Candidate sire"
        carried = by_animal.get(one.sire.pk, []) if one.sire else []
        # Whoever asks about sires calls the dam alone 0.
        chance = chances.get(0 if one.alone else one.sire_id)
        likely = "" if chance is None else percent(chance)
        missing = "none: the dam alone" if one.alone else "not recorded"
        prior = one.share / sum(each.share for each in candidates) if share else None
        found.append(Parent(role, one.sire, share, carried, likely, missing, prior, chance))
    return found if candidates else [*found, Parent("Sire", None, "", [])]


def _odds(one: Parent) -> SireOdds:
    who = str(one.animal) if one.animal else one.missing
    before = percent(float(one.prior or 0))
    if one.chance is None:
        return SireOdds(who, before, before, "nothing that hatched tells yet")
    moved = one.chance - float(one.prior or 0)
    words = "as likely as before" if abs(moved) < _SAME else "likelier now" if moved > 0 else (
        "ruled out" if one.chance == 0 else "less likely now"
    )  # fmt: skip
    return SireOdds(who, before, percent(one.chance), words)


def _mixing(parents: list[Parent]) -> list[WouldMix]:
    dam, *sires = parents
    return would_mix(dam.carried, (row for sire in sires for row in sire.carried))


def _shares(candidates: list[CandidateSire]) -> list[str]:
    """What each candidate was given before anything hatched, in proportion; nothing for one."""
    if len(candidates) < 2:
        return ["" for _ in candidates]
    whole = sum(one.share for one in candidates)
    return [str(one.share / whole) for one in candidates]


def _hatched(row: HatchRow, tried: list[Trait]) -> Hatched:
    sightings = row.sightings.all()
    told = {one.trait_id for one in sightings if one.seen is not None}
    untold = {one.trait_id for one in sightings if one.seen is None}
    own = list(row.recorded.all())
    seen = sorted((one.trait for one in sightings if one.seen), key=lambda one: one.name)
    return Hatched(
        row=row,
        look=look_name(seen),
        unsure=", ".join(
            one.name
            for one in tried
            if one.pk in untold or not (one.pk in told or (row.whole and not one.told_from))
        ),
        own=own,
        tally=row.count - len(own),
    )


def _tried(clutch: Clutch, rows: Iterable[HatchRow], carried: Iterable[Standing]) -> list[Tried]:
    """Count by trait that was named on hatch day or that a parent may carry."""
    traits = {one.trait_id: one.trait for row in rows for one in row.sightings.all()}
    traits |= {one.trait_id: one.trait for one in carried if one.none < 1}
    counts = inference.hatch_counts(clutch) if traits else {}
    found = [Tried(trait, *counts[pk]) for pk, trait in traits.items() if pk in counts]
    return sorted(found, key=lambda one: one.trait.name)


def _told(clutch: Clutch, traits: list[int]) -> list[StandingChange]:
    """One move from before the clutch's first entry to after its last, for each parent and gene."""
    parents = [clutch.dam_id, *(one.sire_id for one in clutch.candidates.all())]
    moves: dict[tuple[int, int, int | None], StandingChange] = {}
    for change in queries.moved_by_clutch(clutch, [one for one in parents if one], traits):
        key = (change.animal_id, change.trait_id, change.line_id)
        first = moves.setdefault(key, change)
        first.word, first.two, first.none = change.word, change.two, change.none
        first.disputed = change.disputed
    moved = [one for one in moves.values() if wording.before(one) != wording.after(one)]
    lines = Counter((one.animal_id, one.trait_id) for one in moved if one.line_id)
    # Of a trait with one line the line's name says more than the trait's.
    return [one for one in moved if one.line_id or lines[one.animal_id, one.trait_id] != 1]


def _disputes(clutch: Clutch, rows: list[HatchRow]) -> list[DisputeNotice]:
    """Return the records of each open dispute in which the clutch or its family has a part."""
    family = {clutch.dam_id, *(one.sire_id for one in clutch.candidates.all())}
    family |= {animal.pk for row in rows for animal in row.recorded.all()}
    ours = {("clutch", clutch.pk), *(("hatchrow", row.pk) for row in rows)}
    ours |= {("animal", pk) for pk in family if pk}
    found = queries.open_disputes(clutch.species_id)
    return [
        notice(dispute)
        for dispute in found
        if ours & {(one["model"], one["pk"]) for one in dispute.conflict}
        or family & {one.animal_id for one in dispute.standings.all()}
    ]


# --- the list ----------------------------------------------------------------------------------

_ORDERS = {
    "": (newest("season"), newest("laid_on"), "-pk"),
    "oldest": (oldest("season"), oldest("laid_on"), "pk"),
    "code": ("code",),
    "dam": (oldest("dam__code"), newest("laid_on"), "-pk"),
    "hatched": ("-hatched", "code"),
}
HEADS = (
    *("clutch", "species", "dam", "candidate sires", "laid", "hatched on", "eggs", "slugs"),
    *("lost", "hatched", "test breeding"),
)


def clutches_found(cleaned: dict[str, Any]) -> QuerySet[Any]:
    """Return the clutches that pass the filters in the order asked, with `hatched`, `season`."""
    found = queries.with_season(queries.with_hatched(Clutch.objects.all()))
    found = queries.in_state(found, cleaned.get("state") or "")
    found = queries.matching(found, cleaned.get("q") or "")
    if cleaned.get("season"):
        found = found.filter(season=cleaned["season"])
    if cleaned.get("test"):
        found = found.filter(test_breeding=True)
    return queries.with_parents(found).order_by(*_ORDERS[cleaned.get("order") or ""])


def clutch_list(cleaned: dict[str, Any], page: str) -> Page[Clutch]:
    """Return one page of the clutches found."""
    return Paginator(clutches_found(cleaned), PER_PAGE).get_page(page)


def clutch_rows(cleaned: dict[str, Any]) -> Iterator[list[str | int | None]]:
    """Yield the clutches found as rows under HEADS, for a file."""
    for clutch in clutches_found(cleaned):
        yield [
            *(clutch.code, clutch.species.name, clutch.dam.code if clutch.dam else ""),
            " / ".join(str(one) for one in clutch.candidates.all()),
            *(str(day or "") for day in (clutch.laid_on, clutch.hatched_on)),
            *(clutch.eggs, clutch.slugs, clutch.lost, clutch.hatched),
            "yes" if clutch.test_breeding else "",
        ]
