"""The owner's page of accounts: add a helper, switch one off and on, give a new password."""

import pytest
from django.test import Client
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from keeper.domain.accounts import writes as accounts
from keeper.domain.book.writing import Refused
from keeper.models import Account, DaybookEntry, Role
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db

GOOD = "three dry stones"


def log_in(name: str, password: str) -> int:
    return Client().post("/log-in/", {"username": name, "password": password}).status_code


def errors(client: Client, **data: str) -> dict[str, list[str]]:
    answer = client.post("/accounts/", {"name": "Eda", "password": GOOD} | data)
    assert answer.status_code == 200
    return dict(answer.context["form"].errors)


def test_the_owner_adds_a_helper_who_can_log_in(owner_client: Client, owner: Account) -> None:
    answer = owner_client.post("/accounts/", {"name": "Eda", "password": GOOD}, follow=True)
    assertContains(answer, "Eda can log in with that name and password.")
    assert Account.objects.get(name="Eda").role == Role.HELPER
    assert log_in("eda", GOOD) == 302
    entry = DaybookEntry.objects.get()
    assert (entry.by, entry.what) == (owner, "Gave Eda an account")


def test_a_helper_sees_neither_the_page_nor_its_link(
    owner_client: Client, helper_client: Client, owner: Account
) -> None:
    assertContains(owner_client.get("/"), 'href="/accounts/"')
    assertNotContains(helper_client.get("/"), 'href="/accounts/"')
    for address in ("/accounts/", f"/accounts/{owner.pk}/password/"):
        assert helper_client.get(address).status_code == 403
    assert helper_client.post(f"/accounts/{owner.pk}/switch/").status_code == 403


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (
            {"name": "TOBIN "},
            {"name": [("There is an account of this name already. Choose another.")]},
        ),
        ({"name": "<b>"}, {"name": ["Use letters, figures, spaces and . ' @ + - _ in a name."]}),
        ({"password": ""}, {"password": ["This field is required."]}),
    ],
)
def test_adding_says_what_is_wrong(
    owner_client: Client, helper: Account, data: dict[str, str], expected: dict[str, list[str]]
) -> None:
    assert errors(owner_client, **data) == expected


@pytest.mark.parametrize("password", ["short", "password123", "39482716402"])
def test_weak_passwords_are_refused(owner_client: Client, helper: Account, password: str) -> None:
    assert list(errors(owner_client, password=password)) == ["password"]
    answer = owner_client.post(f"/accounts/{helper.pk}/password/", {"password": "short"})
    assert list(answer.context["form"].errors) == ["password"]
    helper.refresh_from_db()
    assert helper.check_password(PASSWORD)


def test_a_name_is_taken_once_however_many_try(owner: Account, helper: Account) -> None:
    with pytest.raises(accounts.NameTaken):
        accounts.add_helper(name="tobin", password=GOOD, by=owner)
    assert (Account.objects.count(), DaybookEntry.objects.count()) == (2, 0)


def test_switching_off_ends_what_is_open_and_switching_on_lets_in_again(
    owner_client: Client, helper: Account, helper_client: Client
) -> None:
    assert helper_client.get("/").status_code == 200
    owner_client.post(f"/accounts/{helper.pk}/switch/", {"to": "off"})
    assertRedirects(helper_client.get("/"), "/log-in/?next=/")
    assert log_in("Tobin", PASSWORD) == 200
    assertContains(owner_client.get("/accounts/"), "switched off")
    owner_client.post(f"/accounts/{helper.pk}/switch/", {"to": "on"})
    assert log_in("Tobin", PASSWORD) == 302
    assert list(DaybookEntry.objects.values_list("what", flat=True)) == [
        "Switched the account of Tobin on",
        "Switched the account of Tobin off",
    ]


def test_the_owners_account_stays_on(owner_client: Client, owner: Account) -> None:
    answer = owner_client.post(f"/accounts/{owner.pk}/switch/", {"to": "off"}, follow=True)
    assertContains(answer, "The owner&#x27;s account cannot be switched off: choose a helper")
    owner.refresh_from_db()
    assert owner.is_active
    with pytest.raises(Refused) as refusal:
        accounts.switch_off(account=owner, by=owner)
    assert str(refusal.value) == "The owner's account cannot be switched off: choose a helper's."


def test_a_new_password_ends_what_is_open_and_the_waiting(
    owner_client: Client, helper: Account, helper_client: Client
) -> None:
    for _ in range(5):
        log_in("Tobin", "forgotten")
    assert log_in("Tobin", PASSWORD) == 429
    answer = owner_client.post(f"/accounts/{helper.pk}/password/", {"password": GOOD})
    assertRedirects(answer, "/accounts/")
    assertRedirects(helper_client.get("/"), "/log-in/?next=/")
    assert log_in("Tobin", PASSWORD) == 200
    assert log_in("Tobin", GOOD) == 302


def test_the_owner_changes_their_own_password_and_stays(
    owner_client: Client, owner: Account
) -> None:
    owner_client.post(f"/accounts/{owner.pk}/password/", {"password": GOOD})
    assert owner_client.get("/").status_code == 200
    owner.refresh_from_db()
    assert owner.check_password(GOOD)


def test_no_page_or_entry_holds_a_password(owner_client: Client, helper: Account) -> None:
    owner_client.post(f"/accounts/{helper.pk}/password/", {"password": GOOD})
    assertNotContains(owner_client.get("/accounts/"), GOOD)
    assert GOOD not in str(list(DaybookEntry.objects.values()))
