"""The register's pages: what they show and ask, what they keep on an error, how much they query."""

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django.asserts import assertRedirects

from keeper.domain.register.writes import keep_species
from keeper.models import (
    Account,
    Condition,
    Contact,
    DaybookEntry,
    Interval,
    Line,
    OpenPair,
    Showing,
    Species,
    Statement,
    Survival,
    Trait,
)
from tests.factories import (
    AnimalFactory,
    ContactFactory,
    LineFactory,
    LocusFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.keeper.sent import seen_in

TRAIT = {
    "name": "Saltgrass",
    "shown": "recessive",
    "penetrance": "100 %",
    "mistaken": "0 %",
    "line-code": "har",
    "line-name": "Harvesk",
    "place-place": "own",
    "place-chromosome": "autosome",
}


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_an_empty_register_says_what_to_do_first(owner_client: Client) -> None:
    page = text_of(owner_client, "/register/")
    assert "First, a species" in page
    assert "Add those from whom animals came" in page


def test_a_helper_may_write_in_the_register(helper_client: Client, helper: Account) -> None:
    Account.objects.filter(pk=helper.pk).update(sees_people=True)
    answer = helper_client.post(
        "/register/contacts/new/", {"name": "Odile Brand", "reliability": "90 %"}
    )
    contact = Contact.objects.get()
    entry = DaybookEntry.objects.get()
    assertRedirects(answer, f"/register/contacts/{contact.pk}/?moved={entry.pk}")
    assert (entry.by, str(contact.reliability)) == (helper, "9/10")


def test_a_species_is_added_with_its_figures(owner_client: Client) -> None:
    page = text_of(owner_client, "/register/species/new/")
    assert 'value="80 %"' in page  # the share of eggs that hatch, to start from
    answer = owner_client.post(
        "/register/species/new/",
        {
            "name": "Corn snake",
            "sex_determination": "ZW",
            "female_mature_months": "30",
            "male_mature_months": "20",
            "eggs_usual": "14",
            "hatch_rate": "3/4",
            "incubation_days": "62",
        },
    )
    species = Species.objects.get()
    assert answer.status_code == 302
    page = text_of(owner_client, answer.headers["Location"])
    assert "Added the species Corn snake." in page
    assert "14 eggs, of which 75 % hatch" in page
    assert (species.eggs_usual, str(species.hatch_rate)) == (14, "3/4")


def test_a_trait_and_its_first_line_are_one_form(owner_client: Client) -> None:
    species = SpeciesFactory.create()
    answer = owner_client.post(f"/register/species/{species.pk}/traits/new/by-hand/", TRAIT)
    trait = Trait.objects.get()
    assert answer.headers["Location"].startswith(f"/register/traits/{trait.pk}/?moved=")
    assert str(Line.objects.get()) == "Saltgrass HAR"


def test_nothing_typed_is_lost_where_the_book_refuses(owner_client: Client) -> None:
    taken = LineFactory.create(code="HAR", trait__name="Quillwort")
    sent = TRAIT | {"place-place": str(taken.locus_id), "line-origin": "Harvesk, 2019"}
    address = f"/register/species/{taken.trait.species_id}/traits/new/by-hand/"
    answer = owner_client.post(address, sent)
    page = " ".join(answer.content.decode().split())
    assert "Quillwort HAR has this code at the same locus already. Choose another." in page
    assert 'value="Harvesk, 2019"' in page
    assert 'value="Saltgrass"' in page
    assert Trait.objects.count() == 1


def test_a_name_in_use_is_refused_at_its_field(owner_client: Client) -> None:
    line = LineFactory.create(trait__name="Saltgrass")
    address = f"/register/species/{line.trait.species_id}/traits/new/by-hand/"
    page = owner_client.post(address, TRAIT).content.decode()
    assert "This name is in use already. Choose another." in page
    assert Trait.objects.count() == 1


def test_a_double_form_asks_for_no_line(owner_client: Client) -> None:
    base = LineFactory.create(trait__shown="single").trait
    sent = TRAIT | {"name": "Twice", "shown": "every", "base": str(base.pk), "line-code": ""}
    owner_client.post(f"/register/species/{base.species_id}/traits/new/by-hand/", sent)
    assert Trait.objects.get(name="Twice").base == base


@pytest.mark.parametrize(("code", "name", "lines"), [("", "", 0), ("mk", "Marl", 1)])
def test_a_trait_by_combinations_may_have_a_line_or_none(
    owner_client: Client, code: str, name: str, lines: int
) -> None:
    species = SpeciesFactory.create()
    sent = TRAIT | {"shown": "rules", "line-code": code, "line-name": name}
    owner_client.post(f"/register/species/{species.pk}/traits/new/by-hand/", sent)
    assert Trait.objects.get().lines.count() == lines


@pytest.mark.parametrize("decides", ["none", "TSD"])
def test_a_species_without_sex_chromosomes_is_not_asked_for_them(
    owner_client: Client, decides: str
) -> None:
    species = SpeciesFactory.create(sex_determination=decides)
    address = f"/register/species/{species.pk}/traits/new/by-hand/"
    assert "Crossovers" not in text_of(owner_client, address)
    without = {name: value for name, value in TRAIT.items() if name != "place-chromosome"}
    owner_client.post(address, without)
    assert Line.objects.get().locus.chromosome == "autosome"


def test_the_letters_of_the_sex_chromosomes_are_those_of_the_species(owner_client: Client) -> None:
    species = SpeciesFactory.create(sex_determination="ZW")
    page = text_of(owner_client, f"/register/species/{species.pk}/traits/new/by-hand/")
    assert "on the Z alone" in page
    assert "on Z and W, with crossovers between them" in page


@pytest.mark.parametrize(
    ("decides", "who", "other"), [("XY", "males", "females"), ("ZW", "females", "males")]
)
@pytest.mark.parametrize("where", ["traits/new/by-hand/", "traits/new/both-sexes/", "locus"])
def test_crossovers_are_one_rate_of_the_parent_with_two_different_chromosomes(
    owner_client: Client, decides: str, who: str, other: str, where: str
) -> None:
    species = SpeciesFactory.create(sex_determination=decides)
    locus = LocusFactory.create(species=species, chromosome="both", recombination="1/20")
    address = f"/register/species/{species.pk}/{where}"
    if where == "locus":
        address = reverse("register-locus-edit", args=[locus.pk])
    page = text_of(owner_client, address)
    assert f"Crossovers in {who}" in page
    assert f"{other} have two alike" in page
    shown = text_of(owner_client, reverse("register-locus", args=[locus.pk]))
    assert f"5 % crossovers in {who}" in shown


def test_sex_by_temperature_is_a_choice_that_the_form_explains(owner_client: Client) -> None:
    page = text_of(owner_client, reverse("register-species-new"))
    assert "by temperature: how warm the eggs lie decides, not chromosomes" in page
    assert "no figure of the book takes males and females to be even" in page


def test_species_of_loci_on_sex_chromosomes_cannot_be_sexed_by_temperature(owner: Account) -> None:
    species = SpeciesFactory.create()
    locus = LocusFactory.create(species=species, chromosome="one")
    species.sex_determination = "TSD"
    with pytest.raises(ValidationError) as fault:
        keep_species(species=species, by=owner)
    assert fault.value.messages == [
        (f"The locus {locus} sits on a sex chromosome here. Move it first.")
    ]


def test_crossovers_count_on_both_sex_chromosomes_only(owner_client: Client) -> None:
    species = SpeciesFactory.create()
    address = f"/register/species/{species.pk}/traits/new/by-hand/"
    sent = TRAIT | {"place-chromosome": "one", "place-recombination": "5 %"}
    owner_client.post(address, sent)
    assert Line.objects.get().locus.recombination == 0
    both = {"name": "Reed", "place-chromosome": "both", "place-recombination": "60 %"}
    page = owner_client.post(address, sent | both).content.decode()
    assert "Crossovers happen in at most 50 %. Lower it." in page
    owner_client.post(address, sent | both | {"place-recombination": "1/20"})
    assert str(Line.objects.get(trait__name="Reed").locus.recombination) == "1/20"


def test_saving_without_a_change_writes_nothing(owner_client: Client) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    address = f"/register/contacts/{contact.pk}/edit/"
    answer = owner_client.post(
        address, {"name": "Odile Brand", "reliability": "100 %", "reason": "for fun"}
    )
    assertRedirects(answer, f"/register/contacts/{contact.pk}/")
    assert DaybookEntry.objects.count() == 0


def test_a_change_shows_its_reason_in_the_history(owner_client: Client) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    owner_client.post(
        f"/register/contacts/{contact.pk}/edit/",
        {"name": "Odile Brand", "reliability": "80 %", "reason": "was wrong twice"},
    )
    page = text_of(owner_client, f"/register/contacts/{contact.pk}/")
    assert "was wrong twice" in page
    assert "Changed the contact Odile Brand" in DaybookEntry.objects.get().what


def test_the_history_of_a_trait_tells_what_it_hid(owner_client: Client) -> None:
    trait = LineFactory.create(trait__name="Marrowglass").trait
    hidden = TraitFactory.create(species=trait.species, name="Reed")
    sent = {
        "name": "Marrowglass",
        "shown": "recessive",
        "penetrance": "100 %",
        "mistaken": "0 %",
        "hides": [str(hidden.pk)],
        "reason": "seen so",
    }
    owner_client.post(f"/register/traits/{trait.pk}/edit/", sent)
    assert [*trait.hides.all()] == [hidden]
    page = text_of(owner_client, f"/register/traits/{trait.pk}/")
    assert "seen so" in page


def test_the_pages_of_what_is_withdrawn_say_so_and_offer_no_change(owner_client: Client) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    address = f"/register/contacts/{contact.pk}/"
    owner_client.post(f"{address}withdraw/", {"reason": "entered twice"})
    page = text_of(owner_client, address)
    assert "entered twice. It does not count." in page
    assert "Restore" in page
    assert f"{address}edit/" not in page
    assert owner_client.get(f"{address}edit/").status_code == 404
    assert "contact, " in text_of(owner_client, "/register/")
    owner_client.post(f"{address}restore/")
    assert not Contact.objects.get().is_withdrawn


def test_withdrawing_asks_why(owner_client: Client) -> None:
    contact = ContactFactory.create()
    page = owner_client.post(f"/register/contacts/{contact.pk}/withdraw/", {"reason": ""})
    assert "This field is required." in page.content.decode()
    assert not Contact.objects.get().is_withdrawn


def test_a_withdrawn_combination_stands_on_its_trait_and_comes_back(owner_client: Client) -> None:
    line = LineFactory.create(code="HAR", trait__name="Saltgrass", trait__shown="rules")
    address = f"/register/traits/{line.trait_id}/"
    sent = {"part0-dose": "any", "part0-lines": [str(line.pk)], "parts": "1"}
    owner_client.post(f"{address}combinations/new/", sent)
    showing = Showing.objects.get()
    edit = f"/register/combinations/{showing.pk}/edit/"
    owner_client.post(edit, sent | {"part0-dose": "every"})
    page = text_of(owner_client, address)
    assert "both copies of Saltgrass HAR" in page
    assert "one copy or two of Saltgrass HAR" not in page
    away = f"/register/combinations/{showing.pk}/withdraw/"
    owner_client.post(away, {"reason": "not so"})
    page = text_of(owner_client, address)
    assert "both copies of Saltgrass HAR <span" in page
    assert "one copy or two of Saltgrass HAR" not in page
    owner_client.post(f"/register/combinations/{showing.pk}/restore/")
    assert Showing.objects.live().get().conditions.live().get().dose == "every"


def test_a_page_tells_what_a_save_moved(owner_client: Client) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    line = LineFactory.create(code="HAR", trait__name="Saltgrass")
    animal = AnimalFactory.create(species=line.trait.species, code="F-014")
    Statement.objects.create(
        animal=animal, trait=line.trait, line=line, claim="carries", source=contact
    )
    address = f"/register/contacts/{contact.pk}/edit/"
    typed = {"name": "Odile Brand", "reliability": "50 %", "reason": ""}
    shown = owner_client.post(address, typed).content.decode()
    answer = owner_client.post(address, typed | {"seen": seen_in(shown)}, follow=True)
    page = " ".join(answer.content.decode().split())
    assert "Changed the contact Odile Brand." in page
    assert "1 figure moved:" in page
    assert "F-014</a> Saltgrass" in page
    assert f"/daybook/{DaybookEntry.objects.get().pk}/undo/" in page


def test_survival_links_loci_and_pairs_are_asked_for_and_kept(owner_client: Client) -> None:
    species = SpeciesFactory.create()
    har = LineFactory.create(code="HAR", trait__species=species)
    dun = LineFactory.create(code="DUN", trait=har.trait, locus__species=species)

    def send(address: str, sent: dict[str, str]) -> None:
        assert owner_client.get(address).status_code == 200
        answer = owner_client.post(address, sent)
        assert answer.status_code == 302, answer.content.decode()

    send(
        f"/register/lines/{dun.pk}/place/",
        {"place": "open", "chromosome": "autosome", f"pair-{har.pk}": "30 %"},
    )
    pair = OpenPair.objects.get()
    send(f"/register/pairs/{pair.pk}/weigh/", {"prior": "1/3"})
    send(f"/register/pairs/{pair.pk}/", {"answer": "two", "reason": "normal young"})
    assert OpenPair.objects.get().is_withdrawn
    send(
        f"/register/loci/{har.locus_id}/survivals/new/",
        {"one": str(har.pk), "other": str(har.pk), "survival": "1/2"},
    )
    survival = Survival.objects.get()
    send(
        f"/register/survivals/{survival.pk}/edit/",
        {"one": str(har.pk), "other": str(har.pk), "survival": "40 %"},
    )
    assert str(Survival.objects.get().survival) == "2/5"
    send(
        f"/register/species/{species.pk}/links/new/",
        {"left": str(har.locus_id), "right": str(dun.locus_id), "female": "10 %", "male": "12 %"},
    )
    interval = Interval.objects.get()
    send(f"/register/links/{interval.pk}/edit/", {"female": "11 %", "male": "12 %"})
    assert str(Interval.objects.get().female) == "11/100"
    send(f"/register/links/{interval.pk}/withdraw/", {"reason": "a slip"})
    send(
        f"/register/loci/{har.locus_id}/edit/",
        {"name": "salt", "chromosome": "both", "recombination": "5 %"},
    )
    har.locus.refresh_from_db()
    assert (har.locus.name, str(har.locus.recombination)) == ("salt", "1/20")
    send(
        f"/register/lines/{har.pk}/edit/", {"code": "har", "name": "Harvesk", "background": "0.1 %"}
    )
    assert str(Line.objects.get(code="HAR").background) == "1/1000"
    assert Line.objects.get(code="HAR").name == "Harvesk"


def test_restoring_what_has_no_place_any_more_is_refused_in_words(owner_client: Client) -> None:
    line = LineFactory.create(trait__name="Saltgrass", trait__species__name="Corn snake")
    owner_client.post(f"/register/traits/{line.trait_id}/withdraw/", {"reason": "a slip"})
    answer = owner_client.post(f"/register/lines/{line.pk}/restore/", follow=True)
    assert "First restore the trait Saltgrass, which is withdrawn." in answer.content.decode()


@pytest.mark.parametrize("kind", ["nothing", "loci"])
def test_other_kinds_of_records_are_not_withdrawn_here(owner_client: Client, kind: str) -> None:
    assert owner_client.get(f"/register/{kind}/1/withdraw/").status_code == 404


def test_contacts_are_found_by_a_part_of_the_name(owner_client: Client) -> None:
    ContactFactory.create(name="Odile Brand")
    ContactFactory.create(name="Ferrin Low")
    page = text_of(owner_client, "/register/contacts/?q=low")
    assert "Ferrin Low" in page
    assert "Odile Brand" not in page
    assert "No contact has “xyz” in the name." in text_of(owner_client, "/register/contacts/?q=xyz")


def a_species_with(traits: int, species: Species) -> Trait:
    for number in range(traits):
        line = LineFactory.create(trait__species=species, trait__shown="rules")
        LineFactory.create(trait=line.trait, locus=line.locus)
        alone = LineFactory.create(trait=line.trait, locus__species=species)
        other = LineFactory.create(trait=line.trait, locus__species=species)
        OpenPair.objects.create(one=alone, other=other)
        hidden = TraitFactory.create(species=species)
        line.trait.hides.add(hidden)
        Condition.objects.create(
            showing=Showing.objects.create(trait=line.trait), dose="any"
        ).lines.add(line)
        Survival.objects.create(locus=line.locus, one=line, other=line, survival="0")
        left, right = LocusFactory.create_batch(2, species=species)
        Interval.objects.create(left=left, right=right, female="1/10", male="1/10")
        contact = ContactFactory.create(name=f"contact {number:03}")
        animal = AnimalFactory.create(species=species, source=contact)
        Statement.objects.create(
            animal=animal, trait=line.trait, line=line, claim="carries", source=contact
        )
    made: Trait = Trait.objects.filter(shown="rules").latest("pk")
    return made


@pytest.mark.parametrize("address", ["/register/", "/register/contacts/", "species"])
def test_lists_ask_the_database_as_often_for_three_as_for_one(
    owner_client: Client, address: str
) -> None:
    species = SpeciesFactory.create()
    if address == "species":
        address = reverse("register-species", args=[species.pk])
    counts: list[int] = []
    for _ in range(2):
        a_species_with(1 if not counts else 2, species)
        owner_client.get(address)
        with CaptureQueriesContext(connection) as asked:
            owner_client.get(address)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_page_of_a_trait_asks_as_often_for_many_lines(owner_client: Client) -> None:
    trait = a_species_with(1, SpeciesFactory.create())
    counts: list[int] = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            owner_client.get(f"/register/traits/{trait.pk}/")
        counts.append(len(asked))
        for _ in range(2):
            line = LineFactory.create(trait=trait, locus__species=trait.species)
            Condition.objects.create(
                showing=Showing.objects.create(trait=trait), dose="any"
            ).lines.add(line)
            OpenPair.objects.create(one=trait.lines.order_by("pk")[2], other=line)
            trait.hides.add(TraitFactory.create(species=trait.species))
    assert counts[0] == counts[1]


def test_the_page_of_a_contact_asks_as_often_for_many_animals(owner_client: Client) -> None:
    trait = a_species_with(1, SpeciesFactory.create())
    contact = Contact.objects.get()
    counts: list[int] = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            owner_client.get(f"/register/contacts/{contact.pk}/")
        counts.append(len(asked))
        for _ in range(2):
            animal = AnimalFactory.create(species=trait.species, source=contact)
            Statement.objects.create(animal=animal, trait=trait, claim="carries", source=contact)
    assert counts[0] == counts[1]


@pytest.mark.parametrize("page", ["lines/{line}", "loci/{locus}"])
def test_lines_and_loci_ask_as_often_for_many(owner_client: Client, page: str) -> None:
    species = SpeciesFactory.create()
    trait = a_species_with(1, species)
    line = trait.lines.order_by("pk")[0]
    address = f"/register/{page.format(line=line.pk, locus=line.locus_id)}/"
    counts: list[int] = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            assert owner_client.get(address).status_code == 200
        counts.append(len(asked))
        for _ in range(2):
            other = LineFactory.create(trait=trait, locus=line.locus)
            Survival.objects.create(locus=line.locus, one=line, other=other, survival="1/2")
            LineFactory.create(trait=trait, locus__species=species)
    assert counts[0] == counts[1]


def test_a_locus_says_what_young_of_a_dam_alone_keep(owner_client: Client) -> None:
    locus = LocusFactory.create(retained="30 %")
    address = reverse("register-locus", args=[locus.pk])
    assert "30 % of them keep both of her copies here" in owner_client.get(address).content.decode()
    other = reverse("register-locus", args=[LocusFactory.create().pk])
    assert "Young of a dam alone" not in owner_client.get(other).content.decode()
