"""The contract's whole answer to a case, as plain Python values."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from genetics.conflict import smallest_conflict
from genetics.couple import couple_query, joint, offspring
from genetics.errors import BeyondExact, ImpossibleEvidence
from genetics.json_values import JsonObject
from genetics.plans.answers import plan_answers
from genetics.population import Case, JointQuestion, Population, Questions
from genetics.solving import CELLS, Solved, solve


def answer(
    case: Case, *, limit: float = CELLS, notice: Callable[[str], None] = lambda text: None
) -> JsonObject:
    """Everything the contract promises for a case.

    Where exact inference would need more than `limit` table cells, `notice` is told before the
    case is answered by sampling: then `exact` is false, `errors` holds the half widths of 95 %
    intervals by animal and locus, and `log_evidence` is null.

    Raises:
        BeyondExact: undecided lines cannot be weighed by sampling.
        ImpossibleEvidence: the evidence cannot all be true; `conflict` names a smallest set.
    """
    population, ask = case.population, case.ask
    queries = [_of_one(q) for q in ask.joint]
    queries += [couple_query(population, q) for q in ask.offspring]
    try:
        asked = _Asked(population, limit, queries, notice)
    except ImpossibleEvidence as fault:
        conflict = smallest_conflict(population)
        message = "these records cannot all be true: " + ", ".join(map(str, conflict))
        if not conflict:
            message = "the background leaves no genotype possible, whatever is recorded"
        raise ImpossibleEvidence(message, conflict) from fault
    found = _standing_answers(asked.solved)
    found |= _asked_answers(asked, ask)
    if not asked.exact:
        found["exact"] = False
    return found | plan_answers(asked.solved, ask)


Query = tuple[tuple[str, str], ...]


class _Asked:
    """A population solved for some questions: for all at once, or where these tie too much
    together for each by itself, so that many questions turn no exact answer into a sampled one.
    """

    def __init__(
        self,
        population: Population,
        limit: float,
        queries: Sequence[Query],
        notice: Callable[[str], None],
    ) -> None:
        self.population, self.limit, self.notice = population, limit, notice
        self.together = True
        try:
            self.solved = solve(
                population, limit=limit, queries=queries, notice=notice,
                exact_only=len(queries) > 1,
            )  # fmt: skip
        except BeyondExact:
            if len(queries) < 2:
                raise
            self.together = False
            self.solved = solve(population, limit=limit, notice=notice)
        self.exact = self.solved.exact

    def told(self, query: Query) -> Solved:
        """The solution that has the joint table of a question."""
        if self.together:
            return self.solved
        found = solve(
            self.population, limit=self.limit, queries=[query], spaces=self.solved.spaces,
            notice=self.notice,
        )  # fmt: skip
        self.exact = self.exact and found.exact
        return found


def _of_one(question: JointQuestion) -> Query:
    return tuple((question.animal, locus) for locus in question.genotypes)


def _standing_answers(solved: Solved) -> JsonObject:
    population = solved.population
    found: JsonObject = {
        "log_evidence": solved.log_evidence if solved.exact else None,
        "posterior": {
            animal.id: {
                locus.id: solved.posterior(animal.id, locus.id) for locus in population.loci
            }
            for animal in population.animals
        },
        "sex": {
            animal.id: solved.sex(animal.id)
            for animal, sex in zip(population.animals, population.sexes, strict=True)
            if sex == "unknown"
        },
        "parentage": {
            clutch.id: solved.parentage(clutch.id)
            for clutch in population.clutches
            if clutch.stated_candidates
        },
        "same_locus": solved.same_locus(),
    }
    if population.trust:
        found["trust"] = {name: solved.trust(name) for name in population.trust}
    if not solved.exact:
        found["exact"] = False
        found["errors"] = _errors(solved)
    return found


def _errors(solved: Solved) -> dict[str, dict[str, float]]:
    """Half widths of the 95 % intervals, for the animals whose numbers are not exact."""
    found: dict[str, dict[str, float]] = {}
    for animal in solved.population.animals:
        widths = {locus.id: solved.error(animal.id, locus.id) for locus in solved.population.loci}
        if any(widths.values()):
            found[animal.id] = widths
    return found


def _asked_answers(asked: _Asked, ask: Questions) -> JsonObject:
    found: JsonObject = {
        "joint": [joint(asked.told(_of_one(q)), q.animal, q.genotypes) for q in ask.joint],
        "offspring": [],
    }
    for question in ask.offspring:
        given = offspring(asked.told(couple_query(asked.population, question)), question)
        row: JsonObject = {
            "phenotypes": [{"shows": list(look), "p": p} for look, p in given.phenotypes]
        }
        if given.goal is not None:
            row["goal"] = given.goal
            row["at_least_one"] = {str(n): p for n, p in given.at_least_one.items()}
        found["offspring"].append(row)
    found["kinship"], found["inbreeding"] = _kinships(asked.population, ask)
    return found


def _kinships(population: Population, ask: Questions) -> tuple[list[float], list[float]]:
    if not ask.kinship and not ask.inbreeding:
        return [], []
    from genetics.kinship import kinship_pairs
    from genetics.relatives import pedigree

    index = population.animal_index
    made = pedigree(population)
    pairs = [(index[a], index[b]) for a, b in ask.kinship]
    selves = [(index[a], index[a]) for a in ask.inbreeding]
    values = kinship_pairs(made, pairs + selves)
    n = len(pairs)
    return [float(v) for v in values[:n]], [max(0.0, 2.0 * float(v) - 1.0) for v in values[n:]]
