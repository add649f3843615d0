"""Invitations, rights, second factor and log-ins."""

import re
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Event
from typing import Any

import pyotp
import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.db.models import F
from django.test import Client
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from keeper.domain.accounts import inviting, log_ins, second_factor
from keeper.domain.accounts.sealing import digest
from keeper.domain.book.writing import Refused
from keeper.models import Account, DaybookEntry, Invitation, LogIn, RecoveryCode, SecondFactor
from tests.factories import PASSWORD, AccountFactory

pytestmark = pytest.mark.django_db

GOOD = "three dry stones"
FIREFOX = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0"


def invited(owner_client: Client, **given: str) -> str:
    answer = owner_client.post("/accounts/invite/", {"role": "helper", **given})
    found = re.search(r"http://testserver(/invitation/[\w-]+/)", answer.content.decode())
    assert found
    return found[1]


def joined(address: str, name: str = "Eda") -> Any:
    return Client().post(address, {"name": name, "password": GOOD, "again": GOOD})


# ---- invitations --------------------------------------------------------------------------


def test_whoever_has_the_link_makes_an_account_with_the_rights_that_were_chosen(
    owner_client: Client, owner: Account
) -> None:
    address = invited(owner_client, meant_for="Eda of the shed", role="viewer", sees_prices="on")
    page = Client().get(address)
    assertContains(page, "Reads the book and writes nothing.")
    assertContains(page, "Sees prices.")
    assert page["Referrer-Policy"] == "same-origin"
    assertRedirects(joined(address), "/")
    eda = Account.objects.get(name="Eda")
    assert (eda.role, eda.sees_people, eda.sees_prices) == ("viewer", False, True)
    assert eda.invited_by.made_by == owner
    entries = [(one.by, one.what) for one in DaybookEntry.objects.order_by("pk")]
    assert entries == [
        (owner, "Invited a viewer, meant for Eda of the shed"),
        (eda, "Eda came by an invitation of Mara"),
    ]


def test_a_link_is_good_once_and_for_seven_days(owner_client: Client, owner: Account) -> None:
    address = invited(owner_client)
    assert joined(address).status_code == 302
    assert (joined(address, "Ida").status_code, Client().get(address).status_code) == (410, 410)
    late = invited(owner_client)
    Invitation.objects.filter(taken_by=None).update(ends_at=timezone.now() - timedelta(seconds=1))
    assert joined(late, "Ida").status_code == 410
    assert not Account.objects.filter(name="Ida").exists()


def test_of_two_who_use_a_link_at_once_one_is_too_late(
    owner: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    token, invitation = inviting.invite(
        role="helper", sees_people=False, sees_prices=False, by=owner
    )
    inviting.join(token=token, name="Eda", password=GOOD)
    # What the second read before the first wrote.
    monkeypatch.setattr(inviting, "invitation_of", lambda _: invitation)
    with pytest.raises(Refused):
        inviting.join(token=token, name="Ida", password=GOOD)
    assert list(Account.objects.order_by("pk").values_list("name", flat=True)) == ["Mara", "Eda"]


def test_an_invitation_is_taken_back(owner_client: Client, owner: Account) -> None:
    address = invited(owner_client, meant_for="Eda")
    assertContains(owner_client.get("/accounts/"), "Invited, not here yet")
    one = Invitation.objects.get()
    owner_client.post(f"/accounts/invitations/{one.pk}/take-back/")
    assert joined(address).status_code == 410
    assertNotContains(owner_client.get("/accounts/"), "Invited, not here yet")
    again = owner_client.post(f"/accounts/invitations/{one.pk}/take-back/", follow=True)
    assertContains(again, "That invitation is over already.")


def test_the_link_is_kept_nowhere(owner_client: Client) -> None:
    token = invited(owner_client).split("/")[2]
    kept = str([list(kind.objects.values()) for kind in (Invitation, DaybookEntry)])
    assert token not in kept
    assertNotContains(owner_client.get("/accounts/"), token)


def test_nobody_is_invited_to_be_the_owner(owner_client: Client) -> None:
    answer = owner_client.post("/accounts/invite/", {"role": "owner"})
    assert list(answer.context["form"].errors) == ["role"]


def test_joining_says_what_is_wrong(owner_client: Client, owner: Account) -> None:
    address = invited(owner_client)
    answer = Client().post(address, {"name": "MARA", "password": GOOD, "again": "other"})
    assert list(answer.context["form"].errors) == ["again"]
    answer = Client().post(address, {"name": "MARA", "password": GOOD, "again": GOOD})
    assert list(answer.context["form"].errors) == ["name"]
    answer = Client().post(address, {"name": "Eda", "password": "short", "again": "short"})
    assert list(answer.context["form"].errors) == ["password"]


# ---- rights -------------------------------------------------------------------------------


def test_the_owner_changes_what_somebody_may_do_and_is_told_what_they_see(
    owner_client: Client, helper: Account
) -> None:
    page = f"/accounts/{helper.pk}/"
    assertContains(owner_client.get(page), "Sees no sources, buyers or sellers")
    assertContains(owner_client.get("/accounts/"), "Sees no prices.")
    sent = {"role": "viewer", "sees_people": "on"}
    assertRedirects(owner_client.post(page, sent), page)
    helper.refresh_from_db()
    assert (helper.role, helper.sees_people, helper.sees_prices) == ("viewer", True, False)
    what = DaybookEntry.objects.latest("pk").what
    assert what == "Tobin is a viewer, sees sources, buyers and sellers"


def test_what_the_owner_may_do_is_not_changed(owner_client: Client, owner: Account) -> None:
    assert owner_client.get(f"/accounts/{owner.pk}/").context["form"] is None
    owner_client.post(f"/accounts/{owner.pk}/", {"role": "viewer"})
    owner.refresh_from_db()
    assert owner.is_owner


# ---- second factor ------------------------------------------------------------------------


@pytest.fixture
def secret(owner: Account) -> str:
    """The secret of the owner's second factor, turned on a while ago."""
    made = second_factor.new_secret()
    second_factor.turn_on(account=owner, secret=made, code=pyotp.TOTP(made).now())
    SecondFactor.objects.update(last_step=0)
    return made


def by_password(client: Client, password: str = PASSWORD) -> Any:
    return client.post("/log-in/?next=/animals/", {"username": "Mara", "password": password})


def now_of(secret: str) -> str:
    return pyotp.TOTP(secret).now()


def test_a_code_is_asked_for_after_the_password(secret: str) -> None:
    client = Client()
    assertRedirects(by_password(client), "/log-in/code/")
    before = client.session.session_key
    assertRedirects(client.get("/"), "/log-in/?next=/", fetch_redirect_response=False)
    answer = client.post("/log-in/code/", {"code": now_of(secret)})
    assertRedirects(answer, "/animals/")
    assert client.session.session_key != before
    assert client.get("/").status_code == 200
    assertContains(client.get("/me/"), "by a password and a code")


def test_a_code_without_the_password_is_of_no_use(secret: str) -> None:
    assertRedirects(Client().post("/log-in/code/", {"code": now_of(secret)}), "/log-in/")


def test_a_code_is_taken_once(secret: str) -> None:
    code, first, second = now_of(secret), Client(), Client()
    for client in (first, second):
        by_password(client)
    assert first.post("/log-in/code/", {"code": code}).status_code == 302
    assertContains(second.post("/log-in/code/", {"code": code}), "That is not the code of now")


@pytest.mark.parametrize(
    ("off", "taken"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)]
)
def test_a_clock_may_be_wrong_by_one_step(off: int, taken: bool) -> None:
    secret, now = second_factor.new_secret(), 1_000_000_000.0
    code = pyotp.TOTP(secret).at(int(now) + off * second_factor.STEP)
    assert (second_factor.step_of(secret, code, now) is not None) == taken


def test_codes_are_those_of_the_standard() -> None:
    # RFC 6238, appendix B: SHA-1, time 59 s, eight digits 94287082; six are its last six.
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    assert second_factor.step_of(secret, "287082", 59) == 1


def test_a_recovery_code_is_good_once(owner: Account, secret: str) -> None:
    codes = second_factor.renew_codes(account=owner)
    assert len(set(codes)) == 10
    for typed, status in ((codes[0].upper(), 302), (codes[0], 200), (codes[1], 302)):
        client = Client()
        by_password(client)
        assert client.post("/log-in/code/", {"code": typed}).status_code == status
    assert second_factor.codes_left(owner) == 8


def test_wrong_codes_and_wrong_passwords_count_together(secret: str) -> None:
    client = Client()
    for _ in range(2):
        by_password(Client(), "wrong")
    by_password(client)
    for _ in range(2):
        assert client.post("/log-in/code/", {"code": "000000"}).status_code == 200
    assert client.post("/log-in/code/", {"code": "000000"}).status_code == 429
    assert client.post("/log-in/code/", {"code": now_of(secret)}).status_code == 429
    assert by_password(Client()).status_code == 429


def test_a_password_that_was_changed_meanwhile_was_not_given(owner: Account, secret: str) -> None:
    client = Client()
    by_password(client)
    owner.set_password(GOOD)
    owner.save()
    assertRedirects(client.post("/log-in/code/", {"code": now_of(secret)}), "/log-in/")


def test_the_step_between_waits_ten_minutes(secret: str, monkeypatch: pytest.MonkeyPatch) -> None:
    client = Client()
    by_password(client)
    later = time.time() + 601
    monkeypatch.setattr("keeper.pages.accounts.entering.time.time", lambda: later)
    assertRedirects(client.get("/log-in/code/"), "/log-in/", fetch_redirect_response=False)


def test_turning_on_and_off_needs_the_password(owner_client: Client, owner: Account) -> None:
    page = owner_client.get("/me/second/")
    assertContains(page, 'role="img" aria-label="QR code of the secret"')
    secret = owner_client.session["secret"]
    for sent in ({"code": now_of(secret), "current": "wrong"}, {"code": "1", "current": PASSWORD}):
        owner_client.post("/me/second/", sent)
        assert not second_factor.has_second_factor(owner)
    answer = owner_client.post("/me/second/", {"code": now_of(secret), "current": PASSWORD})
    assert len(answer.context["codes"]) == 10
    assert "secret" not in owner_client.session
    owner_client.post("/me/second/", {"current": "wrong"})
    assert second_factor.has_second_factor(owner)
    assertRedirects(owner_client.post("/me/second/", {"current": PASSWORD}), "/me/")
    assert not (second_factor.has_second_factor(owner) or second_factor.codes_left(owner))


def test_the_database_alone_tells_neither_secret_nor_codes(
    owner: Account, secret: str, settings: Any, tmp_path: Any
) -> None:
    code = second_factor.renew_codes(account=owner)[0].replace("-", "")
    kept = str([list(kind.objects.values()) for kind in (SecondFactor, RecoveryCode, DaybookEntry)])
    assert secret not in kept and code not in kept
    assert digest(code) in kept
    settings.DATA = tmp_path  # another key
    client = Client()
    by_password(client)
    answer = client.post("/log-in/code/", {"code": now_of(secret)})
    assertContains(answer, "Codes cannot be read here", status_code=503)


def test_the_owner_turns_off_that_of_others_and_the_machine_that_of_the_owner(
    owner_client: Client, owner: Account, helper: Account, secret: str
) -> None:
    made = second_factor.new_secret()
    second_factor.turn_on(account=helper, secret=made, code=now_of(made))
    owner_client.post(f"/accounts/{helper.pk}/second/off/")
    assert not second_factor.has_second_factor(helper)
    owner_client.post(f"/accounts/{owner.pk}/second/off/")
    assert second_factor.has_second_factor(owner)
    call_command("second_factor_off", "mara")
    assert not second_factor.has_second_factor(owner)
    for name in ("mara", "nobody"):
        with pytest.raises(CommandError):
            call_command("second_factor_off", name)


# ---- log-ins ------------------------------------------------------------------------------


def came_in(name: str = "Mara", agent: str = FIREFOX) -> Client:
    client = Client(headers={"User-Agent": agent})
    client.post("/log-in/", {"username": name, "password": PASSWORD})
    return client


def test_log_ins_are_listed_and_ended(owner: Account) -> None:
    here, there = came_in(), came_in(agent="")
    page = here.get("/me/")
    assertContains(page, "Firefox on Windows")
    assertContains(page, "· this one", count=1)
    assertContains(page, "by a password", count=2)
    assert str(here.session.session_key) not in page.content.decode()
    others = [one for one in page.context["shown"].log_ins if not one.is_this]
    assert [(one.on, one.address) for one in others] == [("", "127.0.0.1")]
    here.post("/me/end/", {"key": others[0].key})
    assertRedirects(there.get("/me/"), "/log-in/?next=/me/")
    assert here.get("/me/").status_code == 200


def test_all_others_are_ended_by_one_button_and_by_a_new_password(owner: Account) -> None:
    here = came_in()
    for how in ("end", "password"):
        there = came_in()
        sent = {"current": PASSWORD, "password": GOOD, "again": GOOD}
        here.post(f"/me/{how}/", sent if how == "password" else {})
        assert (here.get("/me/").status_code, there.get("/me/").status_code) == (200, 302)
    assert LogIn.objects.filter(account=owner).count() == 1


def test_the_owner_ends_those_of_others_and_nobody_else_does(
    owner_client: Client, helper: Account
) -> None:
    theirs = came_in("Tobin")
    key = log_ins.log_ins_of(helper, this=None)[0].key
    stranger = AccountFactory.create()
    client = Client()
    client.force_login(stranger, backend="django.contrib.auth.backends.ModelBackend")
    client.post("/me/end/", {"key": key})
    assert client.post(f"/accounts/{helper.pk}/end/", {"key": key}).status_code == 403
    assert theirs.get("/").status_code == 200
    owner_client.post(f"/accounts/{helper.pk}/end/", {"key": key})
    assert theirs.get("/").status_code == 302


def test_switching_off_ends_every_log_in(owner_client: Client, helper: Account) -> None:
    came_in("Tobin")
    owner_client.post(f"/accounts/{helper.pk}/switch/", {"to": "off"})
    assert not LogIn.objects.filter(account=helper).exists()


def test_when_somebody_was_seen_is_noted_once_an_hour(owner: Account) -> None:
    client = came_in()
    before = client.session["seen"]
    client.get("/")
    assert client.session["seen"] == before
    session = client.session
    session["seen"] = (timezone.now() - timedelta(hours=2)).isoformat()
    session.save()
    client.get("/")
    assert str(client.session["seen"]) > str(session["seen"])
    client.post("/log-out/")
    assert not LogIn.objects.filter(account=owner).exists()


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_whoever_reads_waits_for_nobody_who_writes() -> None:
    AccountFactory.create(name="Mara", role="owner")
    client = came_in()
    session = client.session
    session["seen"] = before = (timezone.now() - timedelta(hours=2)).isoformat()
    session.save()
    begun, ended = Event(), Event()

    def write() -> None:
        with transaction.atomic():
            LogIn.objects.select_for_update().get(session_key=session.session_key)
            LogIn.objects.update(expire_date=F("expire_date"))
            begun.set()
            ended.wait(timeout=60)
        connection.close()

    with ThreadPoolExecutor(1) as hand:
        done = hand.submit(write)
        assert begun.wait(timeout=60)
        assert client.get("/").status_code == 200
        assert not done.done()
        ended.set()
        done.result(timeout=60)
    assert client.session["seen"] == before
    client.get("/")
    assert client.session["seen"] > before


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (FIREFOX, "Firefox on Windows"),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0) Safari/604.1",
            "Safari on an iPhone",
        ),
        ("Mozilla/5.0 (Linux; Android 15) Chrome/140.0 Mobile Safari/537.36", "Chrome on Android"),
        ("curl/8", ""),
        ("", ""),
    ],
)
def test_browsers_are_named_in_a_few_words(agent: str, words: str) -> None:
    assert log_ins.in_words(agent) == words
