"""The example collection never mixes with a book that somebody has begun."""

from collections.abc import Callable

import pytest

from keeper import models as m
from keeper.domain.book.writing import Refused
from keeper.domain.example import replaying as example
from tests.factories import ContactFactory, SpeciesFactory


@pytest.mark.parametrize("make", [SpeciesFactory.create, ContactFactory.create])
def test_load_is_refused_where_the_book_has_records(
    make: Callable[[], m.Record], owner: m.Account
) -> None:
    assert example.book_is_empty()
    make()
    assert not example.book_is_empty()
    with pytest.raises(Refused) as refused:
        example.load(by=owner)
    assert str(refused.value) == (
        "The example goes into an empty book only. Start one in another folder."
    )
    assert not m.DaybookEntry.objects.exists()
