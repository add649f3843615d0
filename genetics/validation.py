"""The whole check of a population and of what is asked of it, before anything is computed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from genetics.checks import (
    check_between,
    check_count,
    check_distribution,
    check_key,
    check_one,
    check_weight,
    refuse,
    refuse_unknown,
    shown,
)
from genetics.columns import SEX_NAMES
from genetics.keys import SEXES, KnownSex, accepted_keys
from genetics.population import (
    Animal,
    FounderRow,
    Locus,
    Number,
    Population,
    Sex,
    Sighting,
    Statement,
    TallyLine,
)
from genetics.validation_inheritance import (
    check_inheritance,
    sexes_without_background,
)
from genetics.validation_pedigree import check_begins, check_pedigree


def validate(population: Population) -> None:
    """Check that a population means something, in time linear in its records.

    Raises:
        MalformedCase: a record contradicts the contract; names the place of the first fault,
            the value, and what would be accepted.
    """
    check_inheritance(population)
    check_pedigree(population)
    evidence = _Evidence(population)
    columns = population.columns
    first_shown = (members[0] for members in columns.alike)
    for name, trust in population.trust.items():
        check_between(trust, f"trust.{name}")
    unusual = {*first_shown, *columns.stated, *columns.tested, *columns.told, *columns.begins}
    for position in sorted(unusual):
        place = f"animals[{position}]"
        if position in columns.begins:
            check_begins(columns.begins[position], population, f"{place}.begins")
        if columns.shows[position]:
            evidence.check_shows(columns.shows[position], f"{place}.shows")
        if columns.founder[position] or columns.founder_joint[position]:
            evidence.check_founder(position, place)
        if columns.likelihood[position]:
            evidence.check_likelihood(columns.likelihood[position], f"{place}.likelihood")
        if columns.statements[position]:
            evidence.check_statements(position, place)
    for position, clutch in enumerate(population.clutches):
        for index, line in enumerate(clutch.tally):
            evidence.check_line(line, f"clutches[{position}].tally[{index}]")
    _check_background_founders(population)


class _Evidence:
    """Checks of statements and observations, with the tables they look things up in."""

    def __init__(self, population: Population) -> None:
        self.population = population
        self.loci = {locus.id: locus for locus in population.loci}
        self.traits = dict.fromkeys(trait.id for trait in population.traits)
        self.sound: set[tuple[object, ...]] = set()

    def check_shows(self, shows: Mapping[str, Sighting], place: str) -> None:
        for trait, sighting in shows.items():
            if trait not in self.traits:
                refuse_unknown(f"{place}.{trait}", "trait", trait, self.traits)
            if sighting.false_negative or sighting.false_positive:
                check_between(sighting.false_negative, f"{place}.{trait}.false_negative")
                check_between(sighting.false_positive, f"{place}.{trait}.false_positive")

    def check_line(self, line: TallyLine, place: str) -> None:
        known = (type(line.count), line.count, line.sex, id(line.shows))
        if known not in self.sound:
            check_count(line.count, f"{place}.count")
            check_one(line.sex, SEX_NAMES, f"{place}.sex")
            self.check_shows(line.shows, f"{place}.shows")
            self.sound.add(known)

    def check_likelihood(self, likelihood: Mapping[str, Mapping[str, object]], place: str) -> None:
        # Weights of genotypes that the animal's sex rules out say nothing, so they may stand: its
        # sex may have become known after the test was recorded.
        for locus_id, weights in likelihood.items():
            locus = self._locus(locus_id, f"{place}.{locus_id}")
            for key, weight in weights.items():
                within = f"{place}.{locus_id}.{key}"
                check_key(key, locus, self.population.sex_determination, "unknown", within)
                check_weight(weight, within)

    def check_statements(self, position: int, place: str) -> None:
        columns = self.population.columns
        taken = {locus for row in columns.founder_joint[position] for locus in row.genotypes}
        for index, one in enumerate(columns.statements[position]):
            within = f"{place}.statements[{index}]"
            if one.trust not in self.population.trust:
                refuse_unknown(f"{within}.trust", "trust", one.trust, self.population.trust)
            if one.founder or one.founder_joint:
                self.check_said(position, one.founder, one.founder_joint, within)
            self.check_likelihood(one.likelihood, f"{within}.likelihood")
            for locus in sorted(one.founder_loci & taken):
                refuse(
                    within,
                    f"locus {shown(locus)} is stated in another statement or in founder_joint too; "
                    "expected it in one of them",
                )
            taken |= one.founder_loci

    def check_founder(self, position: int, place: str) -> None:
        columns = self.population.columns
        founder, rows = columns.founder[position], columns.founder_joint[position]
        self.check_said(position, founder, rows, place)

    def check_said(
        self,
        position: int,
        founder: Mapping[str, Mapping[str, Number]],
        rows: Sequence[FounderRow],
        place: str,
    ) -> None:
        columns = self.population.columns
        sex = columns.sex[position]
        born = max(columns.dam[position], columns.sire[position], columns.clutch[position]) >= 0
        named = {*founder}.union(*(row.genotypes for row in rows))
        begins = columns.begins.get(position, ())
        if (born or position in columns.alone) and not (begins and named <= {*begins}):
            field = "founder" if founder else "founder_joint"
            refuse(
                f"{place}.{field}",
                f"{shown(columns.ids[position])} has parents recorded; expected a statement only "
                "for a founder, an animal without dam, sire and clutch, or of loci that begin "
                "with it",
            )
        # Founders often share their statements; the population holds them, so an id stays its own.
        if (id(founder), sex) not in self.sound:
            for locus_id, chances in founder.items():
                if (id(chances), locus_id, sex) not in self.sound:
                    self._check_statement(locus_id, chances, sex, f"{place}.founder.{locus_id}")
                    self.sound.add((id(chances), locus_id, sex))
            self.sound.add((id(founder), sex))
        if rows:
            self._check_rows(founder, rows, sex, f"{place}.founder_joint")

    def _check_statement(
        self, locus_id: str, chances: Mapping[str, Number], sex: Sex, place: str
    ) -> None:
        locus = self._locus(locus_id, place)
        for key, chance in chances.items():
            check_key(key, locus, self.population.sex_determination, sex, f"{place}.{key}")
            check_between(chance, f"{place}.{key}")
        check_distribution(chances.values(), place)
        for each in _possible_sexes(sex):
            accepted = accepted_keys(locus, self.population.sex_determination, each)
            if not any(chance for key, chance in chances.items() if key in accepted):
                _refuse_sex(each, place)

    def _check_rows(
        self, founder: Mapping[str, object], rows: Sequence[FounderRow], sex: Sex, place: str
    ) -> None:
        for index, row in enumerate(rows):
            check_between(row.p, f"{place}[{index}].p")
            for locus_id, key in row.genotypes.items():
                within = f"{place}[{index}].genotypes.{locus_id}"
                if locus_id in founder:
                    refuse(
                        within,
                        f"locus {shown(locus_id)} is stated in founder too; "
                        "expected it in one of the two",
                    )
                locus = self._locus(locus_id, within)
                check_key(key, locus, self.population.sex_determination, sex, within)
        check_distribution((row.p for row in rows), place)
        for each in _possible_sexes(sex):
            if not any(row.p and self._fits(row, each) for row in rows):
                _refuse_sex(each, place)

    def _fits(self, row: FounderRow, sex: KnownSex) -> bool:
        determination = self.population.sex_determination
        return all(
            key in accepted_keys(self.loci[locus_id], determination, sex)
            for locus_id, key in row.genotypes.items()
        )

    def _locus(self, locus_id: str, place: str) -> Locus:
        if locus_id not in self.loci:
            refuse_unknown(place, "locus", locus_id, self.loci)
        return self.loci[locus_id]


def _possible_sexes(sex: Sex) -> tuple[KnownSex, ...]:
    return SEXES if sex == "unknown" else (sex,)


def _refuse_sex(sex: KnownSex, place: str) -> None:
    refuse(
        place,
        f"no genotype with a probability above 0 is possible in a {sex}; expected one in each "
        "sex that the founder may have",
    )


def _check_background_founders(population: Population) -> None:
    """Refuse founders drawn from a background of which nothing survives."""
    none_left = sexes_without_background(population)
    if not none_left:
        return
    for place, sexes, stated in _founders(population):
        for (locus_id, sex), reason in none_left.items():
            if sex in sexes and not stated(locus_id):
                refuse(place, f"{reason}; expected a background that leaves some possible")


def _founders(
    population: Population,
) -> Iterator[tuple[str, tuple[KnownSex, ...], Callable[[str], bool]]]:
    """Place, possible sexes and stated loci of each founder, recorded or not."""
    for position, animal in enumerate(population.animals):
        place = f"animals[{position}]"
        if animal.begins:
            yield (
                place,
                _possible_sexes(population.sexes[position]),
                _born_or_stated(population, animal),
            )
        if animal.clutch is not None:
            continue
        if animal.dam is None and animal.sire is None:
            yield place, _possible_sexes(population.sexes[position]), _states(population, animal)
        elif animal.dam is None:
            yield f"{place}.dam", ("female",), _states_nothing
        elif animal.sire is None:
            yield f"{place}.sire", ("male",), _states_nothing
    for position, clutch in enumerate(population.clutches):
        if any(couple.dam is None for couple in clutch.candidates):
            yield f"clutches[{position}]", ("female",), _states_nothing
        if any(couple.sire is None for couple in clutch.candidates):
            yield f"clutches[{position}]", ("male",), _states_nothing


def _states(population: Population, animal: Animal) -> Callable[[str], bool]:
    """Whether the animal's own fields state a locus, or a statement that surely holds."""
    said: list[Animal | Statement] = [animal]
    said += [one for one in animal.statements if population.trust.get(one.trust, 0) == 1]

    def stated(locus_id: str) -> bool:
        return any(
            locus_id in one.founder
            or (
                bool(one.founder_joint)
                and all(locus_id in row.genotypes for row in one.founder_joint)
            )
            for one in said
        )

    return stated


def _born_or_stated(population: Population, animal: Animal) -> Callable[[str], bool]:
    """Whether a locus does not begin with an animal, or is stated of it."""
    stated = _states(population, animal)
    return lambda locus_id: locus_id not in animal.begins or stated(locus_id)


def _states_nothing(locus_id: str) -> bool:
    return False
