"""Bad signal: pages that were read stay readable, and what is saved waits until it can be sent.

`context.set_offline` takes the connection away from the page and from the worker alike. An answer
that is lost on its way is a request that reached the book and was aborted afterwards.
"""

import json
from collections.abc import Iterator
from datetime import timedelta
from itertools import chain, repeat
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.husbandry import writes as care
from keeper.models import Account, Animal, DaybookEntry, LogIn, Photo, Role, Shed, Weight
from tests.factories import PASSWORD, AnimalFactory
from tests.journeys.conftest import Axe, OpenAs, fits, settled
from tests.keeper.books import Book
from tests.keeper.sent import filled
from tests.keeper.world import picture

DEVICE, WAITING = "/me/offline/", "/me/waiting/"
NO_ANSWER = "No answer from the book."
NOT_YET = "Kept on this device, not yet in the book"
IN_THE_BOOK = "In the book"


@pytest.fixture
def screen() -> str:
    """The phone alone: that is what is carried where there is no signal."""
    return "phone"


@pytest.fixture
def animals(owner: Account) -> list[Animal]:
    codes = ("F-014", "F-015", "F-016")
    return [AnimalFactory.create(code=code, place="Rack 1 / 3") for code in codes]


@pytest.fixture
def animal(animals: list[Animal]) -> Animal:
    return animals[0]


@pytest.fixture
def asked(page: Page, owner: Account, animals: list[Animal], open_as: OpenAs) -> Page:
    """A phone that was asked to keep pages for the owner, and has read some of animals."""
    ask(page, owner, open_as)
    for address in (one(animals[0]), *(new(animal, "weight") for animal in animals)):
        page.goto(address)
        settled(page)
    return page


def ask(page: Page, account: Account, open_as: OpenAs) -> None:
    open_as(account, DEVICE)
    page.get_by_role("button", name="Keep pages on this device").click()
    expect(page.get_by_text("pages were read and kept")).to_be_visible()


def one(animal: Animal) -> str:
    return f"/animals/{animal.pk}/"


def new(animal: Animal, kind: str) -> str:
    return f"/animals/{animal.pk}/husbandry/{kind}/"


def away(page: Page) -> None:
    page.context.set_offline(True)


def back(page: Page) -> None:
    page.context.set_offline(False)


def weigh(page: Page, animal: Animal, grams: str) -> None:
    page.goto(new(animal, "weight"))
    page.get_by_label("Weight").fill(grams)
    page.get_by_role("button", name="Save").click()


def waits(page: Page, *weighed: tuple[Animal, str]) -> None:
    """Save weights while there is no connection; the list of what waits is shown at the end."""
    away(page)
    for animal, grams in weighed:
        weigh(page, animal, grams)
        expect(page.get_by_text(NOT_YET).first).to_be_visible()


def states(page: Page) -> list[str]:
    settled(page)
    rows = page.locator("li.waits")
    return [str(rows.nth(at).get_attribute("data-state")) for at in range(rows.count())]


def send(page: Page) -> None:
    # By itself it is sent as soon as there is a connection: the button may be gone by now.
    page.evaluate("document.querySelector('[data-away-send]').click()")


def held_at_first(page: Page) -> list[Any]:
    """Hold the first try to send until it is let go or aborted; the tries so far."""
    tries: list[Any] = []

    def hold(route: Any) -> None:
        tries.append(route)
        if len(tries) > 1:
            route.continue_()

    page.context.route(lambda address: "/offline/now/" in address, hold)
    return tries


def kept_pages(page: Page) -> list[str]:
    found: Any = page.evaluate(
        """async () => {
            if (!(await caches.has("keptlines-pages"))) return [];
            const cache = await caches.open("keptlines-pages");
            return (await cache.keys()).map(({ url }) => new URL(url).pathname);
        }"""
    )
    return list(found)


def weights() -> list[int]:
    return [int(grams) for grams in Weight.objects.order_by("pk").values_list("grams", flat=True)]


def test_a_page_stays_readable_with_its_time_and_entries_go_in_order(
    asked: Page, animals: list[Animal], axe: Axe
) -> None:
    page, animal = asked, animals[0]
    waits(page, (animals[0], "480"), (animals[1], "482"))
    assert WAITING in page.url
    expect(page.locator("li.waits")).to_have_count(2)
    expect(page.locator("li.waits dd").first).to_have_text("480")
    expect(page.locator("[data-away-mark]")).to_have_text("2 not sent yet")
    axe()
    assert fits(page)

    answer = page.goto(one(animal))
    expect(page.get_by_text(NO_ANSWER)).to_be_visible()
    assert answer is not None
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    expect(page.get_by_role("heading", name="F-014").first).to_be_visible()
    assert page.locator(".kept-page time").get_attribute("datetime")
    axe()
    page.goto("/register/")
    expect(page.get_by_role("heading", name="The book does not answer")).to_be_visible()
    expect(page.get_by_role("link", name="F-014").first).to_be_visible()
    axe()

    page.goto(WAITING)
    back(page)
    send(page)
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_have_count(2)
    assert weights() == [480, 482]
    expect(page.locator("[data-away-mark]")).to_be_hidden()
    page.goto(one(animal))
    settled(page)
    expect(page.get_by_text(NO_ANSWER)).to_have_count(0)


def test_an_answer_that_is_lost_makes_no_second_entry(asked: Page, animal: Animal) -> None:
    page = asked
    page.goto(new(animal, "weight"))

    def lose(route: Any) -> None:
        route.fetch(max_redirects=0)  # the book has it
        route.abort("internetdisconnected")

    page.context.route(lambda address: address.endswith(new(animal, "weight")), lose)
    page.get_by_label("Weight").fill("480")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li.waits")).to_have_count(1)
    assert weights() == [480]
    page.context.unroute_all()
    page.reload()
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert weights() == [480]


def test_the_book_that_is_stopped_in_between_loses_and_doubles_nothing(
    asked: Page, animals: list[Animal]
) -> None:
    page = asked
    waits(page, *zip(animals, ("480", "482", "484"), strict=True))
    answers: Iterator[str] = chain(["whole", "lost"], repeat("none"))

    def stop_after_the_second(route: Any) -> None:
        if (answer := next(answers)) == "whole":
            route.continue_()
            return
        if answer == "lost":
            route.fetch(max_redirects=0)
            page.context.route(lambda address: "/offline/now/" in address, lambda one: one.abort())
        route.abort("failed")

    page.context.route(lambda address: "/husbandry/weight/" in address, stop_after_the_second)
    back(page)
    send(page)
    expect(page.locator("li.waits[data-state=written]")).to_have_count(1)
    expect(page.get_by_text("The book does not answer here.", exact=False)).to_be_visible()
    assert (states(page), weights()) == (["waiting", "waiting", "written"], [480, 482])
    page.context.unroute_all()
    send(page)
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_have_count(3)
    assert weights() == [480, 482, 484]


def test_a_connection_that_comes_back_in_the_middle_of_a_failing_try_is_used(
    asked: Page, animal: Animal
) -> None:
    page = asked
    waits(page, (animal, "480"))
    tries = held_at_first(page)
    with page.expect_request(lambda request: "/offline/now/" in request.url):
        page.goto(WAITING)
    back(page)
    # The connection is noticed before the try without one ends.
    page.wait_for_function("navigator.onLine")
    page.evaluate("away.own()")
    tries[0].abort("internetdisconnected")
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert weights() == [480]


def test_what_is_asked_while_another_try_fails_is_tried_after_it(
    asked: Page, animal: Animal
) -> None:
    page = asked
    waits(page, (animal, "480"))
    tries = held_at_first(page)
    with page.expect_request(lambda request: "/offline/now/" in request.url):
        back(page)
    send(page)
    tries[0].abort("internetdisconnected")
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert weights() == [480]


def test_what_is_refused_holds_back_its_own_and_can_be_mended(
    asked: Page, animals: list[Animal], axe: Axe
) -> None:
    page = asked
    animal, other, _ = animals
    waits(page, (animal, "heavy"), (animal, "480"), (other, "900"))
    back(page)
    send(page)
    expect(page.get_by_text("Not in the book: it needs you")).to_be_visible()
    expect(page.locator("li.waits").first).to_contain_text("That is no weight.")
    assert states(page) == ["refused", "held", "written"]
    assert weights() == [900]
    axe()
    page.get_by_role("link", name="Open the form with what was typed").click()
    expect(page.get_by_text("What waited on this device was put back")).to_be_visible()
    expect(page.get_by_label("Weight")).to_have_value("heavy")
    axe()
    page.get_by_label("Weight").fill("478")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("478").first).to_be_visible()
    page.goto(WAITING)
    # The one that was held back is sent now; that it was weighed already is asked.
    expect(page.locator("li.waits .said").first).to_contain_text("wrote a weight of F-014 today")
    page.get_by_role("button", name="Save it all the same").click()
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_have_count(3)
    assert weights() == [900, 478, 480]


def test_two_people_who_note_the_same_are_told(
    asked: Page, owner: Account, helper: Account, animal: Animal
) -> None:
    page = asked
    page.goto(new(animal, "shed"))
    away(page)
    page.goto(new(animal, "shed"))
    page.get_by_label("whole").first.check()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text(NOT_YET).first).to_be_visible()
    shed = Shed(animal=animal, came="whole", on=timezone.localdate())
    care.note(records=[shed], animal=animal, by=helper)
    back(page)
    send(page)
    expect(page.locator("li.waits .said")).to_contain_text(f"{helper.name} wrote")
    assert Shed.objects.count() == 1
    page.get_by_role("button", name="Save it all the same").click()
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert Shed.objects.count() == 2


def test_log_out_leaves_no_page_and_the_next_person_sees_nothing(
    asked: Page, owner: Account, helper: Account, animal: Animal, open_as: OpenAs, axe: Axe
) -> None:
    page = asked
    assert one(animal) in kept_pages(page)
    waits(page, (animal, "480"))
    page.context.route(lambda address: "/offline/now/" in address, lambda route: route.abort())
    back(page)
    page.goto("/")
    page.once("dialog", lambda asks: asks.accept())
    page.get_by_role("button", name="Log out").last.click()
    expect(page.get_by_role("button", name="Log in")).to_be_visible()
    assert kept_pages(page) == []
    page.context.unroute_all()

    open_as(helper, WAITING)
    expect(page.get_by_text("1 more of somebody else wait")).to_be_visible()
    expect(page.get_by_role("heading", name="Nothing waits here")).to_be_visible()
    assert "480" not in page.locator("main").inner_text()
    axe()
    page.goto(one(animal))
    away(page)
    page.goto(one(animal))
    expect(page.get_by_role("heading", name="The book does not answer")).to_be_visible()
    assert kept_pages(page) == []
    back(page)
    assert weights() == []

    open_as(owner, WAITING)
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert [entry.by for entry in DaybookEntry.objects.filter(what__contains="480")] == [owner]


def test_what_somebody_may_see_now_is_what_their_device_keeps(
    page: Page, helper: Account, animal: Animal, open_as: OpenAs
) -> None:
    ask(page, helper, open_as)
    page.goto(one(animal))
    settled(page)
    assert one(animal) in kept_pages(page)
    Account.objects.filter(pk=helper.pk).update(role=Role.VIEWER)
    page.goto("/daybook/")
    settled(page)
    assert one(animal) not in kept_pages(page)


def test_a_log_in_that_ended_keeps_what_waits_until_the_next(
    asked: Page, owner: Account, animal: Animal
) -> None:
    page = asked
    waits(page, (animal, "480"))
    LogIn.objects.all().delete()
    back(page)
    send(page)
    expect(page.get_by_text("Nobody is logged in here any more.", exact=False)).to_be_visible()
    assert weights() == []
    page.goto("/")
    page.get_by_label("Name").fill(owner.name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", name="Today")).to_be_visible()
    page.goto(WAITING)
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert weights() == [480]


def test_a_book_that_was_restored_takes_none_and_the_file_has_all(
    asked: Page, animal: Animal, axe: Axe, tmp_path: Path
) -> None:
    page = asked
    waits(page, (animal, "480"))
    of_now = {"epoch": "f" * 32, "restored_at": timezone.now()}
    m.Book.objects.update_or_create(pk=1, defaults=of_now)
    back(page)
    send(page)
    expect(page.get_by_text("the book was restored meanwhile", exact=False)).to_be_visible()
    assert weights() == []
    axe()
    with page.expect_download() as got:
        page.get_by_role("button", name="Save what waits as a file").click()
    got.value.save_as(tmp_path / "waiting.json")
    said = json.loads((tmp_path / "waiting.json").read_text())
    assert ["grams", "480"] in said["entries"][0]["typed"]


def test_a_file_of_what_waited_is_taken_in_once(
    asked: Page, animal: Animal, tmp_path: Path
) -> None:
    page = asked
    waits(page, (animal, "480"))
    page.goto(WAITING)
    with page.expect_download() as got:
        page.get_by_role("button", name="Save what waits as a file").click()
    file = tmp_path / "waiting.json"
    got.value.save_as(file)
    page.get_by_label("Take in such a file").set_input_files(file)
    expect(page.get_by_text("0 taken in. 1 are here already.")).to_be_visible()
    page.once("dialog", lambda asks: asks.accept())
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_role("heading", name="Nothing waits here")).to_be_visible()
    page.get_by_label("Take in such a file").set_input_files(file)
    expect(page.get_by_text("1 taken in.")).to_be_visible()
    back(page)
    send(page)
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert weights() == [480]
    (tmp_path / "other.json").write_text("{}")
    page.get_by_label("Take in such a file").set_input_files(tmp_path / "other.json")
    expect(page.get_by_text("That is no file of entries", exact=False)).to_be_visible()


def test_a_photo_waits_too_and_a_password_does_not(asked: Page, animal: Animal) -> None:
    page = asked
    page.goto(f"/animals/{animal.pk}/photo/")
    settled(page)
    page.goto("/me/password/")
    away(page)
    for field in page.locator("input[type=password]").all():
        field.fill("a new long password")
    page.get_by_role("button", name="Change it").click()
    expect(page.get_by_text("This form cannot wait on a device", exact=False)).to_be_visible()
    page.goto(f"/animals/{animal.pk}/photo/")
    sent = picture()
    file: Any = {"name": "f-014.jpg", "mimeType": "image/jpeg", "buffer": sent.read()}
    page.locator("#id_picture").set_input_files(file)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text(NOT_YET).first).to_be_visible()
    expect(page.locator("li.waits")).to_contain_text("f-014.jpg")
    back(page)
    send(page)
    expect(page.get_by_text(IN_THE_BOOK, exact=True)).to_be_visible()
    assert Photo.objects.count() == 1


def test_a_kept_form_is_good_for_several_entries_and_of_the_day_it_is_used(
    asked: Page, animal: Animal
) -> None:
    page = asked
    page.clock.set_fixed_time(timezone.now() + timedelta(days=1))
    away(page)
    page.goto(new(animal, "weight"))
    tomorrow = (timezone.localdate() + timedelta(days=1)).isoformat()
    expect(page.get_by_label("Day")).to_have_value(tomorrow)
    first = page.locator("[name=once]").first.input_value()
    page.reload()
    assert page.locator("[name=once]").first.input_value() != first


def test_a_device_that_was_not_asked_keeps_nothing_and_one_can_stop(
    page: Page, owner: Account, animal: Animal, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, one(animal))
    settled(page)
    workers = "navigator.serviceWorker.getRegistrations().then((all) => all.length)"
    assert page.evaluate(workers) == 0
    page.goto(DEVICE)
    axe()
    assert fits(page)
    ask(page, owner, open_as)
    axe()
    assert page.evaluate(workers) == 1
    page.get_by_role("button", name="Keep nothing here any more").click()
    expect(page.get_by_text(f"This device keeps nothing for {owner.name}.")).to_be_visible()
    page.wait_for_function(f"{workers}.then((number) => number === 0)")
    assert kept_pages(page) == []


def test_what_a_browser_lacks_is_said_before_anything_is_kept(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    open_as(owner, DEVICE)
    expect(page.get_by_text("This address is not secure", exact=False)).to_be_visible()
    axe()
    page.get_by_role("button", name="Keep pages on this device").click()
    expect(page.get_by_text("This device keeps nothing for Mara.")).to_be_visible()


def test_a_certificate_that_is_not_trusted_is_said(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    page.add_init_script(
        "navigator.serviceWorker.register = () => Promise.reject(new Error('certificate'))"
    )
    open_as(owner, DEVICE)
    page.get_by_role("button", name="Keep pages on this device").click()
    told = "This browser does not trust the certificate of this address."
    expect(page.get_by_text(told)).to_be_visible()
    expect(page.get_by_text("This device keeps nothing for Mara.")).to_be_visible()
    axe()


def test_a_device_whose_cookie_is_gone_keeps_nothing_for_the_next(
    asked: Page, helper: Account, animal: Animal, open_as: OpenAs
) -> None:
    page = asked
    assert one(animal) in kept_pages(page)
    page.context.clear_cookies()
    open_as(helper, "/")
    settled(page)
    assert kept_pages(page) == []
    away(page)
    page.goto(one(animal))
    expect(page.get_by_role("heading", name="The book does not answer")).to_be_visible()


def test_two_tabs_and_a_double_tap_send_once(asked: Page, animals: list[Animal]) -> None:
    page = asked
    away(page)
    page.goto(new(animals[0], "weight"))
    page.get_by_label("Weight").fill("480")
    page.get_by_role("button", name="Save").dblclick()
    expect(page.locator("li.waits")).to_have_count(1)
    waits(page, (animals[1], "482"))
    other = page.context.new_page()
    other.goto(WAITING)
    expect(other.locator("li.waits")).to_have_count(2)
    back(page)
    both = "document.querySelector('[data-away-send]').click()"
    page.evaluate(both)
    other.evaluate(both)
    for tab in (page, other):
        expect(tab.get_by_text(IN_THE_BOOK, exact=True)).to_have_count(2)
    assert weights() == [480, 482]


def test_two_people_who_log_the_same_hatch_are_told(
    asked: Page, owner: Account, helper: Account, open_as: OpenAs
) -> None:
    page = asked
    book = Book(owner)
    clutch = book.clutch("C1", book.founder("F1", "female"), book.founder("M1", "male"))
    hatch = f"/clutches/{clutch.pk}/hatch/"
    page.goto(hatch)
    settled(page)
    away(page)
    page.goto(hatch)
    first = page.locator("input[name$=count]").first
    first.fill("2")
    page.get_by_label("still").first.check()
    page.locator("[name=scope][value=whole]").check()
    page.get_by_role("button", name="Save").click()
    expect(page.locator("li.waits")).to_have_count(1)
    entry = DaybookEntry.objects.count()
    theirs = Client()
    theirs.force_login(helper, backend="django.contrib.auth.backends.ModelBackend")
    form = filled(theirs, hatch)
    counts = [name for name in form if name.endswith("count")]
    theirs.post(hatch, form | {counts[0]: "3", "still_open": "on", "scope": "whole"})
    assert DaybookEntry.objects.count() == entry + 1
    back(page)
    send(page)
    expect(page.locator("li.waits .said")).to_contain_text(f"open: {helper.name}")
    assert DaybookEntry.objects.count() == entry + 1
    page.get_by_role("link", name="Open the form with what was typed").click()
    expect(page.get_by_text("What waited on this device was put back")).to_be_visible()
    expect(page.locator("input[name$=count]").first).to_have_value("2")
