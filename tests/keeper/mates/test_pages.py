"""The pages of mates: rows, warnings, empty states, the animal typed in words, the answer."""

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.mates.warnings import Grave, Warn
from keeper.models import Account, Animal
from keeper.pages.mates.page import MatesPage, asked_page, mates_page
from keeper.pages.mates.rows import MateRow
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.prospects.rows import Yard, yard

TODAY = date(2026, 11, 29)


@pytest.fixture
def place(owner: Account) -> Yard:
    return yard(owner)


def now(animal: Animal) -> Animal:
    found: Animal = Animal.objects.select_related("species").get(pk=animal.pk)
    return found


def page_of(animal: Animal, *, everything: bool = True) -> MatesPage:
    return mates_page(now(animal), TODAY, everything=everything)


def row_of(animal: Animal, code: str) -> MateRow:
    (side,) = page_of(animal).sides
    return next(row for row in side.rows if row.animal.code == code)


def warned(animal: Animal, code: str) -> list[tuple[str, str]]:
    return [(one.head, one.text) for one in row_of(animal, code).warned]


def text_of(answer: Any) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


# --- rows --------------------------------------------------------------------------------------


def test_a_row_tells_odds_reason_and_the_way_to_the_pairing(
    place: Yard, owner_client: Client
) -> None:
    dam = place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))
    sire = place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    row = row_of(dam, "M-1")
    # 1/8 each; of 4 hatchlings (6 eggs, of which 80 % hatch) 1 - (7/8)^4 = 41.4 %.
    assert row.odds == (
        "Project Double tide: a hatchling meets the goal with 12 %, at least one of 4 with 41 %.",
    )
    assert row.looks == "At best Quillwort + Saltgrass: 12 % a hatchling, 23 hatchlings for 95 %."
    assert row.reason == (
        "Toward the project Double tide, M-1 has Saltgrass HAR (stated visual by a source not "
        "named, not tested here) and Quillwort DUN (stated 100 % het by a source not named, not "
        "tested here); F-1 has Saltgrass HAR (stated 100 % het by a source not named, not tested "
        "here) and Quillwort DUN (stated 100 % het by a source not named, not tested here)."
    )
    assert row.kinship == "kinship 0, no ancestor in common in this book"
    page = owner_client.get(reverse("animals-mates", args=[dam.pk])).content.decode()
    pairing = f"{reverse('clutches-pairing')}?dam={dam.pk}&amp;sire={sire.pk}"
    assert pairing in page
    of_sire = owner_client.get(reverse("animals-mates", args=[sire.pk])).content.decode()
    assert pairing in of_sire


def test_what_a_clutch_proves_is_said_with_what_is_left(owner: Account) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "possible", "2/3")
    book.founder("M-1", "male", "visual")
    # With 4 hatchlings 2/3 · 15/16 = 62.5 %; left (2/3)/16 against 1/3: 11.1 %, rounded up.
    assert row_of(dam, "M-1").proves == (
        "Saltgrass: a clutch of 4 proves it in F-1 with 62 %; if none shows it, 12 % is left. "
        "A carrier shows itself among 5 with 95 %.",
    )
    assert row_of(dam, "M-1").reason.endswith(": a hatchling that shows it would prove F-1.")


def test_the_short_list_holds_ten_and_the_rest_on_wish(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))
    for number in range(11):
        place.here(f"M-{number:02}", "male", (place.har, "visual"), (place.dun, "carries"))
    place.here("M-99", "male")
    short, every = page_of(dam, everything=False).sides[0], page_of(dam).sides[0]
    assert (len(short.rows), short.left, short.worth, short.here) == (10, 2, 11, 12)
    assert (len(every.rows), every.left) == (12, 0)
    assert every.rows[-1].animal.code == "M-99"
    assert every.rows[-1].reason == "It serves no open project and would prove nothing of F-1."
    page = owner_client.get(reverse("animals-mates", args=[dam.pk]))
    assert "Show all 12" in text_of(page)


def test_the_young_are_listed_apart_with_when(place: Yard) -> None:
    dam = place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))
    young = place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    Animal.objects.filter(pk=young.pk).update(hatched_on=date(2026, 6, 1), hatched_year=2026)
    (side,) = page_of(dam, everything=False).sides
    assert side.rows == ()
    (row,) = side.young
    assert (row.animal.code, f"{row.ready:%B %Y}", len(row.odds)) == ("M-1", "November 2027", 1)


def test_gone_ones_and_other_species_are_no_mates(place: Yard) -> None:
    dam = place.here("F-1", "female", (place.har, "carries"))
    for code, status in (("M-1", "sold"), ("M-2", "died"), ("M-3", "lent"), ("M-4", "offered")):
        one = place.here(code, "male", (place.har, "visual"))
        Animal.objects.filter(pk=one.pk).update(status=status)
    (side,) = page_of(dam).sides
    assert {row.animal.code for row in side.rows} == {"M-3", "M-4"}
    assert ("Not now:", "M-3 is on loan.") in warned(dam, "M-3")


def test_pages_ask_as_much_for_twelve_mates_as_for_three(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))

    def ask(address: str) -> None:
        assert owner_client.get(address).status_code == 200

    of_animal = f"{reverse('animals-mates', args=[dam.pk])}?all=1"
    asked = reverse(
        "animals-mates-asked",
        query={"species": place.species.pk, "says": "0.1 DH Saltgrass HAR Quillwort", "all": 1},
    )
    for number in range(3):
        place.here(f"M-{number}", "male", (place.har, "visual"), (place.dun, "carries"))
    ask(of_animal)
    ask(asked)
    three = queries_of(lambda: ask(of_animal)), queries_of(lambda: ask(asked))
    for number in range(3, 12):
        place.here(f"M-{number}", "male", (place.har, "visual"), (place.dun, "carries"))
    assert (queries_of(lambda: ask(of_animal)), queries_of(lambda: ask(asked))) == three


# --- warnings, each by a case ------------------------------------------------------------------


def test_nothing_can_show(place: Yard) -> None:
    dam = place.here("F-1", "female", (place.har, "visual"))
    place.here("M-1", "male")
    assert warned(dam, "M-1") == [("Nothing can show:", "every hatchling would look normal.")]


def test_lines_would_mix_and_an_open_pair_may(place: Yard) -> None:
    dam = place.here("F-1", "female", (place.har, "visual"))
    place.here("M-1", "male", (place.pel, "visual"))
    place.here("M-2", "male", (place.tor, "carries"))
    assert (
        "Lines would mix:",
        "100 % of the hatchlings would carry Saltgrass HAR and PEL, two genes that look alike.",
    ) in warned(dam, "M-1")
    assert (
        "Lines would mix:",
        "50 % of the hatchlings would carry Saltgrass HAR and TOR, which may be one gene or two.",
    ) in warned(dam, "M-2")


def test_harm_is_gravest_and_rounded_up(place: Yard) -> None:
    m.Trait.objects.filter(pk=place.dun.trait_id).update(
        harm="Some lose their balance.", harm_source="our own notes"
    )
    dam = place.here("F-1", "female", (place.dun, "carries"))
    place.here("M-1", "male", (place.dun, "carries"))
    found = row_of(dam, "M-1").warned
    assert found[0] == Warn(
        "Harm:",
        "25 % of the hatchlings would show Quillwort: Some lose their balance. (our own notes)",
        Grave.HARM,
    )


def test_eggs_that_would_die_are_losses(place: Yard) -> None:
    m.Survival.objects.create(
        locus=place.dun.locus, one=place.dun, other=place.dun, survival="0", source="our notes"
    )
    dam = place.here("F-1", "female", (place.dun, "carries"))
    place.here("M-1", "male", (place.dun, "carries"))
    assert ("Losses:", "25 % of the eggs would die of their genes.") in warned(dam, "M-1")


def test_a_look_that_hides_others_is_told(place: Yard) -> None:
    pale = TraitFactory.create(species=place.species, name="Pale", hides_all=True)
    line = LineFactory.create(trait=pale, code="PAL")
    dam = place.here("F-1", "female", (line, "carries"), (place.dun, "carries"))
    place.here("M-1", "male", (line, "carries"), (place.dun, "carries"))
    assert ("Masking:", "on a Pale these cannot be seen: Quillwort.") in warned(dam, "M-1")


def test_close_kin_is_told_with_what_it_is_like(owner: Account) -> None:
    book = Book(owner)
    clutch = book.clutch(
        "C-1", book.founder("F-1", "female", "carries"), book.founder("M-1", "male", "carries")
    )
    dam = book.young("F-2", clutch, seen=True, sex="female")
    book.young("M-2", clutch, sex="male")
    text = "kinship 0.25, as of full sibs, or a parent and its young."
    assert ("Close kin:", text) in warned(dam, "M-2")


def test_disputed_records_are_told_of_both(owner: Account) -> None:
    book = Book(owner)
    dam, sire = book.founder("F-1", "female", "clear"), book.founder("M-1", "male", "visual")
    clutch = book.clutch("C-1", dam, sire)
    book.young("Y-1", clutch, seen=True, sex="male")
    assert m.Dispute.objects.filter(closed=None).exists()
    page = page_of(dam)
    assert page.disputed
    heads = {one.head for row in page.sides[0].rows for one in row.warned}
    assert "In dispute:" in heads


# --- who is asked about ------------------------------------------------------------------------


def test_without_a_mate_it_says_so(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female", (place.har, "visual"))
    assert "No mate is here" in text_of(owner_client.get(reverse("animals-mates", args=[dam.pk])))


def test_where_nothing_is_brought_on_it_says_so(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female")
    place.here("M-1", "male")
    page = text_of(owner_client.get(reverse("animals-mates", args=[dam.pk])))
    assert "Nothing here brings it on" in page
    assert "Show all 1" in page


def test_where_no_project_asks_for_it_mates_follow_by_what_can_be_seen(owner: Account) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "carries")
    for code, claim in (("M-1", "carries"), ("M-2", ""), ("M-3", "visual"), ("M-4", "clear")):
        book.founder(code, "male", claim)
    (side,) = page_of(dam, everything=False).sides
    assert [row.animal.code for row in side.rows] == ["M-3", "M-1"]
    assert (side.worth, side.left) == (2, 2)
    assert side.rows[0].looks == "At best Saltgrass: 50 % a hatchling, 5 hatchlings for 95 %."
    assert side.rows[0].reason.startswith("No open project asks for it. M-3 has Saltgrass HAR (")


def test_of_unknown_sex_both_are_shown_apart(place: Yard, owner_client: Client) -> None:
    one = place.here("U-1", "unknown", (place.har, "visual"), (place.dun, "carries"))
    place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    place.here("F-1", "female", (place.har, "carries"), (place.dun, "visual"))
    page = page_of(one)
    assert [[row.animal.code for row in side.rows] for side in page.sides] == [["M-1"], ["F-1"]]
    # The pairing look-up takes no animal whose sex is not recorded.
    assert [row.pair for side in page.sides for row in side.rows] == ["", ""]
    text = text_of(owner_client.get(reverse("animals-mates", args=[one.pk])))
    assert "Its sex is not known. To whom it can be bred depends on it: say which it is" in text
    assert "If it is a female: males 1" in text
    assert "If it is a male: females 1" in text
    # It is no mate of its own, and nobody else is left out.
    assert page.unsexed == 0


def test_one_that_was_sold_or_is_too_young_says_so(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female", (place.har, "visual"))
    Animal.objects.filter(pk=dam.pk).update(status="sold")
    assert page_of(dam).against == ("F-1 is sold.",)


def test_a_withdrawn_one_is_not_asked_about(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female", (place.har, "visual"))
    with writing(by=place.by, what="Took it out") as book:
        book.withdraw(now(dam), reason="entered twice")
    page = owner_client.get(reverse("animals-mates", args=[dam.pk]))
    assert page.status_code == 200
    assert "F-1 does not count" in text_of(page)


def test_the_page_of_an_animal_leads_there(place: Yard, owner_client: Client) -> None:
    dam = place.here("F-1", "female")
    page = owner_client.get(reverse("animals-one", args=[dam.pk])).content.decode()
    assert f'href="{reverse("animals-mates", args=[dam.pk])}"' in page


# --- typed in words ----------------------------------------------------------------------------


def asked(client: Client, place: Yard, says: str) -> Any:
    sent = {"species": str(place.species.pk), "says": says}
    return client.get(reverse("animals-mates-asked"), sent)


def test_nothing_is_worked_out_before_all_of_it_is_read(place: Yard, owner_client: Client) -> None:
    place.here("F-1", "female", (place.har, "visual"))
    answer = asked(owner_client, place, "1.0 visual Saltgras HAR, 66% poss het Quillwort")
    page = answer.context["page"]
    assert (page.sides, page.text) == ((), "")
    (mend,) = page.mends
    ((name, address),) = mend.offers
    assert (mend.unread.text, name) == ("Saltgras", "Saltgrass")
    text = text_of(answer)
    assert "Not all of it can be read" in text
    assert "Carries with 66 % one copy of Quillwort, line not known" in text
    # What was typed is kept, and the offer mends it where it stands.
    assert "1.0 visual Saltgras HAR, 66% poss het Quillwort" in answer.content.decode()
    mended = owner_client.get(address).context["page"]
    assert mended.mends == ()
    assert mended.sides[0].here == 1


def test_it_is_ranked_like_one_of_the_book_and_nothing_is_written(place: Yard) -> None:
    place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))
    before = m.DaybookEntry.objects.count(), Animal.objects.count()
    page = asked_page(
        place.species, "1.0 Saltgrass HAR, het Quillwort", "Mara", TODAY, everything=False
    )
    (side,) = page.sides
    (row,) = side.rows
    assert row.odds == (
        "Project Double tide: a hatchling meets the goal with 12 %, at least one of 4 with 41 %.",
    )
    assert row.reason.endswith(
        "; the animal asked about has Saltgrass HAR (visual) and Quillwort, line not known "
        "(100 % het)."
    )
    assert (row.pair, row.kinship) == ("", "")
    assert (m.DaybookEntry.objects.count(), Animal.objects.count()) == before


def test_without_a_sex_both_are_shown(place: Yard) -> None:
    place.here("F-1", "female", (place.har, "visual"))
    page = asked_page(place.species, "Saltgrass HAR", "Mara", TODAY, everything=True)
    assert [(one.sex, one.here) for one in page.sides] == [("female", 0), ("male", 1)]


def test_the_answer_names_no_source_no_place_and_no_project(place: Yard) -> None:
    mate = place.here("F-1", "female", (place.har, "carries"), (place.dun, "visual"))
    Animal.objects.filter(pk=mate.pk).update(place="Rack 7", notes="dear to us")
    m.Statement.objects.filter(animal=mate).update(source=place.seller)
    page = asked_page(
        place.species, "1.0 Saltgrass HAR, 66 % het Quillwort", "Mara", TODAY, everything=False
    )
    text = page.text
    for private in ("Ansel", "Rack 7", "dear to us", "Double tide"):
        assert private not in text
    assert "1. F-1, a female: " in text
    assert "Saltgrass HAR (said to be 100 % het, not tested here)" in text
    assert "Quillwort DUN (said to be visual, not tested here)" in text
    # 0.66 · 1/2 of each hatchling, rounded down; of 4, 0.66 · (1 - 1/16) = 61.8 %.
    assert (
        "a clutch of 4 proves it in the animal asked about with 61 %; if none shows it, 11 % is"
        in text
    )
    assert "- a male" in text
    assert "nobody here has checked it" in text
    assert text.endswith("Mara")


def test_what_is_in_dispute_is_no_claim_in_the_answer(owner: Account) -> None:
    book = Book(owner)
    dam, sire = book.founder("F-1", "female", "clear"), book.founder("M-1", "male", "visual")
    book.young("Y-1", book.clutch("C-1", dam, sire), seen=True, sex="male")
    page = asked_page(book.species, "1.0 het Saltgrass", "Mara", TODAY, everything=True)
    assert "Saltgrass HAR (" not in page.text.partition("suit it best")[2]


def test_more_copies_than_fit_are_not_worked_out(place: Yard, owner_client: Client) -> None:
    other = TraitFactory.create(species=place.species, name="Pale")
    LineFactory.create(trait=other, locus=place.dun.locus, code="PAL")
    place.here("F-1", "female", (place.dun, "visual"))
    answer = asked(owner_client, place, "1.0 visual Quillwort DUN, het Pale")
    assert answer.context["page"].sides == ()
    assert "and an animal has two: visual Quillwort DUN; het Pale." in text_of(answer)


def test_a_named_look_is_what_it_is_made_of(place: Yard) -> None:
    with writing(by=place.by, what="Named a look") as book:
        look = book.keep(m.NamedLook(species=place.species, name="Tide mark"))
        salt = book.keep(m.LookPart(look=look, trait=place.har.trait))
        book.keep(m.LookPart(look=look, trait=place.dun.trait))
        salt.lines.set([place.har])
    page = asked_page(place.species, "1.0 tide mark", "Mara", TODAY, everything=False)
    assert page.understood[1:] == (
        "shows Saltgrass, line HAR (taken as visual: no word stands before it; part of Tide mark)",
        "shows Quillwort, line not known (taken as visual: no word stands before it; part of Tide "
        "mark)",
    )
    het = asked_page(place.species, "1.0 het Tide mark", "Mara", TODAY, everything=False)
    assert [one.unread.text for one in het.mends] == ["het Tide mark"]


def test_a_proof_by_a_single_look_is_none_in_the_answer(owner: Account) -> None:
    book = Book(owner)
    dam, sire = (
        book.founder("F-1", "female", "possible", "1/2"),
        book.founder("M-1", "male", "visual"),
    )
    book.young("Y-1", book.clutch("C-1", dam, sire), seen=True, sex="male")
    assert book.said(dam) == ("proven", "100 %")
    page = asked_page(book.species, "1.0 het Saltgrass", "Mara", TODAY, everything=False)
    assert "1. F-1, a female: Saltgrass HAR (shown by 1 hatchling, looked at once)." in page.text


@pytest.mark.parametrize(
    "sent",
    [
        {"says": "1.0 Saltgrass HAR"},
        {"species": "x", "says": "Saltgrass"},
        {"species": "999999", "says": "1.0"},
        {"says": ""},
        {"says": "\0" * 400},
    ],
)
def test_odd_requests_are_answered(place: Yard, owner_client: Client, sent: dict[str, str]) -> None:
    assert owner_client.get(reverse("animals-mates-asked"), sent).status_code == 200


def test_an_animal_of_which_nothing_is_said_is_asked_again(
    place: Yard, owner_client: Client
) -> None:
    assert "Name a look." in text_of(asked(owner_client, place, "1.0"))
    answer = asked(owner_client, place, "1.0 normal")
    assert "Of normal looks: nothing is said of what it carries" in text_of(answer)
    assert "none would bring anything out with it" in answer.context["page"].text
