"""Reading labels: what was printed, what leads nowhere any more, and what gets one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Count, F, Max, Prefetch, Q, QuerySet

from keeper.domain.clutches.hatch_plan import look_name
from keeper.domain.husbandry.queries import LIVING
from keeper.models import (
    Animal,
    CandidateSire,
    HatchRow,
    Label,
    LabelRun,
    LabelSheet,
    RowSighting,
)

_LATEST = 30


@dataclass(frozen=True)
class Tally:
    """Hatchlings of a row that have no record of their own.

    Attributes:
        left: how many of them there are.
        given: how many labels of tubs were printed for the row so far.
    """

    row: HatchRow
    left: int
    given: int

    @property
    def words(self) -> str:
        """Their look and sex in words."""
        seen = look_name(one.trait for one in self.row.sightings.all() if one.seen)
        return seen if self.row.sex == "unknown" else f"{seen}, {self.row.get_sex_display()}"

    @property
    def without(self) -> int:
        """How many of them have no label of a tub either."""
        return max(0, self.left - self.given)


@dataclass(frozen=True)
class Elsewhere:
    """Labels whose code leads to an address that the book does not have as it is reached now."""

    address: str
    labels: int
    latest: int


def sheets() -> QuerySet[LabelSheet]:
    """Return what labels can be printed on."""
    return LabelSheet.objects.live()


def runs() -> QuerySet[LabelRun]:
    """Return what was printed last, with `many`: how many labels each."""
    counted = Count("labels", filter=Q(labels__withdrawn_at=None))
    rows = LabelRun.objects.live().select_related("sheet").annotate(many=counted)
    found: QuerySet[LabelRun] = rows.order_by("-pk")[:_LATEST]
    return found


def last_run() -> LabelRun | None:
    """Return what was printed last of all; None: nothing yet."""
    return LabelRun.objects.live().select_related("sheet").order_by("-pk").first()


def labels_of(run: LabelRun) -> list[Label]:
    """Return the labels of a run in their order, with all that stands on them: four queries."""
    rows = Label.objects.live().filter(run=run).order_by("number")
    rows = rows.select_related(
        "animal__species", "place__within", "clutch__species", "clutch__dam", "row"
    )
    sires = CandidateSire.objects.live().select_related("sire")
    seen = RowSighting.objects.live().select_related("trait").order_by("trait__name")
    return list(
        rows.prefetch_related(
            Prefetch("clutch__candidates", sires), Prefetch("row__sightings", seen)
        )
    )


def leading_elsewhere(known: Iterable[str]) -> list[Elsewhere]:
    """Return the labels printed for addresses that are none of these, by address.

    Of a record only its latest label counts: whoever printed it anew has done what is to do.
    """
    # A record's later label has the greater number; a tub has one label alone.
    latest = (
        Label.objects.live()
        .filter(run__withdrawn_at=None)
        .order_by()
        .values("animal", "place", "clutch", "tub")
        .annotate(newest=Max("pk"))
        .values("newest")
    )
    rows = (
        Label.objects.filter(pk__in=latest)
        .exclude(run__address__in=list(known))
        .order_by()
        .values(address=F("run__address"))
        .annotate(labels=Count("pk"), latest=Max("run"))
        .order_by("address")
    )
    return [Elsewhere(**one) for one in rows]


def young_of(clutches: Sequence[int]) -> set[int]:
    """Return the young of some clutches that have a record and are here, by their numbers."""
    rows = Animal.objects.live().filter(clutch__in=clutches, status__in=LIVING)
    return set(rows.values_list("pk", flat=True))


def tallies_of(clutches: Sequence[int]) -> list[Tally]:
    """Return the hatchlings without a record, by their rows: of live clutches of these numbers."""
    own = Count("recorded", filter=Q(recorded__withdrawn_at=None), distinct=True)
    given = Count("labels", filter=Q(labels__withdrawn_at=None), distinct=True)
    seen = RowSighting.objects.live().select_related("trait").order_by("trait__name")
    rows = (
        HatchRow.objects.live()
        .filter(clutch__in=clutches, clutch__withdrawn_at=None)
        .select_related("clutch__species")
        .prefetch_related(Prefetch("sightings", seen))
        .annotate(own=own, given=given)
        .order_by("clutch", "pk")
    )
    found = [Tally(one, one.count - one.own, one.given) for one in rows]
    return [one for one in found if one.left > 0]
