"""Words that stand or fall with one on an animal: on others that were bought with it."""

import genetics
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.looks import Source


def bought_with(population: genetics.Population, code: str) -> dict[str, set[str]]:
    """The animals on which words share a trust with one on an animal, with these trusts."""
    if code not in population.animal_index:
        return {}
    own = {one.trust for one in population.animals[population.animal_index[code]].statements}
    found = {
        one.id: own & {said.trust for said in one.statements}
        for one in population.animals
        if one.statements and one.id != code
    }
    return {name: trusts for name, trusts in found.items() if trusts}


def words_with(part: Subproblem, code: str) -> dict[Source, bool]:
    """The words on animals that were bought with one, and whether each is known to be wrong."""
    population = part.book.population
    found: dict[Source, bool] = {}
    for name, trusts in bought_with(population, code).items():
        statements = population.animals[population.animal_index[name]].statements
        for line, one in enumerate(statements):
            if one.trust in trusts:
                record = genetics.RecordName("animal", name, "statements", line=line)
                sources = part.book.sources[record]
                found |= dict.fromkeys(sources, not _may_hold(part, name, one))
    return found


def _may_hold(part: Subproblem, name: str, said: genetics.Statement) -> bool:
    """Whether anything that is said of an animal is possible of it by all that is known."""
    for locus, chances in said.founder.items():
        now = part.solved.posterior(name, locus)
        if not any(now.get(key, 0) > 0 and chance > 0 for key, chance in chances.items()):
            return False
    return not said.founder_joint or any(
        all(
            part.solved.posterior(name, locus).get(key, 0) > 0
            for locus, key in row.genotypes.items()
        )
        for row in said.founder_joint
        if row.p > 0
    )
