"""Random valid case files, small enough for the brute-force twin.

One strategy for every feature of the contract, and `mixed_cases` for their combinations. A case
is drawn freely, then cut down until the twin can afford it; unless it is to stay so, evidence
that cannot all be true is turned round until it can.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from hypothesis import strategies as st

from tests.genetics.case_draws import (
    Draw,
    all_keys,
    pick,
    pick_some,
    possible_keys,
    shares,
    sometimes,
)
from tests.genetics.case_evidence import add_evidence, add_questions, make_possible
from tests.genetics.twin import TooLarge, twin
from tests.genetics.twin_genome import FEMALE, MALE, NOBODY, SEXES, Case, Genome
from tests.genetics.twin_worlds import has_parents, known_sexes

STEPS = 5000
"""Joint genotypes (roughly) that the twin may visit for one case."""

LOCI = ("sg", "qw", "mk", "pa")
TRAITS = ("Saltgrass", "Quillwort", "Marrowglass", "Chalk")


@dataclass(frozen=True)
class Recipe:
    """What a strategy puts into its cases; a feature that is allowed is drawn half the time."""

    systems: tuple[str, ...] = ("XY", "ZW", "none")
    kinds: tuple[str, ...] = ("autosome",)
    most_loci: int = 2
    most_alleles: int = 3
    most_animals: int = 6
    linked: bool = False
    viability: bool = False
    masking: bool = False
    errors: bool = False
    likelihoods: bool = False
    joint_founders: bool = False
    background: bool = False
    unrecorded: bool = False
    unknown_sexes: bool = False
    clutches: bool = False
    candidates: bool = False
    alone: bool = False
    trusts: bool = False
    begun: bool = False
    lines: bool = False
    contradictory: bool = False


# ---- inheritance -----------------------------------------------------------------------------


def _inheritance(draw: Draw, recipe: Recipe) -> Case:
    system = pick(draw, recipe.systems)
    case: Case = {"case": 1, "sex_determination": system, "loci": []}
    if system == "none" and sometimes(draw):
        case["females"] = pick(draw, (0.75, "1/3", 0.5))
    fewest = 2 if recipe.linked or recipe.lines else 1
    names = LOCI[: pick(draw, [fewest, *range(fewest, recipe.most_loci + 1), recipe.most_loci])]
    wild = "w" if sometimes(draw, 5) else "+"
    for i, name in enumerate(names):
        kind = pick(draw, recipe.kinds) if system != "none" else "autosome"
        plain = (recipe.linked or recipe.lines) and i < 2
        most = 2 if recipe.lines or i > 0 else recipe.most_alleles
        mutants = ["m", "c"][: draw(st.integers(1, most - 1))]
        locus: dict[str, Any] = {"id": name, "alleles": [wild, *mutants]}
        if plain or kind == "autosome":
            if sometimes(draw, 4):
                locus["chromosome"] = "autosome"
        elif kind == "one copy":
            locus["chromosome"] = "X" if system == "XY" else "Z"
        else:
            locus |= {"chromosome": "sex", "recombination": pick(draw, (0.05, 0, "1/3", 0.5))}
        case["loci"].append(locus)
    _lines_and_linkage(draw, recipe, case)
    return case


def _autosomes(case: Case) -> list[str]:
    return [lc["id"] for lc in case["loci"] if lc.get("chromosome", "autosome") == "autosome"]


def _lines_and_linkage(draw: Draw, recipe: Recipe, case: Case) -> None:
    free = _autosomes(case)
    if recipe.lines:
        lines = free[: pick(draw, (2, 3, 3))]
        pairs = [[a, b] for i, a in enumerate(lines) for b in lines[i + 1 :]]
        entries: list[dict[str, Any]] = []
        for pair in pairs[: pick(draw, (1, 2, 3, 3))]:
            sure = () if entries else (1, 0)
            entries.append({"loci": pair, "prior": pick(draw, (0.3, "1/2", 0.9, *sure))})
        case["same_locus"] = entries
        free = [locus for locus in free if locus not in lines]
    if recipe.linked and len(free) > 1:
        group = free[: draw(st.integers(2, len(free)))]
        rates = [{sex: pick(draw, (0.1, 0, "1/4", 0.5)) for sex in SEXES} for _ in group[1:]]
        case["linkage"] = [{"loci": group, "recombination": rates}]


def _background_and_viability(draw: Draw, recipe: Recipe, case: Case) -> None:
    genome = Genome(case)
    if recipe.background and sometimes(draw):
        case["background"] = {
            locus: {allele: pick(draw, (0.1, 0.25, "1/8")) for allele in alleles[1:]}
            for locus, alleles in genome.alleles.items()
            if not sometimes(draw, 3)
        }
    merged = {locus for entry in case.get("same_locus", []) for locus in entry["loci"]}
    loci = [locus for locus in genome.alleles if locus not in merged]
    if recipe.viability and loci:
        entries = {}
        for locus in pick_some(draw, loci, 2):
            for key in pick_some(draw, all_keys(genome, locus)[::-1], 2):
                healthy = set(key) <= {genome.alleles[locus][0], *"/|YW"}
                survival = pick(draw, (0.5, "2/3") if healthy else (0, 0.5, 0.25, "2/3"))
                entries[locus, key] = {"locus": locus, "genotype": key, "survival": survival}
        exact = {(lc, frozenset(key.split("|"))) for lc, key in entries if "|" in key}
        case["viability"] = [
            entry
            for (lc, key), entry in entries.items()
            if "|" in key or (lc, frozenset(key.split("/"))) not in exact
        ]


def _traits(draw: Draw, recipe: Recipe, case: Case) -> None:
    genome = Genome(case)
    loci = list(genome.alleles)
    names = TRAITS[: draw(st.integers(2 if recipe.masking else 1, 3 if recipe.masking else 2))]
    traits: list[dict[str, Any]] = []
    for name in names:
        trait: dict[str, Any] = {"id": name}
        locus = pick(draw, loci)
        mutants = genome.alleles[locus][1:]
        keys = all_keys(genome, locus)
        form = draw(st.integers(0, 4))
        if (recipe.lines and form < 3) or form == 3:
            trait["recessive_at"] = pick_some(draw, loci, 3)
        if form == 0 and not recipe.lines:
            trait["shown_by"] = [{locus: [k for k in keys if genome.alleles[locus][0] not in k]}]
        elif form == 1 and not recipe.lines:
            trait["shown_by"] = [{locus: [k for k in keys if any(m in k for m in mutants)]}]
        elif form in (2, 4) and (form == 4 or not recipe.lines):
            trait["shown_by"] = [
                {lc: pick_some(draw, all_keys(genome, lc), 4) for lc in pick_some(draw, loci, 2)}
                for _ in range(draw(st.integers(1, 2)))
            ]
        if recipe.masking and not sometimes(draw, 3):
            hidden = [*names, "*"]
            trait["hides"] = [h for h in pick_some(draw, hidden, 2) if h != name]
        traits.append(trait)
    case["traits"] = traits


# ---- animals ---------------------------------------------------------------------------------


def _animals(draw: Draw, recipe: Recipe, case: Case) -> None:
    """Animals and clutches in an order in which parents come before their young."""
    case["animals"], case["clutches"] = [], []
    sexes = [FEMALE, MALE, *(["unknown"] if recipe.unknown_sexes else [])]
    founders = 3 if recipe.candidates else 2
    # Larger pedigrees are drawn more often, but shrink to the smallest.
    sizes = [n for n in range(founders, recipe.most_animals + 1) for _ in range((n - 1) ** 2)]
    for i in range(pick(draw, sizes)):
        animal: dict[str, Any] = {"id": f"A{i}", "sex": pick(draw, sexes)}
        if i < 2 and not sometimes(draw, 2 if recipe.unknown_sexes else 4):
            animal["sex"] = SEXES[i]
        action = draw(st.integers(0, 6)) if i >= founders or sometimes(draw, 6) else 0
        if action > 3 and recipe.clutches:
            clutch = _clutch(draw, recipe, case)
            if clutch is not None:
                animal["clutch"] = clutch
        elif action > 0:
            dam, sire = _couple(draw, recipe, case)
            if dam or sire:
                animal |= {k: v for k, v in (("dam", dam), ("sire", sire)) if v or i % 2}
                animal |= _retained(draw, case, sire)
        if animal["sex"] == "unknown" and sometimes(draw):
            del animal["sex"]
        case["animals"].append(animal)
    if recipe.clutches and not case["clutches"]:
        _clutch(draw, recipe, case)
    for clutch in case["clutches"]:
        if len(clutch.get("candidates", [])) > 1 and sometimes(draw):
            clutch["paternity"] = "each"


def _couple(draw: Draw, recipe: Recipe, case: Case) -> tuple[str | None, str | None]:
    """Any dam and sire among the animals so far, one of them perhaps unrecorded."""
    found: list[str | None] = []
    for sex in SEXES:
        known = known_sexes(case)
        able = [who for who, is_ in known.items() if is_ in (sex, "unknown") and who not in found]
        missing = not able or (recipe.unrecorded and sometimes(draw, 5))
        found.append(None if missing else pick(draw, able))
    if recipe.alone and sometimes(draw):
        return found[0], NOBODY
    return found[0], found[1]


def _retained(draw: Draw, case: Case, sire: str | None) -> dict[str, Any]:
    """What the young of a dam alone retain: at all loci alike, or at single ones."""
    if sire != NOBODY or sometimes(draw, 3):
        return {}
    chances = (0.25, 0, "1/3", 1)
    single = {locus["id"] for locus in case["loci"]}
    for tied in [*case.get("same_locus", []), *case.get("linkage", [])]:
        single -= set(tied["loci"])
    if single and sometimes(draw):
        return {"retained": {locus: pick(draw, chances) for locus in sorted(single)}}
    return {"retained": pick(draw, chances)}


def _clutch(draw: Draw, recipe: Recipe, case: Case) -> str | None:
    """The id of one of the clutches, perhaps a new one."""
    if case["clutches"] and not sometimes(draw, 4):
        return str(pick(draw, case["clutches"])["id"])
    clutch: dict[str, Any] = {"id": f"C{len(case['clutches'])}"}
    couples: list[tuple[str | None, str | None]] = []
    case["clutches"].append(clutch)
    for _ in range(4 if recipe.candidates else 1):
        couple = _couple(draw, recipe, case)
        if couple not in couples and len(couples) < 3 and (any(couple) or recipe.unrecorded):
            couples.append(couple)
            row = {"dam": couple[0], "sire": couple[1], "p": 1}
            clutch.setdefault("candidates", []).append(row | _retained(draw, case, couple[1]))
    if not couples:
        case["clutches"].pop()
        return None
    if len(couples) == 1 and (not recipe.candidates or sometimes(draw)):
        clutch |= clutch.pop("candidates")[0]
        del clutch["p"]
    else:
        for row, p in zip(clutch["candidates"], shares(draw, len(couples)), strict=True):
            row["p"] = p
    return str(clutch["id"])


def _begun(draw: Draw, case: Case) -> None:
    """Loci that begin with some of the young: whole pieces of what belongs together."""
    genome = Genome(case)
    pieces = [list(segment.loci) for segment in genome.segments if segment.kind == "autosome"]
    sexed = [locus for locus, kind in genome.kinds.items() if kind != "autosome"]
    lines = list(dict.fromkeys(x for entry in case.get("same_locus", []) for x in entry["loci"]))
    pieces = [piece for piece in pieces if piece[0] not in lines]
    pieces += [piece for piece in (sexed, lines) if piece]
    for animal in case["animals"]:
        if has_parents(animal) and not sometimes(draw, 3):
            animal["begins"] = [x for piece in pick_some(draw, pieces, 2) for x in piece]


def _founders(draw: Draw, recipe: Recipe, case: Case) -> None:
    """Statements on the founders, possible in the sex that they are known to have."""
    genome, sexes = Genome(case), known_sexes(case)
    for animal in case["animals"]:
        own = _founding(animal, genome)
        if not own:
            continue
        known = (sexes[animal["id"]],) if sexes[animal["id"]] in SEXES else SEXES
        jointly: list[str] = []
        if recipe.joint_founders and (len(known) > 1 or sometimes(draw)):
            jointly = pick_some(draw, own, 3)
            animal["founder_joint"] = _joint_rows(draw, genome, jointly, known)
        said = [lc for lc in own if lc not in jointly and not sometimes(draw, 5)]
        if said:
            animal["founder"] = {lc: _table(draw, genome, lc, known) for lc in said}


def _founding(animal: dict[str, Any], genome: Genome) -> list[str]:
    """The loci at which an animal is a founder."""
    begins = animal.get("begins", [])
    return [lc for lc in genome.alleles if not has_parents(animal) or lc in begins]


def _statements(draw: Draw, case: Case) -> None:
    """What was said of some animals, under one or two trusts that they share."""
    genome, sexes = Genome(case), known_sexes(case)
    names = ["lot", "other lot"][: draw(st.integers(1, 2))]
    case["trust"] = {name: pick(draw, (0.5, "2/3", 0.9, 1, 0)) for name in names}
    for animal in case["animals"]:
        known = (sexes[animal["id"]],) if sexes[animal["id"]] in SEXES else SEXES
        joint = {lc for row in animal.get("founder_joint", []) for lc in row["genotypes"]}
        free = [locus for locus in _founding(animal, genome) if locus not in joint]
        said: list[dict[str, Any]] = []
        for _ in range(draw(st.integers(0, 2))):
            one: dict[str, Any] = {"trust": pick(draw, names)}
            if free and not sometimes(draw, 4):
                loci = pick_some(draw, free, 2)
                free = [locus for locus in free if locus not in loci]
                if sometimes(draw):
                    one["founder_joint"] = _joint_rows(draw, genome, loci, known)
                else:
                    one["founder"] = {lc: _table(draw, genome, lc, known) for lc in loci}
            elif sometimes(draw):
                locus = pick(draw, list(genome.alleles))
                keys = pick_some(draw, all_keys(genome, locus), 4)
                one["likelihood"] = {locus: {key: pick(draw, (1, 0.2, 0)) for key in keys}}
            said.append(one)
        if said:
            animal["statements"] = said


def _table(draw: Draw, genome: Genome, locus: str, known: Sequence[str]) -> dict[str, Any]:
    keys: list[str] = []
    for sex in known:
        options = possible_keys(genome, locus, sex)
        # Heterozygotes first: they are what makes a pedigree interesting.
        options.sort(key=lambda key: len(set(key)) < 3)
        keys += pick_some(draw, options, 1 if sometimes(draw) else 3)
    keys = list(dict.fromkeys(keys))
    return dict(zip(keys, shares(draw, len(keys)), strict=True))


def _joint_rows(
    draw: Draw, genome: Genome, loci: Sequence[str], known: Sequence[str]
) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for p in shares(draw, draw(st.integers(len(known), 3))):
        sex = pick(draw, known)
        genotypes: dict[str, str] = {}
        for locus in loci:
            # The first row must be possible in either sex, if the sex is not known.
            linked = len(known) > 1 and genome.kinds[locus] != "autosome"
            if not (linked and not rows) and (linked or not sometimes(draw, 4)):
                genotypes[locus] = pick(draw, possible_keys(genome, locus, sex)[::-1])
        rows.append({"p": p, "genotypes": genotypes})
    return rows


# ---- whole cases -----------------------------------------------------------------------------


def affordable(case: Case) -> bool:
    """Whether the twin can answer the case in a moment."""
    try:
        twin(case, STEPS)
    except TooLarge:
        return False
    return True


def without_last_animal(case: Case) -> Case:
    """The case without its last animal and all that hangs on it."""
    found, sexes = copy.deepcopy(case), known_sexes(case)
    gone = found["animals"].pop()["id"]
    for animal in found["animals"]:
        # A sex known only from the young that go must stay: statements were made for it.
        animal["sex"] = sexes[animal["id"]]
    found["clutches"] = [
        clutch
        for clutch in found["clutches"]
        if not any(
            gone in (row.get("dam"), row.get("sire"))
            for row in [clutch, *clutch.get("candidates", [])]
        )
    ]
    return found


def _tidy(case: Case) -> Case:
    return {name: part for name, part in case.items() if part or name in ("case", "animals")}


@st.composite
def cases_of(draw: Draw, recipe: Recipe) -> Case:
    """Cases made by a recipe."""
    case = _inheritance(draw, recipe)
    _background_and_viability(draw, recipe, case)
    _traits(draw, recipe, case)
    _animals(draw, recipe, case)
    if recipe.begun:
        _begun(draw, case)
    _founders(draw, recipe, case)
    if recipe.trusts:
        _statements(draw, case)
    add_evidence(draw, case, errors=recipe.errors, likelihoods=recipe.likelihoods)
    while len(case["animals"]) > 1 and not affordable(case):
        case = without_last_animal(case)
    if not (recipe.contradictory or sometimes(draw, 20)):
        make_possible(case)
        while len(case["animals"]) > 1 and not affordable(case):
            case = without_last_animal(case)
    add_questions(draw, case, alone=recipe.alone)
    return _tidy(case)


def autosomal_cases() -> st.SearchStrategy[Case]:
    """One or two unlinked autosomal loci of two or three alleles; loops and backcrosses."""
    return cases_of(Recipe(most_animals=7, unrecorded=True, background=True))


def sex_linked_cases() -> st.SearchStrategy[Case]:
    """Loci on X or Z alone, and on both sex chromosomes with recombination."""
    kinds = ("one copy", "sex", "autosome")
    return cases_of(Recipe(systems=("XY", "ZW"), kinds=kinds, unknown_sexes=True, background=True))


def linked_cases() -> st.SearchStrategy[Case]:
    """Linkage groups of two or three loci, recombining differently in dams and sires."""
    return cases_of(Recipe(most_loci=3, most_alleles=2, most_animals=5, linked=True))


def viability_cases() -> st.SearchStrategy[Case]:
    """Genotypes that survive less or not at all, autosomal and sex-linked."""
    kinds = ("autosome", "one copy", "sex")
    return cases_of(
        Recipe(kinds=kinds, viability=True, unknown_sexes=True, background=True, clutches=True)
    )


def masking_cases() -> st.SearchStrategy[Case]:
    """Several traits that hide one another, seen by an eye that may err."""
    return cases_of(Recipe(masking=True, errors=True, most_loci=3))


def founder_cases() -> st.SearchStrategy[Case]:
    """Founders with joint statements, backgrounds and laboratory tests, unrecorded parents."""
    return cases_of(
        Recipe(
            systems=("XY", "ZW"),
            kinds=("one copy", "sex", "autosome", "one copy"),
            joint_founders=True,
            background=True,
            likelihoods=True,
            unrecorded=True,
            unknown_sexes=True,
        )
    )


def clutch_cases() -> st.SearchStrategy[Case]:
    """Clutches with tallies, one couple each."""
    return cases_of(Recipe(clutches=True, unrecorded=True, errors=True, unknown_sexes=True))


def candidate_cases() -> st.SearchStrategy[Case]:
    """Clutches with several possible couples, for the clutch or for each egg."""
    return cases_of(
        Recipe(most_alleles=2, clutches=True, candidates=True, unrecorded=True, background=True)
    )


def alone_cases() -> st.SearchStrategy[Case]:
    """Young without a sire, for certain or perhaps, at loci of every kind."""
    return cases_of(
        Recipe(
            kinds=("autosome", "one copy", "sex"),
            most_animals=5,
            alone=True,
            clutches=True,
            candidates=True,
            unrecorded=True,
            unknown_sexes=True,
            background=True,
            viability=True,
        )
    )


def alone_linked_cases() -> st.SearchStrategy[Case]:
    """Young without a sire at linked loci, whose phases tell."""
    return cases_of(
        Recipe(most_loci=3, most_alleles=2, most_animals=5, linked=True, alone=True, clutches=True)
    )


def trust_cases() -> st.SearchStrategy[Case]:
    """Words on several animals that hold together or not at all."""
    return cases_of(
        Recipe(
            systems=("XY", "ZW"),
            kinds=("autosome", "one copy", "sex", "autosome"),
            most_animals=5,
            trusts=True,
            joint_founders=True,
            background=True,
            unknown_sexes=True,
            likelihoods=True,
        )
    )


def begun_cases() -> st.SearchStrategy[Case]:
    """Animals that have nothing from their parents at some loci, of every kind."""
    return cases_of(
        Recipe(
            systems=("XY", "ZW", "none"),
            kinds=("autosome", "one copy", "autosome", "sex"),
            most_loci=3,
            most_alleles=2,
            most_animals=5,
            begun=True,
            linked=True,
            joint_founders=True,
            background=True,
            unknown_sexes=True,
            clutches=True,
            candidates=True,
            masking=True,
        )
    )


def begun_lines_cases() -> st.SearchStrategy[Case]:
    """The same where lines may be one locus, words are doubted and some young do not live."""
    return cases_of(
        Recipe(
            kinds=("autosome", "one copy", "sex"), most_loci=4, most_alleles=2, most_animals=4,
            begun=True, lines=True, trusts=True, viability=True, alone=True, likelihoods=True,
            unknown_sexes=True, unrecorded=True,
        )
    )  # fmt: skip


def same_locus_cases() -> st.SearchStrategy[Case]:
    """Two or three lines of which it is not known whether they are one locus."""
    return cases_of(
        Recipe(most_loci=3, most_alleles=2, lines=True, joint_founders=True, background=True)
    )


def masked_lines_cases() -> st.SearchStrategy[Case]:
    """Undecided lines of a look that another look may hide: what hides tells of the lines too."""
    return cases_of(
        Recipe(
            most_loci=4, most_alleles=2, most_animals=4, lines=True, masking=True, errors=True,
            background=True,
        )
    )  # fmt: skip


def contradictory_cases() -> st.SearchStrategy[Case]:
    """Records that are as likely as not to contradict one another."""
    return cases_of(
        Recipe(
            kinds=("autosome", "one copy", "sex"),
            unknown_sexes=True,
            clutches=True,
            joint_founders=True,
            likelihoods=True,
            contradictory=True,
        )
    )


@st.composite
def mixed_cases(draw: Draw) -> Case:
    """Any combination of features."""
    flags: dict[str, Any] = {
        name: sometimes(draw) for name, kind in Recipe.__annotations__.items() if kind == "bool"
    }
    flags["contradictory"] = False
    kinds = ("autosome", "one copy", "sex") if sometimes(draw) else ("autosome",)
    recipe = replace(Recipe(kinds=kinds, most_loci=4 if flags["lines"] else 3), **flags)
    case: Case = draw(cases_of(recipe))
    return case


STRATEGIES: dict[str, st.SearchStrategy[Case]] = {
    "autosomal": autosomal_cases(),
    "sex_linked": sex_linked_cases(),
    "linked": linked_cases(),
    "viability": viability_cases(),
    "masking": masking_cases(),
    "founder": founder_cases(),
    "clutch": clutch_cases(),
    "candidate": candidate_cases(),
    "trust": trust_cases(),
    "begun": begun_cases(),
    "begun_lines": begun_lines_cases(),
    "alone": alone_cases(),
    "alone_linked": alone_linked_cases(),
    "same_locus": same_locus_cases(),
    "masked_lines": masked_lines_cases(),
    "contradictory": contradictory_cases(),
    "mixed": mixed_cases(),
}
