"""What the parents alone give, against the brute-force twin and worked out by hand.

The twin answers twice: the book without the animal and all that descends from it, for its parents;
then a small family with founders that are what the parents were found to be.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from itertools import product
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import assume, given

from genetics import silenced
from genetics.case_writer import write_case
from genetics.casefile import read_case
from genetics.copies import Count, Counted
from genetics.division import Division
from genetics.errors import ImpossibleEvidence
from genetics.parents_alone import by_parents_alone
from genetics.relevance import at_loci, coupled_loci
from genetics.small_families import SmallFamilies
from genetics.solving import solve
from tests.genetics import cases
from tests.genetics.small_cases import HET, NORMAL, POSSIBLE_HET, VISUAL, case, dam, sire, young
from tests.genetics.test_engine_twin import TOLERANCE, fewer
from tests.genetics.twin import TooLarge, twin
from tests.genetics.twin_genome import Case
from tests.genetics.twin_worlds import has_parents, known_sexes

Figures = dict[tuple[str, str], tuple[float, float]]
"""Chances of two copies and of one, by animal and locus; none where it has none for certain."""
MOST = 20_000


# --- the definition, by enumeration ---------------------------------------------------------------


def couples_of(case: Case, one: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The couples that an animal may be of, with their shares."""
    if one.get("clutch") is None:
        return [_couple(one)]
    clutch = next(each for each in case["clutches"] if each["id"] == one["clutch"])
    alone = _couple(clutch)
    return [dict(couple) for couple in clutch.get("candidates") or [alone]]


def _couple(one: Mapping[str, Any]) -> dict[str, Any]:
    parts = {key: one[key] for key in ("dam", "sire", "retained") if one.get(key) is not None}
    return {**parts, "p": 1}


def without(case: Case, name: str, loci: Collection[str]) -> Case:
    """A case as it bears on some loci, without an animal and the clutches it may have bred.

    So on down to descendants that are certain there by the whole case: these stay without parents.
    Others than its ancestors are what they are certain to be.
    """
    known = certain(case)
    settled = {
        one["id"] for one in case["animals"] if is_settled(case, one, known[one["id"]], loci)
    }
    gone = {name}
    while True:
        more = {
            clutch["id"]
            for clutch in case.get("clutches", [])
            for couple in couples_of(case, {"clutch": clutch["id"]})
            if {couple.get("dam"), couple.get("sire")} & gone
        } | {
            one["id"]
            for one in case["animals"]
            if one["id"] not in settled
            and {one.get("dam"), one.get("sire"), one.get("clutch")} & gone
        }
        if more <= gone:
            break
        gone |= more
    sexes = known_sexes(case)
    left = at(case, loci)
    left["animals"] = [
        parentless(one, gone) | {"sex": sexes[one["id"]]}
        for one in left["animals"]
        if one["id"] not in gone
    ]
    left["clutches"] = [one for one in left.get("clutches", []) if one["id"] not in gone]
    above = ancestors(case, name)
    for one in left["animals"]:
        if one["id"] not in above:
            hold(one, known[one["id"]], loci)
    return left


def at(case: Case, loci: Collection[str]) -> Case:
    """A case at some loci that hang together, asking nothing."""
    read = read_case({key: value for key, value in case.items() if key != "ask"})
    return write_case(replace(read, population=at_loci(read.population, frozenset(loci))))


def parentless(one: dict[str, Any], gone: set[str]) -> dict[str, Any]:
    """A record of which a parent or the clutch may be gone."""
    if not {one.get("dam"), one.get("sire"), one.get("clutch")} & gone:
        return one
    bare = {key: one[key] for key in one if key not in ("dam", "sire", "clutch", "retained")}
    return bare | {"orphan": True}


def ancestors(case: Case, name: str) -> set[str]:
    """All that an animal may descend from."""
    records = {one["id"]: one for one in case["animals"]}
    found, ahead = set[str](), [name]
    while ahead:
        one = records[ahead.pop()]
        couples = couples_of(case, one)
        above = {str(couple.get(role)) for couple in couples for role in ("dam", "sire")}
        more = above & records.keys() - found
        found |= more
        ahead += more
    return found


def certain(case: Case) -> dict[str, dict[str, str]]:
    """The one key that each animal can have by the whole case, by locus."""
    found: dict[str, dict[str, str]] = {}
    for name, posterior in twin(case, MOST)["posterior"].items():
        keys = {locus: [key for key, p in of.items() if p > 0] for locus, of in posterior.items()}
        found[name] = {locus: some[0] for locus, some in keys.items() if len(some) == 1}
    return found


def is_settled(
    case: Case,
    one: Mapping[str, Any],
    keys: Mapping[str, str],
    loci: Collection[str],
) -> bool:
    """Whether an animal's genotype at some loci leaves nothing open: sex and phase neither."""
    if not keys.keys() >= set(loci) or one.get("statements"):
        return False
    seats = {each["id"]: each.get("chromosome", "autosome") for each in case["loci"]}
    sexed = [locus for locus in loci if seats[locus] != "autosome"]
    if sexed and known_sexes(case)[one["id"]] == "unknown":
        return False
    mixed = {locus for locus in loci if len(set(keys[locus].split("/"))) == 2}
    if any(len(mixed & set(each["loci"])) > 1 for each in case.get("linkage", [])):
        return False
    real = {locus for locus in mixed & set(sexed) if not keys[locus].endswith(("/Y", "/W"))}
    return not (real and len(sexed) > 1) and not any(seats[one] == "sex" for one in real)


def hold(one: dict[str, Any], keys: Mapping[str, str], loci: Collection[str]) -> None:
    """Take an animal as what it is certain to be; without parents it is a founder that is that."""
    known = {locus: {key: 1} for locus, key in keys.items() if locus in loci}
    if one.pop("orphan", False):
        for key in ("founder", "founder_joint", "likelihood", "shows"):
            one.pop(key, None)
        one["founder"] = known
    elif known:
        one["likelihood"] = {**one.get("likelihood", {}), **known}


def bundles(case: Case) -> list[list[str]]:
    """The loci by what hangs together."""
    population = read_case(case).population
    found = {coupled_loci(population, locus.id) for locus in population.loci}
    return sorted(sorted(one) for one in found)


def founder_like(case: Case, name: str, parent: str, sex: str) -> dict[str, Any]:
    """A founder that is what a parent is in the case without an animal, loci joint."""
    rows: list[dict[str, Any]] = [{"p": 1.0, "genotypes": {}}]
    for loci in bundles(case):
        rows = [
            {"p": row["p"] * more["p"], "genotypes": row["genotypes"] | more["genotypes"]}
            for row in rows
            for more in parent_without(case, name, parent, loci)
        ]
    return {"id": f"{parent} of {name}", "sex": sex, "founder_joint": rows}


def parent_without(case: Case, name: str, parent: str, loci: list[str]) -> list[dict[str, Any]]:
    """What a parent is at loci that hang together, in the case without an animal."""
    rest = without(case, name, loci)
    keys = twin(rest, MOST)["posterior"][parent]
    every = [
        dict(zip(loci, some, strict=True)) for some in product(*(keys[one] for one in loci))
    ]  # fmt: skip
    rest["ask"] = {
        "joint": [
            {"animal": parent, "genotypes": {locus: [key] for locus, key in one.items()}}
            for one in every
        ]
    }
    chances = twin(rest, MOST)["joint"]
    rows = [{"p": p, "genotypes": one} for p, one in zip(chances, every, strict=True) if p > 0]
    whole = sum(row["p"] for row in rows)
    return [row | {"p": row["p"] / whole} for row in rows]


def enumerated(case: Case, name: str) -> dict[str, dict[str, float]] | None:
    """Genotype chances of an animal by its parents alone; None where they cannot give its look."""
    one = next(each for each in case["animals"] if each["id"] == name)
    founders: dict[str, dict[str, Any]] = {}
    couples = couples_of(case, one)
    for couple in couples:
        for role, sex in (("dam", "female"), ("sire", "male")):
            parent = couple.get(role)
            if parent is not None and parent != "none":
                founders.setdefault(parent, founder_like(case, name, parent, sex))
                couple[role] = founders[parent]["id"]
    young = {"id": name, "sex": known_sexes(case)[name], "clutch": "the clutch"}
    young["shows"] = one.get("shows", {})
    small = {key: value for key, value in case.items() if key not in ("ask", "same_locus")}
    small["animals"] = [*founders.values(), young]
    small["clutches"] = [{"id": "the clutch", "candidates": couples}]
    found = twin(small, MOST)
    return None if "error" in found else found["posterior"][name]


def counted(case: Case, name: str, posterior: Mapping[str, Mapping[str, float]]) -> Figures:
    """Copies other than the wild type at each locus."""
    found = {}
    for locus in case["loci"]:
        wild = locus["alleles"][0]
        two = one = 0.0
        for key, p in posterior[locus["id"]].items():
            alleles = key.replace("|", "/").split("/")
            copies = sum(allele not in (wild, "Y", "W") for allele in alleles)
            two, one = two + p * (copies == 2), one + p * (copies == 1)
        if two + one > 0:
            found[name, locus["id"]] = (two, one)
    return found


# --- the engine -----------------------------------------------------------------------------------


def born(case: Case) -> Iterator[str]:
    yield from (one["id"] for one in case["animals"] if has_parents(one))


def alone(case: Case, *names: str) -> Figures | None:
    """Copies of some animals by their parents alone, as the engine finds them."""
    population = read_case(case).population
    asked = tuple(
        Count(locus.id, locus.id, frozenset(locus.alleles[1:])) for locus in population.loci
    )
    found = by_parents_alone(solve(population), population, names, [Counted(names, asked)])
    if found is None:
        return None
    return {
        (like, str(row.label)): (row.two, row.one)
        for row in found.copies.rows()
        for like in found.stands_for[row.animal]
    }


def agrees(case: Case) -> None:
    assume(not case.get("same_locus"))
    # What begins with an animal is not its parents' to give; `test_begun` has that by hand.
    assume(not any(one.get("begins") for one in case["animals"]))
    try:
        solve(read_case(case).population)
        young = list(born(case))
        wanted = {name: enumerated(case, name) for name in young}
    except (ImpossibleEvidence, TooLarge):
        assume(False)
    assume(young)
    for name, posterior in wanted.items():
        expected = None if posterior is None else counted(case, name, posterior)
        assert alone(case, name) == close(expected), name
    if None not in wanted.values():
        together: Figures = {}
        for name, posterior in wanted.items():
            assert posterior is not None
            together |= counted(case, name, posterior)
        assert alone(case, *young) == close(together)


def close(figures: Figures | None) -> Any:
    if figures is None:
        return None
    return {whose: pytest.approx(pair, abs=TOLERANCE) for whose, pair in figures.items()}


@fewer
@given(cases.autosomal_cases())
def test_autosomal(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.autosomal_cases())
def test_put_together_by_the_records(case: Case) -> None:
    with patch.object(silenced, "MOST", 0):
        agrees(case)


@fewer
@given(cases.autosomal_cases())
def test_as_a_population_of_small_families(case: Case) -> None:
    with patch.object(SmallFamilies, "fits", return_value=False):
        agrees(case)


@fewer
@given(cases.autosomal_cases())
def test_without_a_division(case: Case) -> None:
    with patch.object(Division, "reaches", return_value=False):
        agrees(case)


@fewer
@given(cases.sex_linked_cases())
def test_sex_linked(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.masking_cases())
def test_masking(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.founder_cases())
def test_founders_of_joint_statements(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.clutch_cases())
def test_clutches(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.candidate_cases())
def test_several_candidates(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.viability_cases())
def test_viability(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.alone_cases())
def test_young_of_a_dam_alone(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.trust_cases())
def test_words_that_share_a_trust(case: Case) -> None:
    agrees(case)


@fewer
@given(cases.mixed_cases())
def test_everything(case: Case) -> None:
    agrees(case)


# --- worked out by hand ---------------------------------------------------------------------------

NOT_SEEN, SEEN = {"Saltgrass": False}, {"Saltgrass": True}


def carrying(case: Case, *names: str) -> list[float]:
    """The chance that each carries at one of the loci, by its parents alone."""
    population = read_case(case).population
    counts = tuple(Count("it", locus.id, frozenset(locus.alleles[1:])) for locus in population.loci)
    found = by_parents_alone(solve(population), population, names, [Counted(names, counts)])
    assert found is not None
    chances = {
        like: row.two + row.one if row.none else 1.0
        for row in found.copies.rows()
        for like in found.stands_for[row.animal]
    }
    return [chances[name] for name in names]


def test_one_normal_young_of_two_possible_hets_has_half() -> None:
    # Its parents are 2/3 without it: 4/9 two hets, 4/9 one het, 1/9 none. Looking normal leaves
    # of these 4/9 · (1/4 + 1/2), 4/9 and 1/9; het of that are 4/9 · 1/2 + 4/9 · 1/2 = 4/9, and
    # +/+ are 4/9 · 1/4 + 4/9 · 1/2 + 1/9 = 4/9.
    one = case(dam(POSSIBLE_HET), sire(POSSIBLE_HET), young(shows=NOT_SEEN))
    assert carrying(one, "K") == [pytest.approx(1 / 2)]


def test_a_sib_stays_in_the_figures_of_the_parents() -> None:
    # A normal sib leaves two hets 4/9 · 3/4, one het 4/9, none 1/9, so a parent is a het with
    # (3 + 2) / 8. Of independent parents of 5/8: 25/64 two hets, 30/64 one, 9/64 none; het of the
    # normal looking are 25/128 + 15/64 = 55/128, +/+ are 25/256 + 15/64 + 9/64 = 121/256.
    two = case(
        dam(POSSIBLE_HET), sire(POSSIBLE_HET), young("K", shows=NOT_SEEN),
        young("L", shows=NOT_SEEN),
    )  # fmt: skip
    assert carrying(two, "K", "L") == [pytest.approx(110 / (110 + 121))] * 2


def test_what_its_own_young_show_proves_its_parent_in_the_tested_figure_alone() -> None:
    # The young of a possible het (2/3) and a clear mate has 1/3, whatever it proves itself to be.
    proven = case(
        dam(POSSIBLE_HET), sire(NORMAL), young(sex="female", shows=NOT_SEEN),
        {"id": "V", "sex": "male", "founder": VISUAL},
        {"id": "G", "dam": "K", "sire": "V", "shows": SEEN},
    )  # fmt: skip
    assert carrying(proven, "K") == [pytest.approx(1 / 3)]
    assert solve(read_case(proven).population).posterior("D", "sg")["+/m"] == 1


def test_bred_back_to_its_dam_it_proves_neither_there() -> None:
    # Visual young of a daughter and her sire: both are hets, yet without her he is 2/3.
    back = case(
        dam(NORMAL), sire(POSSIBLE_HET), young(sex="female", shows=NOT_SEEN),
        {"id": "G", "dam": "K", "sire": "S", "shows": SEEN},
    )  # fmt: skip
    assert carrying(back, "K") == [pytest.approx(1 / 3)]


def test_what_its_own_young_prove_of_its_mate_is_known() -> None:
    # Its mate and half sib is a het by their visual young, so their common sire must be one.
    mate = {"id": "M", "sex": "male", "dam": "N", "sire": "S", "shows": NOT_SEEN}
    known = case(
        dam(NORMAL), sire(POSSIBLE_HET), {"id": "N", "sex": "female", "founder": NORMAL},
        young(sex="female", shows=NOT_SEEN), mate,
        {"id": "G", "dam": "K", "sire": "M", "shows": SEEN},
    )  # fmt: skip
    assert carrying(known, "K") == [pytest.approx(1 / 2)]
    assert carrying(known, "K") == [counted_by_twin(known, "K")]


def counted_by_twin(case: Case, name: str) -> Any:
    posterior = enumerated(case, name)
    assert posterior is not None
    ((two, one),) = counted(case, name, posterior).values()
    return pytest.approx(two + one)


def test_what_a_laboratory_found_in_it_is_no_look() -> None:
    tested = case(
        dam(POSSIBLE_HET), sire(NORMAL),
        young(shows=NOT_SEEN, likelihood={"sg": {"+/+": 0.01, "+/m": 0.99}}),
    )  # fmt: skip
    assert carrying(tested, "K") == [pytest.approx(1 / 3)]


def test_an_eye_that_errs_leaves_a_visual_open() -> None:
    # One visual in 10 is missed: of 1/4 : 1/2 : 1/4 the normal looking are 1/4, 1/2 and 1/40.
    missed = {"Saltgrass": {"seen": False, "false_negative": 0.1}}
    one = case(dam(HET), sire(HET), young(shows=missed))
    assert carrying(one, "K") == [pytest.approx((1 / 2 + 1 / 40) / (1 / 4 + 1 / 2 + 1 / 40))]


def test_chances_whose_product_is_no_number_any_more_are_not_lost() -> None:
    hardly = {"sg": {"+/+": 1, "+/m": 1e-200}}
    one = case(dam(hardly), sire(hardly), young(shows=SEEN))
    assert alone(one, "K") == {("K", "sg"): (1.0, 0.0)}


def test_many_without_one_are_solved_as_one_by_one() -> None:
    # A sire of several hets' daughters, each of whom has bred: a question each, side by side.
    daughters: list[dict[str, Any]] = []
    for n in range(4):
        daughters += [
            {"id": f"K{n}", "sex": "female", "dam": "D", "sire": "S", "shows": NOT_SEEN},
            {"id": f"M{n}", "sex": "male", "founder": POSSIBLE_HET},
            {"id": f"G{n}", "dam": f"K{n}", "sire": f"M{n}", "shows": NOT_SEEN},
        ]
    many = case(dam(POSSIBLE_HET), sire(POSSIBLE_HET), *daughters)
    names = [f"K{n}" for n in range(4)]
    one_by_one = [pytest.approx(carrying(many, name)[0], abs=1e-14) for name in names]
    assert carrying(many, *names) == one_by_one
    with patch.object(silenced, "AT_ONCE", 1):
        assert carrying(many, *names) == one_by_one


THREE_LINES: dict[str, Any] = {
    "loci": [{"id": one, "alleles": ["+", one.upper()]} for one in "abc"],
    "traits": [{"id": "Saltgrass", "recessive_at": ["a", "b", "c"]}],
}


def line_not_known(name: str, sex: str) -> dict[str, Any]:
    """A het of one of three lines at loci of their own, nobody knows which."""
    rows = [
        {"p": "1/3", "genotypes": {one: f"+/{one.upper()}" if one == there else "+/+"
                                   for one in "abc"}}
        for there in "abc"
    ]  # fmt: skip
    return {"id": name, "sex": sex, "founder_joint": rows}


def test_a_het_of_a_line_not_known_gives_half_of_its_young_one_copy() -> None:
    normal = {one: {"+/+": 1} for one in "abc"}
    by_one = case(line_not_known("S", "male"), dam(normal), young(shows=NOT_SEEN), **THREE_LINES)
    assert carrying(by_one, "K") == [pytest.approx(1 / 2)]
    candidates = [{"dam": "D", "sire": sire, "p": "1/2"} for sire in ("S", "T")]
    by_two = case(
        line_not_known("S", "male"), line_not_known("T", "male"), dam(normal),
        {"id": "K", "clutch": "C", "shows": NOT_SEEN},
        clutches=[{"id": "C", "candidates": candidates}], **THREE_LINES,
    )  # fmt: skip
    assert carrying(by_two, "K") == [pytest.approx(1 / 2)]
