"""What the pages of a way show beside the way itself."""

from dataclasses import dataclass
from datetime import date

from keeper.domain.breeding.proposing import stays
from keeper.domain.breeding.shown import ShownWay, shown_clutch, shown_season
from keeper.domain.clutches.queries import with_hatched
from keeper.models import Animal, Clutch, PlannedPairing, SeenKind, StepKind
from keeper.models.breeding.clutch_steps import OF_YOUNG


@dataclass(frozen=True)
class Button:
    """A button that says which step it was."""

    value: str
    label: str


SEEN = tuple(Button(str(one.value), str(one.label).capitalize()) for one in SeenKind)
OF_EGGS = tuple(
    Button(str(one.value), str(one.label).capitalize()) for one in StepKind if one not in OF_YOUNG
)
OF_YOUNG_BUTTONS = tuple(Button(str(one.value), str(one.label).capitalize()) for one in OF_YOUNG)


def male_with(dam: Animal, today: date) -> Animal | None:
    """Return the male that is with a female, else the one planned for her."""
    here = [one for one in stays(dam) if one.until is None]
    if here:
        return here[-1].male
    plan = (
        PlannedPairing.objects.live()
        .filter(dam=dam.pk, season__in=[today.year, today.year + 1])
        .select_related("sire")
        .order_by("-season")
        .first()
    )
    return plan.sire if plan is not None else None


@dataclass(frozen=True)
class ClutchWayPage:
    """A clutch's way, and how many of its young have no record."""

    clutch: Clutch
    shown: ShownWay | None
    without: int
    hatched: int


def clutch_way_page(clutch: Clutch) -> ClutchWayPage:
    """Return the page of a clutch's way."""
    counted = with_hatched(Clutch.objects.filter(pk=clutch.pk)).get()
    recorded = Animal.objects.live().filter(clutch=clutch.pk, hatch_row__isnull=False).count()
    hatched = int(counted.hatched)
    return ClutchWayPage(clutch, shown_clutch(clutch), max(0, hatched - recorded), hatched)


__all__ = [
    "OF_EGGS",
    "OF_YOUNG_BUTTONS",
    "SEEN",
    "Button",
    "ClutchWayPage",
    "clutch_way_page",
    "male_with",
    "shown_season",
]
