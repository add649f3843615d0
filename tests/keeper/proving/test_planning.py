"""Who is worth a test this season, and who is said to be left out."""

from datetime import date

import pytest

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.proving import outcomes, planning, queries
from keeper.domain.proving.cautions import cautions
from keeper.domain.proving.planning import ProvingPlan, what_to_prove
from keeper.domain.season.planning import LOST
from keeper.models import Account
from tests.keeper.counting import queries_of
from tests.keeper.projects.planning import TwoGenes

TODAY = date(2026, 11, 1)


@pytest.fixture
def book(owner: Account) -> TwoGenes:
    return TwoGenes(owner, sex_determination="ZW")


def listed(plan: ProvingPlan) -> list[str]:
    return [one.standing.animal.code for one in plan.tests]


def test_members_come_first_then_those_for_sale(book: TwoGenes) -> None:
    book.founder("M1", "male", "visual")
    kept, member, offered = (
        book.founder(code, "female", "possible", "1/2") for code in ("A1", "B1", "C1")
    )
    book.member(member)
    with writing(by=book.by, what="Offered C1") as entry:
        offered.status = m.Status.OFFERED
        entry.keep(offered)
    plan = what_to_prove(TODAY)
    assert (plan.season, listed(plan)) == (2027, ["B1", "C1", "A1"])
    worth = {one.standing.animal.code: one.worth for one in plan.tests}
    # The same test, of one bit at most, counts 1¼, 1 (½ for the project, ½ for sale) and ¾.
    assert worth["B1"] / worth["A1"] == pytest.approx(1.25 / 0.75)
    assert worth["C1"] / worth["A1"] == pytest.approx(1 / 0.75)
    assert [one.member for one in plan.tests[0].stakes] == [True]
    assert kept.code == "A1"


def test_the_mate_that_tells_most(book: TwoGenes) -> None:
    book.founder("F5", "female", "possible", "1/2")
    book.founder("M2", "male", "carries")
    book.founder("M3", "male", "visual")
    (one,) = what_to_prove(TODAY).tests
    assert one.best is not None and one.best.mate.code == "M3"


def test_of_mates_that_tell_as_much_who_is_no_kin(book: TwoGenes) -> None:
    hets = book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", *hets)
    sister = book.young("K1", clutch, seen=False, sex="female")
    book.young("K2", clutch, seen=True, sex="male")
    book.founder("Z1", "male", "visual")
    standing = queries.standing_of(sister, book.trait, None)
    assert standing is not None
    plan = planning.suspect_plan(standing, TODAY)
    assert [(one.mate.code, one.kinship) for one in plan.telling] == [
        ("Z1", 0.0), ("K2", 0.25), ("M1", 0.25)
    ]  # fmt: skip
    assert plan.telling[0].trial.bits == pytest.approx(plan.telling[1].trial.bits)
    (listed_one,) = what_to_prove(TODAY).tests
    assert listed_one.best is not None and listed_one.best.mate.code == "Z1"


def test_a_mate_with_whom_young_may_be_harmed_comes_last_and_says_so(book: TwoGenes) -> None:
    with writing(by=book.by, what="Noted a harm") as entry:
        book.other.harm, book.other.harm_source = "cannot right itself", "own records"
        entry.keep(book.other)
    dam = book.founder("F1", "female", "possible", "1/2")
    harmed, het = book.founder("M1", "male", "visual"), book.founder("M2", "male", "carries")
    with writing(by=book.by, what="Said of both") as entry:
        for one in (dam, harmed):
            book.say(entry, one, "carries", None, book.second)
    standing = queries.standing_of(dam, book.trait, None)
    assert standing is not None
    plan = planning.suspect_plan(standing, TODAY)
    assert [(one.mate, one.cautions) for one in plan.telling] == [
        (het, ()), (harmed, ("young may show Quillwort, which harms",))
    ]  # fmt: skip
    (listed_one,) = what_to_prove(TODAY).tests
    assert listed_one.best is not None and listed_one.best.mate == het


def test_eggs_that_may_die_speak_against_a_mate(book: TwoGenes) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    sire = book.founder("M1", "male", "carries")
    assert cautions([(dam, sire)]) == {(dam.pk, sire.pk): ()}
    with writing(by=book.by, what="Noted a loss") as entry:
        lost = m.Survival(locus=book.line.locus, one=book.line, other=book.line, survival="0")
        entry.keep(lost)
    assert cautions([(dam, sire)]) == {(dam.pk, sire.pk): (LOST,)}


def test_nobody_is_left_out_in_silence(book: TwoGenes) -> None:
    book.founder("M1", "male", "visual")
    for number in range(4):
        book.founder(f"F{number}", "female", "possible", "1/2")
    young = book.founder("Y1", "female", "possible", "1/2")
    unsexed = book.founder("U1", "unknown", "possible", "1/2")
    lonely = book.founder("L1", "female", "possible", "1/2", line=book.second)
    sure = book.founder("S1", "female", "possible", "1/200")
    with writing(by=book.by, what="Dated Y1") as entry:
        young.hatched_year = 2026
        entry.keep(young)
    plan = what_to_prove(TODAY, most=3)
    assert (len(plan.tests), plan.more, plan.settled, plan.disputed) == (3, 1, 1, 0)
    why = {one.standing.animal.code: one.why for one in plan.waiting}
    assert why.keys() == {"Y1", "U1"} and "too young" in why["Y1"] and "sex it" in why["U1"]
    assert [one.animal for one in plan.alone] == [lonely]
    assert not plan.is_empty and unsexed.code == "U1" and sure.code == "S1"


def test_narrowed_by_project_and_by_trait(book: TwoGenes) -> None:
    book.founder("M1", "male", "visual")
    book.founder("M2", "male", "visual", line=book.second)
    book.founder("F1", "female", "possible", "1/2")
    book.founder("F2", "female", "possible", "1/2", line=book.second)
    assert listed(what_to_prove(TODAY, trait=book.other.pk)) == ["F2"]
    assert sorted(listed(what_to_prove(TODAY, project=book.project.pk))) == ["F1", "F2"]
    assert what_to_prove(TODAY, project=0).is_empty
    assert what_to_prove(TODAY, trait=0).is_empty


def test_a_clean_one_is_listed_until_it_is_settled(book: TwoGenes) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "1/2"),
        book.founder("M1", "male", "visual"),
    )
    book.clutch("C1", dam, sire, normal=3)
    (one,) = what_to_prove(TODAY).tests
    assert one.standing.word == m.Word.CLEAN
    book.clutch("C2", dam, sire, normal=4)
    plan = what_to_prove(TODAY)
    assert (plan.tests, plan.settled) == ([], 1)
    standing = queries.standing_of(dam, book.trait, None)
    assert standing is not None and queries.is_open(standing) and queries.is_settled(standing)


def test_a_laboratory_that_tested_the_line_is_named(book: TwoGenes) -> None:
    book.founder("M1", "male", "visual")
    book.founder("F1", "female", "possible", "1/2")
    tested = book.founder("F2", "female", "possible", "1/2", line=book.second)
    with writing(by=book.by, what="Tested") as entry:
        lab = entry.keep(m.Laboratory(name="Fen Assay"))
        entry.keep(m.Laboratory(name="Tests nothing here"))
        entry.keep(
            m.LabTest(
                animal=tested, line=book.line, found="none", laboratory=lab, on=date(2026, 5, 1)
            )
        )
    (one,) = [row for row in what_to_prove(TODAY).tests if row.standing.animal.code == "F1"]
    assert [str(each) for each in one.laboratories] == ["Fen Assay"]


def test_a_suspect_with_all_mates(book: TwoGenes) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    for code, claim in (("M1", "carries"), ("M2", "visual"), ("M3", "")):
        book.founder(code, "male", claim)
    standing = queries.standing_of(dam, book.trait, None)
    assert standing is not None
    plan = planning.suspect_plan(standing, TODAY)
    assert [one.mate.code for one in plan.telling] == ["M2", "M1"]
    assert [one.code for one in plan.silent] == ["M3"]
    assert (plan.left, plan.why_not, plan.trouble) == (0, "", "")


def test_what_a_sheet_could_say_is_what_it_says_then(book: TwoGenes) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "2/3"),
        book.founder("M1", "male", "visual"),
    )
    standing = queries.standing_of(dam, book.trait, None)
    assert standing is not None
    stated = queries.statements([standing])[dam.pk, book.trait.pk]
    assert outcomes.says_now(standing, stated) == (
        "stated possible het 66 % by a source not named, not tested here"
    )
    proven = outcomes.says_proven(standing)
    trial = planning.suspect_plan(standing, TODAY).telling[0].trial
    clean = outcomes.says_clean(standing, 4, trial.remains[4] or 0.0)
    # 2/18: rounded up.
    assert clean == "tested clean so far: 4 hatchlings, 12 % left"
    book.clutch("C1", dam, sire, normal=4)
    after = queries.standing_of(dam, book.trait, None)
    assert after is not None and outcomes.says_now(after) == clean
    book.clutch("C2", dam, sire, visual=1)
    after = queries.standing_of(dam, book.trait, None)
    assert after is not None and outcomes.says_now(after) == proven


def test_as_many_queries_for_many_as_for_one(book: TwoGenes) -> None:
    book.founder("M1", "male", "visual")
    book.founder("F0", "female", "possible", "1/2")
    what_to_prove(TODAY)
    one = queries_of(lambda: what_to_prove(TODAY))
    for number in range(1, 4):
        book.founder(f"F{number}", "female", "possible", "1/2")
        book.founder(f"N{number}", "male", "carries")
    assert queries_of(lambda: what_to_prove(TODAY)) == one
