"""Notices: what later evidence changes in an issued sheet, whom to tell, and that it was told."""

import re
from collections.abc import Callable
from datetime import date
from functools import partial

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.sheets import notices, telling
from keeper.domain.sheets.notices import Kind, differences_of, notice_of, open_notices, since_issued
from keeper.domain.sheets.telling import tell
from keeper.domain.sheets.writes import draft, issue, withdraw
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    How,
    Sheet,
    StandingChange,
    Told,
    Trait,
)  # fmt: skip
from tests.factories import AccountFactory, ContactFactory, LineFactory, TraitFactory
from tests.keeper.books import Book

DAY = date(2026, 11, 1)


@pytest.fixture
def book(owner: Account) -> Book:
    return Book(owner)


@pytest.fixture
def dam(book: Book) -> Animal:
    return book.founder("F-1", "female", "possible", "1/2")


@pytest.fixture
def sire(book: Book) -> Animal:
    return book.founder("M-1", "male", "visual")


@pytest.fixture
def sheet(dam: Animal, sire: Animal, owner: Account) -> Sheet:
    return issue(animal=dam, by=owner, buyer=ContactFactory.create(name="Osk", reach="o@osk.org"))[
        0
    ]


def kinds(sheet: Sheet) -> list[tuple[str, Kind]]:
    notice = notice_of(sheet)
    return [(one.name, one.kind) for one in notice.differences] if notice else []


def told(sheet: Sheet, by: Account, **given: object) -> DaybookEntry:
    notice = notice_of(sheet)
    assert notice is not None
    values = {"how": How.CALL, "on": DAY, "message": "", "note": "", "upto": notice.upto} | given
    return tell(sheet=sheet, by=by, **values)  # type: ignore[arg-type]  # given by name


def test_nothing_is_raised_by_issuing_or_by_what_leaves_the_figures(
    sheet: Sheet, book: Book
) -> None:
    book.founder("F-7", "female", "visual")
    assert open_notices() == []


def test_a_proof_raises_a_notice_with_what_was_said_and_is(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal
) -> None:
    clutch = book.clutch("C-1", dam, sire, visual=1)
    (notice,) = open_notices()
    (one,) = notice.differences
    assert (one.name, one.kind, one.then, one.now) == (
        "Saltgrass", Kind.PROVEN, "stated by the source, not tested here, 50 %", "proven",
    )  # fmt: skip
    entry = DaybookEntry.objects.get(what=f"Hatched {clutch.code}")
    assert (notice.sheet, notice.upto, notice.since) == (sheet, entry.pk, entry.at)


def test_clean_young_lower_what_a_sheet_says_by_the_set_step_only(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal
) -> None:
    # Of a het dam and a visual sire half the young show it: one clean young leaves 1/3, two 1/5.
    book.clutch("C-1", dam, sire, normal=1)
    (notice,) = open_notices()
    assert [(one.kind, one.then, one.now) for one in notice.differences] == [
        (
            Kind.LOWER,
            "stated by the source, not tested here, 50 %",
            "tested clean so far, 34 % left",
        )
    ]


def change(
    before: tuple[str, float, float] | None, after: tuple[str, float, float], **more: bool
) -> StandingChange:
    """A change of a standing: word, chance of two copies, of none."""
    one = StandingChange(trait=Trait(pk=1, name="Saltgrass"), entry=DaybookEntry(pk=1))
    one.word, one.two, one.none = after
    if before is not None:
        one.word_before, one.two_before, one.none_before = before
    for name, value in more.items():
        setattr(one, name, value)
    return one


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [
        (("possible", 0, 0.5), ("proven", 0, 0), Kind.PROVEN),
        (("parentage", 0, 0), ("proven", 0, 0), Kind.PROVEN),
        (("visual", 1, 0), ("proven", 1, 0), None),
        (("possible", 0, 0.5), ("absent", 0, 1), Kind.RULED_OUT),
        (("absent", 0, 1), ("possible", 0, 0.5), Kind.HIGHER),
        (("absent", 0, 1), ("possible", 0, 0.95), None),
        (("absent", 0, 1), ("deduced", 0, 0), Kind.PROVEN),
        (None, ("absent", 0, 1), None),
        (None, ("possible", 0, 0.5), Kind.HIGHER),
        (("possible", 0, 0.5), ("possible", 0, 0.4), Kind.HIGHER),
        (("possible", 0, 0.5), ("possible", 0, 0.41), None),
        (("possible", 0, 0.5), ("clean", 0, 0.59), None),
        (("possible", 0, 0.5), ("clean", 0, 0.61), Kind.LOWER),
        # Certainty that is lost is told however little is left open.
        (("proven", 0, 0), ("possible", 0, 0.01), Kind.LOWER),
        # As likely to carry it, and no longer likely to have two copies.
        (("possible", 0.33, 0), ("possible", 0, 0), Kind.LOWER),
    ],
)
def test_what_matters_to_a_buyer(
    before: tuple[str, float, float] | None, after: tuple[str, float, float], kind: Kind | None
) -> None:
    assert [one.kind for one in differences_of([change(before, after)])] == ([kind] if kind else [])


def test_a_dispute_is_told_when_it_opens_and_when_it_is_settled() -> None:
    fifty = ("possible", 0.0, 0.5)
    opened = change(fifty, fifty, disputed=True)
    settled = change(fifty, fifty, disputed_before=True)
    assert [one.kind for one in differences_of([opened])] == [Kind.DISPUTED]
    assert [one.kind for one in differences_of([settled])] == [Kind.SETTLED]
    assert differences_of([opened, settled]) == ()
    assert (
        differences_of([change(fifty, ("absent", 0, 1), disputed=True, disputed_before=True)]) == ()
    )


def test_changes_that_follow_each_other_count_as_one() -> None:
    steps = [("possible", 0.0, none) for none in (0.5, 0.56, 0.62)]
    two = [change(steps[0], steps[1]), change(steps[1], steps[2])]
    (one,) = differences_of(two)
    assert (one.kind, one.then, one.now) == (Kind.LOWER, "possible het 50 %", "possible het 38 %")
    assert differences_of([*two, change(steps[2], steps[0])]) == ()


def test_another_line_of_the_same_gene_is_a_correction_of_the_line(
    sheet: Sheet, book: Book, dam: Animal, owner: Account
) -> None:
    other = LineFactory.create(trait=book.trait, code="PEL")
    said = dam.statements.get()
    said.line = other
    with writing(by=owner, what="Corrected the line", subject=dam) as entry:
        entry.keep(said)
    assert sorted(kinds(sheet)) == [("Saltgrass HAR", Kind.LINE), ("Saltgrass PEL", Kind.LINE)]


def test_an_undone_entry_takes_its_notice_with_it(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, visual=1)
    assert kinds(sheet) == [("Saltgrass", Kind.PROVEN)]
    undo(entry=DaybookEntry.objects.get(what="Hatched C-1"), by=owner)
    assert open_notices() == []
    assert since_issued([sheet]) == {}


def test_withdrawn_sheets_and_animals_raise_none(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, visual=1)
    withdraw(sheet=sheet, reason="a slip", by=owner)
    assert open_notices() == []
    # The public page of a withdrawn sheet still says that the book says otherwise.
    assert set(since_issued([sheet])) == {sheet.pk}


def test_a_sheet_issued_since_raises_none_of_its_own(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, visual=1)
    issue(animal=dam, by=owner)
    assert [one.sheet for one in open_notices()] == [sheet]


def test_told_it_waits_no_longer_until_more_moves(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, normal=1)
    entry = told(sheet, owner, how=How.MESSAGE, message="Hello Osk", note="thanked me")
    assert open_notices() == []
    one = Told.objects.get()
    assert (one.how, one.on, one.message, one.note) == ("message", DAY, "Hello Osk", "thanked me")
    assert [part["kind"] for part in one.said] == ["lower"]
    assert set(since_issued([sheet])) == {sheet.pk}
    book.clutch("C-2", dam, sire, normal=2)
    (notice,) = open_notices()
    assert notice.differences[0].then == "tested clean so far, 34 % left"
    told(sheet, owner)
    assert open_notices() == []
    assert entry.what == "Told what differs from sheet 1"


def test_telling_undone_waits_again(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, visual=1)
    entry = told(sheet, owner)
    undo(entry=entry, by=owner)
    assert kinds(sheet) == [("Saltgrass", Kind.PROVEN)]


def test_what_was_told_and_then_taken_back_is_to_be_told_again(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, visual=1)
    told(sheet, owner)
    undo(entry=DaybookEntry.objects.get(what="Hatched C-1"), by=owner)
    (notice,) = open_notices()
    assert [(one.kind, one.then, one.now) for one in notice.differences] == [
        (Kind.LOWER, "proven", "stated by the source, not tested here, 50 %")
    ]


def test_nothing_is_told_twice_nor_of_what_was_not_read(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, normal=1)
    notice = notice_of(sheet)
    assert notice is not None
    book.clutch("C-2", dam, sire, visual=1)
    with pytest.raises(Refused, match="More has moved since"):
        told(sheet, owner, upto=notice.upto)
    told(sheet, owner)
    with pytest.raises(Refused, match="Nothing is left to tell"):
        tell(sheet=sheet, how=How.CALL, on=DAY, message="", note="", upto=notice.upto, by=owner)
    assert Told.objects.count() == 1


def test_the_message_says_what_the_book_says_and_where_the_page_is(
    sheet: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account
) -> None:
    book.clutch("C-1", dam, sire, visual=1)
    notice = notice_of(sheet)
    assert notice is not None
    text = telling.message(notice, telling.differs(notice, by=owner))
    assert text.startswith("Hello Osk,\n")
    (line,) = (one for one in text.splitlines() if one.startswith("- "))
    paper, now = sheet.content["claims"][0], draft(dam, by=owner)["claims"][0]
    assert line == (
        f"- Saltgrass: it is proven by now. The sheet says: HAR: {paper['words']}. "
        f"Today: HAR: {now['words']}."
    )
    # Of a stated word no paper tells how far its source is taken.
    assert "50 %" not in line.partition("Today")[0].replace(paper["words"], "")
    assert text.endswith(owner.name)
    assert set(telling._MEANS) == set(Kind)


@pytest.fixture
def proven(sheet: Sheet, book: Book, dam: Animal, sire: Animal) -> Sheet:
    book.clutch("C-1", dam, sire, visual=1)
    return sheet


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_today_lists_it_until_it_is_done(proven: Sheet, owner_client: Client) -> None:
    assert "Saltgrass: proven" in text_of(owner_client, "/")
    page = owner_client.get(f"/sheets/{proven.pk}/tell/")
    sent = {name: page.context["form"][name].value() for name in ("message", "upto")}
    bad = owner_client.post(f"/sheets/{proven.pk}/tell/", sent | {"on": "2026-11-01"})
    assert bad.status_code == 200
    assert "it is proven by now" in bad.content.decode()
    done = owner_client.post(
        f"/sheets/{proven.pk}/tell/", sent | {"on": "2026-11-01", "how": "message", "note": "glad"}
    )
    assert done.status_code == 302
    assert "Buyers to tell" not in text_of(owner_client, "/")
    page_after = text_of(owner_client, f"/sheets/{proven.pk}/")
    assert "1 November 2026, by message: glad" in page_after
    assert "Nobody has to be told anything" in text_of(owner_client, "/sheets/notices/")
    left = owner_client.get(f"/sheets/{proven.pk}/tell/", follow=True)
    assert "Nothing is left to tell of this sheet." in left.content.decode()


def test_a_day_that_is_still_to_come_is_refused_and_what_was_typed_stays(
    proven: Sheet, owner_client: Client
) -> None:
    ahead = timezone.localdate().replace(year=timezone.localdate().year + 1).isoformat()
    sent = {"message": "my own words", "upto": "1", "on": ahead, "how": "call"}
    page = owner_client.post(f"/sheets/{proven.pk}/tell/", sent).content.decode()
    assert "That day is still to come" in page
    assert "my own words" in page
    assert not Told.objects.exists()


def test_whoever_may_not_see_people_is_shown_none(proven: Sheet) -> None:
    helper = Client()
    helper.force_login(AccountFactory.create(), backend="django.contrib.auth.backends.ModelBackend")
    assert "Buyers to tell" not in text_of(helper, "/")
    for address in ("/sheets/notices/", f"/sheets/{proven.pk}/tell/"):
        assert helper.get(address).status_code == 403


def test_the_public_page_says_that_a_notice_followed_and_not_what(
    proven: Sheet, owner: Account
) -> None:
    told(proven, owner, message="canary message", note="canary note")
    page = text_of(Client(), f"/papers/{proven.page_code}/")
    assert "The book says otherwise since" in page
    assert "canary" not in page
    assert "Osk" not in page


def queries(read: Callable[[], object]) -> int:
    with CaptureQueriesContext(
        connection,
    ) as made:
        read()
    return len(made)


def test_as_many_queries_for_one_sheet_as_for_many(
    proven: Sheet, book: Book, dam: Animal, sire: Animal, owner: Account, owner_client: Client
) -> None:
    for address in ("/sheets/notices/", "/"):
        owner_client.get(address)  # what is kept for the state of the book
    one = [queries(partial(owner_client.get, at)) for at in ("/sheets/notices/", "/")]
    for number in range(3):
        animal = book.founder(f"F-2{number}", "female", "possible", "1/2")
        issue(animal=animal, by=owner, buyer=ContactFactory.create(name=f"Buyer {number}"))
        book.clutch(f"C-2{number}", animal, sire, visual=1)
    for address in ("/sheets/notices/", "/"):
        owner_client.get(address)
    assert len(open_notices()) == 4
    many = [queries(partial(owner_client.get, at)) for at in ("/sheets/notices/", "/")]
    assert many == one


def test_other_genes_of_the_animal_do_not_matter_where_nothing_moved(
    proven: Sheet, book: Book
) -> None:
    TraitFactory.create(species=book.species, name="Quillwort")
    assert kinds(proven) == [("Saltgrass", Kind.PROVEN)]
    assert notices.STEP == 0.1
