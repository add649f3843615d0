"""Animals that an explanation may be about: founders above, mates before, others of that time.

And how often an animal from elsewhere looks like one that is here.
"""

from collections.abc import Iterable, Iterator
from datetime import timedelta
from fractions import Fraction

from django.db.models import Q

from keeper.models import Animal, CandidateSire, Clutch, Observation, Seen, Sex, Trait

# Sperm is kept for so long, at most, as a breeder would believe; common practice, no source.
_KEPT_SPERM = timedelta(days=3 * 365)
# Clutches laid so near each other may have been exchanged.
_SAME_WEEKS = timedelta(days=14)
# How far up founders are looked for.
_GENERATIONS = 5


def founders(animals: Iterable[Animal]) -> list[Animal]:
    """The founders among some animals and their forebears, the nearest first."""
    found: dict[int, Animal] = {}
    waiting, seen = {one.pk: one for one in animals}, set[int]()
    for _ in range(_GENERATIONS):
        seen |= waiting.keys()
        above: dict[int, Animal] = {}
        for one in waiting.values():
            if one.is_founder:
                found.setdefault(one.pk, one)
            above |= {parent.pk: parent for parent in _parents(one) if parent.pk not in seen}
        waiting = above
    return list(found.values())


def _parents(one: Animal) -> Iterator[Animal]:
    stated = (one.dam, one.sire) if one.clutch is None else (one.clutch.dam,)
    yield from (parent for parent in stated if parent is not None)
    if one.clutch is not None:
        for candidate in one.clutch.candidates.live().exclude(sire=None).select_related("sire"):
            if candidate.sire is not None:
                yield candidate.sire


def _sired(clutches: Q) -> list[Animal]:
    named = CandidateSire.objects.live().filter(clutches, sire__withdrawn_at=None)
    pks = named.exclude(sire=None).order_by("-clutch__laid_on", "-pk")
    found: dict[int, Animal] = {}
    for one in pks.select_related("sire"):
        if one.sire is not None:
            found.setdefault(one.sire.pk, one.sire)
    return list(found.values())


def _named_sires(clutch: Clutch) -> set[int | None]:
    named = CandidateSire.objects.live().filter(clutch=clutch.pk)
    return set(named.values_list("sire_id", flat=True))


def earlier_mates(clutch: Clutch) -> Iterator[Animal]:
    """Sires of the dam's clutches before this one, which may be new, whose sperm she may keep."""
    if clutch.dam_id is None:
        return
    before = Q(clutch__dam=clutch.dam_id, clutch__withdrawn_at=None) & ~Q(clutch=clutch.pk)
    if clutch.laid_on is not None:
        since = clutch.laid_on - _KEPT_SPERM
        before &= Q(clutch__laid_on__lte=clutch.laid_on, clutch__laid_on__gte=since)
    else:
        before &= Q(clutch__lt=clutch.pk)
    named = _named_sires(clutch)
    yield from (male for male in _sired(before) if male.pk not in named)


def other_males(clutch: Clutch, known: set[int]) -> list[Animal]:
    """Males that sired other clutches about that time."""
    near = Q(clutch__species=clutch.species_id, clutch__withdrawn_at=None) & ~Q(clutch=clutch.pk)
    if clutch.laid_on is not None:
        year = timedelta(days=365)
        near &= Q(clutch__laid_on__range=(clutch.laid_on - year, clutch.laid_on + year))
    named = _named_sires(clutch) | known
    return [male for male in _sired(near) if male.pk not in named]


def other_dams(clutch: Clutch) -> list[Animal]:
    """Females that laid within the same weeks."""
    if clutch.laid_on is None:
        return []
    near = Clutch.objects.live().filter(
        species=clutch.species_id,
        laid_on__range=(clutch.laid_on - _SAME_WEEKS, clutch.laid_on + _SAME_WEEKS),
    )
    dams = near.exclude(dam=clutch.dam_id).exclude(dam=None).values("dam")
    return list(Animal.objects.live().filter(pk__in=dams, sex=Sex.FEMALE).order_by("pk"))


def seen_on(animal: Animal) -> list[Trait]:
    """The traits that were ever seen on an animal."""
    looks = Observation.objects.live().filter(animal=animal.pk, seen=Seen.YES)
    return list(Trait.objects.live().filter(pk__in=looks.values("trait")).order_by("pk"))


def so_looking(animal: Animal, shown: Iterable[Trait]) -> Fraction:
    """How often an animal from elsewhere shows what was seen on one, as others here do.

    By Laplace's rule over the recorded animals of the species: (k + 1) / (n + 2).
    """
    others = Animal.objects.live().filter(species=animal.species_id).exclude(pk=animal.pk)
    seen = Observation.objects.live().filter(seen=Seen.YES, animal__in=others)
    number, chance = others.count(), Fraction(1)
    for trait in shown:
        alike = seen.filter(trait=trait).values("animal").distinct().count()
        chance *= Fraction(alike + 1, number + 2)
    return chance
