"""What is typed stays in the tab until the book has kept it, although no page is stored."""

from playwright.sync_api import Page, expect

from keeper.models import Account, Contact, LogIn
from tests.factories import PASSWORD
from tests.journeys.conftest import Axe, OpenAs, settled

NEW = "/register/contacts/new/"
PUT_BACK = "What you typed here before was put back; it is not saved yet."


def typed(page: Page) -> None:
    page.get_by_label("Name").fill("Fenna Ostrel")
    page.get_by_label("Notes").fill("By the harbour,\nthird door")


def test_back_and_reload_find_what_was_typed(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, NEW)
    typed(page)
    page.goto(page.url.replace(NEW, "/animals/"))
    page.go_back()
    expect(page.get_by_text(PUT_BACK)).to_be_visible()
    expect(page.get_by_label("Name")).to_have_value("Fenna Ostrel")
    expect(page.get_by_label("Notes")).to_have_value("By the harbour,\nthird door")
    axe()
    page.reload()
    expect(page.get_by_label("Name")).to_have_value("Fenna Ostrel")

    page.get_by_role("button", name="Start over").click()
    expect(page.get_by_label("Name")).to_have_value("")
    expect(page.get_by_text(PUT_BACK)).to_have_count(0)
    page.reload()
    expect(page.get_by_text(PUT_BACK)).to_have_count(0)


def test_a_lost_connection_loses_nothing_and_writes_once(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    open_as(owner, NEW)
    typed(page)
    address = page.url
    page.context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    page.wait_for_timeout(500)  # the browser's own page that there is no connection
    page.context.set_offline(False)
    page.goto(address)
    expect(page.get_by_text(PUT_BACK)).to_be_visible()
    token = page.locator("[name=once]").input_value()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Fenna Ostrel")).to_be_visible()
    assert Contact.objects.get().notes.splitlines() == ["By the harbour,", "third door"]

    page.go_back()
    settled(page)
    expect(page.get_by_text(PUT_BACK)).to_have_count(0)
    expect(page.get_by_label("Name")).to_have_value("")
    assert page.locator("[name=once]").input_value() != token


def test_a_log_in_that_ran_out_loses_nothing(page: Page, owner: Account, open_as: OpenAs) -> None:
    open_as(owner, NEW)
    typed(page)
    LogIn.objects.all().delete()
    page.get_by_role("button", name="Save").click()
    page.get_by_label("Name").fill(owner.name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_text(PUT_BACK)).to_be_visible()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Fenna Ostrel")).to_be_visible()
    assert Contact.objects.count() == 1


def test_what_is_refused_goes_on_as_it_stands_and_log_out_leaves_nothing(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    open_as(owner, NEW)
    typed(page)
    page.get_by_label("How far you take their word").fill("far")
    page.get_by_role("button", name="Save").click()
    settled(page)
    expect(page.get_by_label("Name")).to_have_value("Fenna Ostrel")
    expect(page.get_by_text(PUT_BACK)).to_have_count(0)
    assert (
        page.evaluate(
            "Object.keys(sessionStorage).filter((one) => one.startsWith('draft:')).length"
        )
        == 1
    )
    page.get_by_role("button", name="Log out").first.click()
    expect(page.get_by_role("button", name="Log in")).to_be_visible()
    assert (
        page.evaluate(
            "Object.keys(sessionStorage).filter((one) => one.startsWith('draft:')).length"
        )
        == 0
    )


def test_another_person_in_the_same_tab_finds_nothing(
    page: Page, owner: Account, helper: Account, open_as: OpenAs
) -> None:
    helper.sees_people = True
    helper.save()
    open_as(owner, NEW)
    typed(page)
    open_as(helper, NEW)
    expect(page.get_by_label("Name")).to_have_value("")
    expect(page.get_by_text(PUT_BACK)).to_have_count(0)
