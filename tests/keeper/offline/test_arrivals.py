"""Entries that waited arrive in any order, twice, late: the same book comes of it."""

import random
from collections import Counter

import pytest
from django.db import OperationalError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain.husbandry import writes as care
from keeper.domain.offline import readers
from tests.factories import AccountFactory, AnimalFactory
from tests.keeper.books import Book
from tests.keeper.offline.phones import Phone, arrive, filled_phones, noted
from tests.keeper.sent import filled

pytestmark = pytest.mark.django_db

ONCE = "0123456789abcdef" * 2


def weight(animal: m.Animal, grams: str = "480", once: str = ONCE) -> tuple[str, dict[str, str]]:
    form = {"grams": grams, "on": timezone.localdate().isoformat(), "once": once}
    return f"/animals/{animal.pk}/husbandry/weight/", form


@pytest.fixture
def animal(db: None) -> m.Animal:
    return AnimalFactory.create(code="F-014")


@pytest.fixture
def phone(owner: m.Account) -> Phone:
    return Phone(owner)


def test_whatever_the_order_of_arrival_the_same_book_comes_of_it(
    owner: m.Account, helper: m.Account
) -> None:
    phones = (Phone(owner), Phone(helper))
    filled_phones(phones, 10, random.Random(1))
    books: list[Counter[tuple[str, str, str, str]]] = []
    for seed in (2, 3, 4):
        with transaction.atomic():
            before = m.DaybookEntry.objects.count()
            arrive(phones, random.Random(seed))
            assert m.DaybookEntry.objects.count() - before == 20
            books.append(noted())
            transaction.set_rollback(True)
    assert books[0] == books[1] == books[2]
    assert (len(books[0]), set(books[0].values())) == (20, {1})


def test_sent_again_it_is_the_entry_that_it_made(phone: Phone, animal: m.Animal) -> None:
    phone.waits.append(weight(animal))
    first, second = phone.send(0), phone.send(0)
    entry = m.DaybookEntry.objects.get(token=ONCE)
    assert first["outcome"] == second["outcome"] == "written"
    assert first["entry"] == second["entry"] == f"/daybook/{entry.pk}/"
    assert first["page"] == f"/animals/{animal.pk}/?moved={entry.pk}"
    assert second["words"] == ["This form was saved already: nothing was written a second time."]
    assert m.Weight.objects.count() == 1


def test_what_is_refused_comes_back_with_its_words(phone: Phone, animal: m.Animal) -> None:
    phone.waits.append(weight(animal, "heavy"))
    said = phone.send(0)
    assert (said["outcome"], said["status"]) == ("refused", 200)
    assert "That is no weight. Write grams, such as 480, or 17 oz." in said["shown"]
    assert m.DaybookEntry.objects.count() == 0


def test_what_is_not_there_or_not_allowed_comes_back_too(animal: m.Animal) -> None:
    viewer = Phone(AccountFactory.create(role=m.Role.VIEWER))
    viewer.waits += [weight(animal), ("/animals/99999/husbandry/weight/", {"once": ONCE})]
    assert (viewer.send(0)["outcome"], viewer.send(0)["status"]) == ("refused", 403)
    owner = Phone(AccountFactory.create(role=m.Role.OWNER, name="Mara"))
    owner.waits = viewer.waits
    assert (owner.send(1)["outcome"], owner.send(1)["status"]) == ("refused", 404)


def test_nobody_or_somebody_else_writes_nothing(
    owner: m.Account, helper_client: Client, animal: m.Animal
) -> None:
    address, form = weight(animal)
    headers = {"Keptlines-Waited": readers.mark(owner)}
    assert Client().post(address, form, headers=headers).json() == {"outcome": "log-in"}
    said = helper_client.post(address, form, headers=headers).json()
    assert said == {"outcome": "other-account"}
    assert m.Weight.objects.count() == 0


def test_an_old_form_s_token_is_asked_for_again(owner: m.Account, animal: m.Animal) -> None:
    browser = Client(enforce_csrf_checks=True, headers={"Keptlines-Waited": readers.mark(owner)})
    browser.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    address, form = weight(animal)
    assert browser.post(address, form).json()["outcome"] == "again"
    csrf = browser.get(reverse("home-self-offline-now")).json()["csrf"]
    sent = form | {"csrfmiddlewaretoken": csrf}
    assert browser.post(address, sent).json()["outcome"] == "written"


def test_a_restored_book_takes_none_of_it(phone: Phone, animal: m.Animal) -> None:
    address, form = weight(animal)
    phone.waits.append((address, form | {"once": f"{ONCE}-{'e' * 16}"}))
    said = phone.send(0)
    assert (said["outcome"], said["status"], m.Weight.objects.count()) == ("restored", 409, 0)


def test_a_busy_book_is_asked_later(
    phone: Phone, animal: m.Animal, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(**_: object) -> m.DaybookEntry:
        raise OperationalError("database is locked")

    phone.client.raise_request_exception = False
    phone.waits.append(weight(animal))
    with monkeypatch.context() as patched:
        patched.setattr(care, "note", busy)
        assert phone.send(0)["outcome"] == "later"
    assert phone.send(0)["outcome"] == "written"


def test_a_form_that_makes_no_entry_says_so(phone: Phone, animal: m.Animal) -> None:
    one = AnimalFactory.create(code="F-015", place="Rack B · 1")
    round_ = f"/animals/round/each/?within=Rack+B&animal={one.pk}"
    phone.waits.append((round_, {"meal": "none", "once": ONCE}))
    assert phone.send(0) == {"outcome": "answered", "words": []}


@pytest.mark.parametrize("kind", ["weight", "shed", "health", "cleaning", "treatment"])
def test_two_who_note_the_same_of_one_animal_are_told(
    owner: m.Account, helper: m.Account, animal: m.Animal, kind: str
) -> None:
    day = timezone.localdate().isoformat()
    typed = {
        "weight": {"grams": "480"},
        "shed": {"came": "whole"},
        "health": {"text": "Wheezing"},
        "cleaning": {"what": "spot"},
        "treatment": {"what": "Wormer", "dose": "as written", "until": day},
    }[kind]
    address = f"/animals/{animal.pk}/husbandry/{kind}/"
    for who, once in ((helper, "a" * 32), (owner, "b" * 32)):
        phone = Phone(who)
        phone.waits.append((address, {"on": day, "once": once, **typed}))
        said = phone.send(0)
    assert said["outcome"] == "refused"
    assert f"{helper.name} wrote a" in said["shown"]
    assert "Save it all the same" in said["shown"]
    assert m.DaybookEntry.objects.count() == 1


def test_two_who_log_the_same_of_a_clutch_are_told(owner: m.Account, helper: m.Account) -> None:
    book = Book(owner)
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire)
    phones = [Phone(helper), Phone(owner)]
    hatch = f"/clutches/{clutch.pk}/hatch/"
    seen = [filled(phone.client, hatch) for phone in phones]  # both read it before either saved
    outcomes = []
    for phone, form in zip(phones, seen, strict=True):
        counts = [name for name in form if name.endswith("count")]
        counted = {counts[0]: "1", "still_open": "on", "scope": "whole"}
        phone.waits.append((hatch, form | counted))
        outcomes.append(phone.send(0))
    assert [one["outcome"] for one in outcomes] == ["written", "refused"], outcomes
    assert helper.name in outcomes[1]["shown"]


@pytest.mark.parametrize(
    "step", [{"kind": "candled", "fertile": "5"}, {"kind": "lost", "lost": "1"}]
)
def test_two_who_note_the_same_step_of_a_clutch_are_told(
    owner: m.Account, helper: m.Account, step: dict[str, str]
) -> None:
    book = Book(owner)
    clutch = book.clutch("C1", book.founder("F1", "female"), book.founder("M1", "male"))
    m.Clutch.objects.filter(pk=clutch.pk).update(eggs=6)
    day = timezone.localdate().isoformat()
    outcomes = []
    for who, once in ((helper, "a" * 32), (owner, "b" * 32)):
        phone = Phone(who)
        phone.waits.append((f"/clutches/{clutch.pk}/way/", {"on": day, "once": once, **step}))
        outcomes.append(phone.send(0))
    assert [one["outcome"] for one in outcomes] == ["written", "refused"]
    assert f"{helper.name} wrote of C1" in outcomes[1]["shown"]
    assert m.ClutchStep.objects.count() == 1
