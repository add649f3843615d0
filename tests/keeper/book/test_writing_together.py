"""Several people write at once, on every database."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from tests.factories import AccountFactory
from tests.keeper.books import Book


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_writing_at_the_same_moment_leaves_the_standings_of_a_recompute() -> None:
    book = Book(AccountFactory.create())
    dam = book.founder("D", "female", "possible", "1/2")
    sire = book.founder("S", "male", "possible", "1/2")
    clutch = book.clutch("C", dam, sire)
    young = [book.young(f"K{number}", clutch, seen=None) for number in range(12)]

    def look(animal: m.Animal) -> None:
        try:
            with writing(by=book.by, what="Looked") as entry:
                book.look(entry, animal, seen=False)
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as hands:
        list(hands.map(look, young))
    assert inference.differences() == []


@pytest.mark.django_db
def test_writing_takes_as_long_a_reason_as_the_forms_do(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("D", "female")
    reason = "w" * 200
    with writing(by=owner, what="Withdrew D", reason=reason) as entry:
        entry.withdraw(animal, reason=reason)
    assert (entry.entry.reason, animal.withdrawn_reason) == (reason, reason)
