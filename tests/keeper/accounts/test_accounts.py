"""The owner's account: made once, with the code from the terminal; then logging in."""

from concurrent.futures import ThreadPoolExecutor
from io import StringIO
from threading import Barrier
from typing import Any

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction
from django.test import Client
from pytest_django.asserts import assertContains, assertRedirects

from keeper.domain.accounts import starting
from keeper.domain.accounts import writes as accounts
from keeper.management.commands.start import Command
from keeper.models import Account, Role, login_name
from tests.factories import PASSWORD, AccountFactory

pytestmark = pytest.mark.django_db

GOOD = "three dry stones"


def typed(code: str, **changes: str) -> dict[str, str]:
    return {"code": code, "name": "Mara", "password": GOOD, "again": GOOD} | changes


def errors(client: Client, data: dict[str, str]) -> dict[str, list[str]]:
    response = client.post("/set-up/", data)
    assert response.status_code == 200
    return dict(response.context["form"].errors)


def test_first_visit_leads_to_set_up(client: Client) -> None:
    assertRedirects(client.get("/"), "/set-up/")
    assertRedirects(client.get("/log-in/"), "/set-up/")


def test_set_up_makes_the_owner_and_logs_in(client: Client) -> None:
    response = client.post("/set-up/", typed(accounts.new_code()))
    owner = Account.objects.get()
    assert (owner.name, owner.role, owner.check_password(GOOD)) == ("Mara", Role.OWNER, True)
    assert client.session["_auth_user_id"] == str(owner.pk)
    assert response.status_code == 302
    assert client.get("/").status_code == 200


def test_set_up_accepts_the_code_as_people_type_it(client: Client) -> None:
    code = accounts.new_code().lower().replace("-", " ")
    client.post("/set-up/", typed(code))
    assert Account.objects.count() == 1


def test_set_up_is_closed_once_there_is_an_owner(client: Client, owner: Account) -> None:
    code = accounts.new_code()
    assertRedirects(client.get("/set-up/"), "/log-in/")
    assertRedirects(client.post("/set-up/", typed(code)), "/log-in/")
    assert list(Account.objects.all()) == [owner]


def test_set_up_refuses_a_wrong_code_and_keeps_what_was_typed(client: Client) -> None:
    accounts.new_code()
    response = client.post("/set-up/", typed("AAAA-AAAA"))
    assertContains(response, "That is not the code printed at the last start.")
    assertContains(response, 'value="Mara"')
    assert Account.objects.count() == 0


def test_set_up_stops_listening_after_ten_wrong_codes(client: Client) -> None:
    right = accounts.new_code()
    for _ in range(10):
        errors(client, typed("AAAA-AAAA"))
    assert errors(client, typed(right)) == {
        "code": ["Too many wrong codes. Stop the book and start it again for a new code."]
    }
    client.post("/set-up/", typed(accounts.new_code()))
    assert Account.objects.count() == 1


def test_codes_that_are_tried_at_the_same_moment_are_all_counted() -> None:
    right = accounts.new_code()
    together = Barrier(30)

    def tried(typed: str) -> bool | None:
        together.wait(timeout=30)
        try:
            return accounts.code_matches(typed)
        except accounts.CodeSpent:
            return None

    with ThreadPoolExecutor(30) as hands:
        found = list(hands.map(tried, ["AAAA-AAAA"] * 30))
    assert (found.count(False), found.count(None)) == (10, 20)
    with pytest.raises(accounts.CodeSpent):
        accounts.code_matches(right)
    assert accounts.code_matches(accounts.new_code())


def test_an_example_that_was_interrupted_leaves_no_owner_whose_password_nobody_saw(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def interrupted(*, by: Account) -> None:
        raise KeyboardInterrupt

    said = StringIO()
    monkeypatch.setattr(starting, "load_example", interrupted)
    with pytest.raises(KeyboardInterrupt):
        Command(stdout=said)._make_example()
    assert (Account.objects.count(), "password" in said.getvalue()) == (0, False)

    monkeypatch.setattr(starting, "load_example", lambda *, by: None)
    Command(stdout=said)._make_example()
    password = said.getvalue().split()[-1]
    assert Account.objects.get().check_password(password)


def test_set_up_refuses_when_no_code_was_printed(client: Client) -> None:
    accounts.new_code()
    accounts.create_owner(name="Mara", password=GOOD).delete()
    assert "code" in errors(client, typed("AAAA-AAAA"))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"again": "three dry bones"}, {"again": ["The two passwords differ. Type them again."]}),
        (
            {"name": "<b>"},
            {"name": ["Use letters, figures, spaces and . ' @ + - _ in a name."]},
        ),
        ({"name": ""}, {"name": ["This field is required."]}),
    ],
)
def test_set_up_says_what_is_wrong(
    client: Client, changes: dict[str, str], expected: dict[str, list[str]]
) -> None:
    assert errors(client, typed(accounts.new_code(), **changes)) == expected


@pytest.mark.parametrize("password", ["short", "password123", "39482716402", "Mara Mara"])
def test_set_up_refuses_weak_passwords(client: Client, password: str) -> None:
    found = errors(client, typed(accounts.new_code(), password=password, again=password))
    assert list(found) == ["password"]


def test_create_owner_refuses_a_second_owner(owner: Account) -> None:
    with pytest.raises(accounts.OwnerExists):
        accounts.create_owner(name="Eda", password=GOOD)
    with pytest.raises(IntegrityError, match="role"), transaction.atomic():
        AccountFactory.create(name="Eda", role=Role.OWNER)


@pytest.mark.parametrize(
    ("name", "expected"),
    [("Mara", "mara"), ("  Émile  Ó ", "émile ó"), ("STRASSE", "strasse"), ("Straße", "strasse")],
)
def test_login_name_ignores_case_and_spacing(name: str, expected: str) -> None:
    assert login_name(name) == expected


@pytest.mark.parametrize("name", ["Émile", "ÉMILE", " émile "])
def test_log_in_finds_the_name_however_it_is_typed(client: Client, name: str) -> None:
    AccountFactory.create(name="Émile")
    response = client.post("/log-in/", {"username": name, "password": PASSWORD})
    assertRedirects(response, "/")


@pytest.mark.parametrize(("name", "password"), [("Mara", "wrong"), ("Nobody", PASSWORD)])
def test_log_in_does_not_say_which_was_wrong(
    client: Client, owner: Account, name: str, password: str
) -> None:
    response = client.post("/log-in/", {"username": name, "password": password})
    assertContains(response, "That name and password do not belong together. Check both.")
    assert "_auth_user_id" not in client.session


def test_log_in_goes_on_to_the_page_asked_for_but_never_elsewhere(
    client: Client, owner: Account
) -> None:
    answers = [
        client.post(
            "/log-in/", {"username": "Mara", "password": PASSWORD, "next": next_page}
        ).headers["Location"]
        for next_page in ("/begin/", "https://elsewhere.example/")
    ]
    assert answers == ["/begin/", "/"]


def test_log_in_has_to_wait_after_five_wrong_passwords(client: Client, owner: Account) -> None:
    for name in ("Mara", "mara", "MARA", " mara"):
        assert client.post("/log-in/", {"username": name, "password": "x"}).status_code == 200
    fifth = client.post("/log-in/", {"username": "Mara", "password": "x"})
    right = client.post("/log-in/", {"username": "Mara", "password": PASSWORD})
    assertContains(fifth, "Wait a quarter of an", status_code=429)
    assert right.status_code == 429
    assert "_auth_user_id" not in client.session


def test_wrong_passwords_elsewhere_do_not_lock_the_owner_out(
    client: Client, owner: Account
) -> None:
    for _ in range(6):
        client.post("/log-in/", {"username": "Mara", "password": "x"}, REMOTE_ADDR="192.168.7.66")
    response = client.post(
        "/log-in/", {"username": "Mara", "password": PASSWORD}, REMOTE_ADDR="192.168.7.5"
    )
    assertRedirects(response, "/")


def test_behind_a_proxy_wrong_passwords_elsewhere_do_not_lock_the_owner_out(
    client: Client, owner: Account, settings: Any
) -> None:
    settings.TRUSTED_PROXIES = 1
    # The stranger writes an address of the owner's there; the proxy adds the one it was asked from.
    stranger = "192.0.2.5, 198.51.100.66"
    for number in range(6):
        answer = client.post(
            "/log-in/", {"username": "Mara", "password": "x"}, HTTP_X_FORWARDED_FOR=stranger
        )
        assert answer.status_code == (200 if number < 4 else 429)
    right = {"username": "Mara", "password": PASSWORD}
    response = client.post("/log-in/", right, HTTP_X_FORWARDED_FOR="192.0.2.5")
    assertRedirects(response, "/")


def test_log_out_needs_a_post(owner_client: Client) -> None:
    assert owner_client.get("/log-out/").status_code == 405
    assertRedirects(owner_client.post("/log-out/"), "/log-in/")
    assertRedirects(owner_client.get("/"), "/log-in/?next=/")


def test_begin_is_skipped_where_no_example_is_shipped(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(starting, "example_is_shipped", lambda: False)
    assertRedirects(client.post("/set-up/", typed(accounts.new_code())), "/")
    assertRedirects(client.get("/begin/"), "/")


@pytest.fixture
def loaded(monkeypatch: pytest.MonkeyPatch) -> list[Account]:
    """An example collection that only notes for whom it was loaded."""
    calls: list[Account] = []
    monkeypatch.setattr(starting, "example_is_shipped", lambda: True)
    monkeypatch.setattr(starting, "example_may_be_loaded", lambda: not calls)
    monkeypatch.setattr(starting, "load_example", lambda *, by: calls.append(by))
    return calls


@pytest.mark.parametrize(("choice", "loads"), [("empty", 0), ("example", 1)])
def test_begin_starts_empty_or_loads_the_example(
    client: Client, loaded: list[Account], choice: str, loads: int
) -> None:
    assertRedirects(client.post("/set-up/", typed(accounts.new_code())), "/begin/")
    assertRedirects(client.post("/begin/", {"begin": choice}), "/")
    assert loaded == [Account.objects.get()] * loads


def test_begin_is_for_the_owner(helper_client: Client, loaded: list[Account]) -> None:
    assert helper_client.post("/begin/", {"begin": "example"}).status_code == 403
    assert loaded == []


def test_accounts_have_a_history_without_passwords(owner: Account) -> None:
    record = owner.history.get()
    assert (record.name, record.history_type) == ("Mara", "+")
    assert not hasattr(record, "password")


def test_models_and_migrations_agree() -> None:
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)
