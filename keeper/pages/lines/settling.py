"""Which animals to cross to settle whether two lines are one gene."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from keeper.domain import inference
from keeper.domain.inference import Forecast, SettlingCross, Unanswerable, Whole
from keeper.domain.lines.queries import AtHand, at_hand
from keeper.domain.saying.figures import percent
from keeper.models import Line
from keeper.pages.lines.bearers import Bearer, bearers

# More than so many to choose from help nobody.
_SHOWN = 4
_NO_DOUBT = "What has hatched leaves so little doubt that no cross is worth its eggs."


@dataclass(frozen=True)
class Crossing:
    """A female and a male, how many hatchlings they need, and what these would tell."""

    dam: Bearer
    sire: Bearer
    hatchlings: str
    in_a_clutch: str
    tells: tuple[str, ...]


@dataclass(frozen=True)
class BestCrosses:
    """The crosses that could settle it, the best first.

    Attributes:
        level: how sure "settled" is.
        crosses: the first few of those that were worked out.
        possible: how many pairs there are.
        eggs: a usual clutch, and how many of its eggs hatch.
        nothing: why there is none, if there is none.
        young: animals left out because they are too young.
    """

    level: str
    crosses: tuple[Crossing, ...]
    possible: int
    eggs: int
    hatch_rate: str
    nothing: str
    young: int


def best_crosses(one: Line, other: Line, *, today: date, book: Whole) -> BestCrosses:
    """Return the best crosses among the animals that are here."""
    here = at_hand(one, other, today=today)
    species = one.trait.species
    page = BestCrosses(
        level="",
        crosses=(),
        possible=0,
        eggs=species.eggs_usual,
        hatch_rate=percent(float(species.hatch_rate)),
        nothing="",
        young=here.young,
    )
    try:
        found = inference.best_crosses(
            one, other, females=here.females, males=here.males, book=book
        )
    except Unanswerable as why:
        return replace(page, nothing=str(why))
    if found.level is None:
        return replace(page, nothing=_NO_DOUBT)
    if not found.crosses:
        return replace(page, nothing=_nobody(one, other, here))
    best = found.crosses[:_SHOWN]
    named = {pk for each in best for pk in (each.dam, each.sire)}
    parents = [animal for animal in (*here.females, *here.males) if animal.pk in named]
    level = percent(found.level)
    crosses = _crossings(best, level, bearers(parents, one, other))
    return replace(page, level=level, crosses=crosses, possible=found.possible)


def _crossings(
    crosses: Iterable[SettlingCross], level: str, animals: dict[int, Bearer]
) -> tuple[Crossing, ...]:
    return tuple(
        Crossing(
            animals[each.dam],
            animals[each.sire],
            _hatchlings(each.forecast),
            percent(each.forecast.in_a_clutch),
            _tells(each.forecast, level),
        )
        for each in crosses
    )


def _nobody(one: Line, other: Line, here: AtHand) -> str:
    if not (here.females or here.males):
        return f"Nobody here may carry {one.code} or {other.code} and is old enough to breed."
    return (
        f"It takes a female that may carry the one line and a male that may carry the other; "
        f"there are no two such animals for {one.code} and {other.code} here."
    )


def _hatchlings(one: Forecast) -> str:
    if one.hatchlings is not None:
        return str(one.hatchlings)
    if one.ever < inference.SURE:
        return "no number"
    return f"more than {inference.MOST_HATCHLINGS}"


def _tells(one: Forecast, level: str) -> tuple[str, ...]:
    """What visual and what normal hatchlings would make of it, in words."""
    visual = f"{one.visuals_for_one} visual ones and no normal one make one gene {level} sure."
    if one.visual_proves:
        visual = "Any visual makes them one gene."
    elif one.visuals_for_one is None:
        visual = "No number of visual ones settles it."
    normal = f"{one.normals_for_two} normal ones and no visual make two genes {level} sure."
    if one.normal_proves:
        normal = "Any normal one makes them two genes."
    elif one.normals_for_two is None:
        normal = "No number of normal ones settles it: these parents may lack a copy to show."
    if one.hatchlings is None and one.ever < inference.SURE:
        return visual, normal, f"They settle it at all in {percent(one.ever)} of cases."
    return visual, normal
