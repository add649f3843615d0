"""Pages of disputes: the list, one with its explanations, a preview, adopting, taking back."""

import re
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import explaining
from keeper.domain.book.writing import writing
from keeper.domain.explaining import Kind, clusters, explained, search
from keeper.domain.inference import Unanswerable
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.disputes.rows import laboratories, misread, visuals


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


@pytest.fixture
def dispute(book: Book) -> m.Dispute:
    """Two visuals have a normal hatchling, K2."""
    misread(book)
    return m.Dispute.objects.get()


def text(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def of(dispute: m.Dispute, *more: str) -> str:
    return reverse("home-disputes-one", args=[dispute.pk]) + "".join(f"{one}/" for one in more)


def misreading(dispute: m.Dispute) -> str:
    """The key of what is likeliest: K2 was misread."""
    (cluster,) = clusters([dispute])
    return next(one.key for one in explained(cluster) if one.kind == Kind.LOOK)


def seen(page: str) -> str:
    found = re.search(r'name="seen" value="(\w*)"', page)
    assert found is not None
    return found[1]


def test_list_is_empty_at_first(owner_client: Client) -> None:
    assert "Nothing is disputed" in text(owner_client.get("/disputes/"))


def test_list_names_records_and_animals_in_doubt(owner_client: Client, dispute: m.Dispute) -> None:
    page = text(owner_client.get("/disputes/"))
    for words in (
        "Saltgrass not seen on K2",
        "F1: visual Saltgrass HAR, by a source not named",
        "clutch C1: F1 × M1",
        f'href="{of(dispute)}"',
        "Disputed figures of 3 animals",
    ):
        assert words in page
    # Whichever of these records is wrong, K1 was seen to be one.
    assert ">K1</a>" not in page


def test_page_names_each_record_with_the_way_to_correct_it(
    owner_client: Client, dispute: m.Dispute
) -> None:
    page = text(owner_client.get(of(dispute)))
    look = m.Observation.objects.get(animal__code="K2")
    said = m.Statement.objects.get(animal__code="M1")
    clutch = m.Clutch.objects.get()
    for address in (
        f"/animals/{look.animal_id}/#observation-{look.pk}",
        reverse("animals-observation", args=[look.pk]),
        reverse("animals-record-withdraw", args=["observation", look.pk]),
        reverse("animals-statement", args=[said.pk]),
        reverse("clutches-edit", args=[clutch.pk]),
        reverse("daybook-entry", args=[dispute.opened_id]),
        of(dispute, "explanations"),
    ):
        assert f'href="{address}"' in page
    for words in (
        "disputed; before that: proven by",
        "All other figures stand",
        "as long as you like",
    ):
        assert words in page


def test_rows_of_hatchlings_are_told_with_their_looks(owner_client: Client, book: Book) -> None:
    clutch = book.clutch("C1", *visuals(book), visual=2, normal=3)
    page = text(owner_client.get(of(m.Dispute.objects.get())))
    assert "3 hatchlings of C1: Saltgrass not seen" in page
    assert reverse("clutches-hatch", args=[clutch.pk]) in page


def test_laboratory_results_lead_to_their_pages(owner_client: Client, book: Book) -> None:
    laboratories(book)
    page = text(owner_client.get(of(m.Dispute.objects.get())))
    assert "Cove found one copy or two of Saltgrass HAR in F1" in page
    for test in m.LabTest.objects.all():
        assert reverse("animals-lab-test", args=[test.pk]) in page


def test_explanations_say_odds_rate_and_ground(owner_client: Client, dispute: m.Dispute) -> None:
    page = text(owner_client.get(of(dispute, "explanations")))
    # Of a visual pair every hatchling is one. A misread look is 1/200, a mixed-up animal 1/300. A
    # second sire is 1/200; of an egg in five, hardly a carrier, he must have K2 and not K1:
    # 1/200 × (0.98 × 0.8 × 0.2 + 0.02 × 0.9 × 0.1). The word on either parent (1/50) may be wrong
    # and K1 misread: 1/10000 each. The first is 0.005 of 0.00938 in all.
    for words in (
        "<html",
        "K2 was misread: the book says that Saltgrass was not seen on it.",
        "a misread look: 1 in 200, for each hatchling and trait; common practice, no source",
        "53 %",
        "2 more, each under 1 %",
    ):
        assert words in page
    part = text(owner_client.get(of(dispute, "explanations"), headers={"HX-Request": "true"}))
    assert "<html" not in part
    assert "53 %" in part


def test_an_only_explanation_has_no_odds(
    owner_client: Client, dispute: m.Dispute, monkeypatch: pytest.MonkeyPatch
) -> None:
    (cluster,) = clusters()
    only = explained(cluster)[:1]
    monkeypatch.setattr(explaining, "explained", lambda _: only)
    page = text(owner_client.get(of(dispute, "explanations")))
    assert "It is the only explanation found, so there are no odds to give." in page
    assert "53 %" not in page


def test_nothing_that_explains_it_is_said(
    owner_client: Client, dispute: m.Dispute, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(search, "candidates", lambda *_: [])
    cache.clear()
    page = text(owner_client.get(of(dispute, "explanations")))
    assert "Nothing that was tried explains it." in page
    assert "Check by hand, record by record:" in page
    cache.clear()


def test_what_cannot_be_weighed_is_said(
    owner_client: Client, dispute: m.Dispute, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: object) -> None:
        raise Unanswerable("These families are too entangled to weigh explanations exactly.")

    monkeypatch.setattr(explaining, "explained", refuse)
    page = text(owner_client.get(of(dispute, "explanations")))
    assert "These families are too entangled to weigh explanations exactly." in page


def test_preview_changes_nothing_and_adopting_leads_to_what_moved(
    owner_client: Client, dispute: m.Dispute
) -> None:
    address = of(dispute, "explanations", misreading(dispute))
    before = m.DaybookEntry.objects.count()
    page = text(owner_client.get(address))
    assert "It closes 1 dispute" in page
    assert (
        "disputed; before that: proven, two copies</span> → <strong>proven, two copies</strong>"
        in page
    )
    assert m.DaybookEntry.objects.count() == before
    part = text(owner_client.get(address, headers={"HX-Request": "true"}))
    assert "<html" not in part

    sent = {"seen": seen(page), "reason": "It is one, in daylight."}
    answer = owner_client.post(address, sent)
    entry = m.DaybookEntry.objects.order_by("-pk")[0]
    assert answer.headers["Location"] == f"{of(dispute)}?moved={entry.pk}"
    page = text(owner_client.get(answer.headers["Location"]))
    assert "3 figures moved:" in page
    for words in ("A dispute that was settled", "“It is one, in daylight.”", "Adopted: K2 was"):
        assert words in page
    page = text(owner_client.get(of(dispute)))
    assert "Take it back" in page
    assert "Settled lately" in text(owner_client.get("/disputes/"))


def test_taken_back_it_is_open_again_with_its_history(
    owner_client: Client, dispute: m.Dispute
) -> None:
    address = of(dispute, "explanations", misreading(dispute))
    owner_client.post(address, {"seen": seen(text(owner_client.get(address)))})
    entry = m.DaybookEntry.objects.order_by("-pk")[0]
    answer = owner_client.post(f"/daybook/{entry.pk}/undo/", {"back": of(dispute)}, follow=True)
    again = m.Dispute.objects.get(closed=None)
    assert answer.redirect_chain[-1][0].startswith(f"{of(again)}?moved=")
    page = text(answer)
    assert "Records that contradict each other" in page
    assert "Settled by <a" in page
    assert "Open again with <a" in page
    assert "Settled lately" not in text(owner_client.get("/disputes/"))


def test_what_was_not_looked_at_is_shown_before_it_is_adopted(
    owner_client: Client, dispute: m.Dispute, book: Book
) -> None:
    address = of(dispute, "explanations", misreading(dispute))
    first = seen(text(owner_client.get(address)))
    clutch = m.Clutch.objects.get()
    book.young("K3", clutch, seen=False)
    page = text(owner_client.post(address, {"seen": first, "reason": "as Mara said"}))
    assert "The book has changed since" in page
    assert "as Mara said" in page
    assert not m.DaybookEntry.objects.filter(what__startswith="Adopted").exists()


def test_what_is_no_explanation_any_more_is_said_and_the_reason_kept(
    owner_client: Client, dispute: m.Dispute
) -> None:
    address = of(dispute, "explanations", f"{misreading(dispute)}0")
    page = text(owner_client.post(address, {"seen": "", "reason": "as Mara said"}))
    assert (
        "The book has changed since: this explains it no more. Look again at what may be behind it."
    ) in page
    assert "as Mara said" in page
    assert "Adopt this explanation" not in page


def test_what_was_settled_meanwhile_is_said_and_the_reason_kept(
    owner_client: Client, owner: m.Account, dispute: m.Dispute
) -> None:
    address = of(dispute, "explanations", misreading(dispute))
    with writing(by=owner, what="Withdrew the look") as entry:
        entry.withdraw(m.Observation.objects.get(animal__code="K2"), reason="a slip")
    page = text(owner_client.post(address, {"seen": "", "reason": "as Mara said"}))
    assert "This dispute was settled meanwhile" in page
    assert "as Mara said" in page
    for gone in (address, of(dispute, "explanations")):
        assert owner_client.get(gone).headers["Location"] == of(dispute)
    assert "Withdrew the look" in text(owner_client.get(of(dispute)))


def test_what_was_built_on_is_taken_back_with_what_was_built_on_it(
    owner_client: Client, owner: m.Account, dispute: m.Dispute
) -> None:
    look = m.Observation.objects.get(animal__code="K2")
    with writing(by=owner, what="Withdrew the look") as first:
        first.withdraw(look, reason="a slip")
    with writing(by=owner, what="Noted") as entry:
        look.note = "wet"
        entry.keep(look)
    assert "Take it back" in text(owner_client.get(of(dispute)))
    address = f"/daybook/{first.entry.pk}/undo/"
    page = text(owner_client.post(address))
    assert "What was built on it" in page
    assert "Noted</a>" in page
    assert "It opens 1 dispute" in page
    owner_client.post(address, {"seen": seen(page)})
    entry.entry.refresh_from_db()
    assert entry.entry.undone_by is not None
    assert m.Dispute.objects.filter(closed=None).count() == 1


def test_unknown_disputes_are_not_found(owner_client: Client) -> None:
    assert owner_client.get("/disputes/77/").status_code == 404


def test_animal_and_today_lead_to_the_dispute(owner_client: Client, dispute: m.Dispute) -> None:
    animal = m.Animal.objects.get(code="K2")
    page = text(owner_client.get(f"/animals/{animal.pk}/"))
    assert "the parents of clutch C1" in page
    assert page.count(f'href="{of(dispute)}"') == 2
    page = text(owner_client.get("/"))
    assert f'href="{of(dispute)}"' in page
    assert 'href="/disputes/"' in page


def test_pages_ask_as_often_for_three_as_for_one(owner_client: Client, book: Book) -> None:
    def clash(number: int) -> None:
        dam = book.founder(f"F{number}", "female", "visual")
        sire = book.founder(f"M{number}", "male", "visual")
        clutch = book.clutch(f"C{number}", dam, sire, normal=1)
        book.young(f"K{number}", clutch, seen=False)

    def settle() -> None:
        with writing(by=book.by, what="Withdrew it") as entry:
            entry.withdraw(m.Observation.objects.live().order_by("pk")[0], reason="a slip")

    def costs() -> tuple[int, int]:
        last = m.Dispute.objects.order_by("-pk")[0]
        return (
            queries_of(lambda: owner_client.get("/disputes/")),
            queries_of(lambda: owner_client.get(of(last))),
        )

    clash(1)
    clash(2)
    settle()
    first = costs()
    for number in (3, 4, 5, 6):
        clash(number)
    settle()
    settle()
    assert costs() == first
