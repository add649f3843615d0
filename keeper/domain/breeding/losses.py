"""Eggs lost by day, beside what a clutch counts as lost."""

from django.db.models import Sum

from keeper.domain.book.refusing import Refused
from keeper.models import Clutch, ClutchStep, StepKind


def lost_by_day(clutch: Clutch) -> int:
    """Return how many eggs of a clutch were noted as lost, day by day."""
    rows = ClutchStep.objects.live().filter(clutch=clutch.pk, kind=StepKind.LOST)
    return rows.aggregate(all=Sum("count"))["all"] or 0


def lost_in_all(clutch: Clutch, before: int) -> int:
    """Return what a clutch counts as lost: those by day, unless more were counted otherwise.

    `before` is how many were noted by day before the entry.
    """
    now = lost_by_day(clutch)
    return now if clutch.lost == before else max(clutch.lost, now)


def refuse_fewer_lost(clutch: Clutch) -> None:
    """Refuse a clutch that counts fewer eggs as lost than were noted by day; inside `writing`.

    Raises:
        Refused: it does.
    """
    by_day = lost_by_day(clutch)
    if clutch.lost < by_day:
        raise Refused(
            f"{by_day} lost were noted by day, and {clutch.lost} are counted here. "
            "Count them too, or withdraw one of those on the clutch’s page."
        )
