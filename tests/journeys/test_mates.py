"""What to breed an animal to: from its page to a pairing, and an answer to somebody who asks."""

from playwright.sync_api import Page, expect

from keeper.models import Account
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.prospects.rows import yard


def test_an_animal_is_led_to_its_best_mate_and_their_pairing(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    place = yard(owner)
    dam = place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))
    place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    place.here("M-2", "male", (place.pel, "visual"))
    open_as(owner, f"/animals/{dam.pk}/")
    page.get_by_role("link", name="What to breed it to").click()
    expect(page.get_by_role("heading", name="What to breed F-1 to")).to_be_visible()
    mates = page.locator(".mate")
    expect(mates).to_have_count(1)
    expect(mates.first).to_contain_text("at least one of 4 with 41 %")
    assert fits(page)
    axe()
    page.get_by_role("link", name="Show all 2").click()
    expect(mates).to_have_count(2)
    expect(mates.nth(1)).to_contain_text("Lines would mix: 50 % of the hatchlings would carry")
    axe()
    mates.first.get_by_role("link", name="Look up the pairing").click()
    expect(page.get_by_role("heading", name="F-1 × M-1")).to_be_visible()
    expect(page.get_by_role("rowheader", name="Quillwort + Saltgrass").first).to_be_visible()
    axe()


def test_somebody_asks_in_words_and_gets_an_answer(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    place = yard(owner)
    place.here("F-1", "female", (place.har, "carries"), (place.dun, "visual"))
    open_as(owner, "/clutches/pairing/")
    page.get_by_role("link", name="type it in words").click()
    axe()
    typed = page.get_by_label("The animal, as breeders write it")
    typed.fill("1.0 visual Saltgras (HAR), 66% poss het Quillwort")
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_text("Not all of it can be read")).to_be_visible()
    # Nothing typed is lost, and nothing is worked out of a part of it.
    expect(typed).to_have_value("1.0 visual Saltgras (HAR), 66% poss het Quillwort")
    expect(page.locator(".mate")).to_have_count(0)
    axe()
    page.get_by_role("link", name="Saltgrass", exact=True).click()
    expect(typed).to_have_value("1.0 visual Saltgrass (HAR), 66% poss het Quillwort")
    understood = page.locator(".understood")
    expect(understood).to_contain_text("Shows Saltgrass, line HAR")
    expect(understood).to_contain_text("nobody here has checked it")
    expect(page.locator(".mate")).to_have_count(1)
    answer = page.get_by_label("The answer", exact=True)
    page.get_by_role("button", name="Copy the answer").click()
    expect(page.get_by_text("Copied.")).to_be_visible()
    # What was copied is what stands there: it is pasted elsewhere.
    page.evaluate("document.body.append(document.createElement('textarea'))")
    elsewhere = page.locator("body > textarea")
    elsewhere.focus()
    page.keyboard.press("ControlOrMeta+V")
    expect(elsewhere).to_have_value(answer.input_value())
    assert "1. F-1, a female" in answer.input_value()
    page.evaluate("document.querySelector('body > textarea').remove()")
    assert fits(page)
    axe()
