"""Lines and whom they go back to, inbreeding by year, and what is kept of all this."""

from datetime import date
from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.diversity import seasons
from keeper.domain.diversity.health import Health, health, means_here, species_here
from keeper.domain.diversity.lines import LineRest, fewest
from keeper.domain.inference import Descent
from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from tests.factories import LineFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of

TODAY = date(2026, 7, 1)


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner, name="python")


def found(book: Book, project: m.Project | None = None) -> Health:
    return health(book.species, project, TODAY)


def rest_of(book: Book, line: m.Line | None = None) -> LineRest:
    (one,) = [one.rest for one in found(book).lines if one.rest.line == (line or book.line)]
    return one


def dated(book: Book, clutch: m.Clutch, **days: date | None) -> m.Clutch:
    with writing(by=book.by, what="Dated") as entry:
        for name, day in days.items():
            setattr(clutch, name, day)
        entry.keep(clutch)
    return clutch


def project_of(book: Book, *animals: m.Animal) -> m.Project:
    project = m.Project(species=book.species, name="Pale tide")
    projects.start_project(
        project=project, parts=[Requirement(book.trait, book.line, m.Need.SHOWS)], by=book.by
    )
    for animal in animals:
        member = m.Member(
            project=project, animal=animal, holdback=False, reason="breeder", since=TODAY
        )
        projects.join(member=member, by=book.by)
    return project


# --- Lines -----------------------------------------------------------------------------------


def test_all_carriers_go_back_to_one_animal(book: Book) -> None:
    sire = book.founder("M1", "male", "visual")
    for number in (1, 2):
        clutch = book.clutch(f"C{number}", book.founder(f"F{number}", "female"), sire)
        book.young(f"K{number}", clutch)
    rest = rest_of(book)
    assert (rest.certain, rest.possible) == (3, 0)
    assert (rest.least, rest.most, rest.every) == (1, 1, 1)
    assert rest.earliest == (sire,)


def test_a_carrier_of_two_that_may_goes_back_to_one_or_both(book: Book) -> None:
    sire = book.founder("M1", "male", "visual")
    maybe = book.founder("F1", "female", "possible", "1/2")
    book.young("K1", book.clutch("C1", maybe, sire))
    rest = rest_of(book)
    # The sire is certain, so is the young; she may be, and may have brought nothing.
    assert (rest.certain, rest.possible) == (2, 1)
    assert (rest.least, rest.most, rest.every) == (1, 2, 2)
    assert [str(one) for one in rest.earliest] == ["F1", "M1"]


def test_two_families_go_back_to_two(book: Book) -> None:
    for number in (1, 2):
        book.founder(f"M{number}", "male", "carries")
    rest = rest_of(book)
    assert (rest.certain, rest.least, rest.most) == (2, 2, 2)


def test_a_line_that_began_here_goes_back_no_further(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    young = book.young("K1", book.clutch("C1", dam, sire), seen=True)
    other = LineFactory.create(trait=book.trait, code="NEW", locus=book.line.locus)
    with writing(by=book.by, what="Began") as entry:
        entry.keep(m.Arising(animal=young, line=other))
    rests = {one.rest.line.code: one.rest for one in found(book).lines}
    assert "HAR" in rests
    began = rests["NEW"]
    assert (began.every, began.possible + began.certain) == (1, 1)


def test_a_disputed_figure_is_not_certain(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    book.young("K1", book.clutch("C1", dam, sire), seen=False)
    disputed = m.Standing.objects.filter(line=book.line).exclude(dispute=None).count()
    rest = rest_of(book)
    assert disputed == 3
    assert (rest.certain, rest.possible) == (0, 3)


def test_sold_carriers_count_as_ancestors_alone(book: Book) -> None:
    sire = book.founder("M1", "male", "visual")
    book.young("K1", book.clutch("C1", book.founder("F1", "female"), sire))
    with writing(by=book.by, what="Sold M1") as entry:
        sire.status = m.Status.SOLD
        entry.keep(sire)
    rest = rest_of(book)
    assert (rest.certain, rest.earliest) == (1, (sire,))


@pytest.mark.parametrize(
    ("sets", "least"),
    [
        ([], 0),
        ([{1}, {1}], 1),
        ([{1}, {2}], 2),
        ([{1, 2}, {2, 3}], 1),
        ([{1, 2}, {2, 3}, {3}], 2),
    ],
)
def test_fewest(sets: list[set[int]], least: int) -> None:
    assert fewest(map(frozenset, sets)) == least


# --- Seasons ---------------------------------------------------------------------------------


def family(book: Book) -> tuple[m.Animal, m.Animal, m.Clutch]:
    """A daughter and a son of two founders, and their clutch: F 1/4."""
    clutch = book.clutch("C1", book.founder("F1", "female"), book.founder("M1", "male"))
    dated(book, clutch, hatched_on=date(2022, 7, 1))
    daughter = book.young("K1", clutch, seen=None, sex="female")
    son = book.young("K2", clutch, seen=None, sex="male")
    return daughter, son, book.clutch("C2", daughter, son)


def test_inbreeding_by_the_year_of_hatching(book: Book) -> None:
    daughter, _, clutch = family(book)
    dated(book, clutch, hatched_on=date(2025, 7, 1))
    other = book.clutch("C3", daughter, book.founder("M2", "male"))
    dated(book, other, hatched_on=date(2025, 8, 1))
    assert found(book).years == (
        seasons.Year(2022, 1, 0.0, 0.0),
        seasons.Year(2025, 2, 1 / 8, 1 / 4),
    )
    assert found(book).trend is None


def test_a_clutch_without_a_day_hatched_when_its_young_did(book: Book) -> None:
    daughter, son, _ = family(book)
    clutch = book.clutch("C3", daughter, son)
    young = book.young("K9", clutch, seen=None)
    counted = book.clutch("C4", daughter, son, normal=2)
    assert [str(one.clutch) for one in found(book).on_the_way] == ["C2"]
    assert [one.year for one in found(book).years] == [2022]
    with writing(by=book.by, what="Of a year") as entry:
        young.hatched_year = 2024
        entry.keep(young)
    assert [one.year for one in found(book).years] == [2022, 2024]
    assert seasons.hatched(book.species, {counted.pk, clutch.pk}) == {clutch.pk: date(2024, 7, 1)}


def test_a_trend_takes_three_years_and_ages(book: Book) -> None:
    descent_f = {1: 0.0, 2: 0.05, 3: 0.0975, 4: 1.0}
    days = {n: date(2020 + n, 7, 1) for n in descent_f}
    dam = book.founder("F1", "female")
    for number in (1, 2, 3):
        clutch = book.clutch(f"C{number}", dam, None)
        dated(book, clutch, hatched_on=days[number])
    pks = list(m.Clutch.objects.order_by("code").values_list("pk", flat=True))
    by_pk = {pk: days[n] for n, pk in enumerate(pks, 1)}
    coefficients = {pk: descent_f[n] for n, pk in enumerate(pks, 1)}
    assert seasons.trend(book.species, by_pk, coefficients) is None
    with writing(by=book.by, what="Hatched in") as entry:
        dam.hatched_year = 2019
        entry.keep(dam)
    told = seasons.trend(book.species, by_pk, coefficients)
    assert told is not None
    # She was 2, 3 and 4 years old, less the half of 2019: a rate of 1/20 a year over 3 years.
    assert told.generation == pytest.approx(3, abs=0.01)
    assert told.size == pytest.approx(1 / (2 * (1 - 0.95**3)), rel=0.01)
    assert (told.clutches, told.years) == (3, 3)
    level = dict.fromkeys(pks, 0.1)
    flat = seasons.trend(book.species, by_pk, level)
    assert flat is not None and flat.size is None


def test_young_of_a_dam_alone_make_no_trend(book: Book) -> None:
    days = {n: date(2020 + n, 7, 1) for n in (1, 2, 3)}
    assert seasons.trend(book.species, days, dict.fromkeys(days, 1.0)) is None


def test_what_is_on_the_way_and_what_is_planned(book: Book) -> None:
    daughter, son, clutch = family(book)
    dated(book, clutch, laid_on=date(2026, 6, 1))
    stale = book.clutch("C4", daughter, son)
    dated(book, stale, laid_on=date(2024, 6, 1))
    lost = book.clutch("C5", daughter, son)
    with writing(by=book.by, what="Lost") as entry:
        lost.eggs, lost.slugs = 4, 4
        entry.keep(lost)
    mother = m.Animal.objects.get(code="F1")
    with writing(by=book.by, what="Planned") as entry:
        for season, dam in ((2025, mother), (2026, mother), (2027, daughter)):
            entry.keep(m.PlannedPairing(season=season, dam=dam, sire=son, reason="to see"))
    one = found(book)
    assert [(str(row.clutch), row.inbreeding) for row in one.on_the_way] == [("C2", 0.25)]
    assert [(row.season, str(row.dam), row.inbreeding) for row in one.planned] == [
        (2026, "F1", 0.25),
        (2027, "K1", 0.25),
    ]


def test_a_project_is_its_members(book: Book) -> None:
    daughter, son, clutch = family(book)
    dated(book, clutch, hatched_on=date(2025, 7, 1))
    stranger = book.founder("F9", "female")
    project = project_of(book, daughter, son, stranger)
    own = found(book, project)
    assert own.living == 3
    assert {str(one.animal) for one in own.rarest} == {"K1", "K2", "F9"}
    assert str(own.rarest[0].animal) == "F9"
    # Clutches of two members alone: that of 2022 was of their parents.
    assert [year.year for year in own.years] == [2025]
    (row,) = found(book).projects
    assert (row.project, row.members, row.pairs) == (project, 3, 2)
    assert (row.lowest, row.mean, row.highest) == (0, 1 / 8, 1 / 4)
    assert row.group is not None and own.group is not None
    assert row.group.mean == pytest.approx(own.group.mean)
    # K1 and K2 1/2 each and 1/4 twice, F9 1/2: 2 of 9.
    assert own.group.mean == pytest.approx(float(Fraction(2, 9)))


def test_a_project_without_members_here_has_no_figures(book: Book) -> None:
    project = project_of(book)
    assert (found(book, project).living, found(book, project).group) == (0, None)
    (row,) = found(book).projects
    assert (row.members, row.group, row.pairs) == (0, None, 0)


# --- Kept ------------------------------------------------------------------------------------


def test_what_is_kept_is_never_stale(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    assert found(book).living == 2
    # Asked again nothing is worked out: the last entry is all that is asked for.
    assert queries_of(lambda: found(book)) == 1
    clutch = book.clutch("C1", dam, sire)
    young = book.young("K1", clutch, seen=None)
    assert found(book).living == 3
    assert young.pk in means_here(book.species).kinship
    undo(entry=m.DaybookEntry.objects.order_by("-pk")[0], by=book.by)
    assert found(book).living == 2
    assert young.pk not in means_here(book.species).kinship


def test_species_by_how_many_are_here(book: Book, owner: m.Account) -> None:
    assert species_here() == []
    other = Book(owner, name="boa")
    other.founder("B1", "female")
    book.founder("F1", "female")
    book.founder("F2", "female")
    assert species_here() == [book.species, other.species]


def test_queries_do_not_grow_with_the_animals(book: Book) -> None:
    daughter, son, clutch = family(book)
    dated(book, clutch, hatched_on=date(2025, 7, 1))
    project_of(book, daughter, son)

    def asked() -> int:
        return queries_of(lambda: found(book))

    book.founder("F9", "female", "visual")
    few = asked()
    for number in range(4):
        sire = book.founder(f"S{number}", "male", "carries")
        more = book.clutch(f"D{number}", daughter, sire)
        dated(book, more, hatched_on=date(2025, 7, 2 + number))
        book.young(f"Y{number}", more)
    assert asked() == few
    assert len(Descent(book.species).living) == 13
