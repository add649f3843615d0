"""A form is written once, however often it is sent."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from keeper.domain.backups import epoch
from keeper.domain.book import submission
from keeper.domain.book.submission import AlreadyWritten, submitted
from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, Clutch, DaybookEntry, Species
from tests.factories import AnimalFactory, SpeciesFactory
from tests.keeper.sent import opened

TOKEN = "0123456789abcdef" * 2


@pytest.fixture
def python(db: None) -> Species:
    return SpeciesFactory.create(name="royal python")


def typed(python: Species, **more: Any) -> dict[str, Any]:
    dam = AnimalFactory.create(species=python, code="F-1", sex="female")
    sire = AnimalFactory.create(species=python, code="M-1", sex="male")
    form = {"code": "26-01", "species": python.pk, "dam": dam.code, "sire": sire.code}
    return form | {"eggs": "6", "laid_on": "2026-03-01", "paternity": "one"} | more


def clutch_of(client: Client, python: Species) -> tuple[str, dict[str, Any]]:
    address = reverse("clutches-new")
    return address, typed(python) | opened(client, address)


def test_the_same_form_sent_again_leads_to_what_it_made(
    owner_client: Client, python: Species
) -> None:
    address, form = clutch_of(owner_client, python)
    first = owner_client.post(address, form)
    assert first.status_code == 302, first.content.decode()
    entry = DaybookEntry.objects.get()
    again = owner_client.post(address, form)
    clutch = Clutch.objects.get()
    assert again.headers["Location"] == f"/clutches/{clutch.pk}/?moved={entry.pk}"
    page = owner_client.get(again.headers["Location"]).content.decode()
    assert "nothing was written a second time" in page
    assert DaybookEntry.objects.count() == 1


def test_back_and_save_again_makes_no_second_clutch(owner_client: Client, python: Species) -> None:
    address, form = clutch_of(owner_client, python)
    owner_client.post(address, form)
    owner_client.post(address, form | {"code": "26-02"})
    assert [str(one) for one in Clutch.objects.all()] == ["26-01"]


def test_a_new_log_in_keeps_what_a_form_made(
    owner_client: Client, owner: Account, python: Species
) -> None:
    address, form = clutch_of(owner_client, python)
    owner_client.post(address, form)
    owner_client.logout()
    owner_client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    assert owner_client.post(address, form).status_code == 302
    assert Clutch.objects.count() == 1


def test_somebody_else_is_led_to_the_entry(
    owner_client: Client, helper_client: Client, python: Species
) -> None:
    address, form = clutch_of(owner_client, python)
    owner_client.post(address, form)
    answer = helper_client.post(address, form)
    assert answer.headers["Location"] == f"/daybook/{DaybookEntry.objects.get().pk}/"


def test_a_form_that_was_refused_may_be_sent_again(owner_client: Client, python: Species) -> None:
    address, form = clutch_of(owner_client, python)
    refused = owner_client.post(address, form | {"laid_on": "not a day"})
    assert refused.status_code == 200
    assert owner_client.post(address, form).status_code == 302
    assert Clutch.objects.count() == 1


def test_each_form_has_a_token_of_its_own(owner_client: Client, python: Species) -> None:
    tokens = {opened(owner_client, reverse("clutches-new"))[submission.TOKEN] for _ in range(3)}
    assert len(tokens) == 3
    assert len({token.partition("-")[0] for token in tokens}) == 3
    assert {token.partition("-")[2] for token in tokens} == {epoch.book().epoch[:16]}


@pytest.mark.parametrize("odd", ["", "x", "0" * 31, "Z" * 32, "0" * 400])
def test_what_is_no_token_protects_nothing_and_harms_nothing(
    owner_client: Client, python: Species, odd: str
) -> None:
    address, form = clutch_of(owner_client, python)
    assert owner_client.post(address, form | {submission.TOKEN: odd}).status_code == 302
    assert DaybookEntry.objects.get().token is None


def test_a_token_is_claimed_by_the_first_entry_of_a_request(
    owner: Account, python: Species
) -> None:
    with submitted(TOKEN, ""):
        for code in ("A-1", "A-2"):
            with writing(by=owner, what=f"Added {code}") as book:
                book.keep(Animal(species=python, code=code))
    tokens = DaybookEntry.objects.order_by("pk").values_list("token", flat=True)
    assert list(tokens) == [TOKEN, None]


def test_a_token_that_was_used_stops_the_entry(owner: Account, python: Species) -> None:
    with submitted(TOKEN, ""), writing(by=owner, what="Added A-1") as book:
        book.keep(Animal(species=python, code="A-1"))
    with (
        submitted(TOKEN, ""),
        pytest.raises(AlreadyWritten) as stopped,
        writing(by=owner, what="Added A-2") as book,
    ):
        book.keep(Animal(species=python, code="A-2"))
    assert stopped.value.entry.what == "Added A-1"
    assert [one.code for one in Animal.objects.all()] == ["A-1"]


def test_an_entry_that_was_not_kept_leaves_its_token_free(owner: Account, python: Species) -> None:
    with submitted(TOKEN, ""):
        with pytest.raises(ValidationError), writing(by=owner, what="Added nothing") as book:
            book.keep(Animal(species=python, code=""))
        with writing(by=owner, what="Added A-2") as book:
            book.keep(Animal(species=python, code="A-2"))
    assert DaybookEntry.objects.get().token == TOKEN
