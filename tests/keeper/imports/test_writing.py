"""Tables brought in whole, with every row and every figure compared with the same book typed."""

from datetime import date
from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.imports import changing, running, writes
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.imports.conftest import Bring
from tests.keeper.imports.hostile import sheet
from tests.keeper.imports.tables import HERD, begun, picked, rows_of, table, tried

THRIFT = {"is": "new:recessive", "name": "Thrift", "code": "THR", "line": "Thrift of Cove"}
HATCHED, LATER, ALONE = date(2022, 5, 3), date(2024, 8, 21), date(2024, 8, 22)


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def herd(owner: m.Account) -> m.Import:
    """The herd of twelve, its one question answered."""
    one = picked(begun(owner, HERD), unit="g")
    (question,) = tried(one).questions
    assert (question.kind, question.text, question.rows) == ("trait", "Thrift", (7,))
    changing.answer(one=one, answers={question.key: THRIFT})
    return one


def test_herd_is_written_as_counted_by_hand(book: Book, owner: m.Account, bring: Bring) -> None:
    one = bring(herd(owner))
    assert (one.stage, one.problem) == (m.Stage.DONE, "")
    assert str(one.entry) == "12 animals brought in from herd.csv"
    counted = {
        model.__name__: model._default_manager.count()
        for model in (
            *(m.Animal, m.Clutch, m.CandidateSire, m.HatchRow, m.Contact, m.Statement),
            *(m.Observation, m.Look, m.Trait, m.Line, m.DaybookEntry),
        )
    }
    assert counted == {
        "Animal": 12,
        "Clutch": 3,  # of K-1 and K-2, of J-1 and J-2, and of J-3 without a sire
        "CandidateSire": 2,
        "HatchRow": 4,  # a female and a male of the first clutch, two of the second, one more
        "Contact": 2,  # Ansel is written in two ways
        "Statement": 7,  # F-1, M-1, M-2, two of F-2, J-1, X-3
        "Observation": 3,  # M-2 is visual and was seen; K-1 and J-2 show it
        "Look": 0,  # nobody said that these are all that could be seen
        "Trait": 2,
        "Line": 2,
        "DaybookEntry": 1,
    }


def test_a_new_trait_comes_without_a_name_for_its_only_line(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    one = picked(begun(owner, HERD), unit="g")
    (question,) = tried(one).questions
    changing.answer(one=one, answers={question.key: THRIFT | {"code": "", "line": ""}})
    bring(one)
    line = m.Line.objects.get(trait__name="Thrift")
    assert (line.code, line.name, str(line)) == ("THR", "", "Thrift")


def test_a_line_that_the_file_names_is_the_only_one_of_its_new_trait(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    text = "Code;Genes\nF-1;het Thrift (COV)\nF-2;het Thrift\n"
    one = picked(begun(owner, text))
    (question,) = tried(one).questions
    changing.answer(one=one, answers={question.key: THRIFT | {"code": "", "line": ""}})
    (of_line,) = tried(one).questions
    assert (of_line.kind, of_line.text) == ("line", "COV")
    new = {"is": "new", "name": "of the Cove", "code": "COV", "line": "of the Cove"}
    changing.answer(one=one, answers={of_line.key: new})
    assert not tried(one).questions
    bring(one)
    assert m.Line.objects.get(trait__name="Thrift").title == "COV of the Cove"
    assert m.Statement.objects.get(animal__code="F-1").line is not None


def test_herd_is_read_row_by_row(book: Book, owner: m.Account, bring: Bring) -> None:
    bring(herd(owner))
    animals = {one.code: one for one in m.Animal.objects.select_related("clutch", "source")}
    dam, sire, young = animals["F-1"], animals["M-1"], animals["K-1"]
    assert (dam.sex, dam.hatched_on, dam.place, dam.name) == (
        "female", date(2018, 6, 14), "R1", "Neap",
    )  # fmt: skip
    assert (sire.hatched_on, sire.hatched_year, sire.source) == (None, 2017, dam.source)
    assert dam.notes == "Weight: 1500 g (in the file: 1500)"
    assert young.notes == "Weight: 130 g (in the file: 130)"
    assert animals["K-2"].notes == "Weight: 120 g"
    assert young.clutch is not None
    assert (young.clutch.code, young.clutch.dam, young.clutch.hatched_on) == ("22-01", dam, HATCHED)
    assert animals["X-1"].clutch is None
    assert (animals["X-1"].dam, animals["X-1"].sire) == (dam, animals["M-2"])
    # Her sex is not in the table: she is named as a dam.
    assert (animals["F-2"].sex, animals["F-2"].sex_told) == ("female", "bred")
    possible = m.Statement.objects.get(animal=sire)
    assert (possible.claim, possible.chance, possible.line) == ("possible", Fraction(33, 50), None)
    seen = m.Observation.objects.get(animal=young)
    assert (seen.on, seen.seen, seen.trait) == (HATCHED, "yes", book.trait)


def typed(book: Book, thrift: m.Trait, by: m.Account) -> None:
    """The same herd as the forms write it, in a species of its own."""
    with writing(by=by, what="Typed") as entry:

        def animal(code: str, sex: str = "unknown", **more: object) -> m.Animal:
            return entry.keep(m.Animal(species=book.species, code=f"T{code}", sex=sex, **more))

        def said(
            of: m.Animal, trait: m.Trait, claim: str, chance: str = "", line: m.Line | None = None
        ) -> None:
            one = m.Statement(animal=of, trait=trait, claim=claim, line=line)
            if chance:
                one.chance = chance
            entry.keep(one)

        def clutch(code: str, on: date, dam: m.Animal, *sires: m.Animal) -> m.Clutch:
            kept = entry.keep(m.Clutch(species=book.species, code=code, dam=dam, hatched_on=on))
            for sire in sires:
                entry.keep(m.CandidateSire(clutch=kept, sire=sire))
            return kept

        def seen(of: m.Animal, on: date) -> None:
            entry.keep(m.Observation(animal=of, trait=book.trait, seen="yes", on=on, by=by))

        dam = animal("F-1", "female", hatched_on=date(2018, 6, 14))
        sire = animal("M-1", "male", hatched_year=2017)
        visual, other = animal("M-2", "male"), animal("F-2", "female")
        said(dam, book.trait, "carries", line=book.line)
        said(sire, book.trait, "possible", "66 %")
        said(visual, book.trait, "visual", line=book.line)
        seen(visual, date(2026, 11, 30))
        said(other, book.trait, "carries")
        said(other, thrift, "carries")
        first = clutch("T22-01", HATCHED, dam, sire)
        animal("K-2", "female", clutch=first, hatched_on=HATCHED)
        seen(animal("K-1", "male", clutch=first, hatched_on=HATCHED), HATCHED)
        second = clutch("T24-01", LATER, other, visual)
        noted = animal("J-1", clutch=second, hatched_on=LATER)
        said(noted, book.trait, "possible", "66 %")
        seen(animal("J-2", clutch=second, hatched_on=LATER), LATER)
        animal("J-3", clutch=clutch("T24-02", ALONE, other), hatched_on=ALONE)
        animal("X-1", "female", dam=dam, sire=visual)
        animal("X-2", "female", hatched_year=2020)
        said(animal("X-3", "male", hatched_year=2020), book.trait, "clear")


def standings(species: m.Species) -> dict[tuple[str, str, str], tuple[object, ...]]:
    rows = m.Standing.objects.filter(animal__species=species).select_related("line")
    return {
        (one.animal.code.removeprefix("T"), one.trait.name, one.line.code if one.line else ""): (
            one.word, round(one.two, 9), round(one.none, 9), one.is_disputed,
        )
        for one in rows.select_related("animal", "trait", "line")
    }  # fmt: skip


def test_herd_has_the_standings_of_the_same_book_typed(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    bring(herd(owner))
    other = Book(owner)
    thrift = TraitFactory.create(species=other.species, name="Thrift")
    LineFactory.create(trait=thrift, code="THR")
    typed(other, thrift, owner)
    brought = standings(book.species)
    assert brought == standings(other.species)
    # Two carriers and a young that shows it: by hand, no figure of K-2 but 1/4, 1/2, 1/4.
    assert brought["K-2", "Saltgrass", ""] == ("possible", 0.25, 0.25, False)
    assert brought["J-1", "Thrift", ""] == ("possible", 0.0, 0.5, False)
    assert inference.differences() == []


def test_import_is_taken_back_whole_and_can_be_brought_in_again(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    one = bring(herd(owner))
    assert one.entry is not None
    undo(entry=one.entry, by=owner)
    for model in (m.Animal, m.Clutch, m.HatchRow, m.Contact, m.Statement, m.Observation):
        assert not model._default_manager.filter(withdrawn_at=None).exists()
    assert list(m.Trait.objects.live()) == [book.trait]
    assert not m.Standing.objects.exists()
    assert inference.differences() == []
    one = m.Import.objects.get()
    assert (one.is_taken_back, one.is_over, one.is_open) == (True, False, True)
    again = bring(one)
    assert (again.stage, m.Animal.objects.live().count()) == (m.Stage.DONE, 12)


def test_whole_looks_are_claimed_only_where_the_keeper_says_so(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    rows = table(
        "Code,Sex,Hatched,Dam,Traits",
        "F-1,f,2019,,het Saltgrass",
        "K-1,m,2022-05-03,F-1,normal",
        "K-2,m,2022-05-03,F-1,",
    )
    bring(picked(begun(owner, rows), whole=True))
    looks = m.Look.objects.select_related("animal").order_by("animal__code")
    # Of K-2 nothing at all is said, so nobody has looked at it.
    assert [(one.animal.code, one.on) for one in looks.filter(animal__code="K-1")] == [
        ("K-1", HATCHED)
    ]
    assert [one.animal.code for one in looks] == ["F-1", "K-1"]


def test_code_taken_meanwhile_sends_the_import_back(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    one = picked(begun(owner, table("Code,Sex", "F-1,f", "F-2,f")))
    seen = tried(one).digest
    book.founder("F-2", "female")
    m.Import.objects.update(seen=seen, stage=m.Stage.WRITING)
    with pytest.raises(writes.MovedOn, match="Nothing was written"):
        writes.bring_in(one=one, by=owner)
    running.run(one, owner)
    one.refresh_from_db()
    assert (one.stage, one.entry) == (m.Stage.FAILED, None)
    assert "Look through the rows again" in one.problem
    assert [row.fate.value for row in tried(one).rows] == ["new", "there"]
    assert m.Animal.objects.count() == 1


def test_nothing_is_overwritten_and_empty_fields_are_filled_where_asked(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    with writing(by=owner, what="Added") as entry:
        there = entry.keep(m.Animal(species=book.species, code="F-1", sex="female", name="Neap"))
    rows = table("Code,Name,Sex,Rack,Hatched", "f-1,Ebb,m,R9,2019-04-01")
    plain = picked(begun(owner, rows))
    assert not tried(plain).is_ready
    with pytest.raises(Refused, match="Something still waits"):
        bring(plain)
    one = picked(begun(owner, rows), fill=True)
    assert rows_of(one)["f-1"].fills == {"place": "R9", "hatched_on": date(2019, 4, 1)}
    assert bring(one).stage == m.Stage.DONE
    there.refresh_from_db()
    assert (there.name, there.sex, there.place, there.hatched_year) == (
        "Neap", "female", "R9", 2019,
    )  # fmt: skip


def test_percentage_beside_recorded_parents_is_noted_and_a_word_is_weighed(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    rows = table(
        "Code,Sex,Hatched,Dam,Sire,Traits",
        "F-1,f,2018,,,no Saltgrass",
        "M-1,m,2018,,,no Saltgrass",
        "K-1,,2022-05-03,F-1,M-1,100% het Saltgrass",
        "K-2,,2022-05-03,F-1,M-1,66 % poss het Saltgrass",
        "K-3,,2022-05-04,F-1,M-1,het Saltgrass",
        "X-1,,,,,100% het Saltgrass",
    )
    bring(picked(begun(owner, rows)))
    said = m.Statement.objects.exclude(claim="clear").order_by("animal__code")
    assert [(one.animal.code, one.claim, one.chance) for one in said] == [
        ("K-1", "possible", Fraction(1)),
        ("K-2", "possible", Fraction(33, 50)),
        ("K-3", "carries", None),
        ("X-1", "carries", None),
    ]
    # Neither parent has it: only the word of K-3 contradicts that.
    (dispute,) = m.Dispute.objects.filter(closed=None)
    assert "K-3" in str(dispute)
    assert "K-1" not in str(dispute)


def test_column_that_has_no_field_goes_to_the_notes(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    rows = table("Code,Temperament,Notes", "F-1,calm,eats rats")
    bring(picked(begun(owner, rows)))
    assert m.Animal.objects.get().notes == "Temperament: calm\neats rats"


def test_row_of_a_clutch_of_the_book_joins_it(book: Book, owner: m.Account, bring: Bring) -> None:
    dam, sire = book.founder("F-1", "female"), book.founder("M-1", "male")
    with writing(by=owner, what="Hatched") as entry:
        clutch = entry.keep(
            m.Clutch(species=book.species, code="22-07", dam=dam, hatched_on=HATCHED)
        )
        entry.keep(m.CandidateSire(clutch=clutch, sire=sire))
    rows = table("Code,Hatched,Dam,Sire", "K-1,2022-05-03,F-1,M-1")
    bring(picked(begun(owner, rows)))
    assert m.Animal.objects.get(code="K-1").clutch == clutch
    assert m.Clutch.objects.count() == 1


def test_hatchling_that_may_be_counted_already_is_asked_for_on_the_clutch(
    book: Book, owner: m.Account
) -> None:
    dam, sire = book.founder("F-1", "female"), book.founder("M-1", "male")
    book.clutch("22-07", dam, sire, normal=3)
    one = picked(begun(owner, table("Code,Clutch,Dam", "K-1,22-07,F-1")))
    (problem,) = rows_of(one)["K-1"].problems
    assert "Clutch 22-07 has hatchlings counted without a record" in problem.said


def test_contradiction_is_shown_as_the_dispute_it_will_be(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    rows = table(
        "Code,Sex,Hatched,Dam,Sire,Traits",
        "F-1,f,2018,,,no Saltgrass",
        "M-1,m,2018,,,no Saltgrass",
        "K-1,,2022-05-03,F-1,M-1,visual Saltgrass",
    )
    one = picked(begun(owner, rows))
    shown = writes.what_it_does(one=one, by=owner)
    (words,) = shown.opened
    assert "K-1" in words
    assert not m.Animal.objects.exists()
    bring(one)
    assert [str(dispute) for dispute in m.Dispute.objects.filter(closed=None)] == [words]


def test_line_that_the_keeper_names_is_a_gene_of_its_own_until_it_is_placed(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    one = picked(begun(owner, table("Code,Traits", "F-1,100% het Saltgrass (Pelnaw)")))
    (question,) = tried(one).questions
    new = {"is": "new", "name": "Pelnaw", "code": "PEL", "line": "Pelnaw"}
    changing.answer(one=one, answers={question.key: new})
    bring(one)
    line = m.Line.objects.get(code="PEL")
    assert (line.trait, line.name, line.share) == (book.trait, "Pelnaw", 1)
    assert line.locus != book.line.locus
    assert m.Statement.objects.get().line == line


def test_workbook_is_brought_in_with_its_numbers_and_days(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    rows: list[list[object]] = [
        ["Tag", "Gender", "Born", "State", "Bought", "Seller", "Room"],
        [7, 1.0, date(2020, 2, 3), "sold", "3 March 2021", "Bryony", "R1"],
        [8.0, 0.1, 2019, "Here", None, "bryony ", None],
    ]
    bring(picked(begun(owner, sheet(rows), "herd.xlsx")))
    first, second = m.Animal.objects.order_by("code")
    assert (first.code, first.sex, first.hatched_on, first.status, first.acquired_on) == (
        "7", "male", date(2020, 2, 3), "sold", date(2021, 3, 3),
    )  # fmt: skip
    assert (second.code, second.sex, second.hatched_year, second.status) == (
        "8", "female", 2019, "kept",
    )  # fmt: skip
    assert first.source == second.source
    assert m.Contact.objects.get().name == "Bryony"


def test_young_seen_to_be_a_double_form_is_seen_so(
    book: Book, owner: m.Account, bring: Bring
) -> None:
    sedge = TraitFactory.create(species=book.species, name="Sedge", shown="single")
    LineFactory.create(trait=sedge, code="DUN")
    deep = TraitFactory.create(species=book.species, name="Deep Sedge", shown="every", base=sedge)
    rows = table(
        "Code,Sex,Hatched,Dam,Traits",
        "F-1,f,2018,,Sedge",
        "K-1,,2022-05-03,F-1,super Sedge",
        "K-2,,2022-05-03,F-1,Deep Sedge",
    )
    bring(picked(begun(owner, rows)))
    seen = m.Observation.objects.order_by("animal__code").select_related("animal", "trait")
    assert [(one.animal.code, one.trait) for one in seen] == [
        ("F-1", sedge), ("K-1", deep), ("K-2", deep),
    ]  # fmt: skip
