"""Evidence that is possible and was very unlikely: pointed out, for the keeper to look at again.

Of a clutch and a trait: how many hatchlings showed it, against what the rest of the book made
likely; the chance is that of this number and of all numbers that were no likelier. Of a
laboratory's result: its chance given the rest. Of several candidate sires each may be it, as
likely as the rest of the book leaves it. Where each egg may have its own, or a parent is not
recorded, the clutch itself is asked how likely each number is (`_law_of_eggs`): what else was seen
on one hatchling then tells of all of them alike, and a trait that another look can hide is left
out.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf

from django.db.models import Q

import genetics
from keeper import models as m
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.kinds import Kinds, kinds_of, sexed_of
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.looks import sighting
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.reading.showed import alike, showed, told_of
from keeper.domain.inference.standings.computing import Recomputed
from keeper.domain.inference.standings.copies import solve
from keeper.domain.inference.standings.sources import row_of
from keeper.domain.inference.standings.stored import Stored

# A surprise of 1 in so many, or a rarer one, is pointed out.
ONE_IN = 500

# Where a clutch may surprise by several traits each has to be so much rarer: of so many clutches
# one at most is pointed out for nothing, not one for each trait.

# More clutches or results at once are no entry of a day: a recompute points out nothing anew.
_MOST = 12

# More hatchlings than these are asked for one by one in no clutch, nor in larger tables.
_MOST_EGGS = 60
_CELLS = 2.0**18


@dataclass(frozen=True)
class Surprising:
    """One item of evidence with its chance; `line` where a laboratory looked for it."""

    trait: int
    line: int | None
    clutch: int | None
    animal: int | None
    text: str
    chance: float


def note(
    inheritance: Inheritance, part: Recomputed, touched: Touched, entry: m.DaybookEntry
) -> None:
    """Write down what surprises in the clutches and results that an entry touched.

    `part` is what the entry was worked out in. What was pointed out there before and surprises no
    more is left out.
    """
    rows = part.rows
    animals = {pk for pk, _ in touched.animals if pk in rows.animals}
    # New records say something of their own clutches alone; a correction, of any it touches.
    telling = {pk for pk, _ in touched.looked if pk in animals} if touched.only_new else animals
    own = {rows.animals[pk].clutch for pk in telling}
    clutches = {pk for pk in touched.clutches | own if pk in rows.clutches}
    tested = {pk for pk in animals if rows.lab_tests.get(pk)}
    if len(clutches) + len(tested) > _MOST:
        return
    found: list[Surprising] = []
    traits: set[int] = set()
    for book in part.books:
        traits |= {pk for group in book.groups for pk in group.traits}
        for pk in clutches:
            expected = _expected(inheritance, part, book, touched, pk)
            found += _hatched(inheritance, rows, book, pk, expected)
        found += _results(rows, book, tested)
    about = Q(clutch__in=clutches) | Q(animal__in=animals)
    here = m.Surprise.objects.filter(about, trait__in=traits)
    here.filter(looked_at=None).delete()
    looked_at = set(here.values_list("text", flat=True))
    found = [one for one in found if 0 < one.chance <= 1 / ONE_IN / _asked(rows, one)]
    m.Surprise.objects.bulk_create(
        m.Surprise(
            species=inheritance.species, trait_id=one.trait, line_id=one.line,
            clutch_id=one.clutch, animal_id=one.animal, text=one.text[:200],
            chance=one.chance, entry=entry,
        )
        for one in found
        # What cannot be is a dispute, not a surprise.
        if one.text not in looked_at
    )  # fmt: skip


def _asked(rows: Rows, one: Surprising) -> int:
    """Of how many traits a clutch may surprise: those that its parents may carry; else one."""
    if one.clutch is None or one.chance > 1 / ONE_IN:
        return 1
    parents = rows.clutches[one.clutch].parents
    may = m.Standing.objects.filter(animal__in=parents, line=None, none__lt=1).order_by()
    return max(1, may.values("trait").distinct().count())


def _expected(
    inheritance: Inheritance, part: Recomputed, book: EngineBook, touched: Touched, pk: int
) -> frozenset[int]:
    """The traits that nobody of a clutch showing is no surprise of, by what was stored before.

    Of a recessive trait that is so at least as likely as that one parent has none of it. That is
    its stored chance where the entry is about this clutch alone, and all that was seen on it.
    """
    rows, traits = part.rows, {trait for group in book.groups for trait in group.traits}
    young = set(rows.hatched.get(pk, ()))
    counted = {row.pk for row in rows.tallies.get(pk, ())}
    told = young | {animal for animal, _ in touched.looked}
    if part.before is None or touched.clutches != {pk} or not touched.fresh <= young:
        return frozenset()
    if not (told <= touched.fresh and counted <= touched.rows) or len(traits) != 1:
        return frozenset()
    one = inheritance.traits[next(iter(traits))]
    loci = [inheritance.loci[locus] for locus in inheritance.loci_of(one)]
    simple = one.shown == m.Shown.RECESSIVE and not one.mistaken and len(loci) == 1
    if not simple or loci[0].chromosome != m.Chromosome.AUTOSOME:
        return frozenset()
    if any(rows.lab_tests.get(animal) for animal in young):
        return frozenset()
    (group,) = book.groups
    clutch = rows.clutches[pk]
    # Of several sires any other may have it; the dam is hers whoever he was.
    sure = clutch.parents if len(clutch.sires) == 1 else {clutch.dam} & clutch.parents
    stands = [part.before.at(parent, group) for parent in sure if parent]
    none = max((_none_of(own, one.pk) for own in stands), default=0.0)
    return frozenset(traits) if none > 2 / ONE_IN else frozenset()


def _none_of(stands: Mapping[tuple[int, int | None], Stored], trait: int) -> float:
    """The chance of no copy by an animal's standings; without a standing it has none."""
    if not stands:
        return 1.0
    return stands[trait, None].none if (trait, None) in stands else 0.0


def _hatched(
    inheritance: Inheritance, rows: Rows, book: EngineBook, pk: int, expected: frozenset[int]
) -> Iterator[Surprising]:
    clutch, population = rows.clutches[pk], book.population
    known = population.animal_index
    couples = [(clutch.dam, sire) for sire, _ in clutch.sires]
    codes = {rows.animals[one].code for couple in couples for one in couple if one}
    young = {rows.animals[one].code for one in rows.hatched.get(pk, ())}
    own = book.clutch_ids.get(pk)
    if (len(couples) > 1 and own is None) or not {*codes, *young} <= known.keys():
        return
    by_eggs = (len(couples) > 1 and clutch.paternity != "one") or not all(map(all, couples))
    if by_eggs:
        yield from _of_eggs(inheritance, rows, book, pk, expected)
        return
    hatched = list(alike(inheritance, rows, pk))
    for trait in sorted({pk for group in book.groups for pk in group.traits}):
        name = inheritance.traits[trait].name
        seen, looked = showed(hatched, trait)
        if not looked or (not seen and trait in expected):
            continue
        forms = {inheritance.traits[one].name for one in inheritance.with_forms(trait)}
        rest = population if own is None else _without(population, own, forms)
        asked = [
            genetics.OffspringQuestion(dam=rows.animals[dam].code, sire=rows.animals[sire].code)
            for dam, sire in couples
            if dam is not None and sire is not None
        ]
        law = _law(inheritance, rest, own, asked, trait, looked)
        if law is not None:
            text = f"Clutch {clutch.code}: {seen} of {looked} showed {name}"
            yield Surprising(trait, None, pk, None, text, tail(law, seen))


def _of_eggs(
    inheritance: Inheritance, rows: Rows, book: EngineBook, pk: int, expected: frozenset[int]
) -> Iterator[Surprising]:
    """What surprises in a clutch that is no couple's for certain."""
    clutch, own = rows.clutches[pk], book.clutch_ids.get(pk)
    if own is None or own not in book.population.clutch_index:
        return
    hatched = list(alike(inheritance, rows, pk))
    for trait in sorted({pk for group in book.groups for pk in group.traits}):
        one = inheritance.traits[trait]
        seen, looked = showed(hatched, trait)
        quiet = not looked or (not seen and trait in expected)
        if quiet or looked > _MOST_EGGS or _can_be_hidden(book.population, one.name):
            continue
        forms = {inheritance.traits[form].name for form in inheritance.with_forms(trait)}
        rest = _without(book.population, own, forms)
        law = _law_of_eggs(rest, own, one, seen, looked)
        if law is not None:
            text = f"Clutch {clutch.code}: {seen} of {looked} showed {one.name}"
            yield Surprising(trait, None, pk, None, text, tail(law, seen))


def _can_be_hidden(population: genetics.Population, trait: str) -> bool:
    return any(trait in one.hides or "*" in one.hides for one in population.traits)


def _law_of_eggs(
    rest: genetics.Population, clutch: str, trait: m.Trait, seen: int, looked: int
) -> "genetics.Floats | None":
    """Chance of each number of visuals, by asking the clutch for that many.

    None: the number that was seen is no rare one, which is found with two solutions, or it is out
    of reach. All numbers together take one solution each.
    """
    import numpy as np
    from scipy.special import gammaln

    def log(count: int) -> float:
        lines = [
            genetics.TallyLine(count=number, shows={trait.name: sighting(trait, (shown,))})
            for number, shown in ((count, True), (looked - count, False))
            if number
        ]
        ways = gammaln(looked + 1) - gammaln(count + 1) - gammaln(looked - count + 1)
        try:
            return float(ways) + _evidence(_with_tally(rest, clutch, lines)) - bare
        except genetics.ImpossibleEvidence:
            return -inf

    try:
        bare = _evidence(rest)
        if log(seen) > -np.log(ONE_IN):
            return None
        return np.exp([log(count) for count in range(looked + 1)])
    except (genetics.ImpossibleEvidence, genetics.BeyondExact):
        return None


def _evidence(population: genetics.Population) -> float:
    return genetics.solve(population, limit=_CELLS, exact_only=True).log_evidence


def _with_tally(
    population: genetics.Population, clutch: str, lines: Sequence[genetics.TallyLine]
) -> genetics.Population:
    """The population in which more hatched in a clutch."""
    more = tuple(
        one._replace(tally=(*one.tally, *lines)) if one.id == clutch else one
        for one in population.clutches
    )
    return replace(population, clutches=more)


def _without(
    population: genetics.Population, clutch: str, traits: Collection[str]
) -> genetics.Population:
    """The population without what was seen of some traits on a clutch's hatchlings."""

    def less(shows: Mapping[str, genetics.Sighting]) -> dict[str, genetics.Sighting]:
        return {name: look for name, look in shows.items() if name not in traits}

    return replace(
        population,
        animals=tuple(
            one._replace(shows=less(one.shows)) if one.clutch == clutch else one
            for one in population.animals
        ),
        clutches=tuple(
            one._replace(tally=tuple(replace(line, shows=less(line.shows)) for line in one.tally))
            if one.id == clutch
            else one
            for one in population.clutches
        ),
    )


def tail(law: "genetics.Floats", seen: int) -> float:
    """Chance of a number, and of all numbers that are no likelier; `law` has that of each."""
    return float(law[law <= law[seen] * (1 + 1e-9)].sum())


def _law(
    inheritance: Inheritance,
    population: genetics.Population,
    clutch: str | None,
    couples: Sequence[genetics.OffspringQuestion],
    trait: int,
    looked: int,
) -> "genetics.Floats | None":
    """Chance of each number of visuals among so many hatchlings; None: out of reach.

    Of those that can show it: none on which another look hides it is among them.

    Each couple may be the parents, as likely as the rest of the book is of them: the law averages
    over the couples, and over the kinds that each may be together.
    """
    import numpy as np

    laws, logs = [], []
    for place, question in enumerate(couples):
        only, prior = population, 1.0
        if clutch is not None and len(couples) > 1:
            only, prior = _of_couple(population, clutch, place)
        try:
            solved = genetics.solve(only, queries=[genetics.couple_query(only, question)])
            kinds = kinds_of(inheritance, sexed_of(solved, question))
        except genetics.ImpossibleEvidence:
            continue
        except genetics.BeyondExact:
            return None
        laws.append(_of_kinds(inheritance, kinds, trait, looked))
        logs.append(solved.log_evidence + np.log(prior))
    if not laws:
        return None
    weights = np.exp(np.array(logs) - max(logs))
    law: genetics.Floats = (weights / weights.sum()) @ np.array(laws)
    return law


def _of_couple(
    population: genetics.Population, clutch: str, place: int
) -> tuple[genetics.Population, float]:
    """The population if one couple of a clutch are the parents, and how likely that was said."""
    one = next(one for one in population.clutches if one.id == clutch)
    couple = one.candidates[place]
    alone = one._replace(candidates=(couple._replace(p=1),))
    others = tuple(alone if each is one else each for each in population.clutches)
    return replace(population, clutches=others), float(couple.p)


def _of_kinds(inheritance: Inheritance, kinds: Kinds, trait: int, looked: int) -> "genetics.Floats":
    import numpy as np
    from scipy.stats import binom

    counts = np.arange(looked + 1)
    law: genetics.Floats = sum(
        weight * binom.pmf(counts, looked, _showing(inheritance, looks, trait))
        for weight, looks in kinds
    )
    return law


def _showing(inheritance: Inheritance, looks: Mapping[tuple[str, ...], float], trait: int) -> float:
    """The share of hatchlings that show a trait, among those on which nothing hides it."""
    by_name = {one.name: pk for pk, one in inheritance.traits.items()}
    shows = able = 0.0
    for look, p in looks.items():
        seen = [by_name[name] for name in look]
        shown, denied = told_of(inheritance, seen, [trait])
        shows += p * (trait in shown)
        able += p * (trait in shown or trait in denied)
    return min(1.0, shows / able) if able > 0 else 0.0


def _results(rows: Rows, book: EngineBook, animals: Collection[int]) -> Iterator[Surprising]:
    tests = {test.pk: (pk, test.line) for pk in animals for test in rows.lab_tests.get(pk, ())}
    names = {
        name: rests[0][1]
        for name, rests in book.sources.items()
        if rests and rests[0][0] == "labtest" and rests[0][1] in tests
    }
    if not names:
        return
    every = set(genetics.records(book.population))
    try:
        with_all = solve(book).log_evidence
    except (genetics.ImpossibleEvidence, genetics.BeyondExact):
        return
    for name, pk in names.items():
        try:
            rest = genetics.solve(genetics.kept_only(book.population, every - {name})).log_evidence
        except (genetics.ImpossibleEvidence, genetics.BeyondExact):
            continue
        test = row_of(("labtest", pk))
        assert isinstance(test, m.LabTest)
        animal, line = tests[pk]
        chance = exp(with_all - rest)
        yield Surprising(test.line.trait_id, line, None, animal, str(test), chance)
