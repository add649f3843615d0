"""What the pairings inside a project would give toward its goal."""

from collections.abc import Sequence
from dataclasses import dataclass

from keeper.domain import inference
from keeper.domain.inference import GoalChance, Unanswerable
from keeper.domain.projects import queries
from keeper.domain.saying.curves import Curve, curve
from keeper.domain.saying.figures import by_sex, is_close_kin, kinship, kinship_like, percent
from keeper.domain.saying.goals import sex_left_out
from keeper.models import Animal, Project
from keeper.pages.projects.page import BEST, EGGS

# A chance is called "1 in n" only up to here; beyond, the percentage says as much.
_MOST = 256
HATCHLINGS = (1, 2, 4, 8, 12, 16, 24, 32, 48)

Asked = tuple[Animal, Animal, GoalChance | None]


@dataclass(frozen=True)
class PairRow:
    """A female and a male, and what one hatchling or several of theirs would be.

    Without figures: the records about the two cannot all be true. `kinship` is the coefficient of
    the pair, which is the F of their young, and `kinship_like` what such kinship is like. `by_sex`
    is what part of sons and what of daughters meets the goal, where these differ;
    `at_least_one` the chance by so many hatchlings.
    """

    dam: Animal
    sire: Animal
    each: str = ""
    one_in: int | None = None
    at_least_one: tuple[tuple[int, str], ...] = ()
    for_95: int | None = None
    kinship: str = ""
    kinship_like: str = ""
    close_kin: bool = False
    hopeless: bool = False
    by_sex: str = ""


@dataclass(frozen=True)
class Odds:
    """The chance of at least one by hatchlings, of the best pairs: drawn, and as a table."""

    curve: Curve
    hatchlings: tuple[int, ...]
    rows: list[tuple[str, list[str]]]


@dataclass(frozen=True)
class Pairs:
    """Pairings, the likeliest first.

    Attributes:
        rows: the best of them, or all.
        left: how many are not among them.
        hopeless: how many cannot give what is wanted at all.
        not_expected: what "1 in n" does not mean, said of the best; or empty.
        sex_left_out: why the sex asked for is not in the chances; or empty.
    """

    rows: list[PairRow]
    eggs: tuple[int, ...]
    left: int
    hopeless: int
    not_expected: str
    sex_left_out: str
    odds: Odds | None


def pairs(project: Project, *, everything: bool) -> Pairs:
    """Return what each possible pair of members gives."""
    animals = [member.animal for member in queries.members_here(project)]
    couples = list(queries.pairs_of(animals))
    answers = _ask(project, couples)
    asked = [(*couple, answer) for couple, answer in zip(couples, answers, strict=True)]
    asked.sort(key=lambda one: (one[2] is not None, -(one[2].each if one[2] else 0)))
    hopeless = sum(answer is not None and answer.each <= 0 for _, _, answer in asked)
    shown = asked if everything else [one for one in asked if not _is_hopeless(one[2])][:BEST]
    related = inference.kinships([(dam, sire) for dam, sire, _ in shown]) if shown else []
    rows = [_row(*one, f) for one, f in zip(shown, related, strict=True)]
    best = next((one for one in shown if one[2] and one[2].each > 0), None)
    return Pairs(
        rows=rows,
        eggs=EGGS,
        left=len(asked) - len(shown),
        hopeless=hopeless,
        not_expected=_not_expected(project, *best) if best else "",
        sex_left_out=sex_left_out(project),
        odds=_odds(project, shown),
    )


def _odds(project: Project, shown: Sequence[Asked]) -> Odds | None:
    """The chance of at least one against hatchlings, of the two best pairs."""
    best = [(dam, sire) for dam, sire, answer in shown if answer and answer.each > 0][:2]
    if not best:
        return None
    answers = inference.pair_goals(project, best, eggs=HATCHLINGS)
    series = [
        (f"{dam} × {sire}", [one.at_least_one[n] for n in HATCHLINGS], [0.0] * len(HATCHLINGS))
        for (dam, sire), one in zip(best, answers, strict=True)
    ]
    return Odds(
        curve([str(n) for n in HATCHLINGS], series),
        HATCHLINGS,
        [(name, [percent(chance) for chance in chances]) for name, chances, _ in series],
    )


def _ask(project: Project, couples: list[tuple[Animal, Animal]]) -> Sequence[GoalChance | None]:
    try:
        return inference.pair_goals(project, couples, eggs=EGGS)
    except Unanswerable:
        return [None] * len(couples)


def _is_hopeless(answer: GoalChance | None) -> bool:
    return answer is not None and answer.each <= 0


def _row(dam: Animal, sire: Animal, answer: GoalChance | None, related: float) -> PairRow:
    if answer is None:
        return PairRow(
            dam,
            sire,
            kinship=kinship(related),
            kinship_like=kinship_like(related),
            close_kin=is_close_kin(related),
        )
    return PairRow(
        dam=dam,
        sire=sire,
        each=percent(answer.each),
        one_in=one_in(answer.each),
        at_least_one=tuple((count, percent(answer.at_least_one[count])) for count in EGGS),
        for_95=answer.for_95,
        kinship=kinship(related),
        kinship_like=kinship_like(related),
        close_kin=is_close_kin(related),
        hopeless=_is_hopeless(answer),
        by_sex=by_sex(answer.sons, answer.daughters),
    )


def one_in(chance: float) -> int | None:
    """Return n if a chance is 1 in n, n from 2; None if it is not quite that."""
    if not 0 < chance <= 0.5:
        return None
    n = round(1 / chance)
    return n if n <= _MOST and abs(chance * n - 1) < 1e-6 else None


def _not_expected(project: Project, dam: Animal, sire: Animal, best: GoalChance | None) -> str:
    n = one_in(best.each) if best else None
    if best is None or n is None:
        return ""
    chance = inference.pair_goal(project, dam, sire, eggs=(n,)).at_least_one[n]
    words = (
        f"1 in {n} is not to be expected from {n} hatchlings: "
        f"the chance of at least one among {n} is {percent(chance)}."
    )
    if best.for_95 is None:
        return f"{words} No number of hatchlings of {dam} × {sire} makes it 95 %."
    return f"{words} For 95 % it takes {best.for_95}."
