"""The grounds and the history of a number as pages: weights, days, workings, moves, undo."""

from datetime import date
from functools import partial

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain.animals.moves import moves_of
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    Clutch,
    DaybookEntry,
    HatchRow,
    Line,
    RowSighting,
    Standing,
    StandingChange,
    Statement,
)
from keeper.pages.animals.moving import moving, movings
from keeper.pages.animals.timeplot import HEIGHT, LEFT, RIGHT, WIDTH, State, time_plot
from tests.factories import LineFactory
from tests.keeper.animals.rows import hatch, het, saltgrass_har, visual
from tests.keeper.counting import queries_of
from tests.keeper.looking import observe

pytestmark = pytest.mark.django_db


@pytest.fixture
def saltgrass(db: None) -> Line:
    return saltgrass_har()


def read(client: Client, animal: Animal, of: Line, **query: str) -> str:
    address = reverse("animals-grounds", args=[animal.pk, of.trait.pk])
    return client.get(address, query).content.decode()


def test_grounds_show_weights_and_the_working(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam = het(saltgrass, owner)
    hatch(dam, visual(saltgrass, owner), saltgrass, shown=0, plain=3, by=owner)
    page = read(owner_client, dam, saltgrass, line=str(saltgrass.pk))
    assert "clutch C-F-014: 0 of 3 showed Saltgrass</a></th>\n        <td>66 %</td>" in page
    assert "The working" in page and "<math" in page
    assert "With a visual a carrier shows itself among 7 young with 99 %; among 6 with 98 %" in page
    assert "<strong>20 %</strong>" in page


def test_grounds_fold_what_changes_nothing_alone(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner)
    hatch(dam, sire, saltgrass, shown=2, plain=2, by=owner)
    page = read(owner_client, dam, saltgrass)
    folded = page.partition('<details class="unchanged">')[2].partition("</details>")[0]
    assert "without any one of them it is the same" in folded
    assert "Saltgrass seen on M-003" in folded
    assert "It carries it for certain: nothing is left to work out." in page


def test_days_open_as_a_page_and_as_a_part(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam = het(saltgrass, owner)
    hatch(dam, visual(saltgrass, owner), saltgrass, shown=0, plain=3, by=owner)
    address = reverse("animals-grounds", args=[dam.pk, saltgrass.trait.pk])
    whole = owner_client.get(address, {"by": "days"}).content.decode()
    part = owner_client.get(
        address, {"by": "days"}, headers={"HX-Request": "true"}
    ).content.decode()
    assert "<html" in whole and "<html" not in part
    for page in (whole, part):
        assert "who is of whom" in page
        assert "1 Apr 2024" in page
        assert page.index("<td>66 %</td>") < page.index("<td>20 %</td>")


def test_days_of_what_the_book_says_nothing_of_say_so(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    with writing(by=owner, what="Added") as book:
        animal = book.keep(Animal(species=saltgrass.trait.species, code="F-1", sex="female"))
    assert "Nothing in the book bears" in read(owner_client, animal, saltgrass, by="days")


def test_grounds_of_a_dispute_tell_the_figure_without_each_record(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    trait = saltgrass.trait
    with writing(by=owner, what="Added") as book:
        dam = book.keep(Animal(species=trait.species, code="F-050", sex="female"))
        book.keep(Statement(animal=dam, trait=trait, line=saltgrass, claim="clear"))
    hatch(dam, visual(saltgrass, owner, "M-050"), saltgrass, shown=1, plain=0, by=owner)
    assert Standing.objects.filter(animal=dam).exclude(dispute=None).exists()
    page = read(owner_client, dam, saltgrass)
    disputed = page.partition('<table class="pieces disputed">')[2].partition("</table>")[0]
    assert "These records contradict each other." in disputed
    assert "1 hatchling of C-F-050</a></th>\n      <td>0 %</td>" in disputed
    assert "by a source not named</a></th>\n      <td>100 %</td>" in disputed
    assert "There is no one working while records behind it contradict each other" in page


def test_grounds_ask_no_more_for_more_clutches_and_moves(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner)
    hatch(dam, sire, saltgrass, shown=0, plain=1, by=owner)
    address = reverse("animals-grounds", args=[dam.pk, saltgrass.trait.pk])
    history = reverse("animals-history", args=[dam.pk])
    before = [queries_of(partial(owner_client.get, page)) for page in (address, history)]
    for code in ("C-2", "C-3"):
        with writing(by=owner, what="Hatched another", subject=dam) as book:
            clutch = book.keep(Clutch(species=dam.species, code=code, dam=dam))
            book.keep(CandidateSire(clutch=clutch, sire=sire))
            row = book.keep(HatchRow(clutch=clutch, count=1))
            book.keep(RowSighting(row=row, trait=saltgrass.trait, seen=False))
    after = [queries_of(partial(owner_client.get, page)) for page in (address, history)]
    assert after == before


def test_history_shows_moves_with_their_cause_corrections_and_undo(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    entry = observe(animal=animal, trait=saltgrass.trait, seen="yes", on=date(2024, 1, 1), by=owner)
    undone = undo(entry=entry, by=owner)
    page = owner_client.get(reverse("animals-history", args=[animal.pk])).content.decode()
    assert page.count("<svg") >= 1
    assert "How its figures moved" in page
    for one in (entry, undone):
        assert f'<a href="{reverse("daybook-entry", args=[one.pk])}">' in page
    assert page.count("taken back on") == 1


def test_movings_name_a_number_once_where_its_line_moved_alike(
    owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    assert [(one.trait, one.line) for one in movings(animal)] == [(saltgrass.trait, saltgrass)]
    LineFactory.create(trait=saltgrass.trait, code="PEL")
    other = visual(saltgrass, owner)
    with writing(by=owner, what="Line not known") as book:
        said = other.statements.get()
        said.line = None
        book.keep(said)
    named = [one.line.code if one.line else "whole" for one in movings(other)]
    assert named == ["whole", "HAR", "PEL"]


def test_moving_lists_the_newest_first_and_says_how_many_are_left_out(
    owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    for seen in ("yes", "unsure", "no"):
        entry = observe(
            animal=animal, trait=saltgrass.trait, seen=seen, on=date(2024, 1, 1), by=owner
        )
    moves = list(moves_of(animal, saltgrass.trait, saltgrass))
    found = moving(moves, most=2)
    assert found is not None
    assert [step.number for step in found.steps] == [len(moves), len(moves) - 1]
    assert (found.earlier, found.all) == (len(moves) - 2, len(moves))
    assert found.steps[0].entry.pk <= entry.pk
    assert moving([]) is None


def test_moves_are_told_in_the_order_of_their_days(owner: Account, saltgrass: Line) -> None:
    animal = het(saltgrass, owner)
    observe(animal=animal, trait=saltgrass.trait, seen="yes", on=date(2024, 1, 1), by=owner)
    entries = DaybookEntry.objects.filter(changes__animal=animal).distinct().order_by("at")
    told = [one.entry for one in moves_of(animal, saltgrass.trait, None)]
    assert told == list(entries)
    assert StandingChange.objects.filter(animal=animal).count() >= 2


# --- the plot ------------------------------------------------------------------------------------

NOTHING = State(date(2020, 1, 1), 0.0, 1.0, False)


def test_plot_draws_the_strip_through_time() -> None:
    # Possible for a year, two copies ever after: half hatched, then solid; the frame is 132 high.
    states = [
        State(date(2020, 1, 1), 0.0, 0.5, False),
        State(date(2021, 1, 1), 1.0, 0.0, False),
    ]
    drawn = time_plot(NOTHING, states, date(2022, 1, 1))
    before, half, whole = drawn.columns
    assert (before.solid_height, before.hatching) == (0.0, "")
    assert (half.solid_height, bool(half.hatching)) == (0.0, True)
    assert (whole.solid_height, whole.solid, whole.hatching) == (132.0, 26.0, "")
    assert (before.left, whole.left + whole.width) == (LEFT, WIDTH - RIGHT)
    assert half.width == pytest.approx(whole.width, abs=0.5)
    assert [mark.text for mark in drawn.moves] == ["1", "2"]
    assert [mark.text for mark in drawn.across] == ["2021", "2022"]
    assert drawn.height == HEIGHT


def test_plot_never_draws_what_is_possible_as_certain_or_as_nothing() -> None:
    states = [State(date(2020, 1, 1), 1e-9, 1 - 2e-9, False)]
    (_, column) = time_plot(NOTHING, states, date(2020, 3, 1)).columns
    assert column.solid_height == 2.0
    states = [State(date(2020, 1, 1), 1 - 1e-9, 1e-9, False)]
    (_, column) = time_plot(NOTHING, states, date(2020, 3, 1)).columns
    assert column.solid_height == 130.0


def test_plot_writes_moves_that_lie_on_each_other_as_one() -> None:
    days = [date(2020, 1, 1), date(2020, 1, 1), date(2020, 1, 3), date(2022, 1, 1)]
    drawn = time_plot(NOTHING, [State(day, 0.0, 0.5, False) for day in days], date(2024, 1, 1))
    assert [mark.text for mark in drawn.moves] == ["1–3", "4"]


def test_plot_breaks_the_edge_where_the_number_is_disputed() -> None:
    states = [State(date(2020, 1, 1), 0.0, 0.0, True), State(date(2020, 6, 1), 0.0, 0.0, False)]
    drawn = time_plot(NOTHING, states, date(2020, 12, 1))
    assert [column.disputed for column in drawn.columns] == [False, True, False]
    assert drawn.broken.count("H") == 1
    assert drawn.outline.count("H") == 2
    assert [(mark.text, mark.end) for mark in drawn.across] == [
        ("1 Jan 2020", "start"),
        ("1 Dec 2020", "end"),
    ]


def test_plot_of_one_day_fills_the_frame() -> None:
    drawn = time_plot(NOTHING, [State(date(2020, 1, 1), 0.0, 0.5, False)], date(2020, 1, 1))
    assert [column.left + column.width for column in drawn.columns] == [LEFT + 10, WIDTH - RIGHT]
    assert [mark.text for mark in drawn.across] == ["1 Jan 2020"]
