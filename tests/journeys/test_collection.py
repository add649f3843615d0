"""Finding animals: filters in the address, sorting, views with a name; today's page; accounts."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from keeper.models import Account, Animal, DaybookEntry, Line, Member, Project, Species, Word
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.journeys.conftest import Axe, OpenAs, fits, settled
from tests.keeper.collection.rows import dispute, standing


@pytest.fixture
def book(owner: Account) -> Line:
    """Sixty animals; some carry Saltgrass HAR, one with a disputed figure."""
    species = SpeciesFactory.create(name="Royal python")
    saltgrass = TraitFactory.create(species=species, name="Saltgrass")
    quillwort = TraitFactory.create(species=species, name="Quillwort")
    marrow = TraitFactory.create(species=species, name="Marrowglass", shown="single")
    harvesk = LineFactory.create(trait=saltgrass, code="HAR", name="Harvesk")
    pelnaw = LineFactory.create(trait=saltgrass, code="PEL", name="Pelnaw")
    dunsk = LineFactory.create(trait=quillwort, code="DUN", name="Dunsk")
    ridge = LineFactory.create(trait=marrow, code="RID", name="Ridge")
    dam = AnimalFactory.create(
        species=species, code="F-001", name="Old Sedge", sex="female", hatched_year=2019
    )
    sire = AnimalFactory.create(species=species, code="M-001", sex="male", hatched_year=2020)
    for gene in (harvesk, saltgrass):
        standing(dam, gene, 1.0, Word.VISUAL, two=1.0)
        standing(sire, gene, 1.0, Word.PROVEN)
    for gene in (ridge, marrow):
        standing(sire, gene, 1.0, Word.VISUAL)
    for gene in (dunsk, quillwort):
        standing(dam, gene, 0.04, Word.CLEAN, clean_young=9, customary=0.5)
    clutch = ClutchFactory.create(
        dam=dam,
        code="26-07",
        eggs=7,
        laid_on=timezone.localdate() - timedelta(days=61),
    )
    clutch.candidates.create(sire=sire)
    for number in range(58):
        _young(species, clutch, number, harvesk, pelnaw, dunsk)
    held = Animal.objects.get(code="26-07-04")
    project = Project.objects.create(species=species, name="Saltgrass Quillwort")
    Member.objects.create(
        project=project,
        animal=held,
        reason="the darkest of its clutch",
        since=timezone.localdate(),
        review_on=timezone.localdate() - timedelta(days=3),
    )
    ClutchFactory.create(dam=dam, code="26-03", eggs=6, slugs=1, hatched_on=timezone.localdate())
    for what in ("Saw Quillwort on 26-07-02", "Logged the hatch of 26-03", "Changed the sire"):
        DaybookEntry.objects.create(by=owner, what=what)
    return harvesk


def _young(
    species: Species, clutch: object, number: int, harvesk: Line, pelnaw: Line, dunsk: Line
) -> None:
    animal = AnimalFactory.create(
        species=species,
        code=f"26-07-{number + 1:02}",
        clutch=clutch,
        sex=("male", "female", "unknown")[number % 3],
        hatched_year=2026,
        place=f"R{number % 4 + 1}-{number:02}",
        status=("kept", "offered")[number % 5 == 0],
    )
    chance = (1.0, 2 / 3, 0.5)[number % 3]
    word = Word.PARENTAGE if chance == 1 else Word.POSSIBLE
    standing(animal, harvesk, chance, word)
    standing(animal, harvesk.trait, chance, word)
    if number % 4 == 0:
        standing(animal, dunsk, 0.25, customary=0.5)
        standing(animal, dunsk.trait, 0.25, customary=0.5)
    if number == 7:
        doubt = dispute(animal, "Quillwort seen on 26-07-08; F-001 and M-001 do not carry it")
        standing(animal, dunsk.trait, 0.5, dispute=doubt)
    if number == 10:
        standing(animal, pelnaw, 0.25)


def count(page: Page) -> Locator:
    return page.locator(".found-count")


def test_carriers_are_found_sorted_and_kept_as_a_view(
    page: Page, open_as: OpenAs, owner: Account, book: Line, axe: Axe, screen: str
) -> None:
    open_as(owner, "/animals/")
    expect(count(page)).to_have_text("21.20.19 here")
    axe()
    if screen == "phone":
        page.get_by_text("Filters", exact=True).click()
    page.get_by_label("Trait or line").first.select_option(label="Saltgrass HAR")
    page.get_by_label("At least, %").first.fill("60")
    page.get_by_label("At least, %").first.press("Tab")  # leaving the field asks for the list
    page.locator("#by_sex").select_option(label="1.0 males")
    expect(page).to_have_url(re.compile(rf"\?sex=male&gene={book.trait.pk}-{book.pk}&least=60$"))
    expect(count(page)).to_have_text("21.0.0 males · here · carries Saltgrass HAR, at least 60 %")
    axe()

    settled(page)  # the table may still be on its way
    page.get_by_text("Name this view").click()
    page.get_by_label("Name for this view").fill("Males for spring")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("link", name="Males for spring")).to_have_attribute(
        "aria-current", "true"
    )
    axe()
    page.get_by_role("link", name="Change these").click()
    expect(page.get_by_role("heading", name="Saved views")).to_be_visible()
    axe()
    page.get_by_role("button", name="Remove Males for spring").click()
    expect(page.get_by_text("No views yet")).to_be_visible()
    axe()


def test_the_list_sorts_turns_pages_and_goes_back(
    page: Page, open_as: OpenAs, owner: Account, book: Line, screen: str
) -> None:
    open_as(owner, "/animals/")
    rows = page.locator("tbody tr")
    expect(rows.first).to_contain_text("26-07-01")
    if screen == "desk":
        page.get_by_role("link", name="Code").click()
        expect(page).to_have_url(re.compile(r"\?sort=-code$"))
        expect(rows.first).to_contain_text("M-001")
        # A filter that comes later keeps the order.
        page.locator("#by_sex").select_option(label="0.1 females")
        expect(page).to_have_url(re.compile(r"\?sex=female&sort=-code$"))
        expect(rows.first).to_contain_text("F-001")
        page.go_back()
        expect(rows.first).to_contain_text("M-001")
    else:
        page.get_by_label("Order").select_option(label="Code, Z to A")
        expect(page).to_have_url(re.compile(r"\?sort=-code$"))
        expect(rows.first).to_contain_text("M-001")
    page.get_by_role("link", name="Next").click()
    expect(page.get_by_text("35 to 60 of 60")).to_be_visible()
    assert fits(page)


def test_a_slash_searches_from_anywhere(
    page: Page, open_as: OpenAs, owner: Account, book: Line, screen: str
) -> None:
    open_as(owner, "/")
    page.keyboard.press("/")
    page.keyboard.type("26-07-0")
    page.keyboard.press("Enter")
    expect(page.locator(".search-found").get_by_role("link", name="26-07-01")).to_be_visible()
    page.goto("/animals/")
    page.wait_for_load_state()  # and with it the script that listens
    page.keyboard.press("/")
    field = page.locator("#by_q")
    expect(field).to_be_focused()
    field.fill("old sedge")
    expect(page.locator("tbody tr")).to_have_count(1)
    expect(page).to_have_url(re.compile(r"\?q=old\+sedge$"))


def test_the_list_works_without_scripts(
    page: Page, open_as: OpenAs, owner: Account, book: Line
) -> None:
    page.route("**/*.js", lambda route: route.fulfill(body="", content_type="text/javascript"))
    open_as(owner, "/animals/?sex=female")
    page.get_by_label("Code or name").last.fill("F-001")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("tbody tr")).to_have_count(1)


def test_on_paper_all_is_told(
    page: Page, open_as: OpenAs, owner: Account, book: Line, axe: Axe
) -> None:
    open_as(owner, "/animals/paper/?sex=female")
    expect(page.get_by_role("heading", name="Animals 0.20.0")).to_be_visible()
    axe()
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.get_by_text("Saltgrass HAR: visual; Quillwort DUN: tested clean")).to_be_visible()


def test_today_shows_what_needs_somebody(
    page: Page, open_as: OpenAs, owner: Account, book: Line, axe: Axe
) -> None:
    open_as(owner, "/")
    for heading in (
        "Records that contradict each other",
        "Going to hatch",
        "Holdbacks to look at again",
    ):
        expect(page.get_by_role("heading", name=heading)).to_be_visible()
    expect(page.get_by_text("5 eggs not accounted for")).to_be_visible()
    assert fits(page)
    axe()


def test_an_empty_book_says_what_to_do_first(
    page: Page, open_as: OpenAs, owner: Account, axe: Axe
) -> None:
    open_as(owner, "/")
    expect(page.get_by_role("link", name="Set up a species")).to_be_visible()
    axe()
    page.goto("/animals/")
    expect(page.get_by_role("heading", name="No animals yet")).to_be_visible()
    axe()


def test_the_owner_gives_a_helper_an_account(
    page: Page, open_as: OpenAs, owner: Account, axe: Axe
) -> None:
    open_as(owner, "/")
    page.get_by_role("link", name="Accounts").click()
    page.get_by_text("Make a helper’s account yourself").click()
    page.get_by_role("textbox", name="Name").fill("Eda")
    page.get_by_label("First password").fill("short")
    page.get_by_role("button", name="Make the account").click()
    expect(page.get_by_text("too short").last).to_be_visible()
    expect(page.get_by_role("textbox", name="Name")).to_have_value("Eda")
    axe()
    page.get_by_label("First password").fill("three dry stones")
    page.get_by_role("button", name="Make the account").click()
    expect(page.get_by_text("Eda can log in")).to_be_visible()
    page.get_by_role("button", name="Switch off Eda").click()
    expect(page.get_by_text("switched off")).to_be_visible()
    axe()
    page.get_by_role("link", name="New password for Eda").click()
    expect(page.get_by_role("heading", name="New password for Eda")).to_be_visible()
    axe()
