"""Passkeys: made, shown, refused and removed, by a device in software."""

import json
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pyotp
import pytest
from django.db import connection
from django.test import Client
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from keeper.domain.accounts import ceremonies, passkeys, second_factor, writes
from keeper.domain.accounts.ceremonies import Asked
from keeper.domain.accounts.reached import reached
from keeper.models import Account, DaybookEntry, LogIn, Passkey
from tests.factories import PASSWORD, AccountFactory
from tests.keeper.accounts.device import Device

pytestmark = pytest.mark.django_db

HERE = reached("http://localhost")
OTHER = "book.example.org"
UNKNOWN = "This passkey is not known here"
NOT_IN_ORDER = "What your device answered is not in order"
LATE = "That took too long, or was answered already. Begin again."


@pytest.fixture
def client() -> Client:
    """A browser under the one name that needs no https."""
    return Client(SERVER_NAME="localhost")


@pytest.fixture
def mine(owner: Account) -> Client:
    return logged_in(owner)


@pytest.fixture
def device(mine: Client) -> Device:
    """A device with a passkey of the owner."""
    made = Device()
    assertRedirects(add(mine, made), "/me/passkeys/")
    return made


def logged_in(account: Account, **how: Any) -> Client:
    client = Client(**{"SERVER_NAME": "localhost", **how})
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


def begin(client: Client, name: str = "phone", **proof: str) -> Any:
    return client.post("/me/passkeys/", {"name": name, **(proof or {"current": PASSWORD})})


def asks_of_new(client: Client) -> str:
    return str(client.get("/me/passkeys/add/").context["asks"])


def add(client: Client, device: Device, name: str = "phone", **proof: str) -> Any:
    assertRedirects(begin(client, name, **proof), "/me/passkeys/add/")
    answer = device.make(asks_of_new(client))
    return client.post("/me/passkeys/add/", {"passkey_answer": answer, "name": name})


def asks(client: Client, address: str = "/log-in/passkey/ask/", **sent: str) -> str:
    return str(client.post(address, sent).json()["asks"])


def show(client: Client, answer: str, **sent: str) -> Any:
    return client.post("/log-in/passkey/", {"passkey_answer": answer, **sent})


def is_in(client: Client) -> bool:
    return client.get("/me/").status_code == 200


# ---- added, listed, removed -----------------------------------------------------------------


def test_a_passkey_is_added_named_and_listed(mine: Client, device: Device, owner: Account) -> None:
    key = Passkey.objects.get()
    assert (key.account, key.name, key.host) == (owner, "phone", "localhost")
    assert (key.reached_by, key.count, key.last_used_on) == ("internal,hybrid", 1, None)
    assertContains(mine.get("/me/passkeys/"), "never used, for localhost")
    assertContains(mine.get("/me/"), "You have 1 passkey.")
    entry = DaybookEntry.objects.latest("pk")
    assert (entry.by, entry.what) == (owner, "Mara: a passkey, “phone”")


def test_what_a_browser_is_asked_names_the_host_and_tells_nothing_of_the_book(
    mine: Client, device: Device
) -> None:
    begin(mine, "desk")
    asked = json.loads(asks_of_new(mine))
    assert (asked["rp"]["id"], asked["user"]["name"]) == ("localhost", "Mara")
    assert asked["authenticatorSelection"]["userVerification"] == "required"
    assert asked["authenticatorSelection"]["residentKey"] == "required"
    assert [one["id"] for one in asked["excludeCredentials"]] == [Passkey.objects.get().credential]
    assert asked["user"]["id"] == Passkey.objects.get().handle
    stranger = json.loads(asks(Client(SERVER_NAME="localhost")))
    assert stranger["allowCredentials"] == []
    assert (stranger["rpId"], stranger["userVerification"]) == ("localhost", "required")


def test_adding_asks_for_the_password_or_a_passkey(mine: Client, owner: Account) -> None:
    assertContains(begin(mine, current=""), "Type your password, or use a passkey of yours.")
    assertContains(begin(mine, current="wrong"), "That is not your password.")
    assertRedirects(mine.get("/me/passkeys/add/"), "/me/passkeys/")
    device = Device()
    add(mine, device)
    shown = device.use(asks(mine, "/me/passkeys/ask/"))
    assertRedirects(add(mine, Device(), "desk", passkey_answer=shown), "/me/passkeys/")
    again = begin(mine, "third", passkey_answer=shown)
    assertContains(again, LATE)
    assert "third" in again.content.decode()
    assert list(passkeys.of_account(owner).values_list("name", flat=True)) == ["phone", "desk"]


def test_removing_asks_for_the_same_and_ends_it(
    mine: Client, device: Device, client: Client, owner: Account
) -> None:
    page = f"/me/passkeys/{Passkey.objects.get().pk}/remove/"
    assertContains(mine.post(page, {"current": "wrong"}), "That is not your password.")
    assert Passkey.objects.exists()
    shown, asked = device.use(asks(mine, "/me/passkeys/ask/")), asks(client)
    assertRedirects(mine.post(page, {"passkey_answer": shown}), "/me/passkeys/")
    assert DaybookEntry.objects.latest("pk").what == "Mara: no passkey “phone” any more"
    assertContains(show(client, device.use(asked)), UNKNOWN)
    assert not is_in(client)
    assert mine.get(page).status_code == 404


def test_nobody_sees_or_removes_those_of_others(device: Device, helper: Account) -> None:
    theirs = logged_in(helper)
    assertContains(theirs.get("/me/passkeys/"), "None yet")
    page = f"/me/passkeys/{Passkey.objects.get().pk}/remove/"
    assert theirs.post(page, {"current": PASSWORD}).status_code == 404
    # Nor does that of somebody else prove who asks.
    add(theirs, Device(), "mine")
    shown = device.use(asks(theirs, "/me/passkeys/ask/"))
    assertContains(begin(theirs, "more", passkey_answer=shown), UNKNOWN)


def test_names_and_number_are_limited(
    mine: Client, device: Device, owner: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    assertContains(begin(mine, "Phone"), "You have a passkey called “Phone” already.")
    assertContains(begin(mine, "\u200b"), "Nothing of this name can be seen.")
    monkeypatch.setattr(passkeys, "MOST", 1)
    assertContains(begin(mine, "desk"), "You have 1 passkeys already.")


@pytest.mark.parametrize(
    "wrong",
    [
        Device(origin="http://localhost:8000"),
        Device(origin="https://localhost"),
        Device(verifies=False),
        Device(framed=True),
    ],
    ids=["port", "scheme", "not verified", "framed"],
)
def test_a_passkey_made_elsewhere_or_by_anybody_is_not_kept(mine: Client, wrong: Device) -> None:
    answer = add(mine, wrong, "the words typed")
    assertContains(answer, NOT_IN_ORDER)
    assert answer.context["form"]["name"].value() == "the words typed"
    assert not Passkey.objects.exists()


def test_a_passkey_for_another_host_name_is_not_kept(mine: Client) -> None:
    begin(mine)
    answer = Device().make(asks_of_new(mine), host="evil.example.org")
    assertContains(mine.post("/me/passkeys/add/", {"passkey_answer": answer}), NOT_IN_ORDER)
    assert not Passkey.objects.exists()


def test_an_answer_is_taken_once_and_a_device_makes_no_second(mine: Client, device: Device) -> None:
    begin(mine, "desk")
    answer = device.make(asks_of_new(mine))
    first = mine.post("/me/passkeys/add/", {"passkey_answer": answer})
    assertRedirects(first, "/me/passkeys/")
    assertContains(mine.post("/me/passkeys/add/", {"passkey_answer": answer}), LATE)
    assert Passkey.objects.count() == 2


# ---- logging in -----------------------------------------------------------------------------


def test_a_passkey_lets_in_without_name_password_and_code(
    client: Client, device: Device, owner: Account
) -> None:
    secret = second_factor.new_secret()
    second_factor.turn_on(account=owner, secret=secret, code=pyotp.TOTP(secret).now())
    assertContains(client.get("/log-in/?next=/animals/"), "Log in with a passkey")
    shown = device.use(asks(client))
    before = client.session.session_key
    assertRedirects(show(client, shown, next="/animals/"), "/animals/")
    key = Passkey.objects.get()
    assert (key.count, key.last_used_on is not None) == (2, True)
    assert client.session.session_key != before
    assert client.session.get_expiry_age() > 24 * 3600
    page = client.get("/me/")
    assertContains(page, "· this one", count=1)
    assertContains(page, "by a passkey", count=1)


def test_a_log_in_leads_nowhere_else(client: Client, device: Device) -> None:
    answer = show(client, device.use(asks(client)), next="//elsewhere.example/")
    assertRedirects(answer, "/")


def test_devices_that_do_not_count_are_taken(mine: Client, client: Client) -> None:
    device = Device(counts=False)
    add(mine, device)
    for _ in range(2):
        client.logout()
        assert show(client, device.use(asks(client))).status_code == 302
    assert Passkey.objects.get().count == 0


def test_what_was_signed_is_good_once_and_in_its_session(
    mine: Client, client: Client, owner: Account
) -> None:
    device = Device(counts=False)
    add(mine, device)
    shown = device.use(asks(client))
    other = Client(SERVER_NAME="localhost")
    asks(other)
    assertContains(show(other, shown), NOT_IN_ORDER)
    assert show(client, shown).status_code == 302
    client.post("/log-out/")
    assertContains(show(client, shown), LATE)
    asks(client)
    assertContains(show(client, shown), NOT_IN_ORDER)
    assert not is_in(client) and not is_in(other)


@pytest.mark.django_db(transaction=True)
def test_of_two_answers_at_the_same_moment_one_is_taken(owner: Account) -> None:
    client = Client(SERVER_NAME="localhost")
    session = client.session
    ceremonies.ask(session, "log in", HERE)
    session.save()

    # Each has read the session before any of them takes it.
    read = [type(session)(session.session_key) for _ in range(4)]
    assert all("passkey" in one for one in read)

    def take(held: Any) -> bool:
        try:
            ceremonies.take(held, "log in", HERE)
        except ceremonies.TooLate:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(take, read)) == [False, False, False, True]


def test_a_challenge_waits_five_minutes(
    client: Client, device: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = device.use(asks(client))
    later = time.time() + ceremonies.WAITS + 1
    monkeypatch.setattr("keeper.domain.accounts.ceremonies.time.time", lambda: later)
    assertContains(show(client, shown), LATE)


@pytest.mark.parametrize(
    ("does", "sent"),
    [
        ({"origin": "http://localhost:8000"}, {}),
        ({"origin": "https://localhost"}, {}),
        ({"origin": "http://localhost.evil.example"}, {}),
        ({"verifies": False}, {}),
        ({"framed": True}, {}),
        ({}, {"host": OTHER}),
        ({}, {"handle": b"of somebody else"}),
        ({}, {"signed": b"0" * 70}),
    ],
)
def test_what_is_not_signed_for_this_page_by_its_holder_is_refused(
    client: Client, device: Device, does: dict[str, Any], sent: dict[str, Any]
) -> None:
    for name, value in does.items():
        setattr(device, name, value)
    assertContains(show(client, device.use(asks(client), **sent)), NOT_IN_ORDER)
    assert not is_in(client)
    assert Passkey.objects.get().last_used_on is None


def test_a_counter_that_goes_back_is_told_and_the_passkey_not_taken_any_more(
    client: Client, mine: Client, device: Device
) -> None:
    show(client, device.use(asks(client)))
    client.post("/log-out/")
    ahead, device.count = device.count + 5, 0
    for count in (0, ahead):
        device.count = count
        answer = show(client, device.use(asks(client)))
        assertContains(answer, "The counter of this passkey went back, as that of a copy does")
        assert not is_in(client)
    assertContains(mine.get("/me/passkeys/"), "not taken since")
    assert mine.post("/me/passkeys/ask/").status_code == 409


def broken(good: str) -> Iterator[str]:
    """What a browser may send that is not in order, a piece of it at a time."""
    yield from ("", "{", "[]", "1", "null", '{"id": 1}', '{"id": "x"}', "[" * 9_000)
    read = json.loads(good)
    odd: tuple[Any, ...] = (1, "", "A", "é", "AAAA", "bnVsbA", "W10", "e30", ["x"], {}, None)
    for name in read:
        yield from (json.dumps({**read, name: one}) for one in odd if one != read[name])
    for name in read["response"].keys() - {"transports", "userHandle"}:
        for one in odd:
            yield json.dumps({**read, "response": {**read["response"], name: one}})


def test_nothing_that_a_device_answers_breaks_the_book(owner: Account) -> None:
    device, at = Device(), Asked(b"c" * 32, HERE, {"handle": "aGFuZGxl", "name": "phone"})
    good = device.make(ceremonies.to_make(at, owner, []))
    for one in broken(good):
        with pytest.raises(ceremonies.NotAccepted):
            ceremonies.made(one, at)
    passkeys.add(account=owner, answer=good, asked=at)
    key = Passkey.objects.get()
    good = device.use(ceremonies.to_use(at))
    for one in broken(good):
        with pytest.raises(ceremonies.NotAccepted):
            ceremonies.used(one, at, key, by_name=False)
    assert ceremonies.used(good, at, key, by_name=False) == device.count


def test_what_cannot_be_read_is_answered_with_words(client: Client, device: Device) -> None:
    asks(client)
    assertContains(show(client, ""), "Your browser sent no passkey.")
    assertContains(show(client, "{"), UNKNOWN)
    assert show(client, "x" * 30_000).status_code == 200


# ---- in place of the code -------------------------------------------------------------------


@pytest.fixture
def half(client: Client, owner: Account, device: Device) -> Client:
    """Somebody who gave the owner's password, and is asked for the code."""
    secret = second_factor.new_secret()
    second_factor.turn_on(account=owner, secret=secret, code=pyotp.TOTP(secret).now())
    sent = {"username": "Mara", "password": PASSWORD}
    assertRedirects(client.post("/log-in/?next=/animals/", sent), "/log-in/code/")
    return client


def test_a_passkey_does_in_place_of_the_code(half: Client, device: Device) -> None:
    assertContains(half.get("/log-in/code/"), "Use a passkey instead")
    asked = asks(half, second="1")
    assert len(json.loads(asked)["allowCredentials"]) == 1
    assertRedirects(show(half, device.use(asked), second="1"), "/animals/")
    assertContains(half.get("/me/"), "by a password and a passkey")


def test_a_challenge_is_for_one_thing(half: Client, mine: Client, device: Device) -> None:
    assertContains(show(half, device.use(asks(half)), second="1"), LATE)
    begin(mine, "desk")
    challenge = json.loads(asks_of_new(mine))["challenge"]
    shown = device.use(json.dumps({"challenge": challenge}))
    assertContains(begin(mine, "third", passkey_answer=shown), LATE)


def test_after_the_password_that_of_another_account_does_not(
    half: Client, device: Device, helper: Account
) -> None:
    theirs = Device()
    add(logged_in(helper), theirs)
    answer = show(half, theirs.use(asks(half, second="1")), second="1")
    assertContains(answer, UNKNOWN)
    assertContains(answer, "And your code")
    assert not is_in(half)


def test_without_the_password_there_is_no_second_step(client: Client, device: Device) -> None:
    answer = client.post("/log-in/passkey/ask/", {"second": "1"})
    assert (answer.status_code, answer.json()) == (
        409,
        {"said": "That took too long. Begin again with your password."},
    )
    assertRedirects(show(client, device.use(asks(client)), second="1"), "/log-in/")


# ---- who may not ----------------------------------------------------------------------------


def test_a_deactivated_account_is_not_let_in(
    client: Client, device: Device, owner: Account
) -> None:
    Account.objects.update(is_active=False)
    answer = show(client, device.use(asks(client)))
    assertContains(answer, "This account is switched off. Ask the owner of the book.")
    assert not is_in(client)


def test_whoever_leaves_loses_them(
    owner: Account, helper: Account, client: Client, device: Device
) -> None:
    theirs = Device()
    add(logged_in(helper), theirs)
    writes.switch_off(account=helper, by=owner)
    writes.switch_on(account=helper, by=owner)
    assertContains(show(client, theirs.use(asks(client))), UNKNOWN)
    assert passkeys.of_account(owner).exists()


def test_wrong_passkeys_and_wrong_passwords_count_together(client: Client, device: Device) -> None:
    for _ in range(3):
        Client().post("/log-in/", {"username": "Mara", "password": "wrong"})
    assert show(client, device.use(asks(client), signed=b"0")).status_code == 200
    assert show(client, device.use(asks(client), signed=b"0")).status_code == 429
    assert show(client, device.use(asks(client))).status_code == 429
    assert not is_in(client)
    elsewhere = Client(SERVER_NAME="localhost", REMOTE_ADDR="192.0.2.7")
    assert show(elsewhere, device.use(asks(elsewhere))).status_code == 302


def test_tries_with_keys_of_nobody_are_limited_too(client: Client, device: Device) -> None:
    stranger = Device()
    stranger.kept = [*device.kept]
    stranger.kept[0] = type(device.kept[0])(**{**vars(device.kept[0]), "name": b"nobody's"})
    statuses = [show(client, stranger.use(asks(client))).status_code for _ in range(6)]
    assert statuses == [200, 200, 200, 200, 429, 429]
    assert show(client, device.use(asks(client))).status_code == 302


def test_the_owner_takes_away_those_of_others(
    mine: Client, device: Device, owner: Account, helper: Account
) -> None:
    theirs = Device()
    add(logged_in(helper), theirs)
    assertContains(mine.get(f"/accounts/{helper.pk}/"), "Remove them all")
    mine.post(f"/accounts/{helper.pk}/passkeys/remove/")
    assert [one.account for one in Passkey.objects.all()] == [owner]
    again = mine.post(f"/accounts/{helper.pk}/passkeys/remove/", follow=True)
    assertContains(again, "Tobin has no passkey.")
    mine.post(f"/accounts/{owner.pk}/passkeys/remove/")
    assert passkeys.of_account(owner).exists()


def test_a_new_password_leaves_them_and_says_so(mine: Client, device: Device) -> None:
    sent = {"current": PASSWORD, "password": "three dry stones", "again": "three dry stones"}
    answer = mine.post("/me/password/", sent, follow=True)
    assertContains(answer, "Your passkeys still let in: look whether you know them all.")


# ---- under which name -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "host", "instead"),
    [
        ("http://localhost:8123", "localhost", ""),
        ("https://book.local:8443", "book.local", ""),
        ("https://BOOK.example.org:443", "book.example.org", ""),
        ("http://book.local", "", ""),
        ("https://book.local.", "", "https://book.local"),
        ("http://127.0.0.1:8123", "", "http://localhost:8123"),
        ("https://192.168.1.7:8443", "", "https://reading.example.org:8443"),
        ("https://[fe80::1]:8443", "", "https://reading.example.org:8443"),
    ],
)
def test_passkeys_need_a_name_and_https(settings: Any, asked: str, host: str, instead: str) -> None:
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1", "reading.example.org"]
    found = reached(asked)
    assert (found.host, found.instead) == (host, instead)
    assert bool(found.why_not) != bool(host)


def test_a_bare_address_says_why_there_are_none(owner: Account, device: Device) -> None:
    here = logged_in(owner, SERVER_NAME="127.0.0.1")
    page = here.get("/me/passkeys/")
    assertContains(page, "The book is open here by a number (127.0.0.1)")
    assertContains(page, "http://localhost")
    assertContains(page, "<strong>for localhost, not asked for here</strong>", html=True)
    assertNotContains(page, "What to call it")
    assertContains(begin(here), "a passkey needs a host name")
    stranger = Client(SERVER_NAME="127.0.0.1")
    assertContains(stranger.get("/log-in/"), "The passkeys of this book are for another address")
    assertNotContains(stranger.get("/log-in/"), "localhost")
    assert stranger.post("/log-in/passkey/ask/").status_code == 409


def test_under_another_host_name_they_stay_listed_and_are_not_taken(
    owner: Account, helper: Account, device: Device, settings: Any
) -> None:
    settings.ALLOWED_HOSTS = [OTHER]
    there = logged_in(owner, SERVER_NAME=OTHER)
    page = there.get("/me/passkeys/", secure=True)
    assertContains(page, "<strong>for localhost, not asked for here</strong>", html=True)
    assertNotContains(page, "Go on with a passkey you have")
    stranger = Client(SERVER_NAME=OTHER)
    assertNotContains(stranger.get("/log-in/", secure=True), "Log in with a passkey")
    assert stranger.post("/log-in/passkey/ask/", secure=True).status_code == 409
    Passkey.objects.create(
        account=helper, name="desk", host=OTHER, credential="c", public="p", handle="h"
    )
    device.origin = f"https://{OTHER}"
    asked = stranger.post("/log-in/passkey/ask/", secure=True).json()["asks"]
    assert json.loads(asked)["rpId"] == OTHER
    sent = {"passkey_answer": device.use(asked, host=OTHER)}
    assertContains(stranger.post("/log-in/passkey/", sent, secure=True), UNKNOWN)
    assert there.post("/me/passkeys/ask/", secure=True).status_code == 409


def test_behind_a_proxy_its_word_counts_only_where_there_is_one(
    owner: Account, settings: Any
) -> None:
    settings.ALLOWED_HOSTS = [OTHER]
    there = logged_in(owner, headers={"Host": OTHER, "X-Forwarded-Proto": "https"})
    assertContains(there.get("/me/passkeys/"), "without https")
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    assertContains(there.get("/me/passkeys/"), f"It is for <strong>{OTHER}</strong> alone")
    # A browser names its address by what stands in its own bar, which the proxy passes on.
    assertRedirects(add(there, Device(origin=f"https://{OTHER}")), "/me/passkeys/")
    assertContains(add(there, Device(origin=f"http://{OTHER}"), "desk"), NOT_IN_ORDER)


def test_a_passkey_may_have_the_name_of_one_for_another_address(
    owner: Account, device: Device
) -> None:
    Passkey.objects.update(host=OTHER)
    assertRedirects(add(logged_in(owner), Device()), "/me/passkeys/")
    handles = set(Passkey.objects.values_list("handle", flat=True))
    assert (Passkey.objects.count(), len(handles)) == (2, 1)


# ---- sessions of strangers ------------------------------------------------------------------


def test_strangers_leave_nothing_behind(client: Client, device: Device) -> None:
    for _ in range(3):
        asks(Client(SERVER_NAME="localhost"))
    LogIn.objects.filter(account=None).update(expire_date="2020-01-01T00:00:00Z")
    asks(client)
    assert LogIn.objects.filter(account=None).count() == 1
    assert client.session.get_expiry_age() <= ceremonies.WAITS


def test_whoever_asked_and_then_typed_the_password_stays_as_long_as_others(
    client: Client, device: Device
) -> None:
    asks(client)
    client.post("/log-in/", {"username": "Mara", "password": PASSWORD})
    assert client.session.get_expiry_age() > 24 * 3600


def test_whoever_is_logged_in_is_asked_nothing(mine: Client, device: Device) -> None:
    assert mine.post("/log-in/passkey/ask/").status_code == 409
    assert mine.session.get_expiry_age() > 24 * 3600
    assertRedirects(show(mine, device.use(asks(Client(SERVER_NAME="localhost")))), "/log-in/",
                    target_status_code=302)  # fmt: skip


def test_a_viewer_has_passkeys_too() -> None:
    device, ida = Device(), AccountFactory.create(name="Ida", role="viewer")
    assertRedirects(add(logged_in(ida), device), "/me/passkeys/")
