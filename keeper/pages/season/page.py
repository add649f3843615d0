"""What the season's page shows."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import QueryDict

from keeper.domain.season import queries
from keeper.domain.season.planning import Chosen, Pair, SeasonPlan, Wishes
from keeper.models import Animal, Clutch, PlannedPairing

_LONGEST_REASON = 300
MOST_PLANNED = 200


@dataclass(frozen=True)
class PairRow:
    """A pair of the best plan, with where it is fixed or forbidden instead."""

    one: Chosen
    worth: str
    lost_without: str
    fix: str
    loosen: str
    forbid: str


@dataclass(frozen=True)
class Forbidden:
    """A pair that the keeper forbade, and where that is taken back."""

    dam: str
    sire: str
    allow: str


@dataclass(frozen=True)
class PlannedRow:
    """A planned pairing, and the clutch that came of it, if one did."""

    pairing: PlannedPairing
    clutch: Clutch | None


def planned_rows() -> list[PlannedRow]:
    """Return what is planned, the latest season first."""
    rows = list(queries.planned()[:MOST_PLANNED])
    laid = queries.clutches_of(rows)
    return [PlannedRow(one, laid.get(one.pk)) for one in rows]


@dataclass(frozen=True)
class SeasonPage:
    """The best pairs; `shown` names them, so that a save keeps what was seen."""

    plan: SeasonPlan
    rows: list[PairRow]
    worth: str
    shown: str
    forbidden: list[Forbidden]


def season_page(plan: SeasonPlan, wishes: Wishes, asked: QueryDict) -> SeasonPage:
    """Return the page of a season's plan."""
    return SeasonPage(
        plan=plan,
        rows=[_row(one, wishes, asked) for one in plan.pairs],
        worth=_worth(plan.worth),
        shown=shown_pairs(plan),
        forbidden=_forbidden(wishes, asked),
    )


def shown_pairs(plan: SeasonPlan) -> str:
    """Return what names the pairs of a plan."""
    return " ".join(sorted(f"{one.dam.pk}-{one.sire.pk}" for one in plan.pairs))


def as_planned(plan: SeasonPlan, wishes: Wishes) -> list[PlannedPairing]:
    """Return the pairs of a plan as records, each with why it was chosen."""
    return [
        PlannedPairing(
            season=wishes.season,
            dam=one.dam,
            sire=one.sire,
            reason=_reason(one),
        )
        for one in plan.pairs
    ]


def _reason(one: Chosen) -> str:
    words = "; ".join(one.reasons) or "fixed by hand"
    return words if len(words) <= _LONGEST_REASON else f"{words[: _LONGEST_REASON - 1]}…"


def _row(one: Chosen, wishes: Wishes, asked: QueryDict) -> PairRow:
    pair = (one.dam.pk, one.sire.pk)
    return PairRow(
        one=one,
        worth=_worth(one.worth),
        lost_without="" if one.lost_without is None else _worth(one.lost_without),
        fix=_address(asked, wishes.fixed | {pair}, wishes.forbidden),
        loosen=_address(asked, wishes.fixed - {pair}, wishes.forbidden),
        forbid=_address(asked, wishes.fixed - {pair}, wishes.forbidden | {pair}),
    )


def _forbidden(wishes: Wishes, asked: QueryDict) -> list[Forbidden]:
    codes = Animal.objects.in_bulk([pk for pair in wishes.forbidden for pk in pair])
    return [
        Forbidden(
            str(codes[pair[0]]),
            str(codes[pair[1]]),
            _address(asked, wishes.fixed, wishes.forbidden - {pair}),
        )
        for pair in sorted(wishes.forbidden)
        if pair[0] in codes and pair[1] in codes
    ]


def _address(asked: QueryDict, fixed: frozenset[Pair], forbidden: frozenset[Pair]) -> str:
    kept: list[tuple[str, str]] = [
        (name, value)
        for name, values in asked.lists()
        if name not in {"fix", "not", "moved"}
        for value in values
    ]
    kept += [("fix", f"{dam}-{sire}") for dam, sire in sorted(fixed)]
    kept += [("not", f"{dam}-{sire}") for dam, sire in sorted(forbidden)]
    return f"?{urlencode(kept)}#pairs"


def _worth(value: float) -> str:
    """A worth to two places, rounded down."""
    return f"{int(value * 100 + 1e-9) / 100:.2f}"
