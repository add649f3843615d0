"""Labels of a hatch day printed on a phone, and a scanned one: the next entry is one tap away."""

from urllib.parse import urlsplit

from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.labels.content import content_of
from tests.factories import AnimalFactory
from tests.journeys.cast_of_clutches import furnish
from tests.journeys.conftest import Axe, OpenAs, fits


def test_tubs_of_a_hatch_get_codes_and_a_scan_opens_the_next_entry(
    page: Page, open_as: OpenAs, owner: m.Account, axe: Axe
) -> None:
    room = furnish(owner)
    row = m.HatchRow.objects.create(clutch=room.clutch, count=4)
    AnimalFactory.create(species=room.species, code="26-07-01", clutch=room.clutch, hatch_row=row)
    open_as(owner, f"/clutches/{room.clutch.pk}/")
    page.get_by_role("link", name="Labels for tubs").click()
    # Nothing to print on yet: measures to begin with are offered.
    page.get_by_role("link", name="Label printer, 50 × 25 mm").click()
    expect(page.get_by_label("Columns", exact=True)).to_have_value("1")
    assert fits(page)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_label("Tubs of 26-07, normal")).to_have_value("3")
    assert fits(page)
    axe()
    page.get_by_role("button", name="Print", exact=True).click()
    expect(page.get_by_role("link", name="Open the PDF")).to_be_visible()
    axe()
    young, *tubs = content_of(m.LabelRun.objects.get())["labels"]
    assert [one["code"] for one in tubs] == ["26-07 T1", "26-07 T2", "26-07 T3"]
    page.goto(urlsplit(tubs[1]["link"]).path)
    expect(page.get_by_role("heading", name="The hatchling in tub T2")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("link", name="Record it: normal").click()
    expect(page.get_by_label("Code")).to_have_value("26-07-02")
    page.goto(urlsplit(young["link"]).path)
    axe()
    page.get_by_role("link", name="Weighed").click()
    expect(page.get_by_label("Weight")).to_be_visible()
