"""Why a standing is what it is: each record weighed, and the exact working of simple cases."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import genetics
from keeper import models as m
from keeper.domain.inference.asking import Slice, Unanswerable, families_of
from keeper.domain.inference.copies import unsure
from keeper.domain.inference.engine_book import Source, row_of
from keeper.domain.inference.inheritance import codes_of
from keeper.domain.inference.results import Ground, Grounds, WorkingStep
from keeper.models import Animal, Line, Shown, Standing, Trait

# Records that are weighed for one number; each costs an inference. The nearest come first.
_MOST = 40
# How far a record may be: the young, parents, mates and sibs of an animal, and their parents.
_FAR = 2


@dataclass
class _Piece:
    """Records that are weighed together: all hatchlings of a clutch, or one record alone."""

    source: Source
    names: set[str]
    far: int
    hatchlings: bool


def grounds(animal: Animal, trait: Trait, line: Line | None) -> Grounds:
    """The evidence behind one standing, the weightiest first, each piece weighed by leaving it out.

    The hatchlings of a clutch are one piece: two visuals prove no more than one, so that either
    alone would seem to weigh nothing. Of other animals' parents nothing is said: without them the
    whole book would be another one.
    """
    asked = families_of(animal.species, [animal.pk], trait.pk)
    if not asked.slices:
        return Grounds((), (), conflict=asked.conflict)
    (part,) = asked.slices
    weighed, exact = _weighed(part, animal, trait, line)
    listed = []
    for piece, without, now in weighed:
        record = row_of(piece.source)
        text = _hatched(part, piece, trait) if piece.hatchlings else _text(record)
        listed.append(Ground(record, text, without, now))
    return Grounds(tuple(listed), _working(animal, trait), exact, asked.conflict)


def _weighed(
    part: Slice, animal: Animal, trait: Trait, line: Line | None
) -> tuple[list[tuple[_Piece, float | None, float]], bool]:
    """Pieces with the figure without each and as it stands; whether all figures are exact."""
    from genetics.conflict import records
    from genetics.explain import known_only
    from genetics.relevant import relevant

    code = part.code(animal)
    name, keys = _place(part, code, trait, line)
    if not keys:
        return [], True
    book = relevant(part.book.population, code, name)
    names = set(records(book))
    pieces = sorted(_pieces(part, animal, names), key=lambda one: one.far)[:_MOST]
    now, exact = _carries(book, code, name, keys)
    found: list[tuple[_Piece, float | None, float]] = []
    for piece in pieces:
        try:
            without, sure = _carries(known_only(book, names - piece.names), code, name, keys)
            exact = exact and sure
            found.append((piece, without, now))
        except genetics.ImpossibleEvidence:
            found.append((piece, None, now))
    # What moves the figure, then what the rest cannot do without, then what changes nothing.
    found.sort(key=lambda row: (1, 0.0) if row[1] is None else _weight(row[1], now))
    return found, exact


def _weight(without: float, now: float) -> tuple[int, float]:
    moved = abs(without - now)
    return (0, -moved) if moved > 1e-9 else (2, 0.0)


def _pieces(part: Slice, animal: Animal, names: set[str]) -> list[_Piece]:
    near = _nearness(part, animal)
    rows = part.of.rows
    clutch_of: dict[Source, int] = {}
    for clutch, listed in rows.tallies.items():
        clutch_of |= {("hatchrow", row.pk): clutch for row in listed}
    for pk, looks in rows.observations.items():
        own = rows.animals[pk].clutch
        if own is not None and pk != animal.pk:
            clutch_of |= {("observation", row.pk): own for row in looks.values()}
    found: dict[tuple[Source, bool], _Piece] = {}
    for name in sorted(names):
        source = next((one for one in part.book.sources.get(name, ()) if one in near), None)
        if source is None:
            continue
        hatchlings = source in clutch_of
        subject = ("clutch", clutch_of[source]) if hatchlings else source
        piece = found.setdefault(
            (subject, hatchlings), _Piece(subject, set(), near[source], hatchlings)
        )
        piece.names.add(name)
        piece.far = min(piece.far, near[source])
    return list(found.values())


def _hatched(part: Slice, piece: _Piece, trait: Trait) -> str:
    """What hatched in a clutch, as far as the trait was looked for."""
    rows, (_, clutch) = part.of.rows, piece.source
    tallies = rows.tallies.get(clutch, ())
    seen = sum(row.tally for row in tallies if trait.pk in row.seen)
    looked = seen + sum(row.tally for row in tallies if trait.pk in row.unseen)
    for pk in rows.hatched.get(clutch, ()):
        look = rows.observations.get(pk, {}).get(trait.pk)
        if look is not None:
            looked += 1
            seen += look.seen
    what = f"{seen} of {looked} showed {trait}" if looked else "its other looks"
    return f"clutch {rows.clutches[clutch].code}: {what}"


def _place(part: Slice, code: str, trait: Trait, line: Line | None) -> tuple[str, list[str]]:
    """The locus that the animal most likely carries the trait at, and the keys that carry it."""
    inheritance = part.of.inheritance
    lines = [one for one in inheritance.lines_of(trait) if line is None or one.pk == line.pk]
    solved = part.solve()
    best: tuple[float, str, list[str]] = (-1.0, "", [])
    for locus in sorted({one.locus_id for one in lines} & part.loci):
        name = inheritance.loci[locus].name
        codes = {one.code for one in lines if one.locus_id == locus}
        chances = solved.posterior(code, name)
        keys = [key for key in chances if codes & set(codes_of(key))]
        best = max(best, (sum(chances[key] for key in keys), name, keys))
    return best[1], best[2]


def _carries(book: Any, code: str, locus: str, keys: list[str]) -> tuple[float, bool]:
    solved = genetics.solve(book)
    chances = solved.posterior(code, locus)
    carries = sum(chances[key] for key in keys)
    sure = all(key in keys for key, p in chances.items() if p > 0)
    return (1.0 if sure else unsure(carries)), solved.exact


def _nearness(part: Slice, animal: Animal) -> dict[Source, int]:
    """How far each row is that says something of the animal or of its near kin."""
    rows = part.of.rows
    found: dict[Source, int] = {}
    own = rows.animals[animal.pk]
    found["clutch", own.clutch or 0] = found["animal", own.pk] = 0
    waiting, seen = {animal.pk}, {animal.pk}
    for far in range(_FAR + 1):
        beside: set[int] = set()
        for pk in waiting:
            one = rows.animals[pk]
            kin = [("observation", row.pk) for row in rows.observations.get(pk, {}).values()]
            kin += [("statement", row.pk) for row in rows.statements.get(pk, ())]
            clutches = [*rows.bred.get(pk, ()), *(() if one.clutch is None else (one.clutch,))]
            for clutch in clutches:
                kin += [("hatchrow", row.pk) for row in rows.tallies.get(clutch, ())]
                beside |= rows.clutches[clutch].parents | set(rows.hatched.get(clutch, ()))
            for source in kin:
                found.setdefault(source, far)
            beside |= rows.parents(one) | set(rows.children.get(pk, ()))
        waiting = beside - seen
        seen |= beside
    return found


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
