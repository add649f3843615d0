"""What a population may not say, with the place and the words of each refusal."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from genetics.errors import MalformedCase
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    FounderRow,
    Goal,
    Interval,
    JointQuestion,
    Linkage,
    Locus,
    OffspringQuestion,
    Population,
    Questions,
    SameLocus,
    Sighting,
    TallyLine,
    Trait,
    Viability,
)
from genetics.validation_questions import validate_questions

LOCI = (
    Locus("sg", ("+", "har", "pel")),
    Locus("pa", ("+", "p")),
    Locus("pb", ("+", "q")),
    Locus("pc", ("+", "v")),
    Locus("xl", ("+", "x"), "X"),
    Locus("mk", ("+", "mk"), "sex", 0.05),
)
TRAITS = (Trait("Saltgrass", ({"sg": ("har/har",)},)), Trait("Pale", recessive_at=("pa", "pb")))
FAMILY = (
    Animal("F1", "female"),
    Animal("M1", "male"),
    Animal("U1"),
    Animal("K1", dam="F1", sire="M1"),
    Animal("K2", clutch="C1"),
)
CLUTCHES = (Clutch("C1", (Couple("F1", "M1"),)),)

HALF = Fraction(1, 2)


def population(**changes: Any) -> Population:
    """A sound XY population with some of its parts replaced."""
    parts: dict[str, Any] = {
        "loci": LOCI,
        "animals": FAMILY,
        "clutches": CLUTCHES,
        "traits": TRAITS,
        "sex_determination": "XY",
    }
    return Population(**parts | changes)


def family(position: int, **changes: Any) -> tuple[Animal, ...]:
    """The family with one animal changed."""
    changed = FAMILY[position]._replace(**changes)
    return (*FAMILY[:position], changed, *FAMILY[position + 1 :])


def couples(*couples: Couple, **changes: Any) -> tuple[Clutch, ...]:
    """The clutch with these candidates."""
    return (Clutch("C1", couples, stated_candidates=True, **changes),)


def refusal(**changes: Any) -> str:
    """The message with which a population is refused; it starts with its place."""
    with pytest.raises(MalformedCase) as caught:
        population(**changes)
    message = str(caught.value)
    assert message.startswith(f"{caught.value.place}: ")
    return message


def test_sound_population_is_accepted() -> None:
    found = population()
    assert found.sexes == ("female", "male", "unknown", "unknown", "unknown")


def test_population_with_everything_is_accepted() -> None:
    population(
        linkage=(Linkage(("sg", "pc"), (Interval(0, HALF),)),),
        viability=(Viability("sg", "har/har", 0.5), Viability("mk", "mk|+", 0)),
        background={"sg": {"har": 0.4, "pel": HALF}, "pa": {"+": 0.9, "p": 0.1}},
        same_locus=(SameLocus(("pa", "pb"), 0.3),),
        animals=(
            Animal("F1", "female", founder={"sg": {"+/har": 1}, "xl": {"+/x": 1}}),
            Animal("M1", "male", founder={"xl": {"x/Y": 1}, "mk": {"+/mk": HALF, "mk|+": HALF}}),
            Animal("U1", founder={"xl": {"+/+": HALF, "x/Y": HALF}, "mk": {"+/mk": 1}}),
            Animal(
                "K1",
                dam="F1",
                shows={"Pale": Sighting(True, 0.05, 1)},
                likelihood={"xl": {"+/x": 3.5, "x/Y": 0}},
            ),
            Animal("K2", clutch="C1"),
        ),
        clutches=couples(
            Couple("F1", "M1", 0.9),
            Couple(None, "M1", 0.1),
            paternity="each",
            tally=(TallyLine(7, "female", {"Saltgrass": Sighting(False)}), TallyLine(0)),
        ),
    )


def loci(*loci: Locus) -> dict[str, Any]:
    """A population of these loci alone."""
    return {"loci": loci, "traits": (), "animals": (), "clutches": ()}


INHERITANCE: dict[str, tuple[dict[str, Any], str]] = {
    "sex determination": (
        {"sex_determination": "XO"},
        'sex_determination: "XO" is not accepted; expected one of "XY", "ZW", "none"',
    ),
    "repeated locus": (
        loci(LOCI[0], LOCI[1], LOCI[0]),
        'loci[2].id: "sg" is already the id of loci[0]; expected a different id for each locus',
    ),
    "empty id": (
        loci(Locus("", ("+",))),
        'loci[0].id: an id is empty; expected a name such as "a"',
    ),
    "no alleles": (
        loci(Locus("a", ())),
        "loci[0].alleles: no allele is listed; expected the wild type first",
    ),
    "repeated allele": (
        loci(Locus("a", ("+", "a", "a"))),
        'loci[0].alleles[2]: "a" is listed twice; expected each allele once',
    ),
    "slash in an allele": (
        loci(Locus("a", ("+", "a/b"))),
        'loci[0].alleles[1]: "a/b" is not accepted; expected a name without "/" and "|"',
    ),
    "bar in an allele": (
        loci(Locus("a", ("+", "a|b"))),
        'loci[0].alleles[1]: "a|b" is not accepted; expected a name without "/" and "|"',
    ),
    "allele written as the other chromosome": (
        loci(Locus("a", ("+", "Y"), "X")),
        'loci[0].alleles[1]: "Y" is not accepted at a locus of the X, where it is written for the '
        "other sex chromosome; expected another name",
    ),
    "Z in XY": (
        loci(Locus("a", ("+", "a"), "Z")),
        'loci[0].chromosome: "Z" is not accepted with sex_determination "XY"; '
        'expected one of "autosome", "X", "sex"',
    ),
    "X in ZW": (
        loci(Locus("a", ("+", "a"), "X")) | {"sex_determination": "ZW"},
        'loci[0].chromosome: "X" is not accepted with sex_determination "ZW"; '
        'expected one of "autosome", "Z", "sex"',
    ),
    "sex without sex chromosomes": (
        loci(Locus("a", ("+", "a"), "sex")) | {"sex_determination": "none"},
        'loci[0].chromosome: "sex" is not accepted with sex_determination "none"; '
        'expected one of "autosome"',
    ),
    "recombination above a half": (
        loci(Locus("a", ("+", "a"), "sex", 0.51)),
        "loci[0].recombination: 0.51 is not accepted; expected a number from 0 to 0.5",
    ),
    "recombination of an autosome": (
        loci(Locus("a", ("+", "a"), recombination=0.1)),
        'loci[0].recombination: 0.1 is not accepted at a locus whose chromosome is "autosome"; '
        'expected it only where chromosome is "sex" (maps of autosomal loci belong in linkage)',
    ),
    "linkage of nothing": (
        {"linkage": (Linkage((), ()),)},
        "linkage[0].loci: no locus is listed; expected loci in map order",
    ),
    "linkage of an unknown locus": (
        {"linkage": (Linkage(("sg", "pd"), (Interval(0, 0),)),)},
        'linkage[0].loci[1]: no locus has the id "pd"; the nearest is "pc"',
    ),
    "linkage of a sex-linked locus": (
        {"linkage": (Linkage(("sg", "xl"), (Interval(0, 0),)),)},
        'linkage[0].loci[1]: "xl" is on chromosome "X"; expected autosomal loci only',
    ),
    "locus in two groups": (
        {"linkage": (Linkage(("sg", "pa"), (Interval(0, 0),)), Linkage(("sg",), ()))},
        'linkage[1].loci[0]: "sg" is already at linkage[0].loci[0]; '
        "expected each locus once, in one group at most",
    ),
    "wrong number of intervals": (
        {"linkage": (Linkage(("sg", "pa", "pb"), (Interval(0, 0),)),)},
        "linkage[0].recombination: 1 intervals for 3 loci; expected 2",
    ),
    "interval above a half": (
        {"linkage": (Linkage(("sg", "pa"), (Interval(0, Fraction(2, 3)),)),)},
        "linkage[0].recombination[0].male: 2/3 is not accepted; expected a number from 0 to 0.5",
    ),
    "viability of an unknown locus": (
        {"viability": (Viability("zz", "a/a", 0),)},
        'viability[0].locus: no locus has the id "zz"; '
        'accepted: "sg", "pa", "pb", "pc", "xl", "mk"',
    ),
    "viability of no genotype": (
        {"viability": (Viability("pa", "p/q", 0),)},
        'viability[0].genotype: "p/q" is not a genotype of locus "pa"; '
        'accepted: "+/+", "+/p", "p/p"',
    ),
    "survival above 1": (
        {"viability": (Viability("pa", "p/p", 1.5),)},
        "viability[0].survival: 1.5 is not accepted; expected a number from 0 to 1",
    ),
    "survival stated twice": (
        {"viability": (Viability("pa", "p/p", 0), Viability("pa", "p/p", 0.5))},
        'viability[1]: the survival of "p/p" at locus "pa" is already stated at viability[0]; '
        "expected it once",
    ),
    "nothing of the background survives": (
        {"viability": (Viability("pa", "+/+", 0),)},
        'animals[0]: no genotype of locus "pa" with a background frequency above 0 survives in a '
        "female; expected a background that leaves some possible",
    ),
    "repeated trait": (
        {"traits": (*TRAITS, Trait("Pale"))},
        'traits[2].id: "Pale" is already the id of traits[1]; '
        "expected a different id for each trait",
    ),
    "trait named for all": (
        {"traits": (Trait("*"),)},
        'traits[0].id: "*" stands for all other traits in hides; expected another id',
    ),
    "trait of an unknown locus": (
        {"traits": (Trait("Chalk", ({"sq": ("+/+",)},)),)},
        'traits[0].shown_by[0].sq: no locus has the id "sq"; the nearest is "sg"',
    ),
    "trait of a turned key": (
        {"traits": (Trait("Chalk", ({"sg": ("har/har", "pel/har")},)),)},
        'traits[0].shown_by[0].sg: "pel/har" is not in the order of the alleles of locus "sg"; '
        'accepted: "har/pel"',
    ),
    "trait of a key of neither sex": (
        {"traits": (Trait("Chalk", ({"xl": ("x|+",)},)),)},
        'traits[0].shown_by[0].xl: "x|+" is not a genotype of locus "xl"; '
        'accepted: in a female "+/+", "+/x", "x/x", in a male "+/Y", "x/Y"',
    ),
    "recessive at an unknown locus": (
        {"traits": (Trait("Chalk", recessive_at=("pa", "pz")),)},
        'traits[0].recessive_at[1]: no locus has the id "pz"; the nearest is "pc"',
    ),
    "hides an unknown trait": (
        {"traits": (Trait("Chalk", hides=("*", "Chulk")),)},
        'traits[0].hides[1]: no trait has the id "Chulk"; the nearest is "Chalk"',
    ),
    "background of an unknown locus": (
        {"background": {"sh": {}}},
        'background.sh: no locus has the id "sh"; the nearest is "sg"',
    ),
    "background of an unknown allele": (
        {"background": {"sg": {"hat": 0}}},
        'background.sg.hat: no allele has the id "hat"; the nearest is "har"',
    ),
    "background below 0": (
        {"background": {"sg": {"har": -0.1}}},
        "background.sg.har: -0.1 is not accepted; expected a number from 0 to 1",
    ),
    "background above 1": (
        {"background": {"sg": {"har": 0.6, "pel": 0.6}}},
        "background.sg: frequencies sum to 1.2; expected 1 or less",
    ),
    "background with a wild type that does not fit": (
        {"background": {"sg": {"+": 0.8, "har": 0.1}}},
        "background.sg: probabilities sum to 0.9, not 1",
    ),
}


@pytest.mark.parametrize(("changes", "message"), INHERITANCE.values(), ids=INHERITANCE)
def test_inheritance_is_refused(changes: dict[str, Any], message: str) -> None:
    assert refusal(**changes) == message


def lines(*entries: SameLocus, **changes: Any) -> dict[str, Any]:
    """A population with these undecided lines."""
    return {"same_locus": entries} | changes


UNDECIDED = "expected an autosomal locus with one mutant allele, no linkage and no viability"
SAME_LOCUS: dict[str, tuple[dict[str, Any], str]] = {
    "one locus twice": (
        lines(SameLocus(("pa", "pa"), 0.5)),
        'same_locus[0].loci: "pa", "pa" is not accepted; expected two different loci',
    ),
    "an unknown locus": (
        lines(SameLocus(("pa", "pd"), 0.5)),
        'same_locus[0].loci[1]: no locus has the id "pd"; the nearest is "pc"',
    ),
    "several mutant alleles": (
        lines(SameLocus(("pa", "sg"), 0.5)),
        f'same_locus[0].loci[1]: "sg" has 2 mutant alleles; {UNDECIDED}',
    ),
    "a sex-linked locus": (
        lines(SameLocus(("xl", "pa"), 0.5)),
        f'same_locus[0].loci[0]: "xl" is on chromosome "X"; {UNDECIDED}',
    ),
    "a linked locus": (
        lines(SameLocus(("pa", "pb"), 0.5), linkage=(Linkage(("sg", "pb"), (Interval(0, 0),)),)),
        f'same_locus[0].loci[1]: "pb" is in a linkage group; {UNDECIDED}',
    ),
    "a locus with viability": (
        lines(SameLocus(("pa", "pb"), 0.5), viability=(Viability("pa", "p/p", 0.5),)),
        f'same_locus[0].loci[0]: "pa" has viability stated; {UNDECIDED}',
    ),
    "a prior above 1": (
        lines(SameLocus(("pa", "pb"), 1.01)),
        "same_locus[0].prior: 1.01 is not accepted; expected a number from 0 to 1",
    ),
    "certain entries that contradict": (
        lines(SameLocus(("pa", "pb"), 1), SameLocus(("pa", "pc"), 0), SameLocus(("pc", "pb"), 1.0)),
        'same_locus[1].prior: 0 contradicts the entries with prior 1 that make "pa" and "pc" one '
        "locus; expected a prior above 0, or less than 1 there",
    ),
}


@pytest.mark.parametrize(("changes", "message"), SAME_LOCUS.values(), ids=SAME_LOCUS)
def test_undecided_lines_are_refused(changes: dict[str, Any], message: str) -> None:
    assert refusal(**changes) == message


PEDIGREE: dict[str, tuple[dict[str, Any], str]] = {
    "repeated animal": (
        {"animals": (*FAMILY, Animal("M1"))},
        'animals[5].id: "M1" is already the id of animals[1]; '
        "expected a different id for each animal",
    ),
    "animal without a name": (
        {"animals": (*FAMILY, Animal(""))},
        'animals[5].id: an id is empty; expected a name such as "a"',
    ),
    "animal and clutch of one id": (
        {"animals": (*FAMILY, Animal("C1"))},
        'clutches[0].id: "C1" is already the id of animals[5]; expected an id that no animal has',
    ),
    "repeated clutch": (
        {"clutches": (*CLUTCHES, *CLUTCHES)},
        'clutches[1].id: "C1" is already the id of clutches[0]; '
        "expected a different id for each clutch",
    ),
    "sex of no kind": (
        {"animals": family(2, sex="Female")},
        'animals[2].sex: "Female" is not accepted; expected one of "female", "male", "unknown"',
    ),
    "unknown dam": (
        {"animals": family(3, dam="F12")},
        'animals[3].dam: no animal has the id "F12"; the nearest is "F1"',
    ),
    "unknown sire": (
        {"animals": family(3, sire="Z9")},
        'animals[3].sire: no animal has the id "Z9"; accepted: "F1", "M1", "U1", "K1", "K2"',
    ),
    "unknown clutch": (
        {"animals": family(4, clutch="C2")},
        'animals[4].clutch: no clutch has the id "C2"; the nearest is "C1"',
    ),
    "clutch where none is recorded": (
        {"clutches": ()},
        'animals[4].clutch: no clutch has the id "C1"; '
        "expected the id of a recorded clutch, of which there are none",
    ),
    "clutch and dam": (
        {"animals": family(4, dam="F1")},
        'animals[4].dam: "F1" is not accepted beside clutch "C1"; '
        "expected the clutch or dam and sire, not both",
    ),
    "clutch and sire": (
        {"animals": family(4, sire="M1")},
        'animals[4].sire: "M1" is not accepted beside clutch "C1"; '
        "expected the clutch or dam and sire, not both",
    ),
    "female sire": (
        {
            "animals": family(3, sire="F1", dam=None),
            "clutches": (Clutch("C1", (Couple(None, "M1"),)),),
        },
        'animals[0].sex: "female" is not accepted, as "F1" is named as a sire at animals[3].sire; '
        'expected "male" or "unknown"',
    ),
    "male dam of a clutch": (
        {"clutches": (Clutch("C1", (Couple("M1", None),)),), "animals": family(3, sire=None)},
        'animals[1].sex: "male" is not accepted, as "M1" is named as a dam at clutches[0].dam; '
        'expected "female" or "unknown"',
    ),
    "dam and sire": (
        {"clutches": couples(Couple("F1", "M1", 0.5), Couple("U1", "U1", 0.5))},
        'clutches[0].candidates[1].sire: "U1" is named as a dam at clutches[0].candidates[1].dam; '
        "expected a male",
    ),
    "paternity of no kind": (
        {"clutches": couples(Couple("F1", "M1"), paternity="both")},
        'clutches[0].paternity: "both" is not accepted; expected one of "one", "each"',
    ),
    "no couple": (
        {"clutches": couples()},
        "clutches[0].candidates: no couple is listed; expected one or more",
    ),
    "couples that are not candidates": (
        {"clutches": (Clutch("C1", (Couple("F1", "M1", HALF), Couple("F1", None, HALF))),)},
        "clutches[0].candidates: 2 couples in a clutch without stated candidates; expected one",
    ),
    "unknown dam of a clutch": (
        {"clutches": (Clutch("C1", (Couple("F3", "M1"),)),)},
        'clutches[0].dam: no animal has the id "F3"; the nearest is "F1"',
    ),
    "unknown candidate": (
        {"clutches": couples(Couple("F1", "M1", 0.5), Couple("F1", "M3", 0.5))},
        'clutches[0].candidates[1].sire: no animal has the id "M3"; the nearest is "M1"',
    ),
    "probability below 0": (
        {"clutches": couples(Couple("F1", "M1", 1.5), Couple("F1", None, -0.5))},
        "clutches[0].candidates[0].p: 1.5 is not accepted; expected a number from 0 to 1",
    ),
    "candidates that do not sum to 1": (
        {"clutches": couples(Couple("F1", "M1", 0.5), Couple("F1", None, 0.4))},
        "clutches[0].candidates: probabilities sum to 0.9, not 1",
    ),
    "fractions that do not sum to 1 exactly": (
        {
            "clutches": couples(
                Couple("F1", "M1", HALF), Couple("F1", None, HALF - Fraction(1, 10**12))
            )
        },
        "clutches[0].candidates: probabilities sum to 999999999999/1000000000000, not 1",
    ),
    "negative tally": (
        {"clutches": couples(Couple("F1", "M1"), tally=(TallyLine(-1),))},
        "clutches[0].tally[0].count: -1 is not accepted; "
        "expected a whole number from 0 to 1000000000",
    ),
    "tally that is a truth value": (
        {"clutches": couples(Couple("F1", "M1"), tally=(TallyLine(True),))},
        "clutches[0].tally[0].count: true is not accepted; "
        "expected a whole number from 0 to 1000000000",
    ),
    "tally of an unknown trait": (
        {
            "clutches": couples(
                Couple("F1", "M1"), tally=(TallyLine(1, shows={"Pole": Sighting(True)}),)
            )
        },
        'clutches[0].tally[0].shows.Pole: no trait has the id "Pole"; the nearest is "Pale"',
    ),
    "tally of no sex": (
        {"clutches": couples(Couple("F1", "M1"), tally=(TallyLine(1, "boy"),))},  # type: ignore[arg-type]
        'clutches[0].tally[0].sex: "boy" is not accepted; '
        'expected one of "female", "male", "unknown"',
    ),
}


@pytest.mark.parametrize(("changes", "message"), PEDIGREE.values(), ids=PEDIGREE)
def test_pedigree_is_refused(changes: dict[str, Any], message: str) -> None:
    assert refusal(**changes) == message


def test_own_parent_is_refused() -> None:
    assert refusal(animals=(Animal("K1", dam="K1"),), clutches=()) == (
        'animals[0].dam: "K1" descends from itself, going up through "K1"; '
        "expected parents that do not descend from their children"
    )


def test_cycle_names_its_animals_and_no_others() -> None:
    animals = (
        Animal("N1", dam="A2"),
        Animal("A1", dam="A2", sire="B1"),
        Animal("A2", dam="A3"),
        Animal("A3", dam="B2", sire="A4"),
        Animal("A4", dam="A1"),
        Animal("B1"),
        Animal("B2"),
    )
    assert refusal(animals=animals, clutches=()) == (
        'animals[1].dam: "A1" descends from itself, going up through "A1", "A2", "A3", "A4"; '
        "expected parents that do not descend from their children"
    )


def test_cycle_through_a_candidate_couple_is_found() -> None:
    animals = (Animal("F1"), Animal("K1", clutch="C1"), Animal("L1", sire="K1"))
    clutches = couples(Couple("F1", None, 0.9), Couple("F1", "L1", 0.1))
    assert refusal(animals=animals, clutches=clutches) == (
        'animals[1].clutch: "K1" descends from itself, going up through "K1", "L1"; '
        "expected parents that do not descend from their children"
    )


def test_long_cycle_is_found_and_its_names_are_cut() -> None:
    animals = tuple(Animal(f"A{i}", dam=f"A{(i + 1) % 5000}") for i in range(5000))
    message = refusal(animals=animals, clutches=())
    assert message.startswith('animals[0].dam: "A0" descends from itself, going up through "A0"')
    assert '"A19", and 4980 more; expected' in message


def test_children_before_parents_are_no_cycle() -> None:
    population(animals=FAMILY[::-1])


def founder(position: int = 0, **statements: Any) -> dict[str, Any]:
    """The family with statements on one of its founders."""
    return {"animals": family(position, founder=statements)}


def joint(*rows: FounderRow, position: int = 0, **founder: Any) -> dict[str, Any]:
    """The family with a joint statement on one of its founders."""
    return {"animals": family(position, founder_joint=rows, founder=founder)}


IN_BOTH = "expected one in each sex that the founder may have"
EVIDENCE: dict[str, tuple[dict[str, Any], str]] = {
    "sum": (
        founder(2, sg={"+/+": 0.5, "+/har": 0.4}),
        "animals[2].founder.sg: probabilities sum to 0.9, not 1",
    ),
    "nothing stated": (
        founder(sg={}),
        "animals[0].founder.sg: probabilities sum to 0, not 1",
    ),
    "sum barely off": (
        founder(sg={"+/+": 0.5, "+/har": 0.500000002}),
        "animals[0].founder.sg: probabilities sum to 1.000000002, not 1",
    ),
    "NaN": (
        founder(sg={"+/+": math.nan}),
        "animals[0].founder.sg.+/+: nan is not accepted; expected a number from 0 to 1",
    ),
    "infinity": (
        founder(sg={"+/+": math.inf}),
        "animals[0].founder.sg.+/+: inf is not accepted; expected a number from 0 to 1",
    ),
    "truth value": (
        founder(sg={"+/+": True}),
        "animals[0].founder.sg.+/+: true is not accepted; expected a number from 0 to 1",
    ),
    "text": (
        founder(sg={"+/+": "1"}),
        'animals[0].founder.sg.+/+: "1" is not accepted; expected a number from 0 to 1',
    ),
    "turned key": (
        founder(sg={"har/+": 1}),
        'animals[0].founder.sg.har/+: "har/+" is not in the order of the alleles of locus "sg"; '
        'accepted: "+/har"',
    ),
    "key of the other sex": (
        founder(1, xl={"+/x": 1}),
        'animals[1].founder.xl.+/x: "+/x" at locus "xl" is not possible in a male; '
        'accepted in a male: "+/Y", "x/Y"',
    ),
    "arrangement in the homogametic sex": (
        founder(mk={"mk|+": 1}),
        'animals[0].founder.mk.mk|+: "mk|+" at locus "mk" is not possible in a female; '
        'accepted in a female: "+/+", "+/mk", "mk/mk"',
    ),
    "unknown locus": (
        founder(sf={"+/+": 1}),
        'animals[0].founder.sf: no locus has the id "sf"; the nearest is "sg"',
    ),
    "impossible in one of the sexes": (
        founder(2, xl={"+/x": 1}),
        "animals[2].founder.xl: no genotype with a probability above 0 is possible in a male; "
        f"{IN_BOTH}",
    ),
    "of probability 0 in one of the sexes": (
        founder(2, xl={"+/x": 1, "x/Y": 0}),
        "animals[2].founder.xl: no genotype with a probability above 0 is possible in a male; "
        f"{IN_BOTH}",
    ),
    "with parents": (
        {"animals": family(3, founder={"sg": {"+/+": 1}})},
        'animals[3].founder: "K1" has parents recorded; expected a statement only for a founder, '
        "an animal without dam, sire and clutch, or of loci that begin with it",
    ),
    "with one parent": (
        {"animals": family(3, sire=None, founder={"sg": {"+/+": 1}})},
        'animals[3].founder: "K1" has parents recorded; expected a statement only for a founder, '
        "an animal without dam, sire and clutch, or of loci that begin with it",
    ),
    "rows with a clutch": (
        {"animals": family(4, founder_joint=(FounderRow(1, {}),))},
        'animals[4].founder_joint: "K2" has parents recorded; expected a statement only for a '
        "founder, an animal without dam, sire and clutch, or of loci that begin with it",
    ),
    "rows that do not sum to 1": (
        joint(FounderRow(Fraction(4, 5), {"pa": "p/p"}), FounderRow(Fraction(1, 10), {})),
        "animals[0].founder_joint: probabilities sum to 9/10, not 1",
    ),
    "row below 0": (
        joint(FounderRow(-1, {})),
        "animals[0].founder_joint[0].p: -1 is not accepted; expected a number from 0 to 1",
    ),
    "row of an unknown locus": (
        joint(FounderRow(1, {"pd": "p/p"})),
        'animals[0].founder_joint[0].genotypes.pd: no locus has the id "pd"; the nearest is "pc"',
    ),
    "row of no genotype": (
        joint(FounderRow(1, {"pa": "p"})),
        'animals[0].founder_joint[0].genotypes.pa: "p" is not a genotype of locus "pa"; '
        'accepted: "+/+", "+/p", "p/p"',
    ),
    "locus stated twice": (
        joint(FounderRow(1, {"pa": "p/p"}), pa={"p/p": 1}),
        'animals[0].founder_joint[0].genotypes.pa: locus "pa" is stated in founder too; '
        "expected it in one of the two",
    ),
    "rows impossible in one of the sexes": (
        joint(FounderRow(1, {"xl": "x/Y"}), FounderRow(0, {"xl": "x/x"}), position=2),
        "animals[2].founder_joint: no genotype with a probability above 0 is possible in a "
        f"female; {IN_BOTH}",
    ),
    "unknown trait": (
        {"animals": family(3, shows={"Saltgras": Sighting(True)})},
        'animals[3].shows.Saltgras: no trait has the id "Saltgras"; the nearest is "Saltgrass"',
    ),
    "eye that errs too often": (
        {"animals": family(3, shows={"Pale": Sighting(True, 1.2)})},
        "animals[3].shows.Pale.false_negative: 1.2 is not accepted; expected a number from 0 to 1",
    ),
    "eye that errs by NaN": (
        {"animals": family(3, shows={"Pale": Sighting(True, 0, math.nan)})},
        "animals[3].shows.Pale.false_positive: nan is not accepted; expected a number from 0 to 1",
    ),
    "likelihood of an unknown locus": (
        {"animals": family(3, likelihood={"mj": {}})},
        'animals[3].likelihood.mj: no locus has the id "mj"; the nearest is "mk"',
    ),
    "likelihood of no genotype": (
        {"animals": family(3, likelihood={"pa": {"p/+": 1}})},
        'animals[3].likelihood.pa.p/+: "p/+" is not in the order of the alleles of locus "pa"; '
        'accepted: "+/p"',
    ),
    "negative weight": (
        {"animals": family(3, likelihood={"pa": {"+/p": -0.5}})},
        "animals[3].likelihood.pa.+/p: -0.5 is not accepted; "
        "expected a number of 0 or more, below 1e308",
    ),
    "weight beyond double precision": (
        {"animals": family(3, likelihood={"pa": {"+/p": 10**400}})},
        "animals[3].likelihood.pa.+/p: a whole number of 1329 binary digits is not accepted; "
        "expected a number of 0 or more, below 1e308",
    ),
    "infinite weight": (
        {"animals": family(3, likelihood={"pa": {"+/p": math.inf}})},
        "animals[3].likelihood.pa.+/p: inf is not accepted; "
        "expected a number of 0 or more, below 1e308",
    ),
}


@pytest.mark.parametrize(("changes", "message"), EVIDENCE.values(), ids=EVIDENCE)
def test_evidence_is_refused(changes: dict[str, Any], message: str) -> None:
    assert refusal(**changes) == message


def test_sum_within_the_tolerance_is_accepted() -> None:
    population(**founder(sg={"+/+": 0.1, "+/har": 0.2, "har/pel": 0.7 + 5e-10}))


def test_sex_by_use_rules_a_statement_out() -> None:
    # U1 is not recorded as male, but sires K1.
    animals = (
        FAMILY[0],
        FAMILY[1],
        Animal("U1", founder={"xl": {"+/+": HALF, "+/Y": HALF}}),
        Animal("K1", dam="F1", sire="U1"),
        FAMILY[4],
    )
    assert refusal(animals=animals) == (
        'animals[2].founder.xl.+/+: "+/+" at locus "xl" is not possible in a male; '
        'accepted in a male: "+/Y", "x/Y"'
    )


def test_likelihood_of_the_other_sex_may_stand() -> None:
    population(animals=family(1, likelihood={"xl": {"+/x": 1, "x/Y": 1}}))


@pytest.mark.parametrize(
    ("chromosome", "genotypes", "sire_refused"),
    [
        ("X", ("+/+", "+/Y"), True),
        # With survival 0 of the wild type in females alone, a sire's unrecorded dam cannot be.
        ("X", ("+/+",), False),
        ("sex", ("+/+",), True),
        ("sex", ("+|+",), True),
    ],
)
def test_background_without_survivors_counts_for_each_sex(
    chromosome: Any, genotypes: tuple[str, ...], sire_refused: bool
) -> None:
    loci = (Locus("xl", ("+", "x"), chromosome),)
    viability = tuple(Viability("xl", genotype, 0) for genotype in genotypes)
    parts: dict[str, Any] = {
        "loci": loci,
        "viability": viability,
        "traits": (),
        "clutches": (),
        "animals": (Animal("M1", "male"),),
    }
    if sire_refused:
        assert refusal(**parts) == (
            'animals[0]: no genotype of locus "xl" with a background frequency above 0 survives '
            "in a male; expected a background that leaves some possible"
        )
    else:
        population(**parts)


def test_background_without_survivors_is_accepted_where_it_is_not_used() -> None:
    statement = {"pa": {"p/p": 1}}
    population(
        loci=(LOCI[1],),
        traits=(),
        viability=(Viability("pa", "+/+", 0),),
        animals=(
            Animal("F1", "female", founder=statement),
            Animal("M1", "male", founder_joint=(FounderRow(1, {"pa": "+/p"}),)),
            *FAMILY[3:],
        ),
    )


def test_exact_arrangement_wins_over_the_unordered_survival() -> None:
    population(
        loci=(Locus("mk", ("+", "mk"), "sex"),),
        traits=(),
        clutches=(),
        animals=(Animal("M1", "male"),),
        viability=(Viability("mk", "+/+", 0), Viability("mk", "+|+", 0.5)),
    )


def joint_question(animal: str = "K1", **genotypes: tuple[str, ...]) -> Questions:
    return Questions(joint=(JointQuestion(animal, genotypes),))


def offspring(**changes: Any) -> Questions:
    return Questions(offspring=(OffspringQuestion(**{"dam": "F1", "sire": "M1"} | changes),))


QUESTIONS: dict[str, tuple[Callable[[], Questions], str]] = {
    "joint of an unknown animal": (
        lambda: joint_question("K4"),
        'ask.joint[0].animal: no animal has the id "K4"; the nearest is "K2"',
    ),
    "joint of an unknown locus": (
        lambda: joint_question(sv=("+/+",)),
        'ask.joint[0].genotypes.sv: no locus has the id "sv"; the nearest is "sg"',
    ),
    "joint of no genotype": (
        lambda: joint_question(pa=("+/+", "p/+")),
        'ask.joint[0].genotypes.pa: "p/+" is not in the order of the alleles of locus "pa"; '
        'accepted: "+/p"',
    ),
    "offspring of an unknown dam": (
        lambda: offspring(dam="F7"),
        'ask.offspring[0].dam: no animal has the id "F7"; the nearest is "F1"',
    ),
    "offspring of a male dam": (
        lambda: offspring(dam="M1"),
        'ask.offspring[0].dam: the sex of "M1" is male; expected an animal recorded as female or '
        "named as a dam",
    ),
    "offspring of a sire of unknown sex": (
        lambda: offspring(sire="U1"),
        'ask.offspring[0].sire: the sex of "U1" is unknown; expected an animal recorded as male '
        "or named as a sire",
    ),
    "fewer eggs than none": (
        lambda: offspring(eggs=(1, -8)),
        "ask.offspring[0].eggs[1]: -8 is not accepted; "
        "expected a whole number from 0 to 1000000000",
    ),
    "goal of an unknown trait": (
        lambda: offspring(goal=Goal(shows={"Xyz": True})),
        'ask.offspring[0].goal.shows.Xyz: no trait has the id "Xyz"; accepted: "Saltgrass", "Pale"',
    ),
    "goal of no genotype": (
        lambda: offspring(goal=Goal(genotypes={"xl": ("x/W",)})),
        'ask.offspring[0].goal.genotypes.xl: "x/W" is not a genotype of locus "xl"; '
        'accepted: in a female "+/+", "+/x", "x/x", in a male "+/Y", "x/Y"',
    ),
    "goal of no sex": (
        lambda: offspring(goal=Goal(sex="unknown")),  # type: ignore[arg-type]
        'ask.offspring[0].goal.sex: "unknown" is not accepted; expected one of "female", "male"',
    ),
    "kinship with an unknown animal": (
        lambda: Questions(kinship=(("K1", "K5"),)),
        'ask.kinship[0][1]: no animal has the id "K5"; the nearest is "K2"',
    ),
    "kinship of one": (
        lambda: Questions(kinship=(("K1",),)),  # type: ignore[arg-type]
        "ask.kinship[0]: 1 animals; expected two",
    ),
    "inbreeding of an unknown animal": (
        lambda: Questions(inbreeding=("K1", "")),
        'ask.inbreeding[1]: no animal has the id ""; accepted: "F1", "M1", "U1", "K1", "K2"',
    ),
}


@pytest.mark.parametrize(("ask", "message"), QUESTIONS.values(), ids=QUESTIONS)
def test_question_is_refused(ask: Callable[[], Questions], message: str) -> None:
    with pytest.raises(MalformedCase) as caught:
        validate_questions(population(), ask())
    assert str(caught.value) == message


def test_questions_of_genotypes_of_either_sex_are_accepted() -> None:
    ask = Questions(
        joint=(JointQuestion("M1", {"xl": ("+/x", "x/Y"), "mk": ("+/mk", "mk|+")}),),
        offspring=(OffspringQuestion("F1", "M1", (0, 1), Goal({"Pale": False}, {"xl": ()})),),
    )
    validate_questions(population(), ask)
