"""What a sheet is made from: standings, and the records that its grounds name."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.contenttypes.models import ContentType
from django.db.models import Q, QuerySet

from keeper.domain.book.ordering import oldest
from keeper.domain.register.queries import combinations, lines_combined
from keeper.domain.saying import wording
from keeper.domain.saying.shows import ShownLook, shown_by
from keeper.models import (
    Animal,
    CandidateSire,
    Clutch,
    DaybookEntry,
    LabTest,
    Observation,
    Seen,
    Sheet,
    Standing,
    Statement,
    Survival,
    Touch,
    Trait,
)


@dataclass(frozen=True)
class Parent:
    """A parent, or one of several that it may be; no animal: not recorded."""

    role: str
    animal: Animal | None
    missing: str = "not recorded"


@dataclass(frozen=True)
class Evidence:
    """All that a sheet of one animal says, fetched in a fixed number of queries.

    Attributes:
        parents: dam first, then each sire that it may have.
        carried: what each of these animals carries, by its id.
        statements: by animal and trait.
        seen: the latest sure look at each trait of the animal itself.
        produced: trait → clutches in which the animal's young showed it, and how many did.
        harms: traits of its species with a recorded harm.
        combined: of what combinations show of these the traits whose copies it takes.
        survivals: genotypes of which fewer hatch, of its species.
        tests: trait → what laboratories found in the animal, the oldest first.
        shows: looks that combinations make, which the animal shows or may show.
    """

    animal: Animal
    parents: list[Parent]
    carried: dict[int, list[wording.Carried]]
    statements: dict[tuple[int, int], Statement]
    seen: dict[int, Observation]
    produced: dict[int, dict[str, int]]
    harms: list[Trait]
    combined: dict[int, list[Trait]]
    survivals: list[Survival]
    tests: dict[int, list[LabTest]]
    shows: list[ShownLook]


def evidence(animal: Animal) -> Evidence:
    """Return what a sheet of this animal needs."""
    parents = _parents(animal)
    ids = [animal.pk, *(one.animal.pk for one in parents if one.animal)]
    standings = Standing.objects.filter(animal_id__in=ids).select_related(
        "animal__species", "trait", "line"
    )
    carried: dict[int, list[wording.Carried]] = {pk: [] for pk in ids}
    for one in wording.carried(standings):
        carried[one.animal_id].append(one)
    said = Statement.objects.live().filter(animal_id__in=ids)
    # The first word on a trait is the one that its figure begins with: it is taken last.
    said = said.order_by("-pk").select_related("source", "paper", "line", "trait")
    statements: list[Statement] = list(said)
    harms = Trait.objects.live().filter(species=animal.species_id).exclude(harm="")
    harms = harms.select_related("base")
    survivals = Survival.objects.live().filter(locus__species=animal.species_id, survival__lt=1)
    return Evidence(
        animal=animal,
        parents=parents,
        carried=carried,
        statements={(one.animal_id, one.trait_id): one for one in statements},
        seen=_seen(animal),
        produced=_produced(animal),
        harms=list(harms),
        combined={
            trait: list(dict.fromkeys(line.trait for line in lines))
            for trait, lines in lines_combined(combinations(harms)).items()
        },
        survivals=list(survivals.select_related("one__trait", "other__trait")),
        tests=_tests(animal),
        shows=shown_by([animal.pk]).get(animal.pk, []),
    )


def _tests(animal: Animal) -> dict[int, list[LabTest]]:
    """The results that count, by the trait of their line."""
    found: dict[int, list[LabTest]] = {}
    results = LabTest.objects.live().filter(animal=animal).order_by("on", "pk")
    for one in results.select_related("line", "laboratory"):
        found.setdefault(one.line.trait_id, []).append(one)
    return found


def _parents(animal: Animal) -> list[Parent]:
    if animal.clutch is None:
        known = [("dam", animal.dam), ("sire", animal.sire)]
        return [Parent(role, one) for role, one in known if one is not None]
    candidates = list(
        CandidateSire.objects.live().filter(clutch=animal.clutch).select_related("sire")
    )
    role = "sire" if len(candidates) < 2 else "possible sire"
    sires = [
        Parent(role, one.sire, "none, the dam alone" if one.alone else "not recorded")
        for one in candidates
    ] or [Parent("sire", None)]
    return [Parent("dam", animal.clutch.dam), *sires]


def _seen(animal: Animal) -> dict[int, Observation]:
    """The latest look at each trait that was sure: the same that counts for its standings."""
    looks = Observation.objects.live().filter(animal=animal).exclude(seen=Seen.UNSURE)
    latest: dict[int, Observation] = {}
    for look in looks.select_related("trait").order_by("on", "pk"):
        latest[look.trait_id] = look
    return latest


def _produced(animal: Animal) -> dict[int, dict[str, int]]:
    """Count the young that showed a trait, by trait and clutch code."""
    of_it = Q(dam=animal) | Q(candidates__sire=animal, candidates__withdrawn_at=None)
    clutches: Iterable[Clutch] = (
        Clutch.objects.live()
        .filter(of_it)
        .distinct()
        .order_by(oldest("laid_on"), "pk")
        .prefetch_related("hatch_rows__sightings", "young__observations")
    )
    found: dict[int, dict[str, int]] = {}
    for clutch in clutches:
        for trait, count in _shown_in(clutch):
            in_clutch = found.setdefault(trait, {})
            in_clutch[clutch.code] = in_clutch.get(clutch.code, 0) + count
    return found


def _shown_in(clutch: Clutch) -> Iterable[tuple[int, int]]:
    for row in clutch.hatch_rows.all():
        for sighting in row.sightings.all():
            if sighting.seen and not (row.is_withdrawn or sighting.is_withdrawn):
                yield sighting.trait_id, row.count
    for young in clutch.young.all():
        # Counted in its row already, if it has one.
        if young.is_withdrawn or young.hatch_row_id:
            continue
        shown = {look.trait_id for look in young.observations.all() if _is_yes(look)}
        yield from ((trait, 1) for trait in shown)


def _is_yes(look: Observation) -> bool:
    return look.seen == Seen.YES and not look.is_withdrawn


def issued_in(entry: DaybookEntry) -> QuerySet[Sheet]:
    """Return the sheets that one entry issued, in their order."""
    made = Touch.objects.filter(
        entry=entry, created=True, record_type=ContentType.objects.get_for_model(Sheet)
    )
    sheets: QuerySet[Sheet] = Sheet.objects.filter(pk__in=made.values("record_id"))
    return sheets.select_related("animal", "buyer").order_by("number", "pk")


def sheets_of(animal: Animal) -> QuerySet[Sheet]:
    """Return the sheets of an animal, the last first, withdrawn ones among them."""
    sheets: QuerySet[Sheet] = animal.sheets.select_related("buyer", "by").order_by("-number", "-pk")
    return sheets
