"""A number under dispute: what it would be without each of the records that cannot all be true."""

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.carriers import together
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.results import Ground
from keeper.domain.inference.workings.describing import in_words, rows_of
from keeper.domain.inference.workings.questions import Question
from keeper.models import Animal, Dispute, Trait


def without_each(
    part: Subproblem, question: Question, dispute: Dispute, animal: Animal, trait: Trait, now: float
) -> tuple[Ground, ...]:
    """Each record of a dispute with the figure if it alone is wrong (None: still impossible).

    `part` has the newest record of each conflict set aside; here the records of this dispute
    are back, and one at a time is dropped.
    """
    whole = _unsettled(part, animal, trait)
    every = frozenset(genetics.records(whole.population))
    sources: list[Source] = [(str(one["model"]), int(one["pk"])) for one in dispute.conflict]
    names = {source: _resting_on(whole, source, every) for source in sources}
    still = set(genetics.records(part.book.population)).union(*names.values())
    excluded = every - still
    rows = rows_of(sources)
    found = []
    for source in sources:
        left = genetics.kept_only(whole.population, every - excluded - names[source])
        try:
            without = question.ask(question.relevant(left)).carries
        except genetics.ImpossibleEvidence:
            without = None
        found.append(Ground(rows[source], in_words(rows[source]), without, now))
    return tuple(found)


def _unsettled(part: Subproblem, animal: Animal, trait: Trait) -> EngineBook:
    """The families of the animal with all of their records."""
    components = part.of.components(Touched(animals={(animal.pk, trait.pk)}))
    of = part.of.attending(components)
    (component,) = (
        one
        for one in together(of.rows, components)
        if any(trait.pk in group.traits for group in one.animals)
    )
    return engine_book(of.inheritance, of.rows, component, also=[animal.pk])


def _resting_on(
    book: EngineBook, source: Source, every: frozenset[genetics.RecordName]
) -> frozenset[genetics.RecordName]:
    return frozenset(name for name in every if source in book.sources.get(name, ()))
