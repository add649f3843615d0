"""The pages of prospects: what they show, how they save, what they keep when something is wrong."""

from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keeper.domain.prospects import writes as domain
from keeper.models import Account, Animal, Contact, Prospect, ProspectWord, Standing, Statement
from tests.keeper.counting import queries_of
from tests.keeper.prospects.rows import Yard, yard


@pytest.fixture
def place(owner: Account) -> Yard:
    return yard(owner)


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def rows(*said: dict[str, Any]) -> dict[str, str]:
    """What the browser sends for the rows of what is said."""
    sent = {"said-TOTAL_FORMS": "8", "said-INITIAL_FORMS": "0"}
    for number in range(8):
        row = said[number] if number < len(said) else {}
        for name in ("trait", "line", "claim", "chance"):
            sent[f"said-{number}-{name}"] = str(row.get(name, ""))
    return sent


def offer(place: Yard, *said: dict[str, Any], **given: Any) -> dict[str, Any]:
    return (
        {"name": "grey female", "species": place.species.pk, "sex": "female"} | given | rows(*said)
    )


def test_list_tells_the_states_apart(place: Yard, owner: Account, owner_client: Client) -> None:
    answer = text_of(owner_client.get(reverse("animals-prospects")))
    assert "Nothing on offer is noted" in answer
    place.prospect(place.word(place.har, "possible", "2/3"), name="on offer")
    gone = place.prospect(name="given up")
    domain.let_go(prospect=gone, reason="too dear", by=owner)
    had = place.prospect(name="had")
    domain.buy(prospect=had, animal=Animal(code="F-9"), by=owner)
    open_ones = text_of(owner_client.get(reverse("animals-prospects")))
    assert ">on offer</a>" in open_ones
    assert "possible het 66 % Saltgrass" in open_ones
    assert ">given up</a>" not in open_ones
    assert ">had</a>" not in open_ones
    bought = text_of(owner_client.get(reverse("animals-prospects"), {"state": "bought"}))
    assert f'bought as <a href="{reverse("animals-one", args=[had.bought_id])}">F-9</a>' in bought
    let_go = text_of(owner_client.get(reverse("animals-prospects"), {"state": "gone"}))
    assert ": too dear</p>" in let_go


def test_list_asks_as_much_for_three_as_for_one(place: Yard, owner_client: Client) -> None:
    def listing() -> None:
        owner_client.get(reverse("animals-prospects"))

    place.prospect(place.word(place.har, "carries"))
    listing()
    one = queries_of(listing)
    for name in ("second", "third"):
        place.prospect(place.word(place.har, "carries"), place.word(place.dun, "visual"), name=name)
    assert queries_of(listing) == one


def test_new_takes_the_trait_from_the_line_and_a_new_seller(
    place: Yard, owner_client: Client
) -> None:
    sent = offer(
        place,
        {"line": place.har.pk, "claim": "possible", "chance": "66 %"},
        {"trait": place.dun.trait_id, "claim": "visual"},
        new_source="Ines Varga",
        says="66 het, out of my own pair",
    )
    answer = owner_client.post(reverse("animals-prospects-new"), sent, follow=True)
    prospect = Prospect.objects.get()
    assert (prospect.source, prospect.says) == (
        Contact.objects.get(name="Ines Varga"),
        "66 het, out of my own pair",
    )
    page = text_of(answer)
    assert "Noted the prospect grey female." in page
    assert "No figure moved." in page
    assert [str(one) for one in ProspectWord.objects.all()] == [
        "grey female: visual Quillwort line not known",
        "grey female: possible het 66 % Saltgrass HAR",
    ]


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ({"claim": "visual"}, "Choose a trait, or one of its lines."),
        ({"line": "har", "claim": "possible"}, "Say how likely: 66 %, 50 %, 33 % …"),
        (
            {"line": "har", "claim": "carries", "chance": "1/2"},
            ("Only a possible het has a figure. Leave it empty."),
        ),
    ],
)
def test_new_says_what_is_wrong_and_keeps_what_was_typed(
    place: Yard, owner_client: Client, row: dict[str, Any], problem: str
) -> None:
    row = row | ({"line": place.har.pk} if "line" in row else {})
    sent = offer(place, row, says="in its own words")
    answer = owner_client.post(reverse("animals-prospects-new"), sent)
    page = text_of(answer)
    assert problem in page
    assert "in its own words</textarea>" in page
    assert Prospect.objects.count() == 0


def test_change_empties_a_row_and_fills_another(place: Yard, owner_client: Client) -> None:
    prospect = place.prospect(place.word(place.har, "carries"), place.word(place.dun, "visual"))
    address = reverse("animals-prospects-edit", args=[prospect.pk])
    shown = owner_client.get(address).context["forms"].said
    assert [row["line"].value() for row in shown.first] == [place.dun.pk, place.har.pk, None]
    sent = offer(place, {"line": place.pel.pk, "claim": "carries"}, reason="asked again")
    owner_client.post(address, sent)
    assert [str(one) for one in ProspectWord.objects.live()] == [
        "grey female: 100 % het (one copy) Saltgrass PEL"
    ]


def test_page_of_a_prospect_says_what_it_brings_mixes_and_asks(
    place: Yard, owner_client: Client
) -> None:
    place.here("M-1", "male", (place.har, "visual"))
    prospect = place.prospect(place.word(place.pel, "visual"), place.word(place.dun, "carries"))
    page = text_of(owner_client.get(reverse("animals-prospects-one", args=[prospect.pk])))
    assert "new here: nothing carries it" in page
    assert "another gene than HAR" in page
    assert "<strong>Would mix.</strong> Saltgrass PEL and Saltgrass HAR are two genes" in page
    assert "Who are its parents, and what is each of them known to carry?" in page
    assert f'hx-get="{reverse("animals-prospects-one", args=[prospect.pk])}?figures=1"' in page


def test_page_asks_as_much_for_three_words_as_for_one(place: Yard, owner_client: Client) -> None:
    first = place.prospect(place.word(place.har, "visual"))
    second = place.prospect(place.word(None, "visual"), place.word(place.dun, "carries"))
    place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))

    def page_of(prospect: Prospect) -> int:
        address = reverse("animals-prospects-one", args=[prospect.pk])
        return queries_of(lambda: owner_client.get(address))

    page_of(first)
    assert page_of(first) == page_of(second)


def test_figures_are_exact_and_leave_nothing(place: Yard, owner_client: Client) -> None:
    sire = place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    place.here("M-2", "male", (place.har, "carries"))
    place.here("F-2", "female", (place.har, "visual"))
    prospect = place.prospect(
        place.word(place.har, "possible", "2/3"), place.word(place.dun, "carries")
    )
    address = reverse("animals-prospects-one", args=[prospect.pk])
    animals = Animal.objects.count()
    part = owner_client.get(address, {"figures": "1"}, headers={"HX-Request": "true"})
    found = part.context["figures"]
    assert "<html" not in part.content.decode()
    # Chance 2/3 of a copy of HAR, and one of DUN for certain: 2/3 that it has both.
    (project,) = found.projects
    assert project.chance == "66 %"
    best, second = project.mates
    # She has HAR by 2/3 and gives it by 1/2, he always: a visual by 1/3. Both have one copy of
    # DUN: a visual by 1/4. Together 1/12 of hatchlings; M-2 has no DUN, so none.
    assert (best.animal, best.each, best.carries) == (
        sire,
        "8 %",
        "Saltgrass HAR 100 %, Quillwort 100 %",
    )
    # One gene pair or none: 2/3 × (1 − (7/8)^8) = 43.7 %, and never above 2/3, so no 95 %.
    assert (best.at_least_one[0], best.for_95) == ((8, "43 %"), None)
    assert (str(second.animal), second.each) == ("M-2", "0 %")
    assert (Animal.objects.count(), Standing.objects.filter(animal__code__gt="P").exists()) == (
        animals,
        False,
    )
    whole = text_of(owner_client.get(address, {"figures": "1"}))
    assert "stated possible het 66 % by Ansel of Pelnaw, not tested here" in whole


def test_mates_that_carry_what_it_lacks_come_first(place: Yard, owner_client: Client) -> None:
    # Neither can give the goal at once, so their order is that of what they would add.
    place.here("M-1", "male", (place.har, "carries"))
    place.here("M-2", "male", (place.dun, "carries"))
    prospect = place.prospect(place.word(place.har, "carries"))
    address = reverse("animals-prospects-one", args=[prospect.pk])
    (project,) = owner_client.get(address, {"figures": "1"}).context["figures"].projects
    assert [(str(one.animal), one.each, one.carries) for one in project.mates] == [
        ("M-2", "0 %", "Quillwort 100 %"),
        ("M-1", "0 %", "Saltgrass HAR 100 %"),
    ]


def test_figures_tell_what_became_of_the_sellers_word(place: Yard, owner_client: Client) -> None:
    before = place.here("F-1", "female", (place.har, "visual"))
    prospect = place.prospect(place.word(place.har, "carries"))
    address = reverse("animals-prospects-one", args=[prospect.pk])
    assert "What became of the word" not in text_of(owner_client.get(address, {"figures": "1"}))
    Statement.objects.filter(animal=before).update(source=place.seller)
    page = text_of(owner_client.get(address, {"figures": "1"}))
    assert "1 statement of theirs on 1 animal is in the book." in page
    assert "Of 1 certain claim none was tested here yet." in page


def test_figures_need_the_sex_for_mates_and_say_so(place: Yard, owner_client: Client) -> None:
    place.here("M-1", "male", (place.har, "visual"))
    place.here("F-1", "female", (place.har, "carries"))
    prospect = place.prospect(place.word(place.har, "carries"), sex="unknown")
    address = reverse("animals-prospects-one", args=[prospect.pk])
    page = text_of(owner_client.get(address, {"figures": "1"}))
    assert page.count("its own sex must be known first") == 2


def test_figures_of_words_that_cannot_all_be_meant_say_so(
    place: Yard, owner_client: Client
) -> None:
    place.dun.locus = place.har.locus
    place.dun.save()
    prospect = place.prospect(place.word(place.har, "double"), place.word(place.dun, "carries"))
    address = reverse("animals-prospects-one", args=[prospect.pk])
    page = text_of(owner_client.get(address, {"figures": "1"}))
    assert "These need 3 copies at one place" in page


def test_message_can_be_changed_and_goes_into_the_link(place: Yard, owner_client: Client) -> None:
    prospect = place.prospect(place.word(place.har, "carries"))
    address = reverse("animals-prospects-message", args=[prospect.pk])
    page = owner_client.get(address)
    assert "Hello Ansel of Pelnaw," in text_of(page)
    assert page.context["page"].way.url.startswith("mailto:ansel@keeper.example?subject=")
    changed = owner_client.post(address, {"text": "Only this."})
    assert changed.context["page"].way.url == (
        "mailto:ansel@keeper.example?subject=grey%20female&body=Only%20this."
    )
    assert "Only this.</textarea>" in text_of(changed)
    Contact.objects.update(reach="at the autumn table")
    assert "Copy the text and send it as you like" in text_of(owner_client.get(address))


def test_let_go_and_take_up(place: Yard, owner_client: Client) -> None:
    prospect = place.prospect(place.word(place.har, "carries"))
    address = reverse("animals-prospects-let-go", args=[prospect.pk])
    assert "This field is required." in text_of(owner_client.post(address, {"reason": ""}))
    page = text_of(owner_client.post(address, {"reason": "too dear"}, follow=True))
    assert ": too dear.</p>" in page
    assert "What to ask first" not in page
    again = reverse("animals-prospects-take-up", args=[prospect.pk])
    assert "What to ask first" in text_of(owner_client.post(again, follow=True))
    page = text_of(owner_client.post(again, follow=True))
    assert "grey female was not let go: it stands among the prospects." in page


def test_buy_enters_it_with_its_papers_and_undo_takes_all_back(
    place: Yard, owner_client: Client
) -> None:
    prospect = place.prospect(
        place.word(place.har, "possible", "2/3"), says="66 het", hatched_year=2023
    )
    address = reverse("animals-prospects-buy", args=[prospect.pk])
    form = owner_client.get(address).context["form"]
    assert (form["sex"].value(), form["hatched_year"].value(), form["says"].value()) == (
        "female",
        2023,
        "66 het",
    )
    scan = SimpleUploadedFile("sheet.pdf", b"%PDF-1.7 a sheet", "application/pdf")
    sent = {"code": "F-9", "sex": "female", "acquired_on": "2026-10-01", "dated": "2026-09-01"}
    sent |= {"says": "66 het", "upload": scan}  # type: ignore[dict-item]  # a file is sent as well
    page = text_of(owner_client.post(address, sent, follow=True))
    assert "Bought F-9: the prospect grey female." in page
    animal = Animal.objects.get(code="F-9")
    paper = animal.papers.get()
    assert (paper.says, paper.dated, bool(paper.scan)) == ("66 het", date(2026, 9, 1), True)
    assert Statement.objects.get().paper == paper
    one = text_of(owner_client.get(reverse("animals-prospects-one", args=[prospect.pk])))
    assert f'It is <a href="{reverse("animals-one", args=[animal.pk])}">F-9</a> now' in one
    entry = animal.statements.get().history.count() and page.split("/undo/")[0].rsplit("/", 1)[1]
    owner_client.post(reverse("daybook-undo", args=[int(entry)]))
    prospect.refresh_from_db()
    assert (prospect.bought, Animal.objects.live().filter(code="F-9").exists()) == (None, False)


def test_buy_says_what_is_wrong_and_keeps_what_was_typed(place: Yard, owner_client: Client) -> None:
    place.here("F-9", "female")
    prospect = place.prospect(place.word(place.har, "carries"))
    address = reverse("animals-prospects-buy", args=[prospect.pk])
    page = text_of(owner_client.post(address, {"code": "F-9", "sex": "male", "place": "rack 3"}))
    assert "This code is in use already. Choose another." in page
    assert 'value="rack 3"' in page
    nobody = place.prospect(source=None, name="nobody's")
    address = reverse("animals-prospects-buy", args=[nobody.pk])
    page = text_of(owner_client.post(address, {"code": "F-10", "sex": "male", "says": "het"}))
    assert "its papers need somebody who stands for them" in page


def test_the_contact_and_the_collection_lead_to_prospects(
    place: Yard, owner_client: Client
) -> None:
    prospect = place.prospect()
    address = reverse("animals-prospects-one", args=[prospect.pk])
    contact = text_of(owner_client.get(reverse("register-contact", args=[place.seller.pk])))
    assert f'<a href="{address}">grey female</a>' in contact
    animals = text_of(owner_client.get(reverse("animals")))
    assert f'href="{reverse("animals-prospects")}"' in animals
