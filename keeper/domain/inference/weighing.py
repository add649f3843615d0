"""Why a standing is what it is: each record weighed, and the exact working of simple cases."""

from fractions import Fraction
from typing import Any

import genetics
from keeper import models as m
from keeper.domain.inference.asking import Slice, Unanswerable, families_of
from keeper.domain.inference.engine_book import row_of
from keeper.domain.inference.results import Ground, Grounds, WorkingStep
from keeper.models import Animal, Line, Shown, Standing, Trait


def grounds(animal: Animal, trait: Trait, line: Line | None) -> Grounds:
    """The evidence behind one standing, the weightiest first, each weighed by leaving it out."""
    asked = families_of(animal.species, [animal.pk], trait.pk)
    (part,) = asked.slices or (None,)
    found = [] if part is None else _weighed(part, animal, trait, line)
    exact = all(one.exact for one in found)
    listed = []
    for one in found:
        for source in part.book.sources.get(one.record, ()) if part else ():
            record = row_of(source)
            listed.append(Ground(record, _text(record), one.without, one.chance))
    return Grounds(tuple(listed), _working(animal, trait), exact, asked.conflict)


def _weighed(asked: Slice, animal: Animal, trait: Trait, line: Line | None) -> list[Any]:
    from genetics.explain import contributions

    inheritance = asked.of.inheritance
    lines = [one for one in inheritance.lines_of(trait) if line is None or one.pk == line.pk]
    here = {locus.id for locus in asked.book.population.loci}
    best: tuple[float, list[Any]] = (-1.0, [])
    for locus in sorted({one.locus_id for one in lines}):
        name = inheritance.loci[locus].name
        if name not in here:
            continue
        codes = {one.code for one in lines if one.locus_id == locus}
        chances = asked.solve().posterior(asked.code(animal), name)
        keys = [key for key in chances if codes & set(key.replace("|", "/").split("/"))]
        carries = sum(chances[key] for key in keys)
        # Of several loci the one that the animal most likely carries the trait at is explained.
        if carries > best[0]:
            found = contributions(asked.book.population, asked.code(animal), name, keys)
            best = (carries, list(found))
    return best[1]


def _text(record: m.Record) -> str:
    if isinstance(record, m.Animal):
        parents = " × ".join(str(one) for one in (record.dam, record.sire) if one is not None)
        return f"{record} is of {parents}" if parents else f"what was seen on {record}"
    if isinstance(record, m.Clutch):
        sires = " or ".join(str(one) for one in record.candidates.live()) or "a male not recorded"
        return f"clutch {record}: {record.dam or 'a female not recorded'} × {sires}"
    if isinstance(record, m.HatchRow):
        seen = [str(one.trait) for one in record.sightings.live().filter(seen=True)]
        return f"clutch {record.clutch}: {record.count} hatched {', '.join(seen) or 'normal'}"
    return str(record)


def _working(animal: Animal, trait: Trait) -> tuple[WorkingStep, ...]:
    """The exact working where parents alone decide: one recessive locus, parents told exactly."""
    stored = (
        Standing.objects.filter(animal=animal, trait=trait, line=None).select_related("trait")
    ).first()
    parents = _parents(animal)
    if stored is None or trait.shown != Shown.RECESSIVE or parents is None or stored.is_disputed:
        return ()
    if trait.lines.live().values("locus").distinct().count() != 1:
        return ()
    if any(line.locus.chromosome != m.Chromosome.AUTOSOME for line in trait.lines.live()):
        return ()
    from genetics.errors import ImpossibleEvidence
    from genetics.working import Parent, normal_child

    chances = []
    for parent in parents:
        one = Standing.objects.filter(animal=parent, trait=trait, line=None).first()
        found = (Fraction(0), Fraction(0)) if one is None else (_exact(one.one), _exact(one.two))
        if None in found or (one is not None and one.is_disputed):
            return ()
        chances.append(Parent(carrier=found[0] or Fraction(0), shows=found[1] or Fraction(0)))
    try:
        working = normal_child(*chances)
    except ImpossibleEvidence:
        return ()
    if abs(float(working.result) - stored.carries) > 1e-9 or stored.two > 0:
        # Sibs, young or tests moved the figure: the parents alone do not make it.
        return ()
    return tuple(WorkingStep(step.text, step.plain, step.mathml) for step in working.steps)


def _exact(figure: float) -> Fraction | None:
    """The simple fraction that a figure is, if it is one."""
    near = Fraction(figure).limit_denominator(1000)
    return near if abs(float(near) - figure) < 1e-12 else None


def _parents(animal: Animal) -> tuple[Animal, Animal] | None:
    if animal.clutch is not None:
        sires = list(animal.clutch.candidates.live())
        if animal.clutch.dam is None or len(sires) != 1 or sires[0].sire is None:
            return None
        return animal.clutch.dam, sires[0].sire
    return (animal.dam, animal.sire) if animal.dam and animal.sire else None


def case_file(animal: Animal) -> dict[str, Any]:
    """The animal's family as a case file; codes and names are the keeper's own.

    Raises:
        Unanswerable: nothing in the book bears on what it carries.
    """
    (part,) = families_of(animal.species, [animal.pk]).slices or (None,)
    if part is None:
        raise Unanswerable(f"Nothing in the book bears on what {animal} carries.")
    written: dict[str, Any] = genetics.write_case(genetics.Case(population=part.book.population))
    return written
