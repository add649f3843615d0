"""Crosses of known genotypes against published ratios and counts, exactly where exact."""

import math
from collections.abc import Mapping
from fractions import Fraction as F
from itertools import product
from typing import Any

import pytest
from scipy import stats

from genetics.couple import couple_query, offspring
from genetics.crosses import Gamete, couple_chances, cross, gametes
from genetics.crosses import at_least_one as at_least_one_egg
from genetics.errors import MalformedCase
from genetics.keys import SEXES, genotype_keys
from genetics.population import (
    Animal,
    Goal,
    Interval,
    Linkage,
    Locus,
    OffspringQuestion,
    Population,
    SameLocus,
    Trait,
    Viability,
)
from genetics.solving import solve
from tests.genetics.published import published

SG, QW = Locus("sg", ("+", "s")), Locus("qw", ("+", "q"))
SALTGRASS = Trait("Saltgrass", recessive_at=("sg",))
QUILLWORT = Trait("Quillwort", recessive_at=("qw",))
TWO = Population((SG, QW), (), traits=(SALTGRASS, QUILLWORT))
BOTH = {"sg": "+/s", "qw": "+/q"}


def linked(female: F | float, male: F | float) -> Population:
    """The two loci of `TWO` on one map."""
    groups = (Linkage(("sg", "qw"), (Interval(female, male),)),)
    return Population((SG, QW), (), traits=(SALTGRASS, QUILLWORT), linkage=groups)


def chi_square(counts: Mapping[Any, int], chances: Mapping[Any, Any]) -> float:
    """Pearson's statistic of counts against the chances of the same classes."""
    assert set(counts) == set(chances)
    total = sum(counts.values())
    expected = [float(total * chances[kind]) for kind in counts]
    return float(stats.chisquare(list(counts.values()), expected).statistic)


# ---- one locus -------------------------------------------------------------------------------


def test_cross_of_two_carriers_is_one_two_one() -> None:
    found = cross(TWO, {"sg": "+/s"}, {"sg": "+/s"})
    assert found.genotypes("sg") == {("+/+",): F(1, 4), ("+/s",): F(1, 2), ("s/s",): F(1, 4)}
    assert found.phenotypes() == {(): F(3, 4), ("Saltgrass",): F(1, 4)}
    assert all(isinstance(p, F) for p in found.genotypes().values())


def test_cross_of_certain_parents_stays_exact() -> None:
    found = cross(TWO, {"sg": "s/s"}, {})
    assert found.genotypes() == {("+/s", "+/+"): 1}
    assert all(isinstance(p, F) for p in found.genotypes().values())
    assert found.sexes() == {"female": F(1, 2), "male": F(1, 2)}


def test_cross_gives_mendels_table_of_selfing_generations() -> None:
    # Mendel 1866, Verh. naturforsch. Ver. Bruenn 4: 3-47; "A:Aa:a" after n generations.
    numbers = published("M1.selfing")
    shares = {"+/s": F(1)}
    ladder = []
    for _ in range(max(numbers["generation"])):
        later: dict[str, F] = {}
        for key, share in shares.items():
            for (child,), p in cross(TWO, {"sg": key}, {"sg": key}).genotypes("sg").items():
                later[child] = later.get(child, F(0)) + share * F(p)
        shares = later
        ladder.append(shares)
    for generation, ratio in zip(numbers["generation"], numbers["A:Aa:a"], strict=True):
        wanted = {
            key: F(n, sum(ratio)) for key, n in zip(("+/+", "+/s", "s/s"), ratio, strict=True)
        }
        assert ladder[generation - 1] == wanted


def test_cross_of_lethal_carriers_is_two_to_one() -> None:
    # Cuenot 1905, Arch Zool exp gen; Castle and Little 1910, Science 32: 868-870 (quoted from
    # memory): the dominant colour dies when homozygous.
    yellow = Population(
        (Locus("mk", ("+", "m")),),
        (),
        traits=(Trait("Marrowglass", shown_by=({"mk": ("+/m", "m/m")},)),),
        viability=(Viability("mk", "m/m", 0),),
    )
    ratio = cross(yellow, {"mk": "+/m"}, {"mk": "+/m"}).phenotypes()
    assert ratio == {("Marrowglass",): F(2, 3), (): F(1, 3)}
    numbers = published("E7.yellow")
    three = {("Marrowglass",): F(3, 4), (): F(1, 4)}
    for source, key in (("Cuenot_1905", "Cuenot"), ("Castle_Little_1910", "Castle_Little")):
        counts = dict(zip(three, numbers[source], strict=True))
        assert round(chi_square(counts, ratio), 3) == numbers["chi2_2to1"][key]
        assert round(chi_square(counts, three), 3) == numbers["chi2_3to1"][key]


def test_small_counts_do_not_settle_whether_a_homozygote_dies() -> None:
    # Trap: Cuenot's own table (quoted from memory) speaks for 3:1; the larger one settles it.
    small = published("E7.yellow")["Cuenot_1905"]
    large = published("E7.yellow")["Castle_Little_1910"]
    p = {
        (name, ratio): float(stats.chisquare(c, [sum(c) * ratio, sum(c) * (1 - ratio)]).pvalue)
        for name, c in (("small", small), ("large", large))
        for ratio in (2 / 3, 3 / 4)
    }
    assert round(p["small", 2 / 3], 3) == 0.019
    assert round(p["small", 3 / 4], 2) == 0.26
    assert p["large", 2 / 3] > 0.1
    assert p["large", 3 / 4] < 1e-15


def test_cross_where_nothing_can_live_gives_nothing() -> None:
    deadly = Population((SG,), (), traits=(SALTGRASS,), viability=(Viability("sg", "s/s", 0),))
    found = cross(deadly, {"sg": "s/s"}, {"sg": "s/s"})
    assert not found.viable
    assert found.genotypes() == {}
    assert found.phenotypes() == {}
    assert found.sexes() == {}
    assert found.chance(Goal(shows={"Saltgrass": True})) == 0


def test_cross_weighs_offspring_by_survival() -> None:
    weak = Population((SG,), (), viability=(Viability("sg", "s/s", F(1, 2)),))
    found = cross(weak, {"sg": "+/s"}, {"sg": "+/s"}).genotypes()
    assert found == {("+/+",): F(2, 7), ("+/s",): F(4, 7), ("s/s",): F(1, 7)}


def test_cross_of_three_alleles_gives_every_pair() -> None:
    many = Population((Locus("pa", ("+", "a", "b", "c")),), ())
    found = cross(many, {"pa": "+/a"}, {"pa": "b/c"}).genotypes()
    assert found == {(key,): F(1, 4) for key in ("+/b", "+/c", "a/b", "a/c")}


# ---- several loci ----------------------------------------------------------------------------


def test_cross_of_double_carriers_gives_a_sixteenth_of_double_visuals() -> None:
    # Bechtel and Bechtel 1989, J Hered 80: 272-276; Saenko et al. 2015, Sci Rep 5: 17118.
    wanted = F(*published("R4.cornsnake")["double_homozygote_fraction_F2"])
    found = cross(TWO, BOTH, BOTH)
    assert found.phenotypes()["Saltgrass", "Quillwort"] == wanted
    assert found.chance(Goal(shows={"Saltgrass": True, "Quillwort": True})) == wanted
    assert found.chance(Goal(genotypes={"sg": ("s/s",), "qw": ("q/q",)})) == wanted
    assert found.chance(Goal(genotypes={"sg": ("s/s",)}, sex="female")) == F(1, 8)


def test_cross_gives_mendels_nine_three_three_one() -> None:
    # Mendel 1866: round/wrinkled and yellow/green of one selfed double carrier.
    numbers = published("M1.dihybrid")
    found = cross(TWO, BOTH, BOTH)
    looks = [(), ("Saltgrass",), ("Quillwort",), ("Saltgrass", "Quillwort")]
    assert found.phenotypes() == dict(zip(looks, (F(n, 16) for n in (9, 3, 3, 1)), strict=True))
    counts = dict(zip(looks, numbers["phenotype_F2"].values(), strict=True))
    assert round(chi_square(counts, found.phenotypes()), 6) == numbers["chi2_9331"]
    p = stats.chi2.sf(chi_square(counts, found.phenotypes()), 3)
    assert round(float(p), 6) == numbers["p"]


def test_cross_gives_the_nine_genotypes_of_mendels_double_carriers() -> None:
    # Mendel 1866; the five classes of "other" are quoted from memory.
    numbers = published("M1.dihybrid")
    four, other = numbers["of_round_yellow_fruiting_301"], numbers["other"]
    counts = {
        ("+/+", "+/+"): four["AABB"],
        ("+/+", "+/q"): four["AABb"],
        ("+/s", "+/+"): four["AaBB"],
        ("+/s", "+/q"): four["AaBb"],
        ("s/s", "+/+"): other["aaBB"],
        ("s/s", "+/q"): other["aaBb"],
        ("+/+", "q/q"): other["AAbb"],
        ("+/s", "q/q"): other["Aabb"],
        ("s/s", "q/q"): other["aabb"],
    }
    assert sum(counts.values()) == numbers["all9_sum"]
    found = cross(TWO, BOTH, BOTH).genotypes()
    assert round(chi_square(counts, found), 6) == numbers["chi2_all9"]
    p = stats.chi2.sf(chi_square(counts, found), 8)
    assert round(float(p), 6) == numbers["p_all9"]


def test_cross_gives_the_maize_counts_their_chi_square() -> None:
    # Pearl 1911, Biol Bull 21: 339-366, ear 9 as counted by observer 7.
    numbers = published("E7.maize9331")
    looks = [(), ("Saltgrass",), ("Quillwort",), ("Saltgrass", "Quillwort")]
    counts = dict(zip(looks, numbers["Ear09_Obs07"], strict=True))
    found = cross(TWO, BOTH, BOTH).phenotypes()
    assert round(chi_square(counts, found), 4) == numbers["chi2"]


def test_cross_of_two_combs_gives_four_looks_by_nine_three_three_one() -> None:
    # Punnett 1911, Mendelism, 3rd ed., p. 33-34: walnut where both dominants meet.
    combs = Population(
        (SG, QW),
        (),
        traits=(
            Trait("Walnut", ({"sg": ("+/s", "s/s"), "qw": ("+/q", "q/q")},), hides=("Rose", "Pea")),
            Trait("Rose", ({"sg": ("+/s", "s/s")},)),
            Trait("Pea", ({"qw": ("+/q", "q/q")},)),
        ),
    )
    ratio = published("E7.comb")["ratio"]
    found = cross(combs, BOTH, BOTH).phenotypes()
    looks = [("Walnut",), ("Rose",), ("Pea",), ()]
    assert found == {look: F(n, 16) for look, n in zip(looks, ratio, strict=True)}


def test_cross_of_oats_with_a_masking_colour_is_twelve_three_one() -> None:
    # Nilsson-Ehle 1908/1909, in Mueller-Wille 2008, Virtual Laboratory: black, grey, white.
    oats = Population(
        (SG, QW),
        (),
        traits=(
            Trait("Black", ({"sg": ("+/s", "s/s")},), hides=("Grey",)),
            Trait("Grey", ({"qw": ("+/q", "q/q")},)),
        ),
    )
    ratio = published("E7.oats")["ratio"]
    found = cross(oats, BOTH, BOTH).phenotypes()
    looks: list[tuple[str, ...]] = [("Black",), ("Grey",), ()]
    assert found == {look: F(n, 16) for look, n in zip(looks, ratio, strict=True)}
    assert cross(oats, BOTH, BOTH).chance(Goal(shows={"Grey": True, "Black": False})) == F(3, 16)


# ---- linkage ---------------------------------------------------------------------------------


def test_gametes_of_a_known_phase_recombine_by_the_sex_of_the_parent() -> None:
    coupling = {"sg": "s|+", "qw": "q|+"}
    for sex, r in zip(SEXES, (F(1, 10), F(1, 4)), strict=True):
        found = gametes(linked(F(1, 10), F(1, 4)), sex, coupling)
        assert found == {
            Gamete(("+", "+")): (1 - r) / 2,
            Gamete(("s", "q")): (1 - r) / 2,
            Gamete(("s", "+")): r / 2,
            Gamete(("+", "q")): r / 2,
        }


def test_gametes_of_unknown_phase_average_over_the_phases() -> None:
    book = linked(F(1, 10), F(1, 10))
    phases = [gametes(book, "male", {"sg": "s|+", "qw": qw}) for qw in ("q|+", "+|q")]
    found = gametes(book, "male", BOTH)
    assert set(found.values()) == {F(1, 4)}
    assert found == {gamete: (phases[0][gamete] + phases[1][gamete]) / 2 for gamete in found}


def test_gametes_read_a_phase_from_either_side() -> None:
    book = linked(F(1, 10), F(1, 10))
    assert gametes(book, "male", {"sg": "s|+", "qw": "q|+"}) == gametes(
        book, "male", {"sg": "+|s", "qw": "+|q"}
    )
    single = gametes(book, "male", {"sg": "s|+"})
    assert (
        single
        == gametes(book, "male", {"sg": "+/s"})
        == {Gamete(("s",)): F(1, 2), Gamete(("+",)): F(1, 2)}
    )


def test_gametes_of_three_linked_loci_multiply_along_the_map() -> None:
    third = Locus("mk", ("+", "m"))
    a, b = F(1, 10), F(1, 5)
    book = Population(
        (SG, QW, third), (),
        linkage=(Linkage(("sg", "qw", "mk"), (Interval(a, a), Interval(b, b))),),
    )  # fmt: skip
    found = gametes(book, "male", {"sg": "s|+", "qw": "q|+", "mk": "m|+"})
    assert found[Gamete(("s", "q", "m"))] == (1 - a) * (1 - b) / 2
    assert found[Gamete(("s", "+", "m"))] == a * b / 2
    # Where one locus is not phased, both phases that are left count alike.
    half = gametes(book, "male", {"sg": "s|+", "qw": "+/q", "mk": "m|+"})
    other = gametes(book, "male", {"sg": "s|+", "qw": "+|q", "mk": "m|+"})
    assert half == {gamete: (found[gamete] + other[gamete]) / 2 for gamete in half}


def test_gametes_of_independent_loci_multiply() -> None:
    found = gametes(TWO, "female", BOTH)
    assert found == {Gamete(alleles): F(1, 4) for alleles in product(("+", "s"), ("+", "q"))}
    assert gametes(TWO, "female", BOTH, ["qw"]) == {
        Gamete(("+",)): F(1, 2),
        Gamete(("q",)): F(1, 2),
    }


def test_cross_to_a_double_visual_shows_the_recombination_fraction() -> None:
    # Morgan 1911-12, in Griffiths et al., Introduction to Genetic Analysis, ch. 4.
    numbers = published("E7.prvg")
    r = F(sum(numbers["recombinant"]), numbers["total"])
    assert round(float(r), 6) == numbers["r"]
    found = cross(linked(r, 0), {"sg": "s|+", "qw": "q|+"}, {"sg": "s/s", "qw": "q/q"})
    looks = found.phenotypes()
    assert looks["Saltgrass",] + looks["Quillwort",] == r
    assert looks["Saltgrass", "Quillwort"] == (1 - r) / 2


@pytest.mark.parametrize("name", ["set381", "set2132", "set6952"])
def test_cross_of_linked_double_carriers_is_likeliest_at_the_published_fraction(name: str) -> None:
    # Bateson, Saunders and Punnett 1905-1908, Reports to the Evolution Committee; Punnett 1917.
    numbers = published("E7.sweetpea_link")
    looks = [(), ("Quillwort",), ("Saltgrass",), ("Saltgrass", "Quillwort")]
    counts = dict(zip(looks, numbers[name], strict=True))
    phased = {"sg": "+|s", "qw": "+|q"}

    def log_likelihood(r: float) -> float:
        chances = cross(linked(r, r), phased, phased).phenotypes()
        return math.fsum(n * math.log(chances[look]) for look, n in counts.items())

    best = numbers["MLE_r"][name]
    step = 10.0 ** -len(str(best).partition(".")[2])
    assert log_likelihood(best) > log_likelihood(best - step)
    assert log_likelihood(best) > log_likelihood(best + step)
    unlinked = cross(TWO, BOTH, BOTH).phenotypes()
    assert round(chi_square(counts, unlinked), 2) == numbers["chi2_9331"][name]


def test_cross_of_linked_visuals_in_repulsion_gives_few_double_visuals() -> None:
    r = F(1, 10)
    phased = {"sg": "s|+", "qw": "+|q"}
    found = cross(linked(r, r), phased, phased).phenotypes()
    assert found["Saltgrass", "Quillwort"] == (r / 2) ** 2
    assert sum(found.values()) == 1


# ---- sex chromosomes -------------------------------------------------------------------------

BARRED = Population(
    (Locus("ba", ("+", "B"), "Z"),),
    (),
    traits=(Trait("Barred", ({"ba": ("+/B", "B/B", "B/W")},)),),
    sex_determination="ZW",
)


def test_cross_of_barred_fowl_shows_sex_linkage_both_ways() -> None:
    # Morgan T.H. 1913, Heredity and Sex, Fig. 41.
    first = cross(BARRED, {"ba": "B/W"}, {"ba": "+/+"})
    assert first.phenotypes_by_sex() == {("female", ()): F(1, 2), ("male", ("Barred",)): F(1, 2)}
    assert first.genotypes() == {("+/W",): F(1, 2), ("+/B",): F(1, 2)}
    second = cross(BARRED, {"ba": "+/W"}, {"ba": "+/B"}).phenotypes_by_sex()
    ratio = published("E7.barred")["F2_ratio"]
    kinds = list(product(("female", "male"), ((), ("Barred",))))
    assert second == {kind: F(n, 4) for kind, n in zip(kinds, ratio, strict=True)}
    reverse = cross(BARRED, {"ba": "+/W"}, {"ba": "B/B"})
    assert reverse.phenotypes() == {("Barred",): 1}


def test_gametes_at_a_z_locus_tell_the_chromosome() -> None:
    hen = gametes(BARRED, "female", {"ba": "B/W"})
    assert hen == {Gamete(("B",), "Z"): F(1, 2), Gamete(("W",), "W"): F(1, 2)}
    cock = gametes(BARRED, "male", {"ba": "+/B"})
    assert cock == {Gamete(("+",), "Z"): F(1, 2), Gamete(("B",), "Z"): F(1, 2)}


@pytest.mark.parametrize("theta", ["0.01", "0.02", "0.05", "0.10"])
def test_cross_at_both_sex_chromosomes_needs_the_published_offspring_for_a_lod(theta: str) -> None:
    # Mallery and Carrillo 2016, Phyllomedusa 15: 29-42: LOD above 179.1; the offspring needed are
    # derived from LOD = n [log10 2 + t log10 t + (1 - t) log10 (1 - t)], which is n times the
    # information (in decimal digits) that a hatchling's look has on its sex.
    numbers = published("S3.mallery")
    t = F(theta)
    book = Population(
        (Locus("mk", ("+", "m"), "sex", t),),
        (),
        traits=(Trait("Marrowglass", ({"mk": ("+/m", "m/m")},)),),
        sex_determination="XY",
    )
    found = cross(book, {"mk": "+/+"}, {"mk": "+|m"}).phenotypes_by_sex()
    assert found == {
        ("male", ("Marrowglass",)): (1 - t) / 2,
        ("male", ()): t / 2,
        ("female", ("Marrowglass",)): t / 2,
        ("female", ()): (1 - t) / 2,
    }
    bits = 2 - float(stats.entropy([float(p) for p in found.values()], base=2))
    needed = math.ceil(numbers["LOD_greater_than"] / (bits * math.log10(2)))
    assert needed == numbers["offspring_needed_for_LOD_179.1"][theta]
    assert (
        math.ceil(numbers["LOD_greater_than"] / math.log10(2))
        == numbers["min_informative_offspring_if_theta_0"]
    )


def test_cross_of_an_unknown_arrangement_averages_the_two() -> None:
    book = Population((Locus("mk", ("+", "m"), "sex", F(1, 20)),), (), sex_determination="XY")
    both = [cross(book, {}, {"mk": key}).genotypes() for key in ("+|m", "m|+")]
    found = cross(book, {}, {"mk": "+/m"}).genotypes()
    assert found == {keys: (both[0][keys] + both[1][keys]) / 2 for keys in found}
    assert gametes(book, "male", {"mk": "m|+"}) == {
        Gamete(("m",), "X"): F(19, 40),
        Gamete(("+",), "X"): F(1, 40),
        Gamete(("+",), "Y"): F(19, 40),
        Gamete(("m",), "Y"): F(1, 40),
    }


def test_cross_of_two_loci_on_the_sex_chromosomes_counts_the_sex_once() -> None:
    book = Population(
        (Locus("xl", ("+", "x"), "X"), Locus("mk", ("+", "m"), "sex", 0), SG),
        (),
        sex_determination="XY",
    )
    sire = {"xl": "x/Y", "mk": "+|m", "sg": "+/s"}
    assert gametes(book, "male", sire, ["xl", "mk"]) == {
        Gamete(("x", "+"), "X"): F(1, 2),
        Gamete(("Y", "m"), "Y"): F(1, 2),
    }
    assert cross(book, {}, sire).genotypes("xl", "mk") == {
        ("+/x", "+/+"): F(1, 2),
        ("+/Y", "+|m"): F(1, 2),
    }


def test_cross_with_survival_on_the_sex_chromosomes_skews_the_sexes() -> None:
    book = Population(
        (Locus("xl", ("+", "x"), "X"), Locus("xo", ("+", "o"), "X")),
        (),
        sex_determination="XY",
        viability=(Viability("xl", "x/Y", 0),),
    )
    found = cross(book, {"xl": "+/x", "xo": "+/o"}, {})
    assert found.sexes() == {"female": F(2, 3), "male": F(1, 3)}
    assert found.chance(Goal(genotypes={"xo": ("o/Y",)})) == F(1, 6)
    assert found.chance(Goal(genotypes={"xo": ("+/o",)})) == F(1, 3)


# ---- lines taken for one locus ---------------------------------------------------------------


def test_cross_of_visuals_of_two_lines_depends_on_whether_they_are_one() -> None:
    lines = Population(
        (SG, QW), (),
        traits=(Trait("Saltgrass", recessive_at=("sg", "qw")),),
        same_locus=(SameLocus(("sg", "qw"), F(1, 2)),),
    )  # fmt: skip
    apart = cross(lines, {"sg": "s/s"}, {"qw": "q/q"})
    one = cross(lines, {"sg": "s/s"}, {"qw": "q/q"}, lines=[("sg", "qw")])
    assert apart.phenotypes() == {(): 1}
    assert one.phenotypes() == {("Saltgrass",): 1}
    assert one.genotypes() == {("+/s", "+/q"): 1}
    compound = gametes(lines, "male", {"sg": "+/s", "qw": "+/q"}, lines=[("sg", "qw")])
    assert compound == {Gamete(("s", "+")): F(1, 2), Gamete(("+", "q")): F(1, 2)}
    with pytest.raises(MalformedCase) as fault:
        cross(lines, {"sg": "s/s", "qw": "+/q"}, {}, lines=[("sg", "qw")])
    assert str(fault.value) == (
        'dam: more than two copies at "sg", "qw", which are taken for one locus'
    )


# ---- laws ------------------------------------------------------------------------------------

WORLD = Population(
    (SG, QW, Locus("xl", ("+", "x"), "X"), Locus("pa", ("+", "a", "b"))),
    (),
    traits=(
        SALTGRASS,
        Trait("Chalk", ({"xl": ("x/x", "x/Y"), "pa": ("a/b", "b/b")}, {"qw": ("q/q",)})),
        Trait("Tide", ({"pa": ("+/a", "a/a", "a/b")},), hides=("Chalk",)),
    ),
    linkage=(Linkage(("sg", "qw"), (Interval(F(1, 5), F(1, 3)),)),),
    viability=(Viability("pa", "a/a", F(1, 3)), Viability("xl", "x/x", F(1, 2))),
    sex_determination="XY",
)


@pytest.mark.parametrize("position", range(0, 324, 27))
def test_cross_agrees_with_the_engine_for_certain_parents(position: int) -> None:
    parents = []
    for sex, number in zip(SEXES, (position, 323 - position * 7 % 324), strict=True):
        keys: dict[str, str] = {}
        for locus in WORLD.loci:
            listed = genotype_keys(locus, "XY", sex)
            number, digit = divmod(number, len(listed))
            keys[locus.id] = listed[digit]
        parents.append(keys)
    goal = Goal(shows={"Saltgrass": False}, genotypes={"xl": ("+/x", "x/Y")}, sex="male")
    question = OffspringQuestion("dam", "sire", (), goal)
    book = Population(
        WORLD.loci,
        tuple(
            Animal(name, sex, founder={locus: {key: 1} for locus, key in keys.items()})
            for name, sex, keys in zip(("dam", "sire"), SEXES, parents, strict=True)
        ),
        traits=WORLD.traits,
        linkage=WORLD.linkage,
        viability=WORLD.viability,
        sex_determination="XY",
    )
    asked = offspring(solve(book, queries=[couple_query(book, question)]), question)
    found = cross(WORLD, *parents)
    assert asked.goal is not None
    assert math.isclose(asked.goal, found.chance(goal), rel_tol=1e-9, abs_tol=1e-12)
    assert {look: round(p, 9) for look, p in asked.phenotypes} == {
        look: round(float(p), 9) for look, p in found.phenotypes().items()
    }
    assert sum(found.phenotypes().values()) == 1
    assert sum(found.genotypes().values()) == 1
    assert sum(found.sexes().values()) == 1


def test_cross_of_animals_turned_round_gives_the_same_without_sex_linkage() -> None:
    for one, other in product(("+/+", "+/s", "s/s"), repeat=2):
        there = cross(TWO, {"sg": one}, {"sg": other}).genotypes()
        assert there == cross(TWO, {"sg": other}, {"sg": one}).genotypes()


# ---- uncertain couples -----------------------------------------------------------------------


def test_couple_chances_of_two_possible_carriers_keep_the_parents_apart() -> None:
    maybe = {"sg": {"+/+": F(1, 3), "+/s": F(2, 3)}}
    book = Population(
        (SG,),
        (Animal("dam", "female", founder=maybe), Animal("sire", "male", founder=maybe)),
        traits=(SALTGRASS,),
    )
    question = OffspringQuestion("dam", "sire", (8,), Goal(shows={"Saltgrass": True}))
    solved = solve(book, queries=[couple_query(book, question)])
    found = couple_chances(solved, question)
    assert [(round(w, 12), round(p, 12)) for w, p in found if w > 0] == [
        (round(4 / 9, 12), 0.25),
        (round(5 / 9, 12), 0.0),
    ]
    eight = offspring(solved, question).at_least_one[8]
    assert math.isclose(at_least_one_egg(found, 8), eight, rel_tol=1e-12)
    with pytest.raises(ValueError) as fault:
        couple_chances(solved, OffspringQuestion("dam", "sire"))
    assert str(fault.value) == "the question has no goal; expected one to count as success"


# ---- faults ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dam", "sire", "message"),
    [
        (
            {"sg": "s/+"},
            {},
            'dam.sg: "s/+" is not in the order of the alleles of locus "sg"; accepted: "+/s"',
        ),
        ({}, {"sgg": "s/s"}, 'sire: no locus has the id "sgg"; the nearest is "sg"'),
        (
            {"sg": "+|s"},
            {},
            'dam.sg: "+|s" is not a genotype of locus "sg"; accepted: "+/+", "+/s", "s/s"',
        ),
    ],
)
def test_cross_refuses_what_is_no_genotype(
    dam: Mapping[str, str], sire: Mapping[str, str], message: str
) -> None:
    with pytest.raises(MalformedCase) as fault:
        cross(TWO, dam, sire)
    assert str(fault.value) == message


def test_cross_refuses_a_genotype_of_the_other_sex() -> None:
    with pytest.raises(MalformedCase) as fault:
        cross(BARRED, {"ba": "+/B"}, {})
    assert fault.value.place == "dam.ba"


def test_chance_refuses_an_unknown_trait_or_key() -> None:
    found = cross(TWO, BOTH, BOTH)
    with pytest.raises(MalformedCase) as fault:
        found.chance(Goal(shows={"Saltgras": True}))
    assert str(fault.value) == (
        'goal.shows: no trait has the id "Saltgras"; the nearest is "Saltgrass"'
    )
    with pytest.raises(MalformedCase) as fault:
        found.chance(Goal(genotypes={"sg": ("s/q",)}))
    assert fault.value.place == "goal.genotypes.sg"
