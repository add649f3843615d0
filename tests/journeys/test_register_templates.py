"""Templates for traits, and a change that moves numbers shown before it is kept."""

from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.models import Account
from tests.factories import ContactFactory, SpeciesFactory
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.journeys.test_register import save, send
from tests.keeper.books import Book


def test_a_sex_linked_trait_asks_for_a_double_form_only_where_there_is_one(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    species = SpeciesFactory.create(name="Royal python")
    open_as(owner, f"/register/species/{species.pk}/traits/new/")
    page.get_by_role("link", name="On the X").click()
    expect(page.get_by_label("Two copies are called")).to_be_hidden()
    page.get_by_label("two copies are another look").check()
    expect(page.get_by_label("Two copies are called")).to_be_visible()
    page.get_by_label("Name of the trait").fill("Gale")
    page.get_by_label("Code", exact=True).fill("dun")
    page.get_by_label("Name of the line").fill("Dunsk")
    save(page)
    expect(page.get_by_text("Say what animals with two copies are called.").last).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_label("Two copies are called").fill("Full gale")
    save(page)
    expect(page.get_by_text("Added the trait Gale and its double form Full gale.")).to_be_visible()
    assert m.Line.objects.get().locus.chromosome == "one"


def test_a_complex_is_named_line_by_line_and_combination_by_combination(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    species = SpeciesFactory.create(name="Royal python")
    open_as(owner, f"/register/species/{species.pk}/traits/new/")
    page.get_by_role("link", name="Several lines of one gene").click()
    axe()
    page.get_by_label("What you call the complex").fill("Estuary")
    for row, (code, name) in enumerate((("cha", "Chalk"), ("ree", "Reedling"))):
        page.locator(f"#id_line{row}-code").fill(code)
        page.locator(f"#id_line{row}-name").fill(name)
    assert fits(page)
    send(page, "Next: name what they show")
    for label, name in (
        ("CHA with normal", "Chalk"),
        ("REE with normal", "Reed"),
        ("CHA with REE", "Marrowglass"),
    ):
        page.get_by_label(label).fill(name)
    axe()
    assert fits(page)
    save(page)
    expect(page.get_by_text("Added the complex Estuary: Chalk, Reed, Marrowglass.")).to_be_visible()
    send(page, "Undo")
    assert m.Line.objects.live().count() == 0


def test_what_a_change_moves_is_shown_before_it_is_saved(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = Book(owner, name="Royal python")
    contact = ContactFactory.create(name="Odile Brand")
    dam = book.founder("F-014", "female", "carries")
    statement = m.Statement.objects.get()
    statement.source = contact
    with writing(by=owner, what="Said by whom") as entry:
        entry.keep(statement)
    book.young("K-01", book.clutch("C-01", dam, book.founder("M-02", "male")))
    buyer = ContactFactory.create(name="Ferrin Low")
    sheet = m.Sheet(number=7, code="ABCD", animal=dam, buyer=buyer, by=owner, content={})
    sheet.save()
    open_as(owner, f"/register/contacts/{contact.pk}/edit/")
    page.get_by_label("How far you take their word").fill("60 %")
    page.get_by_label("Why it changes").fill("was wrong twice")
    save(page)
    expect(page.get_by_text("Not saved yet.")).to_be_visible()
    expect(page.get_by_role("heading", name="It moves 2 figures of 2 animals")).to_be_visible()
    expect(page.get_by_role("link", name="Sheet 7")).to_be_visible()
    expect(page.get_by_label("Why it changes")).to_have_value("was wrong twice")
    axe()
    assert fits(page)
    page.get_by_role("link", name="See what it moves").click()
    send(page, "Yes, save")
    expect(page.get_by_text("Changed the contact Odile Brand.")).to_be_visible()
    assert book.said(dam) == ("stated", "60 %")
