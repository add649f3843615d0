"""The last of everything that was noted of one animal, for its page."""

from dataclasses import dataclass
from datetime import date

from keeper.domain.husbandry.pointed_out import PointedOut, pointed_out_of
from keeper.domain.husbandry.queries import last_of
from keeper.models import Animal, HealthNote, Meal, Quarantine, Shed, Treatment, Weight

MEALS = 3


@dataclass(frozen=True)
class Summary:
    """What was last noted; nothing where nothing was."""

    weight: Weight | None
    meals: tuple[Meal, ...]
    shed: Shed | None
    health: HealthNote | None
    treatments: tuple[Treatment, ...]
    quarantine: Quarantine | None
    pointed_out: PointedOut

    @property
    def is_empty(self) -> bool:
        """Whether nothing was noted yet."""
        rows = (self.weight, self.meals, self.shed, self.health, self.treatments, self.quarantine)
        return not any(rows)


def summary_of(animal: Animal, today: date) -> Summary:
    """Return what was last noted of an animal, and what of it is pointed out."""
    pk = animal.pk
    treatments = Treatment.objects.live().filter(animal=pk, on__lte=today)
    quarantine = Quarantine.objects.live().filter(animal=pk, ended_on=None)
    return Summary(
        weight=next(iter(last_of(Weight, [pk]).get(pk, ())), None),
        meals=tuple(last_of(Meal, [pk], MEALS).get(pk, ())),
        shed=next(iter(last_of(Shed, [pk]).get(pk, ())), None),
        health=next(iter(last_of(HealthNote, [pk]).get(pk, ())), None),
        treatments=tuple(treatments.filter(until__gte=today)),
        quarantine=quarantine.first(),
        pointed_out=pointed_out_of(animal, today),
    )
