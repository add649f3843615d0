"""What a sale sheet says, and that it says no more than the standings do."""

import json
import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keeper.domain.sheets.writes import draft, fingerprint
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    HatchRow,
    Line,
    Observation,
    Paper,
    RowSighting,
    Statement,
    Survival,
)
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    ContactFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.keeper.sheets.rows import dispute_of, stand


@pytest.fixture
def animal(db: None) -> Animal:
    species = SpeciesFactory.create(
        name="royal python",
        scientific_name="Python regius",
        cautions="Warm side\n31 °C (own note).",
    )
    clutch = ClutchFactory.create(
        code="26-07", dam=AnimalFactory.create(species=species, code="F-1", sex="female")
    )
    sire = AnimalFactory.create(species=species, code="M-1", sex="male")
    CandidateSire.objects.create(clutch=clutch, sire=sire)
    made: Animal = AnimalFactory.create(
        species=species,
        code="K-1",
        name="Nettle",
        sex="female",
        sex_told="popped",
        clutch=clutch,
        hatched_on=date(2026, 7, 3),
    )
    return made


def line(animal: Animal, name: str, code: str = "HAR", **given: object) -> Line:
    made: Line = LineFactory.create(
        trait=TraitFactory.create(species=animal.species, name=name, **given), code=code
    )
    return made


def parents(animal: Animal) -> tuple[Animal, Animal]:
    assert animal.clutch and animal.clutch.dam
    sire = animal.clutch.candidates.get().sire
    assert sire
    return animal.clutch.dam, sire


def claims(animal: Animal, by: Account) -> list[tuple[str, list[str], str, str, str, str]]:
    """Trait, lines, note on the line, words, figure beside, grounds."""
    return [
        (
            row["trait"],
            row["lines"],
            row["line_note"],
            row["words"],
            row["beside"],
            row["grounds"],
        )
        for row in draft(animal, by=by)["claims"]
    ]


def test_head_names_the_animal_its_sex_and_its_origin(animal: Animal, owner: Account) -> None:
    said = draft(animal, by=owner, on=date(2026, 11, 25), buyer=ContactFactory.build(name="Ansel"))
    assert said["animal"] == {
        "code": "K-1",
        "name": "Nettle",
        "sex": "female",
        "sex_words": "female, popped",
        "hatched": "hatched 3 July 2026",
        "species": "royal python",
        "scientific_name": "Python regius",
    }
    assert said["parents"] == [
        {"role": "dam", "code": "F-1", "was": "nothing recorded"},
        {"role": "sire", "code": "M-1", "was": "nothing recorded"},
    ]
    assert said["origin"] == "Hatched here, clutch 26-07."
    assert said["issue_line"] == (
        "Issued on 25 November 2026 by Mara for Ansel. "
        "It says what the book said on that day and is not changed afterwards."
    )
    assert (said["number"], said["numbered"]) == (None, "Sale sheet, not issued")
    assert json.loads(json.dumps(said)) == said


def test_what_is_not_known_of_a_founder_is_said(owner: Account) -> None:
    founder = AnimalFactory.create(source=ContactFactory.create(name="Ansel"))
    said = draft(founder, by=owner)
    assert said["animal"]["hatched"] == "hatch date not known"
    assert said["animal"]["sex_words"] == "sex not known"
    assert (said["parents"], said["origin"]) == ([], "Parents not recorded. Came from Ansel.")
    assert said["claims"] == []
    founder.hatched_year, founder.sex = 2021, "male"
    said = draft(founder, by=owner)
    assert said["animal"]["hatched"] == "hatched in 2021, day not known"
    assert said["animal"]["sex_words"] == "male, how told not recorded"


def test_several_possible_sires_are_all_named(animal: Animal, owner: Account) -> None:
    assert animal.clutch
    CandidateSire.objects.create(clutch=animal.clutch, sire=None)
    assert [(p["role"], p["code"]) for p in draft(animal, by=owner)["parents"]] == [
        ("dam", "F-1"),
        ("possible sire", "M-1"),
        ("possible sire", "not recorded"),
    ]


def test_visual_says_when_it_was_seen(animal: Animal, owner: Account) -> None:
    saltgrass = line(animal, "Saltgrass")
    stand(animal, saltgrass, owner, two=1, word="visual")
    Observation.objects.create(
        animal=animal, trait=saltgrass.trait, seen="yes", on=date(2026, 7, 5), by=owner
    )
    assert claims(animal, owner) == [
        ("Saltgrass", ["HAR"], "", "visual", "", "Seen on it, 5 July 2026.")
    ]


def test_possible_is_rounded_down_with_the_customary_figure_beside(
    animal: Animal, owner: Account
) -> None:
    saltgrass = line(animal, "Saltgrass")
    dam, sire = parents(animal)
    stand(dam, saltgrass, owner, one=1, word="proven")
    stand(sire, saltgrass, owner, one=1, word="parentage")
    stand(animal, saltgrass, owner, one=0.33996, customary=2 / 3, clean_young=3)
    assert claims(animal, owner) == [
        (
            "Saltgrass",
            ["HAR"],
            "",
            "possible het 33 %",
            "66 % by its parents alone",
            "Dam F-1: proven; sire M-1: het by parentage. "
            "3 hatchlings that could have shown it did not.",
        )
    ]


def test_no_figure_beside_where_it_is_the_same(animal: Animal, owner: Account) -> None:
    stand(animal, line(animal, "Saltgrass"), owner, one=2 / 3, customary=2 / 3)
    assert claims(animal, owner)[0][3:5] == ("possible het 66 %", "")


def test_a_line_that_is_not_known_is_never_left_out(animal: Animal, owner: Account) -> None:
    har = line(animal, "Saltgrass")
    pel = LineFactory.create(trait=har.trait, code="PEL")
    stand(animal, har.trait, owner, one=1, word="parentage")
    stand(animal, har, owner, one=0.7, word="possible")
    stand(animal, pel, owner, one=0.3, word="possible")
    row = draft(animal, by=owner)["claims"][0]
    assert (row["lines"], row["line_note"]) == ([], "line not known")
    assert row["parts"] == [
        {"code": "HAR", "words": "possible het 70 %"},
        {"code": "PEL", "words": "possible het 30 %"},
    ]


def test_het_by_parentage_names_the_visual_parent(animal: Animal, owner: Account) -> None:
    saltgrass = line(animal, "Saltgrass")
    _, sire = parents(animal)
    stand(sire, saltgrass, owner, two=1, word="visual")
    stand(animal, saltgrass, owner, one=1, word="parentage", customary=1)
    said = draft(animal, by=owner)
    assert claims(animal, owner) == [
        ("Saltgrass", ["HAR"], "", "het by parentage", "", "Sire M-1 is visual.")
    ]
    assert said["parents"][1]["was"] == "Saltgrass HAR (visual)"


def test_proven_names_the_clutches_that_proved_it(animal: Animal, owner: Account) -> None:
    saltgrass = line(animal, "Saltgrass")
    stand(animal, saltgrass, owner, one=1, word="proven")
    clutch = ClutchFactory.create(dam=animal, code="29-01", laid_on=date(2029, 5, 1))
    for count, seen in ((2, True), (4, False)):
        row = HatchRow.objects.create(clutch=clutch, count=count)
        RowSighting.objects.create(row=row, trait=saltgrass.trait, seen=seen)
    young = AnimalFactory.create(species=animal.species, clutch=clutch)
    Observation.objects.create(
        animal=young, trait=saltgrass.trait, seen="yes", on=date(2029, 7, 1), by=owner
    )
    assert claims(animal, owner)[0][3:] == (
        "proven",
        "",
        "Young of its own showed it: 3 in clutch 29-01.",
    )


def test_tested_clean_counts_the_hatchlings_and_what_is_left(
    animal: Animal, owner: Account
) -> None:
    stand(
        animal,
        line(animal, "Saltgrass"),
        owner,
        one=0.0459,
        customary=0.5,
        word="clean",
        clean_young=12,
    )
    assert claims(animal, owner)[0][3:5] == (
        "tested clean so far: 12 hatchlings, 5 % left",
        "50 % by its parents alone",
    )


def test_stated_names_whose_word_and_that_it_was_not_tested(owner: Account) -> None:
    founder = AnimalFactory.create(code="F-9")
    saltgrass = line(founder, "Saltgrass")
    ansel = ContactFactory.create(name="Ansel")
    paper = Paper.objects.create(animal=founder, source=ansel, dated=date(2024, 2, 1))
    Statement.objects.create(
        animal=founder,
        trait=saltgrass.trait,
        line=saltgrass,
        claim="carries",
        source=ansel,
        paper=paper,
    )
    stand(founder, saltgrass, owner, one=1, word="stated")
    assert claims(founder, owner) == [
        (
            "Saltgrass",
            ["HAR"],
            "",
            "stated 100 % het by Ansel, not tested here",
            "",
            "In its papers, 1 February 2024.",
        )
    ]


@pytest.mark.parametrize("where", ["trait", "line"])
def test_a_disputed_gene_is_no_claim(animal: Animal, owner: Account, where: str) -> None:
    saltgrass = line(animal, "Saltgrass", harm="Wobbles.", harm_source="a keeper's handbook")
    conflict = dispute_of(animal, owner)
    whole = stand(animal, saltgrass, owner, two=1, word="visual")
    rows = (
        animal.standings.filter(line=None)
        if where == "trait"
        else animal.standings.exclude(line=None)
    )
    rows.update(dispute=conflict)
    Observation.objects.create(
        animal=animal, trait=whole.trait, seen="yes", on=date(2026, 7, 5), by=owner
    )
    said = draft(animal, by=owner)
    assert (said["claims"], said["disputed"], said["absent"]) == ([], ["Saltgrass"], [])
    assert said["harm"] == [
        {
            "trait": "Saltgrass",
            "text": "Wobbles.",
            "source": "a keeper's handbook",
            "applies": "Whether this animal has it is disputed.",
        }
    ]


def test_a_parents_disputed_gene_is_no_claim_either(animal: Animal, owner: Account) -> None:
    saltgrass = line(animal, "Saltgrass")
    dam, _ = parents(animal)
    stand(dam, saltgrass, owner, one=1, word="proven", dispute=dispute_of(animal, owner))
    stand(animal, saltgrass, owner, one=0.5)
    said = draft(animal, by=owner)
    assert said["parents"][0]["was"] == "Saltgrass (disputed)"
    assert said["claims"][0]["grounds"] == "Dam F-1: disputed."


def test_what_it_does_not_carry_is_listed_apart(animal: Animal, owner: Account) -> None:
    stand(animal, line(animal, "Saltgrass"), owner, word="absent")
    said = draft(animal, by=owner)
    assert (said["claims"], said["absent"]) == ([], ["Saltgrass"])


def test_a_look_without_a_standing_is_told_as_seen(animal: Animal, owner: Account) -> None:
    mixed = TraitFactory.create(species=animal.species, name="Marrowglass", shown="rules")
    for seen, day in (("no", 4), ("yes", 5), ("unsure", 6)):
        Observation.objects.create(
            animal=animal, trait=mixed, seen=seen, on=date(2026, 7, day), by=owner
        )
    assert claims(animal, owner) == [
        ("Marrowglass", [], "", "visual", "", "Seen on it, 5 July 2026.")
    ]


def test_harm_names_its_source_and_whom_it_concerns(animal: Animal, owner: Account) -> None:
    harm = {"harm": "Wobbles.", "harm_source": "a handbook"}
    ripple = line(animal, "Ripple", "RIP", shown="single", **harm)
    TraitFactory.create(
        species=animal.species, name="Great ripple", shown="every", base=ripple.trait, **harm
    )
    TraitFactory.create(species=animal.species, name="Ebb", **harm)
    Survival.objects.create(
        locus=ripple.locus, one=ripple, other=ripple, survival=0, source="a handbook"
    )
    stand(animal, ripple, owner, one=1, word="visual")
    assert [(row["trait"], row["applies"]) for row in draft(animal, by=owner)["harm"]] == [
        ("Great ripple", "It concerns young with two copies of Ripple."),
        ("Ripple", "This animal shows it."),
        ("Ripple RIP / Ripple RIP", "It concerns this animal's young."),
    ]


def test_cautions_are_those_of_the_species_and_the_general_ones(
    animal: Animal, owner: Account
) -> None:
    cautions = draft(animal, by=owner)["cautions"]
    assert cautions[0] == {"text": "Warm side 31 °C (own note).", "source": ""}
    words = " ".join(row["text"] + row["source"] for row in cautions[1:])
    assert all(word in words for word in ("Salmonella", "permits", "veterinarian"))
    assert not re.search("CITES|python", words)


def test_the_fingerprint_moves_with_what_is_said_alone(animal: Animal, owner: Account) -> None:
    saltgrass = line(animal, "Saltgrass")
    row = stand(animal, saltgrass, owner, one=0.5)
    first = fingerprint(draft(animal, by=owner))
    later = draft(animal, by=owner, on=date(2030, 1, 1), buyer=ContactFactory.create())
    assert fingerprint(later) == first
    row.animal.standings.update(one=0.4, none=0.6)
    assert fingerprint(draft(animal, by=owner)) != first


def test_a_draft_asks_the_same_number_of_queries_for_more(animal: Animal, owner: Account) -> None:
    def more(n: int) -> int:
        gene = line(animal, f"Trait {n}", harm="Wobbles.", harm_source="a handbook")
        for one in (animal, *parents(animal)):
            stand(one, gene, owner, one=0.5)
        Statement.objects.create(
            animal=animal, trait=gene.trait, claim="carries", source=ContactFactory.create()
        )
        clutch = ClutchFactory.create(dam=animal, laid_on=date(2029, 5, n + 1))
        row = HatchRow.objects.create(clutch=clutch, count=2)
        RowSighting.objects.create(row=row, trait=gene.trait, seen=True)
        fresh = Animal.objects.select_related(
            "species", "source", "clutch__dam", "dam", "sire"
        ).get(pk=animal.pk)
        with CaptureQueriesContext(connection) as asked:
            draft(fresh, by=owner)
        return len(asked)

    counts = [more(n) for n in range(3)]
    assert counts[0] == counts[2]


def test_a_bare_word_does_not_show_what_its_source_is_trusted_with(
    animal: Animal, owner: Account
) -> None:
    source = ContactFactory.create(name="Mara Fell", reliability="9/10")
    gene = line(animal, "Saltgrass")
    Statement.objects.create(animal=animal, trait=gene.trait, claim="carries", source=source)
    stand(animal, gene, owner, one=0.9, word="stated", customary=0.9)
    content = draft(animal, by=owner)
    row = content["claims"][0]
    assert row["words"] == "stated 100 % het by Mara Fell, not tested here"
    assert (row["beside"], row["strip"]) == ("", None)
    assert "90 %" not in json.dumps(content, ensure_ascii=False)


def test_what_young_moved_a_word_to_is_said(animal: Animal, owner: Account) -> None:
    gene = line(animal, "Saltgrass")
    source = ContactFactory.create(name="Mara Fell", reliability="9/10")
    Statement.objects.create(animal=animal, trait=gene.trait, claim="carries", source=source)
    stand(animal, gene, owner, one=0.5, word="stated", customary=0.9)
    row = draft(animal, by=owner)["claims"][0]
    assert row["words"] == "stated 100 % het by Mara Fell; 50 % by all that is known here"


def test_what_must_be_carried_names_the_young_that_settled_it(
    animal: Animal, owner: Account
) -> None:
    gene = line(animal, "Mizzle", shown="single")
    stand(animal, gene, owner, one=1, word="deduced", clean_young=3)
    clutch = ClutchFactory.create(code="24-04", dam=animal, laid_on=date(2024, 5, 1))
    row = HatchRow.objects.create(clutch=clutch, count=2)
    RowSighting.objects.create(row=row, trait=gene.trait, seen=True)
    claim = draft(animal, by=owner)["claims"][0]
    assert claim["words"] == "must carry it"
    assert claim["grounds"] == "Young of its own showed it: 2 in clutch 24-04."
