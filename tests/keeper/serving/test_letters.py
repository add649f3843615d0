"""Letters without case: the same answers from SQLite and PostgreSQL."""

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from keeper.domain.animals.queries import by_code, picks
from keeper.domain.clutches.queries import used_codes
from keeper.domain.collection.queries import Filters, collection
from keeper.models import Animal, Sex
from tests.factories import AnimalFactory, SpeciesFactory

pytestmark = pytest.mark.django_db


def holds(condition: str, *values: str) -> object:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {condition}", values)
        answer = cursor.fetchone()[0]
    return None if answer is None else bool(answer)


@pytest.fixture
def elan() -> Animal:
    return AnimalFactory.create(code="É-01", name="Ödland", place="Überraum 2", sex=Sex.FEMALE)


@pytest.mark.parametrize("typed", ["É-01", "é-01"])
def test_letters_find_a_code_however_it_is_typed(elan: Animal, typed: str) -> None:
    assert by_code(typed) == elan
    assert used_codes([typed]) == {"é-01"}


@pytest.mark.parametrize("typed", ["é", "ö", "ÖDL"])
def test_letters_find_in_the_collection_and_the_choices(elan: Animal, typed: str) -> None:
    AnimalFactory.create(code="E-02", name="Odland", sex=Sex.FEMALE)
    assert list(collection(Filters(text=typed))) == [elan]
    assert picks(typed, sex=Sex.FEMALE) == [elan]


def test_letters_find_a_place_however_it_is_typed(elan: Animal) -> None:
    assert list(collection(Filters(place="überraum"))) == [elan]


def test_letters_keep_a_code_to_one_animal_however_it_is_spelled(elan: Animal) -> None:
    twice = Animal(species=SpeciesFactory.create(), code="é-01")
    with pytest.raises(ValidationError) as caught:
        twice.full_clean()
    assert caught.value.messages == ["This code is in use already. Choose another."]


def test_letters_of_a_stored_code_can_be_changed(elan: Animal) -> None:
    elan.code = "é-01"
    elan.save()
    elan.code = "À-01"
    elan.save()
    assert by_code("é-01") is None
    assert by_code("à-01") == elan


@pytest.mark.parametrize(
    ("text", "pattern", "matches"),
    [
        ("26-01", "26-0_", True),
        ("26-012", "26-0_", False),
        ("a%b", r"a\%b", True),
        ("axb", r"a\%b", False),
        ("a_b", r"A\_b", True),
        ("axb", r"a\_b", False),
        (r"a\b", r"a\\b", True),
        ("a.b", "a_b", True),
        ("axb", "a.b", False),
        ("line\nbreak", "%BREAK", True),
        ("code\n", "code", False),
        ("", "%", True),
        ("", "_", False),
    ],
)
def test_letters_keep_what_a_pattern_means(text: str, pattern: str, matches: bool) -> None:
    # PostgreSQL calls this comparison ILIKE.
    like = "ILIKE" if connection.vendor == "postgresql" else "LIKE"
    assert holds(rf"CAST(%s AS text) {like} %s ESCAPE '\'", text, pattern) is matches


def test_letters_of_nothing_known_are_not_known() -> None:
    assert holds(r"CAST(NULL AS text) LIKE 'a' ESCAPE '\'") is None
    assert holds("lower(CAST(NULL AS text))") is None


def test_letters_take_every_sign_as_it_is_typed(elan: Animal) -> None:
    whole = AnimalFactory.create(code="E-02", name="100 % of_it", sex=Sex.FEMALE)
    for text in ("%", "_", "0 % o"):
        assert picks(text, sex=Sex.FEMALE) == [whole]
    assert list(collection(Filters(text="%"))) == [whole]
