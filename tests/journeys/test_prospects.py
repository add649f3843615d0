"""Before buying: an animal on offer is noted, held against the book, asked about, and bought."""

import re

from playwright.sync_api import Page, expect

from keeper.models import Account, Animal, Prospect
from tests.journeys.conftest import Axe, OpenAs
from tests.keeper.prospects.rows import yard


def test_a_prospect_is_noted_weighed_asked_about_and_bought(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    place = yard(owner)
    place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    open_as(owner, "/animals/")
    page.get_by_role("link", name="Prospects").click()
    expect(page.get_by_role("heading", name="Nothing on offer is noted")).to_be_visible()
    axe()
    page.get_by_role("link", name="Note a prospect").click()
    page.get_by_label("What you call it").fill("grey female")
    page.get_by_label("Sex", exact=True).select_option("female")
    page.get_by_label("Who offers it").select_option(label="Ansel of Pelnaw")
    page.get_by_label("Where it is offered").fill("the autumn table")
    rows = page.locator(".words .row:visible")
    first, second = rows.nth(0), rows.nth(1)
    first.get_by_label("Trait").select_option(label="Saltgrass")
    first.get_by_label("What it is said to be").select_option(label="possible het")
    axe()
    page.get_by_role("button", name="Save").click()
    # Nothing typed is lost where something is missing.
    expect(page.get_by_text("Say how likely: 66 %, 50 %, 33 % …").last).to_be_visible()
    expect(page.get_by_label("Where it is offered")).to_have_value("the autumn table")
    first.get_by_label("How likely").fill("66 %")
    second.get_by_label("Line").select_option(label="Quillwort DUN (Dunsk)")
    second.get_by_label("What it is said to be").select_option(label="100 % het (one copy)")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Noted the prospect grey female.")).to_be_visible()
    expect(page.get_by_text("it serves if it is HAR")).to_be_visible()
    expect(page.get_by_text("If it is PEL, it and Saltgrass HAR are two genes")).to_be_visible()
    page.get_by_role("link", name="Work out its figures and its mates").click()
    mate = page.locator(".mated tbody tr")
    expect(mate).to_contain_text("M-1")
    page.get_by_text("Which line is its Saltgrass from").click()
    expect(page.get_by_text("Its line is not known here")).to_be_visible()
    axe()

    page.get_by_role("link", name="Write to Ansel of Pelnaw").click()
    letter = page.get_by_label("The message")
    expect(letter).to_contain_text("Which line is its Saltgrass from")
    letter.fill("Is it from Harvesk?")
    page.get_by_role("button", name="Put my changes into the link").click()
    link = page.get_by_role("link", name="Send by mail")
    expect(link).to_have_attribute("href", re.compile(r"body=Is%20it%20from%20Harvesk%3F$"))
    axe()
    page.get_by_role("link", name="Back", exact=True).click()

    page.get_by_role("link", name="Bought: add it").click()
    axe()
    page.get_by_label("Code", exact=True).fill("F-9")
    page.get_by_label("What the papers or the seller say").fill("66 het, line not told")
    page.get_by_role("button", name="Enter it").click()
    expect(page.get_by_text("Bought F-9: the prospect grey female.")).to_be_visible()
    expect(page.get_by_text("66 het, line not told")).to_be_visible()
    assert Prospect.objects.get().bought == Animal.objects.get(code="F-9")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Undone: Bought F-9")).to_be_visible()
    assert Prospect.objects.get().bought is None


def test_one_is_let_go_and_taken_up_again(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    place = yard(owner)
    prospect = place.prospect(place.word(place.pel, "visual"))
    open_as(owner, f"/prospects/{prospect.pk}/")
    page.get_by_role("link", name="Let go").click()
    axe()
    page.get_by_label("Why").fill("another gene than ours")
    page.get_by_role("button", name="Let it go").click()
    expect(page.get_by_text("another gene than ours").first).to_be_visible()
    axe()
    page.get_by_role("button", name="Take it up again").click()
    expect(page.get_by_role("link", name="Bought: add it")).to_be_visible()
