"""The calendar of what is due: read by whoever has its secret, and by nobody else."""

from datetime import date, timedelta
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from pytest_django.asserts import assertContains, assertNotContains

from keeper.discretion import Reader, read_by
from keeper.domain.today import calendar, writes
from keeper.domain.today.duties import Duty
from keeper.models import Account, CalendarFeed, Chore, DaybookEntry
from tests.factories import AccountFactory, AnimalFactory, ContactFactory
from tests.keeper.today.test_due import chore, day, one_of_each

pytestmark = pytest.mark.django_db


def address_of(client: Client) -> str:
    """Make the address of somebody's calendar as its page does; return its path."""
    page = client.post(reverse("home-self-calendar")).content.decode()
    link = page.partition('spellcheck="false">')[2].partition("</textarea>")[0]
    return urlsplit(link).path


def events(answer: bytes) -> dict[str, dict[str, object]]:
    parsed = Calendar.from_ical(answer)
    found = {}
    for event in parsed.walk("VEVENT"):
        found[str(event["SUMMARY"])] = {
            "from": event.decoded("DTSTART"), "to": event.decoded("DTEND"),
            "place": str(event.get("LOCATION", "")), "says": str(event["DESCRIPTION"]),
            "uid": str(event["UID"]),
        }  # fmt: skip
    return found


def test_a_calendar_has_each_duty_as_whole_days(owner: Account, owner_client: Client) -> None:
    clutch, animal, *_ = one_of_each(owner)
    chore(owner, "Air it, then mend; the door", on=2, animal=animal)
    answer = Client().get(address_of(owner_client))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "no-store" in answer["Cache-Control"]
    found = events(answer.content)
    assert found.keys() == {
        f"late: {clutch}: hatch", f"{animal}: end of quarantine",
        f"{animal}: look again for Pale tide", f"{animal}: Air it, then mend; the door",
    }  # fmt: skip
    one = found[f"{animal}: Air it, then mend; the door"]
    assert (one["from"], one["to"], one["place"]) == (day(2), day(3), "Rack 2 · 4")
    assert calendar.REACHED in str(one["says"])
    assert reverse("animals-one", args=[animal.pk]) in str(one["says"])
    again = events(Client().get(address_of(owner_client)).content)
    assert {name: one["uid"] for name, one in again.items()} == {
        name: one["uid"] for name, one in found.items()
    }


def test_what_was_put_off_stands_on_the_day_it_comes_again(owner: Account) -> None:
    clutch, *_ = one_of_each(owner)
    writes.put_off(keys=[f"hatch-{clutch.pk}"], until=day(4), by=owner)
    made = calendar.calendar(day(0), address=lambda one: "")
    assert events(made)[f"{clutch}: hatch"]["from"] == day(4)


def test_nobody_reads_it_without_the_secret(owner_client: Client) -> None:
    address = address_of(owner_client)
    stranger = Client()
    assert stranger.get(address).status_code == 200
    assert stranger.get("/calendar/nothing.ics").status_code == 404
    assert stranger.post(address).status_code == 405
    token = address.removeprefix("/calendar/").removesuffix(".ics")
    assert len(token) >= 32
    assert token not in CalendarFeed.objects.get().digest
    assert not DaybookEntry.objects.filter(what__contains=token).exists()


def test_a_new_address_and_switching_off_end_the_old_one(owner_client: Client) -> None:
    old = address_of(owner_client)
    new = address_of(owner_client)
    assert [Client().get(one).status_code for one in (old, new)] == [404, 200]
    page = owner_client.post(reverse("home-self-calendar"), {"off": "1"}, follow=True)
    assertContains(page, "Your calendar is off")
    assert Client().get(new).status_code == 404
    page = owner_client.post(reverse("home-self-calendar"), {"off": "1"}, follow=True)
    assertContains(page, "It is off already.")


def test_the_address_is_told_once(owner_client: Client) -> None:
    address = address_of(owner_client)
    page = owner_client.get(reverse("home-self-calendar"))
    assertNotContains(page, address)
    assertContains(page, "Make a new address")


def test_a_calendar_ends_with_its_account(client: Client) -> None:
    viewer = AccountFactory.create(role="viewer")
    client.force_login(viewer)
    address = address_of(client)
    assert Client().get(address).status_code == 200
    Account.objects.filter(pk=viewer.pk).update(is_active=False)
    assert Client().get(address).status_code == 404


def test_a_calendar_tells_no_more_of_people_than_its_account_may_see(
    owner: Account, client: Client
) -> None:
    ContactFactory.create(name="Ansel of Pelnaw")
    one = chore(owner, "Call Ansel of Pelnaw")
    client.force_login(AccountFactory.create())
    assert list(events(Client().get(address_of(client)).content)) == ["Call a contact"]
    with read_by(Reader()):
        made = calendar.calendar(day(0), address=lambda duty: "")
    assert list(events(made)) == [one.what]


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    low=st.dates(date(2023, 12, 1), date(2029, 3, 5)),
    length=st.integers(0, 400),
    words=st.text(st.characters(blacklist_categories=["Cs", "Cc"]), min_size=1, max_size=120),
)
def test_days_and_words_are_read_back_as_they_are_in_any_year(
    owner: Account, low: date, length: int, words: str
) -> None:
    """Leap days and the days on which clocks change are whole days as any other."""
    high = low + timedelta(days=length)
    duty = Duty("chore", Chore(pk=1, what=words, on=low), words, low, high)
    event = calendar._event(duty, low, "uid", "")
    made = Calendar()
    made.add_component(event)
    (found,) = Calendar.from_ical(made.to_ical()).walk("VEVENT")
    assert (found.decoded("DTSTART"), found.decoded("DTEND")) == (low, high + timedelta(days=1))
    assert str(found["SUMMARY"]) == words


def test_a_calendar_without_anything_due_is_one(owner: Account) -> None:
    AnimalFactory.create()
    parsed = Calendar.from_ical(calendar.calendar(day(0), address=lambda one: ""))
    assert parsed["VERSION"] == "2.0"
    assert parsed.walk("VEVENT") == []
