"""The pages of imports: what they show, what they take, and who may see them."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.imports import changing
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.imports.tables import HERD, begun, picked, rows_of, table, tried
from tests.keeper.sent import filled, opened

PARTS = {"HX-Request": "true"}


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def page(name: str, one: m.Import, **more: int) -> str:
    return reverse(f"animals-imports{name}", kwargs={"pk": one.pk, **more})


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def send(client: Client, address: str, **given: Any) -> Any:
    return client.post(address, opened(client, address) | given)


def test_table_goes_from_the_file_to_the_animals(
    book: Book, owner_client: Client, django_capture_on_commit_callbacks: Any
) -> None:
    answer = send(
        owner_client,
        reverse("animals-imports"),
        file=SimpleUploadedFile("herd.csv", HERD.encode()),
    )
    one = m.Import.objects.get()
    assert answer["Location"] == page("-columns", one)
    assert owner_client.get(page("-one", one))["Location"] == page("-columns", one)
    form = owner_client.get(page("-columns", one)).context["form"]
    picks = {f"column_{n}": pick for n, pick in enumerate(one.picks)}
    asked = {"version": 0, "species": book.species.pk, "visual_seen": "on"} | picks
    without = send(owner_client, page("-columns", one), **asked)
    assert without.context["form"].errors == {"unit": ["Some weights have no unit: choose it."]}
    assert [field.label for field, _ in form.columns] == one.heads
    answer = send(owner_client, page("-columns", one), **asked, unit="g")
    assert answer["Location"] == page("-one", one)

    asking = owner_client.get(page("-questions", one)).context["asked"]
    (question,) = asking.forms
    new = {
        "q0-answer": "new:recessive", "q0-name": "Thrift", "q0-code": "thr", "q0-line": "of Cove",
        "q0-key": question.question.key,
    }  # fmt: skip
    lacking = owner_client.post(page("-questions", one), new | {"q0-code": "?"})
    assert "Write two or three capital letters for the line." in text_of(lacking)
    answer = owner_client.post(page("-questions", one), new)
    assert answer["Location"] == page("-one", one)
    assert "12 new animals, 3 new clutches, 2 new contacts, 1 new trait" in text_of(
        owner_client.get(page("-one", one))
    )
    one.refresh_from_db()
    with django_capture_on_commit_callbacks(execute=True):
        owner_client.post(page("-write", one), {"version": one.version})
    shown = text_of(owner_client.get(page("-one", one)))
    assert "herd.csv is in the book" in shown
    assert m.Animal.objects.live().count() == 12


def test_only_the_owner_brings_tables_in(
    book: Book, owner: m.Account, helper_client: Client, owner_client: Client
) -> None:
    one = picked(begun(owner, HERD), unit="g")
    for name in ("-one", "-columns", "-questions", "-outcome", "-throw-away"):
        assert helper_client.get(page(name, one)).status_code == 403
    for address in (page("-write", one), page("-leave-out", one), reverse("animals-imports")):
        assert helper_client.post(address).status_code == 403
    assert helper_client.get(page("-row", one, number=2)).status_code == 403
    link = f'href="{reverse("animals-imports")}"'
    assert link in text_of(owner_client.get("/animals/"))
    assert link not in text_of(helper_client.get("/animals/"))
    assert link in text_of(owner_client.get("/"))
    assert link not in text_of(helper_client.get("/"))


def test_book_without_a_species_asks_for_one_first(owner_client: Client) -> None:
    assert "First a species" in text_of(owner_client.get(reverse("animals-imports")))


def test_row_is_mended_in_place_and_without_a_script(
    book: Book, owner: m.Account, owner_client: Client
) -> None:
    one = picked(begun(owner, table("Code,Sex", "A-1,x", "A-2,y")))
    address = page("-row", one, number=2)
    sent = filled(owner_client, address)
    assert (sent["cell_1"], sent["was_1"]) == ("x", "x")
    answer = owner_client.post(address, sent | {"cell_1": "m"})
    assert answer["Location"] == page("-one", one)
    assert rows_of(one)["A-1"].sex == "male"
    address = page("-row", one, number=3)
    part = owner_client.get(address, headers=PARTS)
    assert "<html" not in part.content.decode()
    sent = filled(owner_client, address)
    answer = owner_client.post(address, sent | {"cell_1": "f"}, headers=PARTS)
    shown = text_of(answer)
    assert '<li id="row-3" class="of-new">' in shown
    assert 'id="sum" aria-label="What would be written" hx-swap-oob="true"' in shown
    assert "2 new animals" in shown


def test_row_mended_in_another_window_is_shown_and_not_overwritten(
    book: Book, owner: m.Account, owner_client: Client
) -> None:
    one = picked(begun(owner, table("Code,Sex", "A-1,x")))
    address = page("-row", one, number=2)
    sent = filled(owner_client, address)
    changing.mend(one=one, row=2, texts={1: ("x", "m")})
    answer = owner_client.post(address, sent | {"cell_1": "f"})
    assert "“B2” was mended in another window: “m”. Look at it again." in text_of(answer)
    assert rows_of(one)["A-1"].sex == "male"


def test_offer_is_taken_with_one_tap(book: Book, owner: m.Account, owner_client: Client) -> None:
    one = picked(begun(owner, table("Code,Hatched", "A-1,43831", "A-2,25.12.2023")))
    address = page("-row", one, number=2)
    sent = filled(owner_client, address)
    assert 'value="cell_1=2020-01-01"' in owner_client.get(address).content.decode()
    owner_client.post(address, sent | {"instead": "cell_1=2020-01-01"})
    assert rows_of(one)["A-1"].hatched_year == 2020


def test_rows_with_problems_are_left_out_together(
    book: Book, owner: m.Account, owner_client: Client
) -> None:
    one = picked(begun(owner, table("Code,Sex", "A-1,x", "A-2,y", "A-3,f")))
    shown = owner_client.get(page("-one", one), {"show": "problem"})
    assert "Leave out all 2" in text_of(shown)
    owner_client.post(page("-leave-out", one), {"row": "problems"})
    assert [row.fate.value for row in tried(one).rows] == ["out", "out", "new"]
    owner_client.post(page("-leave-out", one), {"row": "2", "in": "1"})
    assert [row.fate.value for row in tried(one).rows] == ["problem", "out", "new"]


def test_likely_doubles_are_answered_together(
    book: Book, owner: m.Account, owner_client: Client
) -> None:
    book.founder("A-1", "female")
    book.founder("A-2", "female")
    one = picked(begun(owner, table("Code", "a1", "a2", "a3")))
    owner_client.post(page("-questions", one), {"all_same": "same"})
    assert [row.fate.value for row in tried(one).rows] == ["there", "there", "new"]
    key = next(iter(m.Import.objects.get().answers))
    owner_client.post(page("-questions", one), {"again": key})
    assert [row.fate.value for row in tried(one).rows] == ["asked", "there", "new"]


def test_what_looks_odd_is_to_be_said_to_be_so(
    book: Book, owner: m.Account, owner_client: Client, django_capture_on_commit_callbacks: Any
) -> None:
    one = picked(begun(owner, table("Code,Hatched", "A-1,2100-01-01")))
    asked = "It hatched on 1 January 2100, which is still to come."
    assert asked in text_of(owner_client.get(page("-one", one), {"show": "odd"}))
    sent = {"version": one.version}
    owner_client.post(page("-write", one), sent)
    assert not m.Animal.objects.exists()
    with django_capture_on_commit_callbacks(execute=True):
        owner_client.post(page("-write", one), sent | {"odd_is_so": "1"})
    assert m.Animal.objects.count() == 1
    assert m.DaybookEntry.objects.get().insisted == f"A-1: {asked}"


def test_heads_and_sheet_are_chosen(book: Book, owner: m.Account, owner_client: Client) -> None:
    from openpyxl import Workbook

    workbook = Workbook()
    workbook.active.append(["Nothing"])
    herd = workbook.create_sheet("Herd")
    for row in (["My", "herd"], ["Code", "Sex"], ["A-1", "f"]):
        herd.append(row)
    import io

    out = io.BytesIO()
    workbook.save(out)
    one = begun(owner, out.getvalue(), "herd.xlsx")
    assert (one.sheet, one.heads) == ("Herd", ["Code", "Sex"])
    address = page("-columns", one)
    send(owner_client, address, again="1", sheet="Herd", head_row="1", head_rows="1")
    one.refresh_from_db()
    assert one.heads == ["My", "herd"]
    send(owner_client, address, again="1", sheet="Sheet", head_row="1", head_rows="1")
    one.refresh_from_db()
    assert (one.sheet, one.rows()) == ("Sheet", [["Nothing"]])


def test_import_is_thrown_away(book: Book, owner: m.Account, owner_client: Client) -> None:
    one = begun(owner, table("Code", "A-1"))
    answer = send(owner_client, page("-throw-away", one))
    assert answer["Location"] == reverse("animals-imports")
    assert not m.Import.objects.exists()


def test_pages_of_rows_ask_the_database_for_as_much_however_many_there_are(
    book: Book, owner: m.Account, owner_client: Client
) -> None:
    few = picked(begun(owner, table("Code", *(f"A-{n}" for n in range(3)))))
    many = picked(begun(owner, table("Code", *(f"B-{n}" for n in range(120)))))
    costs = [
        queries_of(lambda one=one: owner_client.get(page("-one", one)))  # type: ignore[misc]  # a lambda's default
        for one in (few, many)
    ]
    assert costs[0] == costs[1]
    assert "1 to 50 of 120" in text_of(owner_client.get(page("-one", many)))
