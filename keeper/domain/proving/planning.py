"""Which possible carriers are worth a test this season, and what each test would tell.

What a test is worth: what a usual clutch with the best mate is expected to tell, in bits, times
what it matters for. An open project that the animal is in counts 1, one whose goal takes the gene a
half; an animal for sale a half, any other a quarter, for its sheet. These weights are our own.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import log2

from keeper.domain import inference
from keeper.domain.inference import Suspect, Trial
from keeper.domain.proving import queries
from keeper.domain.proving.cautions import cautions
from keeper.domain.proving.queries import Mates, Stake
from keeper.domain.season.writes import season_of
from keeper.models import Animal, Laboratory, Species, Standing, Statement, Status

IN_IT, TAKES_IT, FOR_SALE, HERE = 1.0, 0.5, 0.5, 0.25
SHORT, LONG = 12, 60
"""Animals whose tests are worked out: at first, and where more are asked for."""
MOST_MATES = 40
_TRIED = 3
_SAME = 1e-9


@dataclass(frozen=True)
class WithMate:
    """A suspect with a mate: what hatchlings would tell, kinship, and what speaks against it."""

    mate: Animal
    trial: Trial
    kinship: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class ToProve:
    """A possible carrier, its best mate, and what a test of it matters for.

    Attributes:
        statement: what its word rests on, if that is a source's.
        best: nothing where it could not be worked out exactly.
        worth: see the head of this module.
        laboratories: those that have tested a line of the trait.
    """

    standing: Standing
    stakes: Sequence[Stake]
    statement: Statement | None
    best: WithMate | None
    worth: float
    laboratories: Sequence[Laboratory]


@dataclass(frozen=True)
class Waiting:
    """A possible carrier that cannot be tested in the season, and why."""

    standing: Standing
    why: str


@dataclass(frozen=True)
class ProvingPlan:
    """What to prove in a season.

    Attributes:
        season: the year.
        tests: worked out, the worthiest first.
        more: how many others could be tested, of less worth by what is stored; not worked out.
        waiting: those that cannot be tested in the season.
        alone: those that no mate here could tell of.
        settled: how many are so likely or unlikely that they count as settled.
        disputed: how many rest on records that contradict each other.
        conflict: records that cannot all be true, in words.
    """

    season: int
    tests: list[ToProve]
    more: int
    waiting: list[Waiting]
    alone: list[Standing]
    settled: int
    disputed: int
    conflict: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nobody here may carry anything that is open."""
        return not (self.tests or self.more or self.waiting or self.alone)


@dataclass(frozen=True)
class _Hope:
    """A suspect before the engine is asked: what it promises by what is stored."""

    standing: Standing
    stakes: Sequence[Stake]
    weight: float
    promise: float
    mates: tuple[Animal, ...]


def what_to_prove(
    today: date, *, project: int | None = None, trait: int | None = None, most: int = SHORT
) -> ProvingPlan:
    """Return what to prove this season, of all, of one project, or of one trait."""
    rows = list(queries.possible_carriers())
    if trait is not None:
        rows = [one for one in rows if one.trait_id == trait]
    stakes = queries.stakes(rows)
    if project is not None:
        stakes = {
            key: [one for one in each if one.project.pk == project] for key, each in stakes.items()
        }
        rows = [one for one in rows if stakes[one.animal_id, one.trait_id]]
    clear = [one for one in rows if queries.is_open(one)]
    asked = [one for one in clear if not queries.is_settled(one)]
    mates = _mates(asked, season_of(today))
    waiting, hopes, alone = _sorted_out(asked, stakes, mates)
    tests = _worked_out(hopes[:most])
    told = [one for one in tests if one.best is None or one.best.trial.bits > 0]
    return ProvingPlan(
        season=mates.season,
        tests=told,
        more=len(hopes) - len(tests),
        waiting=waiting,
        alone=alone + [one.standing for one in tests if one not in told],
        settled=len(clear) - len(asked),
        disputed=len(rows) - len(clear),
        conflict=_conflict(one.best.trial for one in tests if one.best is not None),
    )


def _mates(standings: Iterable[Standing], season: int) -> Mates:
    species: dict[int, Species] = {one.animal.species_id: one.animal.species for one in standings}
    return queries.mates(species.values(), {one.trait_id for one in standings}, season)


def _sorted_out(
    asked: Iterable[Standing],
    stakes: Mapping[tuple[int, int], Sequence[Stake]],
    mates: Mates,
) -> tuple[list[Waiting], list[_Hope], list[Standing]]:
    waiting, hopes, alone = [], [], []
    for one in asked:
        why = mates.why_not(one.animal)
        if why:
            waiting.append(Waiting(one, why))
            continue
        found = [row for row in mates.of(one, _TRIED) if row[0] > 0]
        if not found:
            alone.append(one)
            continue
        own = stakes[one.animal_id, one.trait_id]
        weight = _weight(one.animal, own)
        promise = weight * _open(one.none) * found[0][0]
        hopes.append(_Hope(one, own, weight, promise, tuple(mate for _, mate in found)))
    hopes.sort(key=lambda row: -row.promise)
    return waiting, hopes, alone


def _weight(animal: Animal, stakes: Sequence[Stake]) -> float:
    sale = FOR_SALE if animal.status == Status.OFFERED else HERE
    return sale + sum(IN_IT if one.member else TAKES_IT for one in stakes)


def _open(chance: float) -> float:
    """How open a question is, in bits: 1 where both are as likely, 0 where it is settled."""
    return -sum(p * log2(p) for p in (chance, 1 - chance) if p > 0)


def _worked_out(hopes: Sequence[_Hope]) -> list[ToProve]:
    suspects = [
        Suspect(one.standing.animal, one.standing.trait, one.standing.line, one.mates)
        for one in hopes
    ]
    tested = worked_out(suspects)
    tested_here = queries.laboratories({one.standing.trait_id for one in hopes})
    stated = queries.statements(one.standing for one in hopes)
    found = []
    for hope, rows in zip(hopes, tested, strict=True):
        best = rows[0] if rows else None
        found.append(
            ToProve(
                standing=hope.standing,
                stakes=hope.stakes,
                statement=stated.get((hope.standing.animal_id, hope.standing.trait_id)),
                best=best,
                worth=hope.weight * best.trial.bits if best is not None else 0.0,
                laboratories=tested_here.get(hope.standing.trait_id, ()),
            )
        )
    found.sort(key=lambda one: -one.worth)
    return found


def worked_out(suspects: Sequence[Suspect]) -> list[list[WithMate] | None]:
    """Return what each of its mates would tell of each suspect, the mate that tells most first.

    Mates against whom something speaks come last; of those that tell as much, who is least related
    comes first. Nothing for a suspect of whom it cannot be worked out exactly.
    """
    trials = inference.trials(suspects)
    pairs = [(one.animal, mate) for one in suspects for mate in one.mates]
    kinships = iter(inference.kinships(pairs) if pairs else ())
    against = cautions(pairs)
    found: list[list[WithMate] | None] = []
    for suspect, rows in zip(suspects, trials, strict=True):
        related = [next(kinships) for _ in suspect.mates]
        if rows is None:
            found.append(None)
            continue
        tested = [
            WithMate(mate, trial, kinship, against[suspect.animal.pk, mate.pk])
            for mate, trial, kinship in zip(suspect.mates, rows, related, strict=bool(rows))
        ]
        tested.sort(key=_rank)
        found.append(tested)
    return found


def _rank(one: WithMate) -> tuple[bool, bool, float, float, str]:
    told = round(one.trial.bits, 9)
    return not told, bool(one.cautions), -told, one.kinship, one.mate.code


def _conflict(trials: Iterable[Trial]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for one in trials for text in one.conflict))


@dataclass(frozen=True)
class SuspectPlan:
    """One possible carrier with all mates here.

    Attributes:
        telling: mates of which a test would tell something, the best first.
        silent: those of which it would tell nothing.
        left: how many more there are that promise less by what is stored, not worked out.
        why_not: why it cannot be tested this season; empty where it can.
        trouble: why nothing could be worked out; empty where it was.
    """

    standing: Standing
    season: int
    stakes: Sequence[Stake]
    telling: list[WithMate]
    silent: list[Animal]
    left: int
    why_not: str
    trouble: str
    laboratories: Sequence[Laboratory]

    @property
    def conflict(self) -> tuple[str, ...]:
        """Records that cannot all be true, in words; the newest was set aside."""
        return _conflict(one.trial for one in self.telling)


def suspect_plan(standing: Standing, today: date) -> SuspectPlan:
    """Return what each mate here would tell of one possible carrier, or of one line of it."""
    mates = _mates([standing], season_of(today))
    why_not = mates.why_not(standing.animal)
    every = [mate for _, mate in mates.of(standing, len(mates.grown))]
    asked = Suspect(standing.animal, standing.trait, standing.line, tuple(every[:MOST_MATES]))
    rows = worked_out([asked])[0] if every else []
    found = rows or []
    key = (standing.animal_id, standing.trait_id)
    return SuspectPlan(
        standing=standing,
        season=mates.season,
        stakes=queries.stakes([standing])[key],
        telling=[one for one in found if one.trial.bits > 0],
        silent=[one.mate for one in found if not one.trial.bits],
        left=len(every) - len(asked.mates),
        why_not=why_not,
        trouble=_TOO_LARGE if rows is None else "",
        laboratories=queries.laboratories({standing.trait_id}).get(standing.trait_id, ()),
    )


_TOO_LARGE = (
    "These families are too large, or too much is open in them, for what a test would tell to be "
    "worked out exactly. The pair’s own page says what its hatchlings can show."
)
