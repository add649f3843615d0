"""What the pages of what to prove show."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.urls import reverse

from keeper.domain.inference import SETTLED
from keeper.domain.projects.outlook import test_of
from keeper.domain.projects.queries import members_here
from keeper.domain.proving.outcomes import says_clean, says_now, says_proven
from keeper.domain.proving.planning import MOST_MATES, SuspectPlan, ToProve, WithMate
from keeper.domain.proving.queries import Stake, is_settled
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.curves import Curve, curve
from keeper.domain.saying.figures import (
    carrier_percent,
    is_close_kin,
    kinship,
    kinship_like,
    percent,
    percent_up,
)
from keeper.models import Animal, Laboratory, Sex, Standing, Statement, Status

_LEAST_DRAWN, _MOST_DRAWN = 8, 24
_CURVES = 2
_FAINT = 0.01


@dataclass(frozen=True)
class MateRow:
    """One mate of a suspect and what its hatchlings would tell.

    Attributes:
        pair, plan: addresses of the pair's page, and of planning the pairing.
        shows: chance that one hatchling at least of a usual clutch shows it.
        remains: chance that is left when none of so many does.
        needed, likely: hatchlings that settle it, with 99 % and with 95 %; in words.
        settled: chance that one usual clutch settles it.
        bits: what a usual clutch is expected to tell, of 1 for an even question.
    """

    mate: Animal
    pair: str
    plan: str
    shows: str
    remains: str
    needed: str
    likely: str
    settled: str
    bits: str
    kinship: str
    kinship_like: str
    close_kin: bool
    cautions: str


@dataclass(frozen=True)
class ProvingRow:
    """A possible carrier in the list, with its best mate (none where nothing could be told)."""

    standing: Standing
    statement: Statement | None
    url: str
    reasons: str
    best: MateRow | None
    sheet: str
    laboratories: str


def proving_rows(found: Iterable[ToProve]) -> list[ProvingRow]:
    """Return the rows of the list."""
    return [_row(one) for one in found]


def _row(one: ToProve) -> ProvingRow:
    standing = one.standing
    return ProvingRow(
        standing=standing,
        statement=one.statement,
        url=address(standing),
        reasons=_reasons(standing, one.stakes),
        best=None if one.best is None else mate_row(standing, one.best),
        sheet="" if one.best is None else _sheet(one, one.best),
        laboratories=" or ".join(map(str, one.laboratories)),
    )


def address(standing: Standing) -> str:
    """Return the address of a suspect's page."""
    line = {"line": str(standing.line_id)} if standing.line_id else {}
    return reverse("projects-proving-one", args=[standing.animal_id, standing.trait_id], query=line)


def _reasons(standing: Standing, stakes: Sequence[Stake]) -> str:
    found = [
        f"{'in' if one.member else 'not in'} {one.project}, which wants "
        f"{one.part.line or one.part.trait}"
        for one in stakes
    ]
    if standing.animal.status == Status.OFFERED:
        found.append("for sale")
    words = "; ".join(found) or "no project wants it: for its own sheet"
    return words[0].upper() + words[1:]


def _sheet(one: ToProve, best: WithMate) -> str:
    """What a sheet could say after the clutch that is usual, either way."""
    standing, count = one.standing, usual(one.standing)
    clean = best.trial.remains[count]
    words = f"“{says_now(standing, one.statement)}” becomes “{says_proven(standing)}”"
    return words if clean is None else f"{words} or “{says_clean(standing, count, clean)}”"


def usual(standing: Standing) -> int:
    """Return the living hatchlings of a usual clutch, rounded to the nearest, at least one."""
    species = standing.animal.species
    return max(1, min(40, round(species.eggs_usual * float(species.hatch_rate))))


def mate_row(standing: Standing, one: WithMate) -> MateRow:
    """Return the row of one mate."""
    trial, count = one.trial, usual(standing)
    animal = standing.animal
    dam, sire = (animal, one.mate) if animal.sex == Sex.FEMALE else (one.mate, animal)
    query = {"dam": str(dam.pk), "sire": str(sire.pk)}
    left = trial.remains[count]
    return MateRow(
        mate=one.mate,
        pair=reverse("clutches-pairing", query=query),
        plan=reverse("projects-season-new", query=query),
        shows=percent(trial.positive[count]),
        remains="cannot be" if left is None else percent_up(left),
        needed=_needed(trial.needed),
        likely=_needed(trial.likely),
        settled=percent(trial.settled),
        bits=f"{int(trial.bits * 100 + 1e-9) / 100:.2f}",
        kinship=kinship(one.kinship),
        kinship_like=kinship_like(one.kinship),
        close_kin=is_close_kin(one.kinship),
        cautions="; ".join(one.cautions),
    )


def _needed(count: int | None) -> str:
    return "none" if count is None else str(count)


def laboratories(found: Sequence[Laboratory]) -> str:
    """Say which laboratories have tested a line of it before, and how often they err."""
    return "; ".join(
        f"{one} (misses {percent_up(float(one.misses))}, "
        f"finds by mistake {percent_up(float(one.mistakes))})"
        for one in found
    )


# --- one suspect ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class FigureRow:
    """A row of the plot's table: so many clean hatchlings, and what is left with each mate."""

    count: int
    remains: list[str]


@dataclass(frozen=True)
class ProjectRow:
    """A project that it matters for; `part` is where what a test first changes is worked out."""

    project: str
    url: str
    words: str
    part: str
    whole: str


@dataclass(frozen=True)
class SuspectPage:
    """One possible carrier: all mates, when to stop believing, what it changes.

    Attributes:
        stop: sentences of when to stop believing.
        visual: what one visual hatchling would mean.
        drawn: the mates of the plot, in its order.
        faint: mates that tell less than 0.01 bits, named beside the table.
    """

    plan: SuspectPlan
    settled: bool
    usual: int
    rows: list[MateRow]
    faint: list[Animal]
    stop: list[str]
    visual: str
    curve: Curve | None
    drawn: list[str]
    figures: list[FigureRow]
    projects: list[ProjectRow]
    now: str
    proven: str
    clean: str
    laboratories: str
    most: int = MOST_MATES


def suspect_page(plan: SuspectPlan, statement: Statement | None) -> SuspectPage:
    """Return the page of one suspect; `statement` is what its word rests on, if a source's."""
    standing = plan.standing
    # Where all tell next to nothing they are shown all the same.
    plain = [one for one in plan.telling if one.trial.bits >= _FAINT] or plan.telling
    best = plain[:_CURVES]
    drawn = _drawn(best)
    count = usual(standing)
    left = best[0].trial.remains[count] if best else None
    now = carrier_percent(standing)
    return SuspectPage(
        plan=plan,
        settled=is_settled(standing),
        usual=count,
        rows=[mate_row(standing, one) for one in plain],
        faint=[one.mate for one in plan.telling if one not in plain],
        stop=[_stop(standing, one) for one in best],
        visual=_visual(standing, best[0]) if best else "",
        curve=_curve(best, drawn) if best else None,
        drawn=[f"with {one.mate}" for one in best],
        figures=[
            FigureRow(n, [_left(one.trial.remains[n]) if n else now for one in best])
            for n in range(drawn + 1)
        ]
        if best
        else [],
        projects=[_project(standing, one) for one in plan.stakes],
        now=says_now(standing, statement),
        proven=says_proven(standing),
        clean="" if left is None else says_clean(standing, count, left),
        laboratories=laboratories(plan.laboratories),
    )


def _left(chance: float | None) -> str:
    return "cannot be" if chance is None else percent_up(chance)


def _drawn(best: Sequence[WithMate]) -> int:
    """How far the plot goes: some beyond where belief stops, for all that are drawn."""
    stops = [one.trial.stop or _MOST_DRAWN for one in best]
    return min(_MOST_DRAWN, max([_LEAST_DRAWN, *(stop + 1 for stop in stops)]))


def _curve(best: Sequence[WithMate], most: int) -> Curve:
    labels = [str(n) for n in range(most + 1)]
    nothing = [0.0] * (most + 1)
    return curve(
        labels,
        [
            (f"with {one.mate}", [left or 0.0 for left in one.trial.remains[: most + 1]], nothing)
            for one in best
        ],
    )


def _stop(standing: Standing, one: WithMate) -> str:
    """When to stop believing, with one mate."""
    trial = one.trial
    now = carrier_percent(standing)
    if trial.stop is None:
        last = len(trial.remains) - 1
        left = trial.remains[last]
        return (
            f"With {one.mate} no number up to {last} clears it: from {now} now, "
            f"{_left(left)} is left after {last} clean ones."
        )
    more = "more " if standing.clean_young else ""
    words = (
        f"With {one.mate}: after {how_many(trial.stop, f'{more}clean hatchling')} the chance is at "
        f"most 1 %, from {now} now."
    )
    if trial.sure_to_show is not None:
        words += (
            f" If it carries it, {how_many(trial.sure_to_show, 'hatchling')} "
            "give a visual 99 times in 100."
        )
    return words


def _visual(standing: Standing, one: WithMate) -> str:
    """What one visual hatchling would mean."""
    gene = str(standing.line or standing.trait)
    if one.trial.proves >= 1 - 1e-9:
        return f"One hatchling that shows {standing.trait} proves that it carries {gene}."
    if one.trial.proves >= SETTLED:
        return (
            f"One hatchling that shows {standing.trait} all but proves it: "
            f"{percent(one.trial.proves)} that it carries {gene}."
        )
    return (
        f"One hatchling that shows {standing.trait} is no proof with {one.mate}: "
        f"{percent(one.trial.proves)} that it carries {gene}, since the same can come of others."
    )


def _project(standing: Standing, one: Stake) -> ProjectRow:
    gene = one.part.line or one.part.trait
    outlook = reverse("projects-outlook", args=[one.project.pk])
    url = reverse("projects-one", args=[one.project.pk])
    if not one.member:
        words = f"wants {gene}; {standing.animal} is not in it"
        return ProjectRow(str(one.project), url, words, "", outlook)
    members = list(members_here(one.project))
    change = test_of(one.project, members, standing.animal, one.part.trait_id)
    if change is None:
        return ProjectRow(str(one.project), url, f"wants {gene}", "", outlook)
    part = f"{outlook}?part=change&change={change.key}"
    whole = f"{outlook}?change={change.key}"
    return ProjectRow(str(one.project), url, f"wants {gene}. With the test first", part, whole)
