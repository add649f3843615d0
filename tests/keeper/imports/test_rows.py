"""The dry run: what becomes of each row, every problem at its cell, and what is asked."""

from datetime import date
from typing import Any

import pytest

from keeper import models as m
from keeper.domain.book.writing import Refused, writing
from keeper.domain.imports import changing
from keeper.domain.imports.checking import check
from keeper.domain.imports.rows import Fate
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.imports.tables import begun, picked, rows_of, table, tried


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def problems(one: m.Import) -> list[tuple[int, int | None, str]]:
    return [
        (row.number, problem.column, problem.said)
        for row in tried(one).rows
        for problem in row.problems
    ]


def read(owner: m.Account, *rows: str, **chosen: Any) -> m.Import:
    return picked(begun(owner, table(*rows)), **chosen)


def test_parents_are_found_in_any_order_by_code_and_by_name(book: Book, owner: m.Account) -> None:
    book.founder("M-9", "male")
    one = read(owner, "Code,Name,Sex,Dam,Sire", "K-2,,,Neap,m-9", "K-1,,,F-1,M-9", "F-1,Neap,f,,")
    rows = rows_of(one)
    assert problems(one) == []
    for code in ("K-1", "K-2"):
        assert [str(parent) for parent in rows[code].parents] == ["F-1", "M-9"]


def test_parents_in_a_circle_are_problems_and_their_young_are_not(
    book: Book, owner: m.Account
) -> None:
    one = read(owner, "Code,Sex,Dam", "A,f,B", "B,f,C", "C,f,A", "D,f,A", "E,f,E")
    assert problems(one) == [
        (2, 2, "A would be an ancestor of its own. Correct its dam or its sire."),
        (3, 2, "B would be an ancestor of its own. Correct its dam or its sire."),
        (4, 2, "C would be an ancestor of its own. Correct its dam or its sire."),
        (6, 2, "E cannot be its own parent. Write another."),
        (6, 2, "E would be an ancestor of its own. Correct its dam or its sire."),
    ]


def test_parents_of_the_wrong_sex_and_age_are_problems(book: Book, owner: m.Account) -> None:
    book.founder("M-9", "male")
    one = read(
        owner,
        "Code,Sex,Hatched,Dam,Sire",
        "F-1,f,2024-05-01,,",
        "K-1,,2024-05-01,F-1,F-1",
        "K-2,,2025-05-01,M-9,",
        "K-3,,2023,F-1,",
    )
    assert problems(one) == [
        (3, 3, "F-1 did not hatch before K-1. Correct a day, or write another."),
        (3, 4, "F-1 is not recorded as male in row 2. Correct its sex there, or write another."),
        (4, 3, "M-9 is not recorded as female in the book. "
         "Correct its sex there, or write another."),
        (5, 3, "F-1 hatched in 2024, later. Correct a day, or write another."),
    ]  # fmt: skip


def test_parent_that_was_too_young_is_remarked_on(book: Book, owner: m.Account) -> None:
    one = read(owner, "Code,Sex,Hatched,Dam", "F-1,f,2024-01-01,", "K-1,,2024-06-01,F-1")
    (row,) = tried(one).remarked
    assert row.remarks == [
        f"F-1 was 5 months old when the clutch hatched; {book.species} breed from 36 months."
    ]
    assert tried(one).is_ready


def test_parent_that_nobody_knows_is_asked_once(book: Book, owner: m.Account) -> None:
    one = read(owner, "Code,Sex,Dam", "K-1,,Nepa", "K-2,,nepa", "Neap-1,f,", "K-3,,?")
    (question,) = tried(one).questions
    assert (question.kind, question.text, question.rows) == ("parent", "Nepa", (2, 3))
    assert [row.fate for row in tried(one).rows] == [Fate.ASKED, Fate.ASKED, Fate.NEW, Fate.NEW]
    changing.answer(one=one, answers={question.key: {"is": "is", "code": "Neap-1"}})
    assert [str(row.dam) for row in tried(one).rows] == ["Neap-1", "Neap-1", "None", "None"]
    changing.answer(one=one, answers={question.key: {"is": "note", "code": ""}})
    assert [row.notes for row in tried(one).rows] == [["Dam: Nepa"], ["Dam: nepa"], [], []]
    assert not tried(one).questions


def test_several_sires_are_candidates_of_a_clutch(book: Book, owner: m.Account) -> None:
    rows = ("Code,Sex,Hatched,Sire", "M-1,m,,", "M-2,m,,", "K-1,,2024-05-01,M-1 / M-2")
    (clutch,) = tried(read(owner, *rows)).clutches
    assert [str(sire) for sire in clutch.sires] == ["M-1", "M-2"]
    undated = read(owner, *rows[:3], "K-1,,,M-1 or M-2")
    assert problems(undated) == [
        (4, 3, "Several sires need a clutch: write its code, or the day on which it hatched, or "
         "one sire."),
    ]  # fmt: skip


def test_clutch_needs_a_parent_and_the_same_ones(book: Book, owner: m.Account) -> None:
    one = read(
        owner, "Code,Sex,Clutch,Dam", "F-1,f,,", "F-2,f,,", "K-1,,24-01,F-1", "K-2,,24-01,F-2",
        "K-3,,24-01,", "K-4,,24-02,",
    )  # fmt: skip
    assert problems(one) == [
        (5, 2, "Clutch 24-01 has other parents in row 4. "
         "Correct the parents, or write another code."),
        (7, 2, "This clutch names no parent, in any row. Write the dam or the sire, or pick the "
         "column as a note."),
    ]  # fmt: skip
    assert rows_of(one)["K-3"].clutch is rows_of(one)["K-1"].clutch


def test_likely_doubles_are_asked_and_the_same_code_is_a_problem(
    book: Book, owner: m.Account
) -> None:
    with writing(by=owner, what="Added") as entry:
        entry.keep(
            m.Animal(species=book.species, code="A-14", name="Neap", hatched_on=date(2020, 1, 2))
        )
    one = read(
        owner, "Code,Name,Hatched", "a14,,", "B-1,neap,2020-01-02", "C-1,Ebb,2021-03-04",
        "C-2,ebb,2021-03-04", "D-1,,", "d-1,,", "a-14,,",
    )  # fmt: skip
    asked = tried(one).questions
    assert [(one.rows, one.about) for one in asked] == [
        ((2,), "A-14 Neap, in the book"),
        ((3,), "A-14 Neap, in the book"),
        ((5,), "C-1 Ebb, in row 4"),
    ]
    assert problems(one) == [(7, 0, "Row 6 has the code d-1 too. Change or leave out one.")]
    assert rows_of(one)["a-14"].fate == Fate.THERE
    same, other = {"is": "same", "name": "", "code": ""}, {"is": "other", "name": "", "code": ""}
    changing.answer(one=one, answers={asked[0].key: same, asked[1].key: other, asked[2].key: same})
    fates = [row.fate.value for row in tried(one).rows]
    assert fates == ["there", "new", "new", "out", "new", "problem", "there"]


def test_codes_are_made_to_fit_or_made_where_the_keeper_says_so(
    book: Book, owner: m.Account
) -> None:
    rows = ("Code,Name", "Old lady #2,", ",Ebb", "A-3,")
    plain = read(owner, *rows)
    (first, second) = [problem for row in tried(plain).rows for problem in row.problems]
    assert (first.offer, second.said[:26]) == ("Old-lady-2", "This animal has no code. W")
    assert list(rows_of(read(owner, *rows, fit_codes=True, codes="name"))) == [
        "Old-lady-2", "Ebb", "A-3",
    ]  # fmt: skip
    assert list(rows_of(read(owner, *rows, fit_codes=True, codes="series", first_code="A-3"))) == [
        "Old-lady-2", "A-4", "A-3",
    ]  # fmt: skip


def test_cells_are_mended_in_place_and_no_other_window_is_overwritten(
    book: Book, owner: m.Account
) -> None:
    one = read(owner, "Code,Sex", "A-1,🐍", "A-2,f")
    (said,) = problems(one)
    assert said == (2, 1, "This is no sex. Write 1.0, 0.1 or 0.0.1, or m, f or ?.")
    changing.mend(one=one, row=2, texts={1: ("🐍", "m")})
    assert (problems(one), rows_of(one)["A-1"].sex) == ([], "male")
    with pytest.raises(Refused, match="“B2” was mended in another window: “m”"):
        changing.mend(one=one, row=2, texts={1: ("🐍", "f")})


def test_rows_are_left_out_and_taken_in_again(book: Book, owner: m.Account) -> None:
    one = read(owner, "Code,Sex", "A-1,🐍", "A-2,f")
    changing.leave_out(one=one, rows=[2], out=True)
    assert (tried(one).is_ready, tried(one).counts[Fate.OUT]) == (True, 1)
    changing.leave_out(one=one, rows=[2], out=False)
    assert not tried(one).is_ready


def test_formula_is_never_taken_for_what_it_gives(book: Book, owner: m.Account) -> None:
    one = read(owner, "Code,Name", 'A-1,"=HYPERLINK(""x"")"')
    assert problems(one) == [(2, 1, "This cell holds a formula. Write what it gives.")]


def test_species_that_is_not_known_is_asked_once(book: Book, owner: m.Account) -> None:
    one = read(owner, "Code,Species", "A-1,royal", "A-2,royal", f"A-3,{book.species}", species=None)
    (question,) = tried(one).questions
    assert (question.kind, question.text, question.rows) == ("species", "royal", (2, 3))
    changing.answer(one=one, answers={question.key: {"is": "is", "name": book.species.name}})
    assert {row.species for row in tried(one).rows} == {book.species}


def test_more_copies_than_fit_are_a_problem(book: Book, owner: m.Account) -> None:
    m.Line.objects.create(trait=book.trait, locus=book.line.locus, code="PEL", name="Pelnaw")
    other = m.Trait.objects.create(species=book.species, name="Sedge", shown="dominant")
    m.Line.objects.create(trait=other, locus=book.line.locus, code="DUN", name="Dunsk")
    one = read(owner, "Code,Traits", "A-1,visual Saltgrass visual Sedge")
    ((_, column, said),) = problems(one)
    assert (column, said[:33]) == (1, "These need 3 copies at one place ")


def test_queries_do_not_grow_with_the_rows(book: Book, owner: m.Account) -> None:
    def rows(count: int) -> m.Import:
        lines = [f"K-{n},,2024-05-01,F-1,M-1,het Saltgrass,S{n}" for n in range(count)]
        head = ("Code,Sex,Hatched,Dam,Sire,Traits,From", "F-1,f,,,,,", "M-1,m,,,,,")
        return read(owner, *head, *lines)

    few, many = rows(2), rows(40)
    assert queries_of(lambda: check(few)) == queries_of(lambda: check(many))


def test_what_was_picked_is_remembered_for_the_next_file(book: Book, owner: m.Account) -> None:
    first = picked(begun(owner, table("Code,Aspect", "A-1,normal")), {1: "genes"})
    m.Import.objects.filter(pk=first.pk).update(stage=m.Stage.DONE)
    assert begun(owner, table("Aspect,Code", "normal,A-2")).picks == ["genes", "code"]


def test_two_windows_cannot_pick_over_each_other(book: Book, owner: m.Account) -> None:
    one = begun(owner, table("Code", "A-1"))
    picked(one)
    with pytest.raises(Refused, match="changed in another window"):
        changing.choose_heads(one=one, row=0, count=1, version=0)


def test_unfinished_import_is_thrown_away_with_its_file(
    book: Book, owner: m.Account, django_capture_on_commit_callbacks: Any
) -> None:
    one = begun(owner, table("Code", "A-1"))
    storage, name = one.file.storage, one.file.name
    assert name is not None
    assert storage.exists(name)
    with django_capture_on_commit_callbacks(execute=True):
        changing.throw_away(one=one)
    assert (m.Import.objects.exists(), storage.exists(name)) == (False, False)
