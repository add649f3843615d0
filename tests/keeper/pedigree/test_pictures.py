"""Who is in a pedigree, with what marks, and that reading it does not grow with its size."""

from collections.abc import Callable

import pytest

from keeper.domain.book.writing import writing
from keeper.domain.pedigree import drawing, kin
from keeper.domain.pedigree.drawing import Asked
from keeper.domain.pedigree.marks import Mark, Picture
from keeper.models import Account, Animal, CandidateSire, Clutch, HatchRow, Member, Project
from tests.keeper.counting import queries_of
from tests.keeper.pedigree.rows import Yard, die, yard


@pytest.fixture
def small(owner: Account) -> Yard:
    return yard(owner)


def marks(of: Picture) -> dict[str, Mark]:
    return {mark.animal.code: mark for mark in of.marks if mark.animal is not None}


def listed(of: Picture, code: str) -> str:
    (found,) = [
        one.parents
        for row in of.rows
        for one in row
        if code in {animal.code for animal in one.animals}
    ]
    return found


def kinds(of: Picture, **which: object) -> int:
    return sum(all(getattr(one, key) == value for key, value in which.items()) for one in of.paths)


def test_ancestors_and_young_of_an_animal(small: Yard) -> None:
    drawn = drawing.of_animal(small["D-1"], Asked())
    assert set(marks(drawn)) == {"G-1", "G-2", "D-1", "S-1", "K-1", "K-2"}
    ys = {code: mark.y for code, mark in marks(drawn).items()}
    assert ys["G-1"] == ys["G-2"] < ys["D-1"] == ys["S-1"] < ys["K-1"] == ys["K-2"]
    assert [mark.animal.code for mark in drawn.marks if mark.focus and mark.animal] == ["D-1"]


def test_generations_are_as_many_as_asked_for(small: Yard) -> None:
    young = small["K-1"]
    assert set(marks(drawing.of_animal(young, Asked(up=1, down=0)))) == {"K-1", "D-1", "S-1"}
    assert marks(drawing.of_animal(young, Asked(up=1)))["D-1"].above
    two = marks(drawing.of_animal(young, Asked(up=2)))
    assert set(two) == {"K-1", "D-1", "S-1", "G-1", "G-2"}
    assert not two["D-1"].above
    old = small["G-2"]
    assert "K-1" not in marks(drawing.of_animal(old, Asked(down=1)))
    assert "K-1" in marks(drawing.of_animal(old, Asked(down=2)))


def test_hatchlings_without_a_record_are_one_symbol_with_their_number(small: Yard) -> None:
    drawn = drawing.of_animal(small["D-1"], Asked())
    (several,) = [mark for mark in drawn.marks if mark.number]
    assert (several.number, several.sex, several.lines) == (3, "unknown", ("not seen",))
    assert several.title == "3 hatchlings without a record, sex not known. Saltgrass: not seen"
    assert several.clutch == small.clutch


def test_one_hatchling_without_a_record_is_said_of_one(small: Yard) -> None:
    HatchRow.objects.filter(count=3).update(count=1)
    drawn = drawing.of_animal(small["D-1"], Asked())
    titles = [mark.title for mark in drawn.marks if "without a record" in mark.title]
    assert titles == ["1 hatchling without a record, sex not known. Saltgrass: not seen"]


def test_recorded_young_that_are_alike_are_one_symbol_and_all_of_them_in_the_list(
    small: Yard,
) -> None:
    for at in range(3, 6):
        small.book.young(f"K-{at}", small.clutch, seen=False, sex="male")
    drawn = drawing.of_animal(small["D-1"], Asked())
    (several,) = [mark for mark in drawn.marks if mark.number == 4]
    assert (several.sex, several.animal) == ("male", None)
    assert {"K-2", "K-3", "K-4", "K-5"} & set(marks(drawn)) == set()
    assert listed(drawn, "K-5") == "dam D-1, sire S-1"
    # One that has young of its own stands by itself.
    small.book.clutch("C-9", small["K-1"], small["K-2"], normal=1)
    assert "K-2" in marks(drawing.of_animal(small["D-1"], Asked(down=2)))


def test_marks_say_what_the_book_says_of_the_gene(small: Yard, owner: Account) -> None:
    die(small["S-1"], owner)
    found = marks(drawing.of_animal(small["D-1"], Asked()))
    assert (found["K-1"].fill, found["K-1"].lines) == ("whole", ("visual",))
    assert found["K-1"].title == "K-1, female. Saltgrass HAR: visual"
    # Its source says that it shows it: nobody here has seen it do so.
    assert (found["S-1"].fill, found["S-1"].dead) == ("half", True)
    assert found["S-1"].title.startswith("S-1, male, died. Saltgrass HAR: proven")
    assert (found["D-1"].fill, found["D-1"].lines) == ("half", ("100 %", "proven"))
    assert found["D-1"].codes == "HAR"
    assert (found["G-2"].fill, found["G-2"].sex) == ("", "female")
    assert found["K-2"].lines == ("100 %", "by parents")


def test_another_gene_of_which_nothing_is_said(small: Yard) -> None:
    drawn = drawing.of_animal(small["D-1"], Asked(gene="trait-0"))
    # What is no gene of theirs is as if it were not asked for.
    assert str(drawn.gene) == "Saltgrass"
    alone = small.book.founder("Z-1", "female")
    drawn = drawing.of_animal(alone, Asked())
    assert (drawn.gene, drawn.genes, drawn.is_empty) == (None, (), True)
    assert marks(drawn)["Z-1"].lines == ()


def test_two_candidate_sires_are_two_broken_lines_with_their_shares(
    small: Yard, owner: Account
) -> None:
    other = small.book.founder("S-2", "male")
    with writing(by=owner, what="Another candidate") as book:
        book.keep(CandidateSire(clutch=small.clutch, sire=other, share="1/3"))
    drawn = drawing.of_animal(small["K-1"], Asked(up=1))
    assert kinds(drawn, kind="descent", doubtful=True) == 2
    assert listed(drawn, "K-1") == (
        "dam D-1, possible sires S-1 (75 % as entered) or S-2 (25 % as entered)"
    )


def test_a_dam_alone_and_a_sire_not_recorded_are_told_apart(small: Yard, owner: Account) -> None:
    unknown = small.book.clutch("C-3", small["D-1"], None)
    alone = small.book.clutch("C-4", small["D-1"])
    with writing(by=owner, what="Alone") as book:
        book.keep(CandidateSire(clutch=alone, alone=True))
    without = drawing.of_animal(small.book.young("U-1", unknown), Asked(up=1))
    assert [mark.title for mark in without.marks if mark.unrecorded] == ["sire not recorded"]
    assert listed(without, "U-1") == "dam D-1, sire not recorded"
    of_her = drawing.of_animal(small.book.young("A-1", alone), Asked(up=1))
    assert (kinds(of_her, kind="couple"), kinds(of_her, kind="descent")) == (0, 1)
    assert listed(of_her, "A-1") == "dam D-1, sire none, of the dam alone"


def test_stated_parents_of_whom_one_is_not_known(small: Yard, owner: Account) -> None:
    with writing(by=owner, what="Bought") as book:
        bought = book.keep(
            Animal(species=small.book.species, code="B-1", sex="male", sire=small["S-1"])
        )
    drawn = drawing.of_animal(bought, Asked())
    assert listed(drawn, "B-1") == "dam not recorded, sire S-1"


def test_a_sire_on_his_granddaughter_is_drawn_once_and_double(small: Yard) -> None:
    back = small.book.clutch("C-5", small["K-1"], small["G-1"])
    drawn = drawing.of_animal(small.book.young("L-1", back, seen=True), Asked())
    assert [mark.animal.code for mark in drawn.marks if mark.animal].count("G-1") == 1
    assert kinds(drawn, related=True) == 1
    assert kinds(drawn, kind="couple") == 3


def test_a_withdrawn_animal_is_drawn_as_such_and_is_nobodys_young_any_more(
    small: Yard, owner: Account
) -> None:
    lost = small["K-2"]
    with writing(by=owner, what="Withdrew") as book:
        book.withdraw(lost, reason="entered twice")
    assert "K-2" not in marks(drawing.of_animal(small["D-1"], Asked()))
    mark = marks(drawing.of_animal(lost, Asked()))["K-2"]
    assert mark.lines == ("withdrawn",)
    assert mark.title.startswith("K-2, male, withdrawn")


def test_a_withdrawn_parent_stays_in_the_drawing_of_what_was_withdrawn_with_it(
    small: Yard, owner: Account
) -> None:
    # Both go: a record that counts may not name one that does not.
    clutch = small.book.clutch("C-6", small.book.founder("W-1", "female"), small["S-1"])
    child = small.book.young("W-2", clutch)
    with writing(by=owner, what="Withdrew") as book:
        for one in (child, *clutch.candidates.all(), clutch, small["W-1"]):
            book.withdraw(one, reason="never was here")
    found = marks(drawing.of_animal(child, Asked()))
    assert (found["W-1"].lines, found["W-2"].lines) == (("withdrawn",), ("withdrawn",))


def test_a_clutch_is_drawn_between_its_two_families(small: Yard) -> None:
    drawn = drawing.of_clutch(small.clutch, Asked())
    assert set(marks(drawn)) == {"G-1", "G-2", "D-1", "S-1", "K-1", "K-2"}
    assert [mark.number for mark in drawn.marks if mark.number] == [3]


def test_a_project_is_drawn_with_its_members_of_now(small: Yard, owner: Account) -> None:
    with writing(by=owner, what="A project") as book:
        project = book.keep(Project(species=small.book.species, name="Pale tide"))
        for code in ("K-1", "S-1"):
            book.keep(
                Member(project=project, animal=small[code], since="2026-01-01",
                       reason="good", holdback=False)
            )  # fmt: skip
    drawn = drawing.of_project(project, Asked(up=1))
    assert {code for code, mark in marks(drawn).items() if mark.focus} == {"K-1", "S-1"}
    assert set(marks(drawn)) == {"K-1", "S-1", "D-1"}


def test_a_line_is_drawn_from_where_it_came_in_to_all_who_may_carry_it(small: Yard) -> None:
    clean = small.book.founder("Z-1", "male")
    small.book.young("Z-2", small.book.clutch("C-7", small["K-1"], clean), seen=None)
    drawn = drawing.of_line(small.book.line)
    # Z-1 carries nothing and is there as a mate.
    assert set(marks(drawn)) == {
        *("G-1", "G-2", "D-1", "S-1", "K-1", "K-2"),
        *("Z-1", "Z-2"),
    }
    assert marks(drawn)["Z-1"].lines == ("–",)
    assert str(drawn.gene) == "Saltgrass HAR"


def test_there_is_an_end_to_what_is_drawn(small: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    assert not drawing.of_line(small.book.line).more
    monkeypatch.setattr(kin, "MOST", 4)
    drawn = drawing.of_line(small.book.line)
    assert drawn.more
    assert len(marks(drawn)) == 4


DRAWINGS: dict[str, Callable[[Yard], object]] = {
    "animal": lambda small: drawing.of_animal(small["D-1"], Asked(down=2)),
    "clutch": lambda small: drawing.of_clutch(small.clutch, Asked()),
    "line": lambda small: drawing.of_line(small.book.line),
}


@pytest.mark.parametrize("what", DRAWINGS)
def test_reading_takes_as_many_queries_however_many_there_are(what: str, small: Yard) -> None:
    draw = DRAWINGS[what]

    def more(number: int) -> None:
        mate = small.book.founder(f"M-{number}", "male", "visual")
        young = small.book.clutch(f"C-1{number}", small["D-1"], mate, normal=2)
        bred = small.book.young(f"Y-{number}", young, seen=False, sex="female")
        small.book.young(f"X-{number}", small.clutch, seen=True)
        small.book.young(f"V-{number}", small.book.clutch(f"C-2{number}", bred, mate), seen=False)

    more(0)
    first = queries_of(lambda: draw(small))
    more(1)
    more(2)
    assert queries_of(lambda: draw(small)) == first
    assert HatchRow.objects.count() == 4 and Clutch.objects.count() == 8
