"""Reading animals: by code, what one carries, its family, what was entered about it."""

from collections.abc import Iterable

from django.db.models import (
    Count,
    Exists,
    F,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Sum,
)
from django.db.models.functions import Lower

from keeper.domain.book.letters import begins_with, has_letters
from keeper.domain.book.ordering import newest
from keeper.domain.saying import wording
from keeper.models import (
    Animal,
    CandidateSire,
    Clutch,
    Dispute,
    HatchRow,
    LabTest,
    Look,
    Observation,
    Paper,
    Photo,
    RowSighting,
    Standing,
    Statement,
    Status,
)

_WITHDRAWN_LAST = F("withdrawn_at").asc(nulls_first=True)


def with_origin(animals: QuerySet[Animal]) -> QuerySet[Animal]:
    """Fetch along what an animal's page says of where it is from."""
    candidates = CandidateSire.objects.live().select_related("sire")
    return animals.select_related(
        "species", "source", "dam", "sire", "clutch", "clutch__dam", "hatch_row"
    ).prefetch_related(Prefetch("clutch__candidates", candidates))


def standings_of(animals: Iterable[int]) -> QuerySet[Standing]:
    """Return the standings of some animals with all that their words need."""
    return Standing.objects.filter(animal__in=list(animals)).select_related(
        "trait", "line", "dispute"
    )


def carried_by(animals: Iterable[int]) -> dict[int, list[wording.Carried]]:
    """Return by animal id what each carries, surest first."""
    found: dict[int, list[wording.Carried]] = {}
    for one in wording.carried(standings_of(animals)):
        found.setdefault(one.animal_id, []).append(one)
    return found


def statements_of(animal: Animal) -> QuerySet[Statement]:
    """Return what is said of an animal, withdrawn statements last."""
    rows = Statement.objects.filter(animal=animal)
    return rows.select_related("animal", "trait", "line", "source", "paper").order_by(
        _WITHDRAWN_LAST, "trait__name", "pk"
    )


def papers_of(animal: Animal) -> QuerySet[Paper]:
    """Return an animal's papers, withdrawn ones last."""
    return (
        Paper.objects.filter(animal=animal)
        .select_related("animal", "source")
        .order_by(_WITHDRAWN_LAST, newest("dated"), "-pk")
    )


def looks_of(animal: Animal) -> QuerySet[Look]:
    """Return the whole looks at an animal with what each names, withdrawn ones last."""
    named = Observation.objects.live().select_related("trait").order_by("trait__name")
    return (
        Look.objects.filter(animal=animal)
        .select_related("animal", "by")
        .prefetch_related(Prefetch("observations", named, to_attr="named"))
        .order_by(_WITHDRAWN_LAST, "-on", "-pk")
    )


def observations_of(animal: Animal) -> QuerySet[Observation]:
    """Return what was seen apart from whole looks, or taken back of one; withdrawn ones last."""
    return (
        Observation.objects.filter(animal=animal)
        .filter(Q(look=None) | Q(withdrawn_at__isnull=False, look__withdrawn_at=None))
        .select_related("animal", "trait", "by")
        .order_by(_WITHDRAWN_LAST, "-on", "-pk")
    )


def photos_of(animal: Animal) -> QuerySet[Photo]:
    """Return an animal's photos, withdrawn ones last."""
    return Photo.objects.filter(animal=animal).order_by(_WITHDRAWN_LAST, newest("taken_on"), "-pk")


def clutches_of(animal: Animal) -> QuerySet[Clutch]:
    """Return the clutches of a dam or possible sire, the newest first."""
    candidates = CandidateSire.objects.live().select_related("sire")
    # Each by its index; in one condition they would be looked for among all clutches.
    laid = Clutch.objects.live().filter(dam=animal).order_by().values("pk")
    sired = CandidateSire.objects.live().filter(sire=animal, clutch__withdrawn_at=None)
    return (
        Clutch.objects.filter(pk__in=laid.union(sired.order_by().values("clutch")))
        .select_related("dam")
        .prefetch_related(Prefetch("candidates", candidates))
        .order_by(newest("laid_on"), "-pk")
    )


def hatched_in(clutches: Iterable[int]) -> dict[int, int]:
    """Return by clutch id how many hatchlings are counted."""
    rows = HatchRow.objects.live().filter(clutch__in=list(clutches))
    return dict(rows.order_by().values_list("clutch").annotate(all=Sum("count")))


def recorded_in(clutches: Iterable[int]) -> dict[int, int]:
    """Return by clutch id how many hatchlings have a record."""
    rows = Animal.objects.live().filter(clutch__in=list(clutches))
    return dict(rows.order_by().values_list("clutch").annotate(all=Count("pk")))


def seen_in(clutches: Iterable[int]) -> dict[int, list[tuple[str, int]]]:
    """Return by clutch id what was seen at its hatch: name of the trait, and on how many."""
    rows = RowSighting.objects.live().filter(
        seen=True, row__withdrawn_at=None, row__clutch__in=list(clutches)
    )
    seen = rows.order_by("trait__name").values_list("row__clutch", "trait__name")
    found: dict[int, list[tuple[str, int]]] = {}
    for clutch, trait, count in seen.annotate(all=Sum("row__count")):
        found.setdefault(clutch, []).append((trait, count))
    return found


def young_of(animal: Animal) -> QuerySet[Animal]:
    """Return the recorded young of an animal, of its clutches and by their source's word."""
    every = Animal.objects.live().order_by().values("pk")
    hatched = every.filter(clutch__in=clutches_of(animal).order_by().values("pk"))
    stated = (every.filter(dam=animal), every.filter(sire=animal))
    return (
        Animal.objects.filter(pk__in=hatched.union(*stated))
        .select_related("clutch")
        .order_by(newest("hatched_year"), "code")
    )


def disputes_about(animal: Animal) -> list[Dispute]:
    """Return the open disputes that a figure of the animal rests on, or that its records are in."""
    rests_on = Standing.objects.filter(animal=animal, dispute=OuterRef("pk"))
    disputes = list(
        Dispute.objects.filter(closed=None, species=animal.species_id)
        .annotate(rests=Exists(rests_on))
        .order_by("pk")
    )
    if not disputes:
        return []
    own = _records_of(animal)
    return [
        one
        for one in disputes
        if one.rests or any((record["model"], record["pk"]) in own for record in one.conflict)
    ]


def _records_of(animal: Animal) -> set[tuple[str, int]]:
    """What a conflict may name of an animal: itself, what was entered on it, its clutches."""
    clutches = [*clutches_of(animal).order_by().values_list("pk", flat=True), animal.clutch_id]
    ids = {
        "look": Look.objects.live().filter(animal=animal),
        "observation": Observation.objects.live().filter(animal=animal),
        "statement": Statement.objects.live().filter(animal=animal),
        "labtest": LabTest.objects.live().filter(animal=animal),
        "clutch": Clutch.objects.filter(pk__in=[pk for pk in clutches if pk]),
        "hatchrow": HatchRow.objects.live().filter(clutch__in=[pk for pk in clutches if pk]),
    }
    named = {(kind, pk) for kind, rows in ids.items() for pk in rows.values_list("pk", flat=True)}
    return named | {("animal", animal.pk)}


def pickable(sex: str) -> QuerySet[Animal]:
    """Return the animals of one sex that a keeper may choose as a parent."""
    return Animal.objects.live().filter(sex=sex)


def picks(text: str, *, sex: str, limit: int = 12) -> list[Animal]:
    """Return the animals that typed text most likely means: codes that begin with it first."""
    found = pickable(sex).select_related("species")
    if not text:
        here = found.exclude(status__in=[Status.SOLD, Status.DIED])
        return list(here.order_by(Lower("code"))[:limit])
    begins = begins_with("code", text)
    first = list(found.filter(begins).order_by(Lower("code"))[:limit])
    inside = found.filter(has_letters("code", text) | has_letters("name", text, often_empty=True))
    rest = inside.exclude(begins).order_by(Lower("code"))
    return first + list(rest[: limit - len(first)])


def by_code(code: str) -> Animal | None:
    """Return the animal with this code, however it is capitalised."""
    found = Animal.objects.live().alias(low=Lower("code")).filter(low=code.strip().lower())
    animal: Animal | None = found.select_related("species").first()
    return animal
