"""What the collection finds, and in which order."""

from decimal import Decimal

import pytest
from django.http import QueryDict

from keeper.domain.animals.queries import by_code
from keeper.domain.collection.queries import (
    Carrying,
    Counts,
    Filters,
    collection,
    count_sexes,
    left_out_as_disputed,
)
from keeper.models import Animal, Line, Species, Trait, Word
from keeper.pages.collection.forms import FiltersForm, plain_query
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)
from tests.keeper.collection.rows import dispute, standing

pytestmark = pytest.mark.django_db


@pytest.fixture
def species() -> Species:
    return SpeciesFactory.create(name="Royal python")


@pytest.fixture
def saltgrass(species: Species) -> Trait:
    return TraitFactory.create(species=species, name="Saltgrass")


@pytest.fixture
def harvesk(saltgrass: Trait) -> Line:
    return LineFactory.create(trait=saltgrass, code="HAR", name="Harvesk")


def codes(**filters: object) -> list[str]:
    return [animal.code for animal in collection(Filters(**filters))]  # type: ignore[arg-type]


def asked(query: str) -> Filters:
    return FiltersForm(QueryDict(query)).filters()


def test_collection_shows_those_here_unless_asked_otherwise() -> None:
    for status in ("kept", "offered", "lent", "sold", "died"):
        AnimalFactory.create(code=status, status=status)
    AnimalFactory.create(code="gone", withdrawn_at="2026-01-01T00:00Z")
    assert codes() == ["kept", "lent", "offered"]
    assert codes(status="sold") == ["sold"]
    assert codes(status="all") == ["died", "kept", "lent", "offered", "sold"]
    assert codes(status="withdrawn") == ["gone"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("f-01", ["F-010", "F-011"]),
        ("quill", ["F-011"]),
        ("F-01 wort", ["F-011"]),
        ("1.0", ["M-010"]),
        ("0.1 quill", ["F-011"]),
        ("nothing", []),
    ],
)
def test_collection_searches_codes_names_and_sexes(text: str, expected: list[str]) -> None:
    AnimalFactory.create(code="F-010", sex="female")
    AnimalFactory.create(code="F-011", sex="female", name="Quillwort")
    AnimalFactory.create(code="M-010", sex="male")
    assert codes(text=text) == expected


def test_collection_filters_by_what_an_animal_is(species: Species) -> None:
    AnimalFactory.create(code="A", species=species, sex="male", hatched_year=2024, place="R1-04")
    AnimalFactory.create(code="B", species=species, sex="female", hatched_year=2025, place="R11")
    AnimalFactory.create(code="C", hatched_year=2026, place="r1-05")
    AnimalFactory.create(code="D")
    assert codes(species=species.pk) == ["A", "B"]
    assert codes(sex="unknown") == ["C", "D"]
    assert codes(years=(2025, 2026)) == ["B", "C"]
    assert codes(place="R1-") == ["A", "C"]


@pytest.mark.parametrize(
    ("least", "expected"),
    [
        (None, ["A", "B", "C"]),
        ("50", ["A", "B", "C"]),
        ("50.1", ["A", "B"]),
        ("66", ["A", "B"]),
        ("67", ["A"]),
        ("100", ["A"]),
    ],
)
def test_collection_finds_carriers_of_a_line(
    species: Species, harvesk: Line, least: str | None, expected: list[str]
) -> None:
    other = LineFactory.create(trait=harvesk.trait, code="PEL")
    for code, chance in (("A", 1.0), ("B", 2 / 3), ("C", 0.5), ("D", 0.0)):
        animal = AnimalFactory.create(code=code, species=species)
        standing(animal, harvesk, chance, Word.PROVEN if chance == 1 else Word.POSSIBLE)
    standing(AnimalFactory.create(code="E", species=species), other, 1.0, Word.PROVEN)
    AnimalFactory.create(code="F", species=species)
    condition = Carrying(harvesk.trait.pk, harvesk.pk, least=Decimal(least) if least else None)
    assert codes(carrying=(condition,)) == expected


def test_collection_takes_nothing_less_than_certain_for_100_percent(
    species: Species, harvesk: Line
) -> None:
    nearly = AnimalFactory.create(code="A", species=species)
    standing(nearly, harvesk, 1.0, none=1e-17)
    certain = AnimalFactory.create(code="B", species=species)
    # A sum of floats may miss 1 though nothing else is possible.
    standing(certain, harvesk, 0.9999999, Word.PROVEN, none=0.0)
    assert codes(carrying=(Carrying(harvesk.trait.pk, harvesk.pk, least=Decimal(100)),)) == ["B"]


def test_collection_finds_words_and_copies(species: Species, saltgrass: Trait) -> None:
    rows: tuple[tuple[str, float, str, dict[str, float]], ...] = (
        ("A", 1.0, Word.VISUAL, {"two": 1.0}),
        ("B", 1.0, Word.PROVEN, {"two": 0.25}),
        ("C", 0.04, Word.CLEAN, {}),
        ("D", 0.0, Word.ABSENT, {}),
    )
    for code, chance, word, more in rows:
        standing(AnimalFactory.create(code=code, species=species), saltgrass, chance, word, **more)

    def has(how: str, least: int | None = None) -> list[str]:
        figure = None if least is None else Decimal(least)
        return codes(carrying=(Carrying(saltgrass.pk, None, how, figure),))

    assert has("shows") == ["A"]
    assert has("proven") == ["B"]
    assert has("clean") == ["C"]
    assert has("clean", 5) == []
    assert has("absent") == ["D"]
    assert has("two") == ["A", "B"]
    assert has("two", 50) == ["A"]
    assert has("two", 100) == ["A"]


def test_collection_asks_for_several_genes_in_one_animal(
    species: Species, saltgrass: Trait
) -> None:
    quillwort = TraitFactory.create(species=species, name="Quillwort")
    for code, traits in (("A", [saltgrass]), ("B", [saltgrass, quillwort]), ("C", [quillwort])):
        animal = AnimalFactory.create(code=code, species=species)
        for trait in traits:
            standing(animal, trait, 0.5)
    both = (Carrying(saltgrass.pk), Carrying(quillwort.pk))
    assert codes(carrying=both) == ["B"]
    assert codes(carrying=(Carrying(least=Decimal(50)),)) == ["A", "B", "C"]


def test_a_disputed_figure_finds_nothing_but_is_counted(species: Species, harvesk: Line) -> None:
    sure = AnimalFactory.create(code="A", species=species)
    doubtful = AnimalFactory.create(code="B", species=species)
    standing(sure, harvesk, 0.75)
    standing(doubtful, harvesk, 0.75, dispute=dispute(doubtful))
    condition = (Carrying(harvesk.trait.pk, harvesk.pk, least=Decimal(50)),)
    assert codes(carrying=condition) == ["A"]
    assert left_out_as_disputed(Filters(carrying=condition)) == 1
    assert left_out_as_disputed(Filters()) == 0
    assert codes(disputed=True) == ["B"]
    assert codes(carrying=condition, disputed=True) == ["B"]


def test_collection_sorts_by_every_column(species: Species, harvesk: Line) -> None:
    dam = AnimalFactory.create(code="Z", species=species, sex="female", status="sold")
    clutch = ClutchFactory.create(dam=dam)
    a = AnimalFactory.create(
        code="A", species=species, sex="male", hatched_year=2026, place="b", status="offered"
    )
    b = AnimalFactory.create(code="b", species=species, sex="female", clutch=clutch, place="A")
    c = AnimalFactory.create(code="C", species=species, hatched_year=2020, dam=dam)
    for animal, chance in ((a, 0.5), (b, 0.75), (c, 0.25)):
        standing(animal, harvesk, chance)
        standing(animal, harvesk.trait, chance)
    orders = {
        key: "".join(codes(sort=key))
        for key in ("code", "-code", "sex", "year", "-year", "place", "parents", "-status")
    }
    assert orders == {
        "code": "AbC",
        "-code": "CbA",
        "sex": "bAC",
        "year": "CAb",
        "-year": "ACb",
        "place": "bAC",
        "parents": "bCA",
        "-status": "AbC",
    }
    condition = (Carrying(harvesk.trait.pk, harvesk.pk),)
    assert codes(sort="-carries", carrying=condition) == ["b", "A", "C"]
    standing(c, TraitFactory.create(species=species), 0.5)
    assert codes(sort="-carries") == ["C", "A", "b"]


def test_counts_are_males_females_unknown() -> None:
    for sex in ("male", "female", "female", "unknown", "unknown", "unknown"):
        AnimalFactory.create(sex=sex)
    found = count_sexes(collection(Filters()))
    assert (found, str(found), found.total) == (Counts(1, 2, 3), "1.2.3", 6)


def test_animal_of_code_ignores_case_and_withdrawn_animals() -> None:
    animal = AnimalFactory.create(code="F-014")
    AnimalFactory.create(code="F-015", withdrawn_at="2026-01-01T00:00Z")
    assert by_code(" f-014 ") == animal
    assert by_code("F-015") is None


# --- the address ---------------------------------------------------------------------------


def test_the_address_is_read_as_filters(harvesk: Line) -> None:
    gene = f"{harvesk.trait.pk}-{harvesk.pk}"
    filters = asked(
        f"q=f-0&species={harvesk.trait.species.pk}&sex=female&status=sold&place=R1&year=2026-2024"
        f"&gene={gene}&least=50&gene2={harvesk.trait.pk}&has2=proven&disputed=on&sort=-year"
    )
    assert filters == Filters(
        text="f-0",
        species=harvesk.trait.species.pk,
        sex="female",
        status="sold",
        place="R1",
        years=(2024, 2026),
        carrying=(
            Carrying(harvesk.trait.pk, harvesk.pk, "carries", Decimal(50)),
            Carrying(harvesk.trait.pk, None, "proven"),
        ),
        disputed=True,
        sort="-year",
    )


@pytest.mark.parametrize(
    ("query", "problems"),
    [
        ("year=26", ["Hatched: Write a year like 2026, or two like 2024-2026."]),
        ("sex=both", ["Sex: Select a valid choice. both is not one of the available choices."]),
        ("least=half", ["At least, %: Enter a number."]),
        ("least=101", ["At least, %: Ensure this value is less than or equal to 100."]),
        ("sort=weight", []),
    ],
)
def test_what_means_nothing_is_said_and_not_used(query: str, problems: list[str]) -> None:
    form = FiltersForm(QueryDict(query))
    assert (form.filters(), form.problems()) == (Filters(), problems)


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("", ""),
        ("q=&sex=&status=here&sort=code&page=3&go=1&csrfmiddlewaretoken=x", ""),
        ("sort=-year&q=f+0&has=carries&least=50", "q=f+0&least=50&sort=-year"),
    ],
)
def test_plain_query_has_one_spelling(typed: str, plain: str) -> None:
    assert plain_query(QueryDict(typed)) == plain


def test_every_animal_has_one_row(species: Species, harvesk: Line) -> None:
    animal = AnimalFactory.create(species=species)
    standing(animal, harvesk, 0.5)
    standing(animal, harvesk.trait, 0.5)
    found = collection(Filters(carrying=(Carrying(least=Decimal(10)),)))
    assert list(found) == [animal]
    assert Animal.objects.count() == 1
