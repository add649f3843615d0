"""Checks of what does not depend on animals: loci, maps, survival, traits, background, lines."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction

from genetics.checks import (
    TOLERANCE,
    check_allele_name,
    check_between,
    check_distribution,
    check_key,
    check_one,
    refuse,
    refuse_unknown,
    shown,
    total,
)
from genetics.components import Components
from genetics.keys import SEXES, KnownSex, covered_keys, genotype_keys, key_alleles
from genetics.population import (
    Linkage,
    Locus,
    Number,
    Population,
    SameLocus,
    SexDetermination,
    Trait,
)

_CHROMOSOMES = {
    "XY": ("autosome", "X", "sex"),
    "ZW": ("autosome", "Z", "sex"),
    "none": ("autosome",),
}
_HALF = Fraction(1, 2)


def check_inheritance(population: Population) -> None:
    """Check loci, linkage, viability, traits, background and undecided lines.

    Raises:
        MalformedCase: one of them contradicts the contract.
    """
    check_one(population.sex_determination, tuple(_CHROMOSOMES), "sex_determination")
    _check_ids([locus.id for locus in population.loci], "loci", "locus")
    for index, locus in enumerate(population.loci):
        _check_locus(population, locus, f"loci[{index}]")
    check_between(population.females, "females")
    if population.females != Fraction(1, 2) and population.sex_determination != "none":
        refuse(
            "females",
            f"{shown(population.females)} is not accepted with sex_determination "
            f'{shown(population.sex_determination)}; expected 1/2, or "none"',
        )
    loci = {locus.id: locus for locus in population.loci}
    linked = _check_linkage(population.linkage, loci)
    survivals = _check_viability(population, loci)
    _check_traits(population, loci)
    _check_background(population.background, loci)
    _check_same_locus(population.same_locus, loci, linked, survivals)


def check_genotype_lists(
    genotypes: Mapping[str, Sequence[str]],
    population: Population,
    loci: Mapping[str, Locus],
    place: str,
) -> None:
    """Check the genotype keys that are accepted at each locus, possible in either sex.

    Raises:
        MalformedCase: a locus is unknown, or a key is no genotype of it.
    """
    for locus_id, keys in genotypes.items():
        if locus_id not in loci:
            refuse_unknown(f"{place}.{locus_id}", "locus", locus_id, loci)
        for key in keys:
            check_key(
                key, loci[locus_id], population.sex_determination, "unknown", f"{place}.{locus_id}"
            )


def sexes_without_background(population: Population) -> dict[tuple[str, KnownSex], str]:
    """The loci and sexes in which no genotype of positive frequency survives, with the reason."""
    stated: dict[str, dict[str, Number]] = {}
    for line in population.viability:
        stated.setdefault(line.locus, {})[line.genotype] = line.survival
    none_left: dict[tuple[str, KnownSex], str] = {}
    for locus in population.loci:
        survivals = stated.get(locus.id, {})
        if 0 not in survivals.values():
            continue
        present = _background_alleles(population, locus)
        for sex in SEXES:
            if not _any_survives(locus, population.sex_determination, sex, survivals, present):
                none_left[locus.id, sex] = (
                    f"no genotype of locus {shown(locus.id)} with a background frequency above 0 "
                    f"survives in a {sex}"
                )
    return none_left


def _check_ids(ids: Sequence[str], section: str, what: str) -> None:
    first: dict[str, int] = {}
    for index, name in enumerate(ids):
        if not name:
            refuse(f"{section}[{index}].id", 'an id is empty; expected a name such as "a"')
        if name in first:
            refuse(
                f"{section}[{index}].id",
                f"{shown(name)} is already the id of {section}[{first[name]}]; "
                f"expected a different id for each {what}",
            )
        first[name] = index


def _check_locus(population: Population, locus: Locus, place: str) -> None:
    determination = population.sex_determination
    accepted = _CHROMOSOMES[determination]
    if locus.chromosome not in accepted:
        refuse(
            f"{place}.chromosome",
            f"{shown(locus.chromosome)} is not accepted with sex_determination "
            f"{shown(determination)}; expected one of {', '.join(map(shown, accepted))}",
        )
    if not locus.alleles:
        refuse(f"{place}.alleles", "no allele is listed; expected the wild type first")
    for index, allele in enumerate(locus.alleles):
        check_allele_name(allele, locus, f"{place}.alleles[{index}]")
        if allele in locus.alleles[:index]:
            refuse(
                f"{place}.alleles[{index}]",
                f"{shown(allele)} is listed twice; expected each allele once",
            )
    check_between(locus.recombination, f"{place}.recombination", _HALF)
    if locus.recombination and locus.chromosome != "sex":
        refuse(
            f"{place}.recombination",
            f"{shown(locus.recombination)} is not accepted at a locus whose chromosome is "
            f'{shown(locus.chromosome)}; expected it only where chromosome is "sex" '
            "(maps of autosomal loci belong in linkage)",
        )


def _check_linkage(linkage: Sequence[Linkage], loci: Mapping[str, Locus]) -> set[str]:
    placed: dict[str, str] = {}
    for index, group in enumerate(linkage):
        if not group.loci:
            refuse(f"linkage[{index}].loci", "no locus is listed; expected loci in map order")
        for position, locus_id in enumerate(group.loci):
            _check_mapped(locus_id, loci, placed, f"linkage[{index}].loci[{position}]")
        if len(group.recombination) != len(group.loci) - 1:
            refuse(
                f"linkage[{index}].recombination",
                f"{len(group.recombination)} intervals for {len(group.loci)} loci; "
                f"expected {len(group.loci) - 1}",
            )
        for position, interval in enumerate(group.recombination):
            place = f"linkage[{index}].recombination[{position}]"
            check_between(interval.female, f"{place}.female", _HALF)
            check_between(interval.male, f"{place}.male", _HALF)
    return set(placed)


def _check_mapped(
    locus_id: str, loci: Mapping[str, Locus], placed: dict[str, str], place: str
) -> None:
    if locus_id not in loci:
        refuse_unknown(place, "locus", locus_id, loci)
    if loci[locus_id].chromosome != "autosome":
        refuse(
            place,
            f"{shown(locus_id)} is on chromosome {shown(loci[locus_id].chromosome)}; "
            "expected autosomal loci only",
        )
    if locus_id in placed:
        refuse(
            place,
            f"{shown(locus_id)} is already at {placed[locus_id]}; "
            "expected each locus once, in one group at most",
        )
    placed[locus_id] = place


def _check_viability(population: Population, loci: Mapping[str, Locus]) -> set[str]:
    stated: dict[tuple[str, str], int] = {}
    for index, line in enumerate(population.viability):
        place = f"viability[{index}]"
        if line.locus not in loci:
            refuse_unknown(f"{place}.locus", "locus", line.locus, loci)
        locus = loci[line.locus]
        check_key(
            line.genotype, locus, population.sex_determination, "unknown", f"{place}.genotype"
        )
        check_between(line.survival, f"{place}.survival")
        first = stated.setdefault((line.locus, line.genotype), index)
        if first != index:
            refuse(
                place,
                f"the survival of {shown(line.genotype)} at locus {shown(line.locus)} is already "
                f"stated at viability[{first}]; expected it once",
            )
    return {line.locus for line in population.viability}


def _check_traits(population: Population, loci: Mapping[str, Locus]) -> None:
    _check_ids([trait.id for trait in population.traits], "traits", "trait")
    traits = dict.fromkeys(trait.id for trait in population.traits)
    for index, trait in enumerate(population.traits):
        _check_trait(trait, population, loci, traits, f"traits[{index}]")


def _check_trait(
    trait: Trait,
    population: Population,
    loci: Mapping[str, Locus],
    traits: Collection[str],
    place: str,
) -> None:
    if trait.id == "*":
        refuse(f"{place}.id", '"*" stands for all other traits in hides; expected another id')
    for position, alternative in enumerate(trait.shown_by):
        check_genotype_lists(alternative, population, loci, f"{place}.shown_by[{position}]")
    for position, locus_id in enumerate(trait.recessive_at):
        if locus_id not in loci:
            refuse_unknown(f"{place}.recessive_at[{position}]", "locus", locus_id, loci)
    for position, hidden in enumerate(trait.hides):
        if hidden != "*" and hidden not in traits:
            refuse_unknown(f"{place}.hides[{position}]", "trait", hidden, traits)


def _check_background(
    background: Mapping[str, Mapping[str, Number]], loci: Mapping[str, Locus]
) -> None:
    for locus_id, frequencies in background.items():
        place = f"background.{locus_id}"
        if locus_id not in loci:
            refuse_unknown(place, "locus", locus_id, loci)
        alleles = loci[locus_id].alleles
        for allele, frequency in frequencies.items():
            if allele not in alleles:
                refuse_unknown(f"{place}.{allele}", "allele", allele, alleles)
            check_between(frequency, f"{place}.{allele}")
        if alleles[0] in frequencies:
            check_distribution(frequencies.values(), place)
            continue
        taken = total(frequencies.values())
        if taken > 1 + (TOLERANCE if isinstance(taken, float) else 0):
            refuse(place, f"frequencies sum to {shown(taken)}; expected 1 or less")


def _check_same_locus(
    entries: Sequence[SameLocus], loci: Mapping[str, Locus], linked: set[str], survivals: set[str]
) -> None:
    for index, entry in enumerate(entries):
        place = f"same_locus[{index}]"
        if len(entry.loci) != 2 or entry.loci[0] == entry.loci[1]:
            refuse(
                f"{place}.loci",
                f"{', '.join(map(shown, entry.loci))} is not accepted; expected two different loci",
            )
        for position, locus_id in enumerate(entry.loci):
            _check_line(locus_id, loci, linked, survivals, f"{place}.loci[{position}]")
        check_between(entry.prior, f"{place}.prior")
    _check_certain_entries(entries)


def _check_line(
    locus_id: str, loci: Mapping[str, Locus], linked: set[str], survivals: set[str], place: str
) -> None:
    if locus_id not in loci:
        refuse_unknown(place, "locus", locus_id, loci)
    locus = loci[locus_id]
    fault = None
    if locus.chromosome != "autosome":
        fault = f"is on chromosome {shown(locus.chromosome)}"
    elif len(locus.alleles) != 2:
        fault = f"has {len(locus.alleles) - 1} mutant alleles"
    elif locus_id in linked:
        fault = "is in a linkage group"
    elif locus_id in survivals:
        fault = "has viability stated"
    if fault:
        refuse(
            place,
            f"{shown(locus_id)} {fault}; expected an autosomal locus with one mutant allele, "
            "no linkage and no viability",
        )


def _check_certain_entries(entries: Sequence[SameLocus]) -> None:
    """Refuse priors of 1 and 0 that leave no equivalence relation possible."""
    lines = Components[str]()
    for entry in entries:
        if entry.prior == 1:
            lines.join(*entry.loci)
    for index, entry in enumerate(entries):
        if entry.prior == 0 and lines.together(*entry.loci):
            refuse(
                f"same_locus[{index}].prior",
                f"0 contradicts the entries with prior 1 that make {shown(entry.loci[0])} and "
                f"{shown(entry.loci[1])} one locus; expected a prior above 0, or less than 1 there",
            )


def _background_alleles(population: Population, locus: Locus) -> set[str]:
    stated = population.background.get(locus.id, {})
    present = {allele for allele, frequency in stated.items() if frequency > 0}
    wild = locus.alleles[0]
    if wild not in stated and total(stated.values()) < 1:
        present.add(wild)
    return present


def _any_survives(
    locus: Locus,
    sex_determination: SexDetermination,
    sex: KnownSex,
    survivals: Mapping[str, Number],
    present: set[str],
) -> bool:
    covered = covered_keys(locus, sex_determination, sex)
    survival: dict[str, Number] = dict.fromkeys(genotype_keys(locus, sex_determination, sex), 1)
    # An exact arrangement "a|b" wins over the unordered "a/b", so it is written last.
    for written in sorted(covered, key=lambda key: "|" in key):
        if written in survivals:
            survival.update(dict.fromkeys(covered[written], survivals[written]))
    return any(
        chance > 0 and present.issuperset(key_alleles(locus, key))
        for key, chance in survival.items()
    )
