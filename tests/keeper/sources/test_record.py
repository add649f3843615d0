"""What became of a source's statements: what counts as tested, what held, how sure that is."""

from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from scipy.stats import binomtest

from keeper.domain import inference
from keeper.domain.animals.writes import withdraw_record
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.inference import Outcome
from keeper.domain.inference.questions.records import interval
from keeper.domain.laboratories.writes import keep_test
from keeper.domain.sources import writes as sources
from keeper.models import (
    Account,
    Animal,
    Contact,
    DaybookEntry,
    Dispute,
    Laboratory,
    LabTest,
    Statement,
)
from tests.factories import ContactFactory, LineFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of


class Told(Book):
    """A book in which one source speaks."""

    def __init__(self, by: Account) -> None:
        super().__init__(by)
        self.source = ContactFactory.create(name="Ines Varga")

    def said_of(self, code: str, sex: str, claim: str, chance: str | None = None) -> Animal:
        """A founder of the source, and what it says it is."""
        animal = self.founder(code, sex)
        odds: dict[str, Any] = {"chance": Fraction(chance) if chance else None}
        statement = Statement(
            animal=animal, trait=self.trait, line=self.line, claim=claim, source=self.source, **odds
        )
        sources.keep_statement(statement=statement, by=self.by)
        return animal

    def seen(self, code: str, sex: str) -> Animal:
        """A visual of the keeper's own."""
        animal = self.founder(code, sex)
        self.look_at(animal, seen=True)
        return animal

    def look_at(self, animal: Animal, *, seen: bool) -> None:
        with writing(by=self.by, what="Looked", subject=animal) as book:
            self.look(book, animal, seen=seen)

    def found(self, animal: Animal, found: str, rate: str = "1/100") -> None:
        """A laboratory's result; it errs as often one way as the other."""
        laboratory = Laboratory.objects.filter(misses=rate).first()
        with writing(by=self.by, what="Tested", subject=animal) as book:
            laboratory = laboratory or book.keep(
                Laboratory(name=f"of {rate}", misses=rate, mistakes=rate)
            )
            test = LabTest(
                animal=animal, line=self.line, found=found, laboratory=laboratory,
                on=date(2026, 6, 1),
            )  # fmt: skip
            book.keep(test)

    def outcomes(self) -> list[tuple[str, Outcome, str]]:
        record = inference.source_record(self.source)
        return [(one.statement.animal.code, one.outcome, one.why) for one in record.tried]

    def counts(self) -> tuple[int, int, int]:
        record = inference.source_record(self.source)
        return record.stated, record.tested, record.held


@pytest.fixture
def book(owner: Account) -> Told:
    return Told(owner)


def test_source_that_said_nothing_has_no_record(book: Told) -> None:
    record = inference.source_record(book.source)
    assert (record.stated, record.tested, record.interval, record.proposal) == (0, 0, None, None)


def test_own_look_bears_out_a_visual_or_refutes_it(book: Told) -> None:
    book.look_at(book.said_of("F1", "female", "visual"), seen=True)
    withdrawn = book.said_of("F2", "female", "visual")
    book.said_of("F3", "female", "visual")
    assert book.counts() == (3, 1, 1)
    assert book.outcomes() == [
        ("F1", Outcome.HELD, "seen here"),
        ("F2", Outcome.OPEN, ""),
        ("F3", Outcome.OPEN, ""),
    ]
    # A look that says the contrary is a dispute; nothing is counted before it is settled.
    book.look_at(withdrawn, seen=False)
    assert book.outcomes()[1] == ("F2", Outcome.DISPUTED, "")
    assert book.counts() == (3, 1, 1)


def test_young_that_showed_it_bear_out_a_het_and_clean_young_settle_nothing(book: Told) -> None:
    mate = book.seen("M1", "male")
    proved = book.said_of("F1", "female", "carries")
    clean = book.said_of("F2", "female", "carries")
    book.clutch("C1", proved, mate, visual=1, normal=5)
    book.clutch("C2", clean, mate, normal=12)
    record = inference.source_record(book.source)
    assert (record.stated, record.tested, record.held, record.clean) == (2, 1, 1, 1)
    assert book.outcomes() == [
        ("F1", Outcome.HELD, "young of it showed it"),
        ("F2", Outcome.CLEAN, "12 hatchlings"),
    ]


def test_young_decide_although_the_mate_is_a_visual_by_word_alone(book: Told) -> None:
    # Without anybody's word the mate may be anything, yet a visual young has a copy of each.
    mate = book.founder("M1", "male", "visual")
    book.clutch("C1", book.said_of("F1", "female", "carries"), mate, visual=2)
    assert book.counts() == (1, 1, 1)


def test_laboratory_that_may_err_is_taken_at_its_word_unless_they_disagree(book: Told) -> None:
    book.found(book.said_of("F1", "female", "carries"), "carries")
    book.found(book.said_of("F2", "female", "carries"), "none")
    torn = book.said_of("F3", "female", "carries")
    book.found(torn, "carries")
    book.found(torn, "none", "1/50")
    book.found(book.said_of("F4", "female", "clear"), "none")
    assert book.outcomes() == [
        ("F1", Outcome.HELD, "a laboratory’s result"),
        ("F2", Outcome.NOT_HELD, "a laboratory’s result"),
        ("F3", Outcome.OPEN, ""),
        ("F4", Outcome.HELD, "a laboratory’s result"),
    ]
    record = inference.source_record(book.source)
    assert (record.stated, record.tested, record.held) == (4, 3, 2)
    assert [(one.claim, one.stated, one.tested, one.held) for one in record.by_claim] == [
        ("carries", 3, 2, 1),
        ("clear", 1, 1, 1),
    ]


def test_one_copy_refutes_two(book: Told) -> None:
    animal = book.said_of("F1", "female", "double")
    book.found(animal, "one")
    assert book.outcomes() == [("F1", Outcome.NOT_HELD, "a laboratory’s result")]


def test_parents_in_the_book_bear_out_a_het_without_a_test_of_its_own(book: Told) -> None:
    clutch = book.clutch("C1", book.seen("F1", "female"), book.founder("M1", "male"))
    young = book.young("K1", clutch, seen=None)
    for claim in ("carries", "visual"):
        statement = Statement(
            animal=young, trait=book.trait, line=book.line, claim=claim, source=book.source
        )
        sources.keep_statement(statement=statement, by=book.by)
        # A visual has one copy of each parent, and nothing is said or seen of its sire: that
        # cannot be true with the rest.
        held = claim == "carries"
        (row,) = book.outcomes()
        assert row == (
            ("K1", Outcome.HELD, "the rest of the book leaves nothing else")
            if held
            else ("K1", Outcome.DISPUTED, "")
        )
        withdraw_record(record=statement, by=book.by, reason="the other claim")


def test_carrier_of_another_line_of_the_gene_does_not_bear_out_the_line(book: Told) -> None:
    other = LineFactory.create(trait=book.trait, locus=book.line.locus, code="PEL")
    animal = book.said_of("F1", "female", "carries")
    laboratory = Laboratory(name="Cove")
    result = LabTest(
        animal=animal, line=other, found="two", laboratory=laboratory, on=date(2026, 5, 1)
    )
    keep_test(test=result, laboratory=laboratory, by=book.by)
    # Two copies of PEL leave no room for one of HAR; that clashes with the word until it goes.
    assert book.outcomes() == [("F1", Outcome.DISPUTED, "")]
    withdraw_record(record=Statement.objects.get(), by=book.by, reason="it was PEL")
    assert book.outcomes() == [("F1", Outcome.NOT_HELD, "set aside to settle a dispute")]


def test_word_that_is_not_taken_whole_is_refuted_without_a_dispute(book: Told) -> None:
    book.source.reliability = Fraction(4, 5)
    book.source.save()
    book.found(book.said_of("F1", "female", "carries"), "none", "0")
    assert not Dispute.objects.exists()
    assert book.outcomes() == [("F1", Outcome.NOT_HELD, "a laboratory’s result")]


def test_young_of_a_visual_of_another_line_does_not_bear_out_the_line(book: Told) -> None:
    other = LineFactory.create(trait=book.trait, locus=book.line.locus, code="PEL")
    dam, laboratory = book.founder("F1", "female"), Laboratory(name="Cove")
    two = LabTest(animal=dam, line=other, found="two", laboratory=laboratory, on=date(2026, 5, 1))
    keep_test(test=two, laboratory=laboratory, by=book.by)
    young = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male")), seen=None)
    said = Statement(
        animal=young, trait=book.trait, line=book.line, claim="carries", source=book.source
    )
    sources.keep_statement(statement=said, by=book.by)
    assert book.outcomes() == [("K1", Outcome.DISPUTED, "")]


def test_one_copy_bears_out_a_visual_male_where_males_have_one(book: Told) -> None:
    book.line.locus.chromosome = "one"
    book.line.locus.save()
    book.found(book.said_of("M1", "male", "visual"), "one")
    book.found(book.said_of("F1", "female", "visual"), "one")
    assert book.outcomes() == [
        ("F1", Outcome.NOT_HELD, "a laboratory’s result"),
        ("M1", Outcome.HELD, "a laboratory’s result"),
    ]


def test_family_too_large_leaves_what_is_read_off_directly(
    book: Told, owner_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keeper.domain.inference.questions.records._CELLS", 1.0)
    book.look_at(book.said_of("F1", "female", "visual"), seen=True)
    book.said_of("F2", "female", "carries")
    record = inference.source_record(book.source)
    assert (record.exact, record.tested, record.held) == (False, 1, 1)
    assert "too large to be worked out" in page(owner_client, book.source)


def test_possible_hets_are_counted_apart_with_the_number_expected(book: Told) -> None:
    mate = book.seen("M1", "male")
    book.clutch("C1", book.said_of("F1", "female", "possible", "2/3"), mate, visual=1)
    book.clutch("C2", book.said_of("F2", "female", "possible", "2/3"), mate, normal=4)
    book.found(book.said_of("F3", "female", "possible", "2/3"), "none")
    book.said_of("F4", "female", "possible", "1/2")
    record = inference.source_record(book.source)
    assert (record.stated, record.interval) == (0, None)
    assert [
        (one.chance, one.stated, one.proved, one.excluded, one.clean, one.expected)
        for one in record.possible
    ] == [
        (Fraction(2, 3), 3, 1, 1, 1, Fraction(2)),
        (Fraction(1, 2), 1, 0, 0, 0, Fraction(1, 2)),
    ]


def test_statement_withdrawn_to_settle_a_dispute_did_not_hold(book: Told) -> None:
    animal = book.said_of("F1", "female", "visual")
    book.clutch("C1", animal, book.seen("M1", "male"), normal=3)
    dispute, statement = Dispute.objects.get(closed=None), Statement.objects.get()
    assert ("statement", statement.pk) in {(one["model"], one["pk"]) for one in dispute.conflict}
    assert book.outcomes() == [("F1", Outcome.DISPUTED, "")]
    withdraw_record(record=statement, by=book.by, reason="it is no visual")
    assert Dispute.objects.filter(closed=None).count() == 0
    assert book.outcomes() == [("F1", Outcome.NOT_HELD, "set aside to settle a dispute")]
    assert book.counts() == (1, 1, 0)
    # If the keeper had written it down wrong, what the source really said counts instead.
    anew = Statement(
        animal=animal, trait=book.trait, line=book.line, claim="carries", source=book.source
    )
    sources.keep_statement(statement=anew, by=book.by)
    assert book.outcomes() == [("F1", Outcome.CLEAN, "3 hatchlings")]


def test_statement_withdrawn_for_itself_or_undone_counts_for_nothing(book: Told) -> None:
    book.said_of("F1", "female", "carries")
    withdraw_record(record=Statement.objects.get(), by=book.by, reason="another animal")
    animal = book.founder("F2", "female")
    book.clutch("C2", animal, book.seen("M1", "male"), normal=3)
    wrong = Statement(
        animal=animal, trait=book.trait, line=book.line, claim="visual", source=book.source
    )
    entry = sources.keep_statement(statement=wrong, by=book.by)
    assert Dispute.objects.filter(closed=None).exists()
    undo(entry=entry, by=book.by)
    assert not Dispute.objects.filter(closed=None).exists()
    assert book.outcomes() == []


@pytest.mark.parametrize(("held", "tested"), [(0, 1), (1, 1), (3, 3), (0, 10), (7, 9), (41, 60)])
def test_interval_is_the_exact_one(held: int, tested: int) -> None:
    # Clopper C. J., Pearson E. S. 1934. Biometrika 26: 404-413; by scipy.stats as reference.
    reference = binomtest(held, tested).proportion_ci(confidence_level=0.95, method="exact")
    assert interval(held, tested) == pytest.approx((reference.low, reference.high), abs=1e-12)


def test_interval_of_all_that_held_follows_from_its_definition() -> None:
    # All n held: the lowest share p with P(n of n) = p^n at least 2.5 %.
    assert interval(3, 3) == pytest.approx((0.025 ** (1 / 3), 1.0), abs=1e-12)
    assert interval(0, 0) is None


def test_page_says_that_nothing_is_tested_and_never_100_percent_of_it(
    book: Told, owner_client: Client
) -> None:
    book.said_of("F1", "female", "carries")
    text = page(owner_client, book.source)
    assert "nothing tested yet" in text
    assert ("95 % interval" in text, "It is only a proposal" in text) == (False, False)


def test_page_shows_the_record_beside_the_keepers_own_judgement(
    book: Told, owner_client: Client
) -> None:
    mate = book.seen("M1", "male")
    for number in (1, 2, 3):
        animal = book.said_of(f"F{number}", "female", "carries")
        book.clutch(f"C{number}", animal, mate, visual=1)
    text = page(owner_client, book.source)
    # 0.025^(1/3) = 29.2 %; (3 + 1) / (3 + 2) = 80 %.
    assert "3 of 3" in text and "95 % interval 29 % or more" in text
    assert "You take their word at 100 %." in text
    assert "expect the next statement to hold with 80 %" in text
    book.source.refresh_from_db()
    assert book.source.reliability == 1


def test_page_costs_the_same_queries_with_one_statement_and_three(
    book: Told, owner_client: Client
) -> None:
    mate = book.seen("M1", "male")
    book.clutch("C1", book.said_of("F1", "female", "carries"), mate, visual=1)
    one = queries_of(lambda: page(owner_client, book.source))
    for number in (2, 3):
        animal = book.said_of(f"F{number}", "female", "carries")
        book.clutch(f"C{number}", animal, mate, visual=1)
    assert queries_of(lambda: page(owner_client, book.source)) == one


def page(client: Client, contact: Contact) -> str:
    answer = client.get(reverse("register-contact", args=[contact.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_record_is_the_same_however_the_word_is_taken(book: Told) -> None:
    mate = book.seen("M1", "male")
    book.clutch("C1", book.said_of("F1", "female", "carries"), mate, visual=1)
    before = book.counts()
    with writing(by=book.by, what="Took it less far") as entry:
        book.source.reliability = Fraction(1, 10)
        entry.keep(book.source)
    assert (book.counts(), DaybookEntry.objects.count() > 0) == (before, True)
