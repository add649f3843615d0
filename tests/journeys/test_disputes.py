"""A dispute on a phone and at a desk: it arises on hatch day, is opened, settled and taken back."""

import re

from playwright.sync_api import Page, expect

from keeper.domain.book.writing import writing
from keeper.domain.clutches.writes import Candidate, lay_clutch
from keeper.models import Account, Animal, Clutch, DaybookEntry, Surprise
from tests.journeys.cast_of_clutches import Room, furnish
from tests.journeys.conftest import Axe, OpenAs


def with_a_plain_mate(owner: Account) -> tuple[Room, Clutch]:
    """The room, and a clutch of its dam by a male of whom nothing is said."""
    room = furnish(owner)
    mate = Animal(species=room.species, code="M-009", sex="male")
    with writing(by=owner, what="Added M-009") as book:
        book.keep(mate)
    clutch = Clutch(species=room.species, code="26-09", dam=room.dam, eggs=4)
    lay_clutch(clutch=clutch, candidates=[Candidate(mate)], by=owner)
    return room, clutch


def hatch_a_visual(page: Page, clutch: Clutch) -> None:
    """Three normal hatchlings, and one that shows what its sire cannot carry."""
    page.goto(f"/clutches/{clutch.pk}/hatch/")
    normal = page.get_by_role("group", name=re.compile("^normal"))
    normal.get_by_label("female", exact=True).fill("3")
    page.get_by_text("Another look").click()
    other = page.locator("details.other")
    other.get_by_role("group", name="Seen on them").get_by_label("Saltgrass").check()
    other.get_by_label("female", exact=True).fill("1")
    page.get_by_label("A whole look: nothing else of the register was there").check()
    page.get_by_role("button", name="Save the hatch").click()
    saved = page.get_by_role("region", name="What was saved")
    expect(saved).to_contain_text("It contradicts other records.")


def test_a_dispute_is_opened_looked_into_settled_and_taken_back(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    room, clutch = with_a_plain_mate(owner)
    open_as(owner, "/")
    expect(page.get_by_text("Records that contradict each other")).to_have_count(0)
    hatch_a_visual(page, clutch)

    page.goto("/")
    page.get_by_role("link", name=re.compile("^What may be behind it")).click()
    expect(page.get_by_text("1 hatchling of 26-09: Saltgrass seen")).to_be_visible()
    expect(page.get_by_text("clutch 26-09: F-014 × M-009")).to_be_visible()
    # Weighed while the page is read, and put into it.
    ledger = page.locator(".explanations")
    carrier = ledger.locator("details", has_text="M-009 carried Saltgrass, and nobody said so.")
    expect(carrier).to_contain_text("an undeclared carrier: 1 in 50, for each founder")
    axe()

    carrier.locator("summary").click()
    expect(carrier).to_contain_text("It closes 1 dispute")
    expect(carrier).to_contain_text("→ proven")
    axe()
    carrier.get_by_label("Why this one").fill("His breeder now says so.")
    carrier.get_by_role("button", name="Adopt this explanation").click()
    expect(page.get_by_role("heading", name="A dispute that was settled")).to_be_visible()
    expect(page.get_by_role("region", name="What was saved")).to_contain_text("M-009 Saltgrass")
    expect(page.get_by_text("“His breeder now says so.”")).to_be_visible()
    axe()

    page.get_by_role("link", name="All disputes").click()
    expect(page.get_by_role("heading", name="Nothing is disputed")).to_be_visible()
    axe()
    page.get_by_role("button", name=re.compile("^Take it back: Adopted: M-009")).click()
    expect(page.get_by_role("region", name="What was saved")).to_contain_text("Undone: Adopted")
    expect(page.get_by_role("heading", name="Records that contradict each other")).to_be_visible()
    page.goto(f"/animals/{room.dam.pk}/")
    page.get_by_role("link", name="What may be behind it, and how likely").click()
    expect(page.get_by_text("Open again with")).to_be_visible()


def test_without_scripts_a_dispute_is_settled_just_the_same(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    _, clutch = with_a_plain_mate(owner)
    open_as(owner, f"/clutches/{clutch.pk}/")
    hatch_a_visual(page, clutch)
    # As if htmx had never come.
    page.route("**/htmx*.js", lambda route: route.fulfill(body=""))
    page.goto("/disputes/")
    page.get_by_role("link", name=re.compile("^What may be behind it")).click()
    page.get_by_role("link", name="Weigh what may be behind it").click()
    expect(page.get_by_role("heading", name="What may be behind it")).to_be_visible()
    axe()
    row = page.locator("details", has_text="M-009 carried Saltgrass, and nobody said so.").last
    row.locator("summary").click()
    row.get_by_role("link", name="What adopting it would change").click()
    expect(page.get_by_role("heading", name="M-009 carried Saltgrass")).to_be_visible()
    axe()
    page.get_by_role("button", name="Adopt this explanation").click()
    expect(page.get_by_role("heading", name="A dispute that was settled")).to_be_visible()


def test_what_was_unlikely_is_pointed_out_until_somebody_has_looked(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    room = furnish(owner)
    Surprise.objects.create(
        species=room.species, clutch=room.clutch, trait=room.saltgrass, chance=0.0014,
        text="none of 9 hatchlings of 26-07 showed Saltgrass",
        entry=DaybookEntry.objects.order_by("-pk")[0],
    )  # fmt: skip
    open_as(owner, "/")
    expect(page.get_by_text("happens once in 714")).to_be_visible()
    axe()
    page.goto("/disputes/")
    page.get_by_role("button", name=re.compile("^Looked at: none of 9")).click()
    expect(page.get_by_role("heading", name="Nothing is disputed")).to_be_visible()
    axe()
    page.get_by_role("button", name=re.compile("^Point it out again")).click()
    expect(page.get_by_role("button", name=re.compile("^Looked at"))).to_be_visible()


def test_a_base_rate_is_changed_and_given_up_again(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/disputes/")
    page.get_by_role("link", name="How often things go wrong").click()
    expect(page.get_by_text("None is your own yet")).to_be_visible()
    axe()
    page.get_by_role("link", name="Change the rate of a misread look").click()
    page.get_by_label("How often it happens here").fill("never")
    page.get_by_label("How you know").fill("800 looks, counted twice")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("“never” is no chance.").last).to_be_visible()
    expect(page.get_by_label("How you know")).to_have_value("800 looks, counted twice")
    axe()
    page.get_by_label("How often it happens here").fill("1/400")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Your own: 800 looks, counted twice.")).to_be_visible()
    axe()
    page.get_by_role("button", name="Back to the common rate: a misread look").click()
    expect(page.get_by_text("None is your own yet")).to_be_visible()
