"""Hatch day on a phone and at a desk: count, save, see what moved, undo, add, record."""

import re

from playwright.sync_api import Locator, Page, expect

from keeper.models import Account, Animal, HatchRow
from tests.journeys.cast_of_clutches import furnish
from tests.journeys.conftest import Axe, OpenAs, fits


def test_a_hatch_is_counted_saved_undone_and_saved_again(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    room = furnish(owner)
    open_as(owner, f"/clutches/{room.clutch.pk}/")
    axe()
    page.get_by_role("link", name="Log the hatch", exact=True).first.click()
    axe()
    summed = page.locator("output.sum")
    expect(summed).to_have_text("8 eggs still to count")
    expect(summed).not_to_have_class(re.compile("off"))
    expect(page.get_by_role("button", name="One more: Slugs")).to_have_attribute("tabindex", "-1")

    visual = page.get_by_role("group", name=re.compile("^Saltgrass"))
    expect(visual).to_contain_text("16 %")
    visual.get_by_role("button", name="One more: Saltgrass, male").click()
    visual.get_by_role("button", name="One more: Saltgrass, male").click()
    visual.get_by_role("button", name="One less: Saltgrass, male").click()
    normal = page.get_by_role("group", name=re.compile("^normal"))
    normal.get_by_label("sex not known", exact=True).fill("6")
    page.get_by_label("Slugs", exact=True).fill("2")
    page.get_by_label("A whole look: nothing else of the register was there").check()
    expect(summed).to_have_text("8 eggs, but 2 slugs + 0 lost + 7 hatched are 9")
    expect(summed).to_have_class(re.compile("off"))
    page.get_by_role("button", name="Save the hatch").click()
    expect(
        page.get_by_text("8 eggs, but 2 slugs + 0 lost + 7 hatched are 9.", exact=True)
    ).to_be_visible()
    expect(normal.get_by_label("sex not known", exact=True)).to_have_value("6")
    axe()

    page.get_by_label("Slugs", exact=True).fill("1")
    expect(page.get_by_text("8 eggs = 1 slug + 0 lost + 7 hatched")).to_be_visible()
    page.get_by_label("Give every hatchling a record of its own").check()
    page.get_by_role("button", name="Save the hatch").click()
    moved = page.get_by_role("region", name="What was saved")
    expect(moved).to_contain_text("F-014 Saltgrass HAR: possible het 66 % → proven")
    assert Animal.objects.live().filter(clutch=room.clutch).count() == 7
    axe()

    moved.get_by_role("button", name="Undo").click()
    expect(moved).to_contain_text("Undone")
    page.goto(f"/clutches/{room.clutch.pk}/")
    expect(page.get_by_text("Nothing has hatched yet.")).to_be_visible()
    assert not HatchRow.objects.live().exists()


def test_a_hatch_takes_twelve_taps_at_most_and_one_a_hatchling(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    room = furnish(owner)
    open_as(owner, "/")
    taps = 0

    def tap(what: Locator, times: int = 1) -> None:
        nonlocal taps
        for _ in range(times):
            what.click()
            taps += 1

    tap(page.get_by_role("link", name="Log a hatch"))
    if "/hatch/" not in page.url:
        tap(page.get_by_role("link", name=room.clutch.code, exact=True))
        tap(page.get_by_role("link", name="Log the hatch", exact=True).first)
    tap(page.get_by_role("button", name="One more: normal, sex not known"), 7)
    tap(page.get_by_role("button", name="One more: Slugs"))
    tap(page.get_by_label("A whole look: nothing else of the register was there"))
    tap(page.get_by_label("Give every hatchling a record of its own"))
    tap(page.get_by_role("button", name="Save the hatch"))
    expect(page.get_by_role("region", name="What was saved")).to_be_visible()
    assert Animal.objects.live().filter(clutch=room.clutch).count() == 7
    assert taps <= 12 + 7


def test_a_test_breeding_that_comes_out_clean_tells_so_and_a_tally_gets_a_record(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    room = furnish(owner, eggs=12)
    open_as(owner, f"/clutches/{room.clutch.pk}/hatch/")
    normal = page.get_by_role("group", name=re.compile("^normal"))
    normal.get_by_label("female", exact=True).fill("7")
    quillwort = page.get_by_role("group", name=re.compile("^Quillwort"))
    quillwort.first.get_by_label("female", exact=True).fill("5")
    page.get_by_label("A whole look: nothing else of the register was there").check()
    page.get_by_role("button", name="Save the hatch").click()
    expect(page.get_by_role("heading", name="What this test breeding told")).to_be_visible()
    told = page.locator("section", has=page.get_by_role("heading", name="What this test"))
    expect(told).to_contain_text("0 of 12 showed Saltgrass")
    expect(told).to_contain_text("possible het 66 % → tested clean so far, under 1 % left")
    axe()

    page.get_by_role("link", name="record one of these (normal, female)").click()
    axe()
    expect(page.get_by_label("Code", exact=True)).to_have_value("26-07-01")
    page.get_by_role("button", name="Make the record").click()
    expect(page.get_by_role("heading", name="26-07-01")).to_be_visible()


def test_a_look_that_should_not_be_is_kept_and_disputed(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    room = furnish(owner)
    open_as(owner, f"/clutches/{room.clutch.pk}/hatch/")
    axe()
    page.get_by_text("Another look").click()
    other = page.locator("details.other")
    other.get_by_role("group", name="Cannot be told").get_by_label("Saltgrass").check()
    other.get_by_label("male", exact=True).fill("1")
    normal = page.get_by_role("group", name=re.compile("^normal"))
    normal.get_by_label("male", exact=True).fill("6")
    axe()
    page.get_by_label("A whole look: nothing else of the register was there").check()
    page.get_by_label("More may still hatch").check()
    page.get_by_role("button", name="Save the hatch").click()
    expect(page.get_by_text("Saltgrass cannot be told")).to_be_visible()
    expect(page.get_by_text("Still in the egg")).to_be_visible()
    page.get_by_role("link", name="Add to the hatch").click()
    expect(normal.first.get_by_label("male", exact=True)).to_have_value("6")
    axe()


def test_the_form_is_never_wider_than_the_screen(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    room = furnish(owner)
    for address in ("hatch/", "edit/", ""):
        open_as(owner, f"/clutches/{room.clutch.pk}/{address}")
        assert fits(page), address
