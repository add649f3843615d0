"""A page that one would wait for in a large book: what it shows meanwhile, and what it says."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.utils import timezone

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.diversity import beside, keeping
from keeper.domain.diversity.keeping import Asked, shown
from keeper.domain.erasure import taking_out
from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from tests.keeper.books import Book
from tests.keeper.diversity.test_pages import ADDRESS, text

PART = {"HX-Request": "true"}


@pytest.fixture
def book(owner: m.Account) -> Book:
    """A book of two animals, kept as if it were large."""
    book = Book(owner, name="python")
    book.founder("F1", "female")
    book.founder("M1", "male")
    return book


@pytest.fixture(autouse=True)
def begun(settings: Any, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, bool]]:
    """What was begun beside the page, and whether it was urgent; nothing is done by itself."""
    settings.WORK_IN_BACKGROUND = True
    cache.clear()
    found: list[tuple[str, bool]] = []

    def begin(name: str, work: Callable[[], object], *, urgent: bool) -> None:
        found.append((name, urgent))

    monkeypatch.setattr(beside, "begin", begin)
    monkeypatch.setattr(beside, "_failed_until", {})
    return found


def asked_of(book: Book, project: m.Project | None = None) -> Asked:
    return Asked(book.species, project, timezone.localdate())


def work_out(book: Book, **other: Any) -> keeping.Kept:
    """Keep the figures of the book as it stands, as if that had taken long."""
    kept = asked_of(book).work_out()
    assert kept is not None
    kept = replace(kept, **{"seconds": 9.0, **other})
    keeping._keep(kept_under(book), kept)
    return kept


def kept_under(book: Book) -> str:
    return asked_of(book).name


def test_kept_figures_are_shown_as_of_then(
    owner_client: Client, book: Book, begun: list[tuple[str, bool]]
) -> None:
    at = timezone.make_aware(datetime(2026, 3, 4, 18, 5))
    work_out(book, at=at)
    assert "As of" not in text(owner_client) and begun == []
    book.founder("F2", "female")
    book.founder("F3", "female")
    words = text(owner_client)
    assert "python: 2 animals were here then." in words
    assert "As of 4 March 2026, 18:05. Since then 2 entries have been written" in words
    assert "they appear here as soon as they are there" in words
    assert "of the book as it stands, so these take a while" in words
    assert begun == [(kept_under(book), False)]


def test_page_that_waits_gets_newer_figures_when_they_are_there(
    owner_client: Client, book: Book, begun: list[tuple[str, bool]]
) -> None:
    work_out(book)
    book.founder("F2", "female")
    last = m.DaybookEntry.objects.order_by("-pk")[0].pk
    address = f"{ADDRESS}?species={book.species.pk}&until={last}"
    page = owner_client.get(ADDRESS).content.decode()
    assert f'hx-get="{address.replace("&", "&amp;")}"' in page
    waiting = owner_client.get(address, headers=PART)
    assert (waiting.status_code, waiting.content) == (204, b"")
    # Meanwhile one more is written: what comes is not of the book as it stands, and says so.
    work_out(book)
    book.founder("F3", "female")
    del begun[:]
    part = owner_client.get(address, headers=PART).content.decode()
    assert part.lstrip().startswith('<div class="stack-wide" id="figures">')
    assert "Since then 1 entry has been written" in part and "hx-trigger" not in part
    assert 'id="whose" hx-swap-oob="true">python: 3 animals were here then.' in part
    # It is what was waited for; nothing is begun for it, and the page asks no more.
    assert begun == []
    work_out(book)
    assert "As of" not in owner_client.get(address, headers=PART).content.decode()


def test_first_time_there_is_nothing_to_show(
    owner_client: Client, book: Book, begun: list[tuple[str, bool]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping, "WAITED_FOR_ANIMALS", 1)
    words = text(owner_client)
    assert "Being worked out" in words and "animals here" not in words and "Founders" not in words
    assert begun == [(kept_under(book), True)]
    work_out(book)
    assert "python: 2 animals here." in text(owner_client)


def test_small_book_is_simply_there(
    owner_client: Client, book: Book, begun: list[tuple[str, bool]]
) -> None:
    for number in range(2):
        book.founder(f"F{2 + number}", "female")
        assert f"python: {3 + number} animals here." in text(owner_client)
    assert begun == []


def test_project_of_a_large_book_does_not_wait_either(
    owner_client: Client, book: Book, begun: list[tuple[str, bool]]
) -> None:
    project = m.Project(species=book.species, name="Pale tide")
    projects.start_project(
        project=project, parts=[Requirement(book.trait, book.line, m.Need.SHOWS)], by=book.by
    )
    cache.set(keeping._how_long(book.species), 9.0)
    assert "Being worked out" in text(owner_client, f"?project={project.pk}")
    assert begun == [(asked_of(book, project).name, True)]


def test_new_day_makes_figures_old(owner_client: Client, book: Book) -> None:
    kept = work_out(book)
    keeping._keep(kept_under(book), replace(kept, today=kept.today - timedelta(days=1)))
    assert "Since then a new day has begun." in text(owner_client)


def test_figures_of_another_book_are_not_shown(owner_client: Client, book: Book) -> None:
    kept = work_out(book)
    book.founder("F2", "female")
    for other in (
        {"written_at": kept.written_at - timedelta(seconds=1)},
        {"entry": kept.entry + 100},
        {"epoch": "of a book that was set back since"},
    ):
        keeping._keep(kept_under(book), replace(kept, **other))
        words = text(owner_client)
        assert "As of" not in words and "2 animals" not in words


def test_nothing_old_is_shown_after_somebody_was_erased(owner_client: Client, book: Book) -> None:
    work_out(book)
    contact = m.Contact(name="Ida Brandt")
    with writing(by=book.by, what="Met") as entry:
        entry.keep(contact)
    assert "As of" in text(owner_client)
    kept = asked_of(book).kept()
    assert kept is not None
    taking_out.erase(contact=contact, typed="Ida Brandt", by=book.by)
    keeping._keep(kept_under(book), kept)  # by another process, or by work that was under way
    assert "As of" not in text(owner_client)


def test_what_was_withdrawn_meanwhile_is_not_waited_for(owner_client: Client, book: Book) -> None:
    project = m.Project(species=book.species, name="Pale tide")
    projects.start_project(
        project=project, parts=[Requirement(book.trait, book.line, m.Need.SHOWS)], by=book.by
    )
    asked = asked_of(book, project)
    m.Project.objects.update(withdrawn_at=timezone.now())
    assert asked.work_out() is None and asked.kept() is None
    address = f"{ADDRESS}?project={project.pk}"
    assert owner_client.get(address).status_code == 404
    part = owner_client.get(address + "&until=1", headers=PART).content.decode()
    assert "Not in the book any more" in part and "hx-" not in part


def test_what_the_cache_forgets_is_forgotten(book: Book) -> None:
    work_out(book)
    assert asked_of(book).kept() is not None
    cache.clear()
    assert asked_of(book).kept() is None


def test_few_pages_are_kept(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeping, "_PAGES", 1)
    kept = work_out(book)
    keeping._keep("another", kept)
    assert asked_of(book).kept() is None and list(keeping._here) == ["another"]


def test_failure_is_told(
    owner_client: Client, book: Book, begun: list[tuple[str, bool]], monkeypatch: pytest.MonkeyPatch
) -> None:
    work_out(book)
    book.founder("F2", "female")
    monkeypatch.setattr(beside, "has_failed", lambda name: name == kept_under(book))
    words = text(owner_client)
    assert "Newer ones could not be worked out" in words and "python: 2 animals" in words
    cache.clear()
    monkeypatch.setattr(keeping, "WAITED_FOR_ANIMALS", 1)
    words = text(owner_client)
    assert "Not worked out" in words and "Nothing in the book was changed" in words
    assert begun == []
    page = owner_client.get(f"{ADDRESS}?species={book.species.pk}&until=1", headers=PART)
    assert page.status_code == 200 and "hx-trigger" not in page.content.decode()


def test_until_is_a_number(owner_client: Client, book: Book) -> None:
    assert owner_client.get(f"{ADDRESS}?until=x", headers=PART).status_code == 404


def test_files_are_always_of_the_book_as_it_stands(owner_client: Client, book: Book) -> None:
    work_out(book)
    book.founder("F2", "female")
    answer = owner_client.get(f"{ADDRESS}animals.csv")
    content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    assert content.decode().count("female") == 2


def test_book_without_an_entry_keeps_nothing(book: Book) -> None:
    m.Standing.objects.all().delete()
    m.Touch.objects.all().delete()
    m.DaybookEntry.objects.all().delete()
    found = shown(asked_of(book))
    assert found.figures is not None and found.figures.found.living == 2
    assert asked_of(book).kept() is None
