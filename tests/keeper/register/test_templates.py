"""Every template, from its page to what is bred from it, against textbook ratios.

Beside each ratio stands whose it is: derived from the rules, or quoted from memory.
"""

from datetime import date
from typing import Any

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from tests.factories import LineFactory, SpeciesFactory, TraitFactory

LINE = {"line-code": "har", "line-name": "Harvesk", "line-origin": "Harvesk, 2019"}
HARM = {"harm": "The young cannot right themselves.", "harm_source": "own notes"}


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create(name="Royal python")


def address(species: m.Species, kind: str) -> str:
    return f"/register/species/{species.pk}/traits/new/{kind}/"


def added(client: Client, species: m.Species, kind: str, **sent: Any) -> m.Line:
    """Send a template's page and return the line that it made."""
    where = address(species, kind)
    assert client.get(where).status_code == 200
    answer = client.post(where, {"name": "Saltgrass"} | LINE | sent)
    assert answer.status_code == 302, answer.content.decode()
    assert m.DaybookEntry.objects.count() == 1
    line: m.Line = m.Line.objects.get(name=sent.get("line-name", "Harvesk"))
    assert answer.headers["Location"].startswith(f"/register/traits/{line.trait_id}/?moved=")
    return line


def animal(by: m.Account, code: str, sex: str, *said: tuple[str, m.Line], **more: Any) -> m.Animal:
    """An animal of which something is said; each pair is a claim and the line that it is about."""
    species = said[0][1].trait.species if said else more.pop("species")
    with writing(by=by, what=f"Added {code}") as book:
        one = book.keep(m.Animal(species=species, code=code, sex=sex, **more))
        for claim, line in said:
            book.keep(m.Statement(animal=one, trait=line.trait, line=line, claim=claim))
    return one


def looks(dam: m.Animal, sire: m.Animal) -> dict[tuple[str, ...], float]:
    """What the two give: names of the traits seen together → chance."""
    names = dict(m.Trait.objects.values_list("pk", "name"))
    given = inference.pairing(dam, sire)
    return {tuple(names[pk] for pk in look.traits): round(look.chance, 12) for look in given.looks}


def carriers(by: m.Account, *lines: m.Line) -> tuple[m.Animal, m.Animal]:
    said = [("carries", line) for line in lines]
    return animal(by, "F1", "female", *said), animal(by, "M1", "male", *said)


def test_recessive_gives_three_to_one(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Mendel 1866, 3 : 1; derived from segregation.
    line = added(owner_client, species, "recessive", **{"line-notes": "of Harvesk's first clutch"})
    assert (line.trait.shown, line.origin, line.notes) == (
        "recessive",
        "Harvesk, 2019",
        "of Harvesk's first clutch",
    )
    assert looks(*carriers(owner, line)) == {(): 0.75, ("Saltgrass",): 0.25}


def test_double_form_gives_one_to_two_to_one(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Mendel 1866, 1 : 2 : 1; derived from segregation.
    line = added(owner_client, species, "double-form", double="Saltwhite")
    double = m.Trait.objects.get(name="Saltwhite")
    assert (double.shown, double.base) == ("every", line.trait)
    assert looks(*carriers(owner, line)) == {
        (): 0.25,
        ("Saltgrass",): 0.5,
        ("Saltwhite",): 0.25,
    }


def test_double_form_asks_at_once_what_it_hides(owner_client: Client, species: m.Species) -> None:
    other = TraitFactory.create(species=species, name="Quillwort")
    line = added(owner_client, species, "double-form", double="Saltwhite", hides=[other.pk])
    double = m.Trait.objects.get(name="Saltwhite")
    assert list(double.hides.all()) == [other] and not line.trait.hides.exists()


def test_a_white_double_form_hides_all_and_one_copy_nothing(
    owner_client: Client, species: m.Species
) -> None:
    line = added(owner_client, species, "double-form", double="Saltwhite", hides_all="on")
    assert m.Trait.objects.get(name="Saltwhite").hides_all and not line.trait.hides_all


def test_dominant_gives_one_to_three(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Mendel 1866, 3 : 1 the other way round; derived from segregation.
    line = added(owner_client, species, "dominant")
    assert looks(*carriers(owner, line)) == {(): 0.25, ("Saltgrass",): 0.75}


def test_lethal_when_doubled_gives_two_to_one_and_loses_a_quarter(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Cuénot 1905, yellow mice: two yellow to one other among those born; quoted from memory.
    line = added(
        owner_client, species, "harmful", one_copy="double", double="", two_hatch="0 %", **HARM
    )
    double = m.Trait.objects.get(base=line.trait)
    assert (double.name, double.harm, line.trait.harm) == ("Double Saltgrass", HARM["harm"], "")
    pair = carriers(owner, line)
    assert looks(*pair) == {
        (): pytest.approx(1 / 3),
        ("Saltgrass",): pytest.approx(2 / 3),
    }
    assert inference.pairing(*pair).lost == pytest.approx(1 / 4)


def test_harmful_when_doubled_hatches_and_is_told(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # A quarter of two carriers' young; derived from segregation.
    line = added(
        owner_client, species, "harmful", one_copy="hidden", double="", two_hatch="100 %", **HARM
    )
    assert (line.trait.shown, line.trait.harm_source) == ("recessive", "own notes")
    assert m.Survival.objects.count() == 0
    assert inference.pairing(*carriers(owner, line)).harmful == {line.trait_id: 0.25}


def test_on_the_x_alone_a_carrier_gives_half_of_her_sons(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Morgan 1910, white-eyed flies: of a carrier and a normal male half of the sons show it;
    # quoted from memory.
    line = added(owner_client, species, "one-sex", one_copy="hidden")
    assert line.locus.chromosome == "one"
    dam, sire = animal(owner, "F1", "female", ("carries", line)), animal(
        owner, "M1", "male", species=species
    )  # fmt: skip
    assert looks(dam, sire) == {(): 0.75, ("Saltgrass",): 0.25}
    assert shown_in(line, "male", dam, sire) == pytest.approx(1 / 4)
    assert shown_in(line, "female", dam, sire) == 0


def shown_in(line: m.Line, sex: str, dam: m.Animal, sire: m.Animal) -> float:
    """Chance that a hatchling is of that sex and shows the trait of a line."""
    project = m.Project.objects.create(species=line.trait.species, name=f"{line} {sex}", sex=sex)
    m.GoalPart.objects.create(project=project, trait=line.trait, need=m.Need.SHOWS)
    return inference.pair_goal(project, dam, sire).each


def test_on_both_sex_chromosomes_it_crosses_over_at_the_rate_given(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Pseudoautosomal: the sire has it on the X of his mother. Daughters get his X, with it but for
    # crossovers; sons his Y, with it only after one. Derived from that.
    line = added(
        owner_client, species, "both-sexes", one_copy="same", double="", recombination="4 %"
    )
    mother = animal(owner, "F1", "female", ("double", line))
    plain = animal(owner, "M1", "male", species=species)
    sire = animal(owner, "M2", "male", species=species, dam=mother, sire=plain)
    normal = animal(owner, "F2", "female", species=species)
    assert shown_in(line, "female", normal, sire) == pytest.approx(0.96 / 2)
    assert shown_in(line, "male", normal, sire) == pytest.approx(0.04 / 2)


def test_a_linked_gene_comes_apart_at_the_rate_given(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Testcross of a double carrier in coupling: (1 − r) / 2, r / 2, r / 2, (1 − r) / 2.
    # Derived; the history (Bateson, Saunders and Punnett 1905; Morgan 1911) quoted from memory.
    other = LineFactory.create(
        trait__species=species, trait__name="Quillwort", code="PEL", locus__name="quill"
    )
    sent = {"one_copy": "hidden", "double": "", "female": "10 %", "male": "20 %"}
    line = added(owner_client, species, "linked", beside=str(other.locus_id), **sent)
    interval = m.Interval.objects.get()
    assert (interval.left, interval.right) == (other.locus, line.locus)
    both = animal(owner, "F1", "female", ("visual", line), ("visual", other))
    plain = animal(owner, "M1", "male", species=species)
    tester = animal(owner, "M2", "male", ("visual", line), ("visual", other))
    dam = animal(owner, "F2", "female", species=species, dam=both, sire=plain)
    assert looks(dam, tester) == {
        (): 0.45,
        ("Quillwort", "Saltgrass"): 0.45,
        ("Quillwort",): 0.05,
        ("Saltgrass",): 0.05,
    }
    assert m.Interval.objects.get().male == m.read_chance("20 %")


def test_incomplete_penetrance_leaves_a_normal_hatchling_its_two_copies(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Derived by Bayes' theorem: of the young of two carriers 1/4 have two copies, and 3 in 10 of
    # these look normal:
    # (1/4 · 3/10) / (3/4 + 1/4 · 3/10) = 1/11 of the normal ones.
    line = added(
        owner_client, species, "not-always", one_copy="hidden", penetrance="70 %", mistaken=""
    )
    dam, sire = carriers(owner, line)
    young = animal(owner, "K1", "unknown", species=species, dam=dam, sire=sire)
    with writing(by=owner, what="Looked") as book:
        look = {"seen": m.Seen.NO, "on": date(2026, 6, 1), "by": owner}
        book.keep(m.Observation(animal=young, trait=line.trait, **look))
    standing = m.Standing.objects.get(animal=young, trait=line.trait, line=None)
    assert standing.two == pytest.approx(1 / 11)


def test_a_recessive_that_hides_another_gives_nine_to_three_to_four(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Recessive epistasis, 9 : 3 : 4; derived from segregation and independent assortment. Bateson
    # 1909 quotes it of mice: from memory.
    other = LineFactory.create(trait__species=species, trait__name="Quillwort", code="PEL")
    sent = {"one_copy": "hidden", "double": "", "hides": [str(other.trait_id)]}
    line = added(owner_client, species, "hiding", **sent)
    assert looks(*carriers(owner, line, other)) == {
        (): 9 / 16,
        ("Quillwort",): 3 / 16,
        ("Saltgrass",): 4 / 16,
    }


def test_a_double_form_alone_hides_what_one_copy_does_not(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    sent = {"one_copy": "double", "double": "Saltwhite", "hides_all": "on", "who_hides": "two"}
    line = added(owner_client, species, "hiding", **sent)
    assert not line.trait.hides_all
    assert m.Trait.objects.get(name="Saltwhite").hides_all


def test_one_undo_takes_back_everything_that_a_template_made(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    added(owner_client, species, "harmful", one_copy="double", double="", two_hatch="0 %", **HARM)
    undo(entry=m.DaybookEntry.objects.get(), by=owner)
    made = (m.Trait, m.Line, m.Locus, m.Survival)
    assert [model.objects.live().count() for model in made] == [0, 0, 0, 0]


def page_after(client: Client, species: m.Species, kind: str, **sent: Any) -> str:
    answer = client.post(address(species, kind), {"name": "Saltgrass"} | LINE | sent)
    assert answer.status_code == 200
    assert m.DaybookEntry.objects.count() == 0
    return " ".join(answer.content.decode().split())


def test_what_a_kind_needs_is_asked_for(owner_client: Client, species: m.Species) -> None:
    page = page_after(owner_client, species, "one-sex", one_copy="double", double="")
    assert "Say what animals with two copies are called." in page
    assert 'value="Harvesk, 2019"' in page
    page = page_after(owner_client, species, "hiding", one_copy="hidden")
    assert "Say which traits cannot be seen, or all." in page
    page = page_after(owner_client, species, "recessive", harm="Wobbles")
    assert "Name who says so: buyers will ask." in page
    page = page_after(owner_client, species, "both-sexes", one_copy="same", recombination="60 %")
    assert "Crossovers happen in at most 50 %. Lower it." in page


def test_the_name_of_the_double_form_is_refused_at_its_own_field(
    owner_client: Client, species: m.Species
) -> None:
    TraitFactory.create(species=species, name="Saltwhite")
    for name in ("saltWhite", "Saltgrass"):
        page = page_after(owner_client, species, "double-form", double=name)
        error = page.index("This name is in use already. Choose another.")
        assert page.index("Two copies are called") < error < page.index("Its first line")


def test_a_row_of_loci_goes_on_at_its_end_and_no_locus_has_three_neighbours(
    owner_client: Client, species: m.Species
) -> None:
    one = LineFactory.create(trait__species=species, code="PEL", locus__name="quill")
    sent = {"beside": str(one.locus_id), "one_copy": "same", "female": "10 %", "male": "10 %"}
    where = address(species, "linked")
    for number, name in enumerate(("Reed", "Marrow")):
        line = {"name": name, "line-name": name, "line-code": "XY"[number] * 2}
        assert owner_client.post(where, LINE | sent | line).status_code == 302
    assert [str(each) for each in m.Interval.objects.order_by("pk")] == [
        "quill – Reed XX",
        "Marrow YY – quill",
    ]
    answer = owner_client.post(where, LINE | sent | {"name": "Saltgrass"})
    assert "quill has neighbours on both sides already." in answer.content.decode()


def test_kinds_are_listed_in_the_words_of_the_species(owner_client: Client) -> None:
    species = SpeciesFactory.create(sex_determination="ZW")
    where = f"/register/species/{species.pk}/traits/new/"
    page = owner_client.get(where).content.decode()
    assert "On the Z" in page
    assert "Add the other gene first." in page
    assert address(species, "linked") not in page
    assert f"{where}by-hand/" in page
    form = owner_client.get(address(species, "one-sex")).content.decode()
    assert "A female has only one Z: its one copy shows what two do." in form


@pytest.mark.parametrize("kind", ["one-sex", "both-sexes"])
def test_a_species_without_sex_chromosomes_has_no_template_for_them(
    owner_client: Client, kind: str
) -> None:
    species = SpeciesFactory.create(sex_determination="none", name="Leopard gecko")
    where = f"/register/species/{species.pk}/traits/new/"
    page = owner_client.get(where).content.decode()
    assert "Leopard gecko has no sex chromosomes in this book." in page
    answer = owner_client.get(address(species, kind))
    assert (answer.status_code, answer.headers["Location"]) == (302, where)


def test_no_other_kind_has_a_template(owner_client: Client, species: m.Species) -> None:
    assert owner_client.get(address(species, "lucky")).status_code == 404
