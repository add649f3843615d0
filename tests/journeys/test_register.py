"""The register from nothing: a species, traits of several kinds, lines in doubt, a contact."""

from playwright.sync_api import Page, expect

from keeper.models import Account, Line, OpenPair, Survival, Trait
from tests.factories import AnimalFactory, ContactFactory, LineFactory, TraitFactory
from tests.journeys.conftest import Axe, OpenAs, fits


def send(page: Page, button: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=button, exact=True).click()


def save(page: Page) -> None:
    send(page, "Save")


def test_an_empty_register_leads_to_a_first_trait_with_lines(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/register/")
    expect(page.get_by_role("heading", name="First, a species")).to_be_visible()
    axe()
    page.get_by_role("link", name="Add a species").first.click()
    page.get_by_label("Name", exact=True).fill("Royal python")
    page.get_by_label("What decides sex").select_option("XY")
    axe()
    save(page)
    expect(page.get_by_text("Added the species Royal python.")).to_be_visible()
    axe()

    page.get_by_role("link", name="Add a trait").click()
    expect(page.get_by_role("heading", name="What kind of trait is it?")).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_role("link", name="Recessive", exact=True).click()
    axe()
    save(page)
    expect(page.get_by_text("This field is required.").first).to_be_visible()
    axe()
    page.get_by_label("Name of the trait").fill("Saltgrass")
    page.get_by_label("Where it comes from").fill("two hatchlings of Harvesk, 2019")
    save(page)
    expect(page.get_by_role("heading", name="Saltgrass", exact=True)).to_be_visible()
    expect(page.get_by_text("line not named").first).to_be_visible()
    axe()

    page.get_by_role("link", name="Add a line").click()
    expect(page.get_by_role("heading", name="Add a second line of Saltgrass")).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_label("Its code").fill("har")
    page.get_by_label("Its name").fill("Harvesk")
    page.get_by_label("Code", exact=True).fill("pel")
    page.get_by_label("Name of the line").fill("Pelnaw")
    page.get_by_label("Where it sits").select_option("with Saltgrass")
    expect(page.get_by_label("Its own locus is")).to_be_hidden()
    save(page)
    expect(page.get_by_text("Added the line Saltgrass PEL.")).to_be_visible()
    axe()

    page.get_by_role("link", name="Saltgrass", exact=True).click()
    page.get_by_role("link", name="Add a line").click()
    axe()
    page.get_by_label("Code", exact=True).fill("que")
    page.get_by_label("Name of the line").fill("Quern")
    page.get_by_label("Where it sits").select_option("with Saltgrass HAR, Saltgrass PEL")
    page.get_by_label("Where it sits").select_option("own")
    save(page)
    assert Line.objects.get(code="QUE").locus != Line.objects.get(code="HAR").locus


def test_a_pair_in_doubt_is_weighed_decided_and_opened_again(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    har = LineFactory.create(code="HAR", name="Harvesk", trait__name="Saltgrass")
    que = LineFactory.create(
        code="QUE", name="Quern", trait=har.trait, locus__species=har.trait.species
    )
    open_as(owner, f"/register/lines/{que.pk}/")
    page.get_by_role("link", name="Where it sits").click()
    page.get_by_label("Where it sits").select_option("open")
    page.get_by_label("One gene with Saltgrass HAR").fill("0.3")
    save(page)
    expect(page.get_by_role("button", name="Save it with 0.3 %")).to_be_visible()
    axe()
    page.get_by_label("One gene with Saltgrass HAR").fill("30 %")
    save(page)
    expect(
        page.get_by_role("heading", name="One gene with HAR Harvesk, or another?")
    ).to_be_visible()
    axe()
    page.get_by_role("link", name="Change the starting chance").click()
    expect(page.get_by_label("How likely they are one gene")).to_have_value("30 %")
    axe()
    page.get_by_label("How likely they are one gene").fill("1/4")
    save(page)
    assert str(OpenPair.objects.get().prior) == "1/4"

    page.get_by_role("link", name="Decide").click()
    axe()
    page.get_by_label("one gene: they share a locus").check()
    page.get_by_label("What decided it").fill("four visuals from the two lines")
    send(page, "Decide")
    expect(
        page.get_by_text("Decided: Saltgrass HAR and Saltgrass QUE are one gene.")
    ).to_be_visible()
    send(page, "Undo")
    expect(
        page.get_by_role("heading", name="One gene with HAR Harvesk, or another?")
    ).to_be_visible()


def test_a_compound_by_combinations_a_double_form_and_a_lethal_genotype(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    one = LineFactory.create(
        code="CHA", name="Chalk", trait__name="Chalk", trait__shown="single", locus__name="chalk"
    )
    other = LineFactory.create(
        code="REE",
        name="Reedling",
        trait__species=one.trait.species,
        trait__name="Reed",
        trait__shown="single",
        locus=one.locus,
    )
    open_as(owner, f"/register/species/{one.trait.species_id}/traits/new/by-hand/")
    page.get_by_label("Name of the trait").fill("Marrowglass")
    page.get_by_label("by combinations that you list").check()
    page.get_by_text("What it hides").click()
    page.get_by_label("It hides every other trait").check()
    page.get_by_text("Harm and notes").click()
    page.locator("#id_harm").fill("Wobbles")
    save(page)
    expect(page.get_by_text("Name who says so: buyers will ask.").last).to_be_visible()
    axe()
    page.get_by_label("Source of that").fill("own notes of 2021")
    save(page)
    expect(page.get_by_text("Nothing shows it yet.")).to_be_visible()
    axe()
    page.get_by_role("link", name="Add a combination").click()
    axe()
    page.locator("#id_part0-lines").get_by_label(f"{one}").check()
    page.locator("#id_part1-lines").get_by_label(f"{other}").check()
    send(page, "One more part")
    expect(page.get_by_role("heading", name="Part 4")).to_be_visible()
    expect(page.locator("#id_part0-lines").get_by_label(f"{one}")).to_be_checked()
    save(page)
    expect(page.get_by_text("exactly one copy of Chalk CHA and exactly one copy")).to_be_visible()
    axe()

    page.goto(f"/register/species/{one.trait.species_id}/traits/new/by-hand/")
    page.get_by_label("Name of the trait").fill("Twice chalk")
    page.get_by_label("the double form of an incomplete dominant").check()
    expect(page.get_by_label("Name of the line")).to_be_hidden()
    page.locator("#id_base").select_option("Chalk")
    save(page)
    expect(page.get_by_text("Double form: two copies of Chalk show it.")).to_be_visible()
    assert Trait.objects.get(name="Twice chalk").base == one.trait
    axe()

    page.goto(f"/register/loci/{one.locus_id}/")
    axe()
    page.get_by_role("link", name="Record survival").click()
    page.get_by_label("One copy").select_option("Chalk CHA")
    page.get_by_label("The other copy").select_option("Chalk CHA")
    page.get_by_label("Survival to hatching").fill("0")
    axe()
    save(page)
    expect(page.get_by_role("row", name="Chalk CHA / Chalk CHA 0 %")).to_be_visible()
    assert Survival.objects.get().survival == 0
    axe()
    page.goto("/register/")
    axe()
    assert fits(page)


def test_a_contact_is_added_changed_and_withdrawn_only_when_unused(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    used = ContactFactory.create(name="Odile Brand")
    AnimalFactory.create(code="F-014", source=used, sex="female")
    open_as(owner, "/register/contacts/")
    axe()
    page.get_by_role("link", name="Add a contact").click()
    axe()
    page.get_by_label("Name", exact=True).fill("Ferrin Low")
    page.get_by_label("How far you take their word").fill("often")
    save(page)
    expect(
        page.get_by_text("“often” is no chance. Write it like 66 %, 0.66 or 2/3.").last
    ).to_be_visible()
    expect(page.get_by_label("How far you take their word")).to_have_value("often")
    axe()
    page.get_by_label("How far you take their word").fill("80 %")
    save(page)
    expect(page.get_by_role("definition").first).to_contain_text("80 %")
    axe()
    page.get_by_role("link", name="Withdraw it").click()
    axe()
    page.get_by_label("Why it is withdrawn").fill("entered twice")
    send(page, "Withdraw")
    expect(page.get_by_text("It does not count.")).to_be_visible()
    axe()
    send(page, "Restore")
    expect(page.get_by_text("Restored the contact Ferrin Low.")).to_be_visible()

    page.goto(f"/register/contacts/{used.pk}/")
    axe()
    page.get_by_role("link", name="Withdraw it").click()
    page.get_by_label("Why it is withdrawn").fill("a slip")
    send(page, "Withdraw")
    expect(page.get_by_text("the contact Odile Brand is in use: 1 animal (F-014).")).to_be_visible()
    expect(page.get_by_label("Why it is withdrawn")).to_have_value("a slip")
    axe()


def test_the_register_reads_well_with_everything_in_it(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    har = LineFactory.create(
        code="HAR",
        name="Harvesk",
        origin="two hatchlings, 2019",
        trait__name="Saltgrass",
        trait__species__name="Royal python",
    )
    species = har.trait.species
    LineFactory.create(code="PEL", name="Pelnaw", trait=har.trait, locus=har.locus)
    dun = LineFactory.create(code="DUN", name="Dunsk", trait=har.trait, locus__species=species)
    que = LineFactory.create(code="QUE", name="Quern", trait=har.trait, locus__species=species)
    OpenPair.objects.create(one=dun, other=que, prior="3/10")
    marrow = LineFactory.create(
        code="MK",
        name="Marl",
        trait__species=species,
        trait__name="Marrowglass",
        trait__shown="single",
        locus__chromosome="both",
        locus__recombination="1/20",
        trait__harm="Unsteady heads in most.",
        trait__harm_source="own notes",
    )
    TraitFactory.create(
        species=species, name="Twice marrow", shown="every", base=marrow.trait, hides_all=True
    )
    ContactFactory.create(name="Odile Brand")
    ContactFactory.create(name="Ferrin Low")
    open_as(owner, "/register/")
    axe()
    assert fits(page)
    page.goto(f"/register/traits/{har.trait_id}/")
    axe()
    assert fits(page)
