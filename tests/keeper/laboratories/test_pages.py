"""Pages of laboratories, and results as a keeper enters them on an animal."""

from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keeper.domain.laboratories.writes import keep_laboratory, keep_test
from keeper.models import (
    Account,
    Animal,
    Contact,
    DaybookEntry,
    Laboratory,
    LabTest,
    Line,
    Paper,
    Statement,
)
from tests.factories import AnimalFactory, ContactFactory, LineFactory
from tests.keeper.animals.rows import het, saltgrass_har
from tests.keeper.counting import queries_of
from tests.keeper.sent import seen_in


@pytest.fixture
def line(db: None) -> Line:
    return saltgrass_har()


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def cove(owner: Account) -> Laboratory:
    one = Laboratory(name="Cove", misses="1/20", mistakes="1/50")
    keep_laboratory(laboratory=one, by=owner)
    return one


def enter(client: Client, animal: Animal, line: Line, **more: Any) -> Any:
    data = {"line": line.pk, "found": "carries", "on": "2026-05-01"} | more
    return client.post(reverse("animals-lab-test-new", args=[animal.pk]), data)


def shown(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_laboratory_is_added_listed_changed_withdrawn_and_restored(owner_client: Client) -> None:
    data = {"name": "Cove", "misses": "5 %", "mistakes": "0", "rates_source": "its own figures"}
    answer = owner_client.post(reverse("register-laboratory-new"), data)
    one = Laboratory.objects.get()
    assert (one.misses, one.mistakes) == (Fraction(1, 20), Fraction(0))
    page = shown(owner_client, answer["Location"])
    assert "What it finds counts as there for certain." in page
    assert "its own figures" in shown(owner_client, reverse("register-laboratories"))
    edit = reverse("register-laboratory-edit", args=[one.pk])
    owner_client.post(edit, data | {"mistakes": "2 %", "reason": "a study"})
    one.refresh_from_db()
    assert one.mistakes == Fraction(1, 50)
    away = reverse("register-laboratory-withdraw", args=[one.pk])
    owner_client.post(away, {"reason": "closed down"})
    assert "closed down" in shown(owner_client, reverse("register-laboratory", args=[one.pk]))
    owner_client.post(reverse("register-laboratory-restore", args=[one.pk]))
    one.refresh_from_db()
    assert not one.is_withdrawn


def test_laboratory_whose_results_tell_nothing_is_refused(owner_client: Client) -> None:
    data = {"name": "Cove", "misses": "60 %", "mistakes": "40 %"}
    page = owner_client.post(reverse("register-laboratory-new"), data).content.decode()
    assert "a result would tell nothing" in page and 'value="60 %"' in page
    assert not Laboratory.objects.exists()


def test_rates_that_move_numbers_are_shown_before_they_are_saved(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory
) -> None:
    animal = het(line, owner)
    enter(owner_client, animal, line, laboratory=cove.pk)
    edit = reverse("register-laboratory-edit", args=[cove.pk])
    data = {"name": "Cove", "misses": "5 %", "mistakes": "20 %", "reason": "a study"}
    page = owner_client.post(edit, data).content.decode()
    assert "Not saved yet." in page and animal.code in page
    cove.refresh_from_db()
    assert cove.mistakes == Fraction(1, 50)
    owner_client.post(edit, data | {"seen": seen_in(page)})
    cove.refresh_from_db()
    assert cove.mistakes == Fraction(1, 5)


def test_laboratory_in_use_stays(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory
) -> None:
    enter(owner_client, het(line, owner), line, laboratory=cove.pk)
    away = reverse("register-laboratory-withdraw", args=[cove.pk])
    page = owner_client.post(away, {"reason": "moved"}).content.decode()
    assert "Cove is in use: a result that counts is of it." in page
    cove.refresh_from_db()
    assert not cove.is_withdrawn


def test_result_is_entered_and_shown_with_what_it_moved(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory
) -> None:
    animal = het(line, owner)
    answer = enter(owner_client, animal, line, laboratory=cove.pk, number="A-17")
    page = shown(owner_client, answer["Location"])
    assert "found by a laboratory, 98 % sure" in page
    assert "no. A-17" in page
    later = shown(owner_client, reverse("animals-one", args=[animal.pk]))
    moved = later[later.index("moved-it") :][:200]
    assert "stated by the source, not tested here, 66 %" in moved
    assert "found by a laboratory, 98 %" in moved
    its_own = shown(owner_client, reverse("register-laboratory", args=[cove.pk]))
    assert f">{animal}</a>" in its_own and "no. A-17" in its_own


def test_result_of_a_laboratory_new_to_the_book_makes_it_in_the_same_entry(
    owner_client: Client, owner: Account, line: Line
) -> None:
    animal = het(line, owner)
    entries = DaybookEntry.objects.count()
    new = {"new_laboratory": "Fell", "new_misses": "5 %", "new_rates_source": "a guess"}
    answer = enter(owner_client, animal, line, **new)
    one = Laboratory.objects.get()
    assert (one.name, one.misses, one.mistakes) == ("Fell", Fraction(1, 20), Fraction(0))
    assert DaybookEntry.objects.count() == entries + 1
    entry = DaybookEntry.objects.latest("pk")
    assert f"moved={entry.pk}" in answer["Location"]
    owner_client.post(reverse("daybook-undo", args=[entry.pk]))
    assert (LabTest.objects.live().count(), Laboratory.objects.live().count()) == (0, 0)


@pytest.mark.parametrize(
    ("more", "error"),
    [
        ({}, "Choose one, or name one new to the book."),
        ({"laboratory": "known", "new_laboratory": "Fell"}, "not both"),
        ({"new_laboratory": "cove"}, ""),
        ({"new_laboratory": "Cove"}, "There is a laboratory of this name already."),
        (
            {"new_laboratory": "Fell", "new_misses": "100 %", "new_mistakes": "100 %"},
            "tell nothing",
        ),
        (
            {"laboratory": "known", "on": "2999-01-01"},
            "That day is still to come. Enter today or an earlier day.",
        ),
    ],
)
def test_result_that_is_not_in_order_is_refused_with_everything_kept(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory,
    more: dict[str, str], error: str,
) -> None:  # fmt: skip
    animal = het(line, owner)
    if "laboratory" in more:
        more = more | {"laboratory": str(cove.pk)}
    answer = enter(owner_client, animal, line, number="A-17", note="by mail", **more)
    if not error:
        assert answer.status_code == 302
        return
    page = answer.content.decode()
    assert error in page
    assert 'value="A-17"' in page and 'value="by mail"' in page
    assert not LabTest.objects.exists()


def test_result_with_a_scan_keeps_it_as_a_paper_of_the_laboratory(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory
) -> None:
    scan = SimpleUploadedFile("r.pdf", b"%PDF-1.7 report", content_type="application/pdf")
    animal = het(line, owner)
    enter(owner_client, animal, line, laboratory=cove.pk, upload=scan)
    test, paper = LabTest.objects.get(), Paper.objects.get()
    assert (test.paper, paper.source.name, paper.dated) == (paper, "Cove", date(2026, 5, 1))
    page = shown(owner_client, reverse("animals-one", args=[animal.pk]))
    assert f'<a href="{reverse("animals-scan", args=[paper.pk])}">Its report</a>' in page
    # A second report is of the same contact; handed over by somebody else it is theirs.
    again = SimpleUploadedFile("r.pdf", b"%PDF-1.7 again", content_type="application/pdf")
    seller = ContactFactory.create(name="Orla")
    enter(owner_client, animal, line, laboratory=cove.pk, upload=again, given_by=seller.pk)
    assert Paper.objects.latest("pk").source == seller
    assert Contact.objects.filter(name="Cove").count() == 1


def test_result_with_a_scan_of_another_kind_is_refused_with_everything_kept(
    owner_client: Client, owner: Account, line: Line
) -> None:
    scan = SimpleUploadedFile("r.html", b"<html>", content_type="text/html")
    new = {"new_laboratory": "Fell", "new_misses": "5 %", "number": "A-17"}
    page = enter(owner_client, het(line, owner), line, upload=scan, **new).content.decode()
    assert "Or send a PDF." in page
    assert 'value="Fell"' in page and 'value="5 %"' in page and 'value="A-17"' in page
    assert not (LabTest.objects.exists() or Laboratory.objects.exists() or Paper.objects.exists())


def test_scan_that_is_too_large_is_refused_and_what_was_typed_kept(
    owner_client: Client, owner: Account, line: Line
) -> None:
    animal = het(line, owner)
    big = SimpleUploadedFile("b.pdf", b"%PDF-" + bytes(20 * 1024 * 1024), "application/pdf")
    data = {"source": ContactFactory.create().pk, "says": "100 % het", "upload": big}
    address = reverse("animals-document-new", args=[animal.pk])
    page = owner_client.post(address, data).content.decode()
    assert "This file is larger than 20 MB." in page and ">\n100 % het</textarea>" in page
    assert not Paper.objects.exists()


def test_scan_of_a_paper_is_replaced_and_the_file_that_is_gone_is_not_found(
    owner_client: Client, owner: Account, line: Line
) -> None:
    animal = het(line, owner)
    paper = {"source": ContactFactory.create().pk, "says": "het"}
    for text in (b"one", b"two"):
        scan = SimpleUploadedFile("p.pdf", b"%PDF-" + text, content_type="application/pdf")
        name = "animals-document" if Paper.objects.exists() else "animals-document-new"
        pk = Paper.objects.get().pk if Paper.objects.exists() else animal.pk
        owner_client.post(reverse(name, args=[pk]), paper | {"upload": scan})
    kept = Paper.objects.get()
    address = reverse("animals-scan", args=[kept.pk])
    answer: Any = owner_client.get(address)
    assert b"".join(answer.streaming_content) == b"%PDF-two"
    assert "Another scan in place of the one it has" in shown(
        owner_client, reverse("animals-document", args=[kept.pk])
    )
    Path(kept.scan.path).unlink()
    assert owner_client.get(address).status_code == 404


def test_result_is_corrected_withdrawn_and_restored(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory
) -> None:
    animal = het(line, owner)
    enter(owner_client, animal, line, laboratory=cove.pk)
    test = LabTest.objects.get()
    data = {"line": line.pk, "found": "none", "laboratory": cove.pk, "on": "2026-05-02"}
    address = reverse("animals-lab-test", args=[test.pk])
    answer = owner_client.post(address, data | {"reason": "misread"})
    assert "9 % by all that is known here" in shown(owner_client, answer["Location"])
    away = reverse("animals-record-withdraw", args=["lab-test", test.pk])
    answer = owner_client.post(away, {"reason": "another sample"})
    page = shown(owner_client, answer["Location"])
    assert "withdrawn: another sample" in page
    owner_client.post(reverse("animals-record-restore", args=["lab-test", test.pk]))
    test.refresh_from_db()
    assert (test.found, test.is_withdrawn) == ("none", False)
    history = shown(owner_client, reverse("animals-history", args=[animal.pk]))
    assert "Cove found no copy of" in history and "misread" in history


def test_result_that_cannot_be_true_is_saved_and_said_at_once(
    owner_client: Client, owner: Account, line: Line
) -> None:
    animal = het(line, owner)
    enter(owner_client, animal, line, new_laboratory="Fell")
    answer = enter(owner_client, animal, line, new_laboratory="Cove", found="none")
    assert answer.status_code == 302 and LabTest.objects.live().count() == 2
    page = shown(owner_client, answer["Location"])
    assert "These records contradict each other" in page
    first, last = LabTest.objects.order_by("pk")
    for test in (first, last):
        assert f'href="{reverse("animals-one", args=[animal.pk])}#lab-test-{test.pk}"' in page


def test_line_not_known_says_how_it_is_spread(
    owner_client: Client, owner: Account, line: Line
) -> None:
    other = LineFactory.create(trait=line.trait, code="PEL", share="1/2")
    animal = AnimalFactory.create(species=line.trait.species)
    assert "line not known" in shown(
        owner_client, reverse("animals-statement-new", args=[animal.pk])
    )
    data = {"trait": line.trait_id, "claim": "carries", "line": ""}
    owner_client.post(reverse("animals-statement-new", args=[animal.pk]), data)
    assert Statement.objects.get().line is None
    page = shown(owner_client, reverse("animals-one", args=[animal.pk]))
    # Shares of 1 and 1/2: two thirds and one third, rounded down.
    said = page[page.index("counted as") :][:400]
    assert (">HAR</abbr> 66 %" in said, f">{other.code}</abbr> 33 %" in said) == (True, True)


def test_pages_cost_the_same_queries_with_one_result_and_three(
    owner_client: Client, owner: Account, line: Line, cove: Laboratory
) -> None:
    animal = het(line, owner)
    pages = [
        reverse("animals-one", args=[animal.pk]),
        reverse("register-laboratory", args=[cove.pk]),
        reverse("register-laboratories"),
    ]

    def add() -> None:
        test = LabTest(
            animal=animal, line=line, found="carries", laboratory=cove, on=date(2026, 5, 1)
        )
        keep_test(test=test, by=owner)

    add()
    before = [queries_of(lambda page=page: shown(owner_client, page)) for page in pages]  # type: ignore[misc]
    add()
    add()
    after = [queries_of(lambda page=page: shown(owner_client, page)) for page in pages]  # type: ignore[misc]
    assert after == before
