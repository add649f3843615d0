"""A busy book and a full disk: said in words, with all that was typed, and nothing half kept."""

import errno
import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client

from keeper import models as m
from keeper.domain.book import writing as book_writing
from keeper.pages.frame.errors import BUSY, FULL, READ_ONLY, trouble_of
from tests.factories import AnimalFactory
from tests.keeper.world import picture

pytestmark = pytest.mark.django_db

_LOCKED = OperationalError("database is locked")


@pytest.fixture
def client(owner_client: Client) -> Client:
    owner_client.raise_request_exception = False
    return owner_client


def failing(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    """Make every save fail after its rows were written."""

    def fail(*_: Any, **__: Any) -> None:
        raise error

    monkeypatch.setattr(book_writing.Writing, "close", fail)


def typed_again(page: str) -> dict[str, str]:
    """The fields that the page would send again."""
    found = re.findall(r'<textarea name="([^"]+)" hidden>\r?\n(.*?)</textarea>', page, re.S)
    return {name: unescape(value) for name, value in found}


_SENT = {
    "name": "Fenna </textarea> & co", "reach": "\nby the\nold harbour", "notes": "ü",
    "reliability": "100", "code": "F-014", "once": "ab" * 16,
}  # fmt: skip


def test_what_was_typed_into_a_busy_book_is_sent_again_and_kept_once(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = "/register/contacts/new/"
    with monkeypatch.context() as locked:
        failing(locked, _LOCKED)
        answer = client.post(address, _SENT | {"password": "not to be shown"})
    page = answer.content.decode()
    assert (answer.status_code, answer["Retry-After"]) == (503, "5")
    assert "The book is busy" in page and "not to be shown" not in page
    assert f'action="{address}"' in page
    assert typed_again(page) == _SENT
    assert m.Contact.objects.count() == 0

    assert client.post(address, typed_again(page)).status_code == 302
    assert client.post(address, typed_again(page)).status_code == 302
    kept = m.Contact.objects.get()
    assert (kept.name, kept.notes) == ("Fenna </textarea> & co", "ü")


def test_a_full_disk_says_so_and_leaves_no_picture(
    client: Client, monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    animal = AnimalFactory.create()
    with monkeypatch.context() as full:
        failing(full, OSError(errno.ENOSPC, "No space left on device"))
        answer = client.post(f"/animals/{animal.pk}/photo/", {"picture": picture()})
    page = answer.content.decode()
    assert answer.status_code == 507
    assert "The disk is full" in page and "have to be chosen again" in page
    assert [one for one in tmp_path.rglob("*") if one.is_file()] == []
    assert m.Photo.objects.count() == 0


def test_a_page_that_could_not_be_read_is_asked_for_again(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise _LOCKED

    monkeypatch.setattr("keeper.pages.today.views.render", fail)
    answer = client.get("/?as=before")
    page = answer.content.decode()
    assert answer.status_code == 503
    assert 'href="/?as=before"' in page and "<form" not in page


def test_what_another_site_sends_is_never_offered_again(
    owner: m.Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = Client(enforce_csrf_checks=True, raise_request_exception=False)
    client.force_login(owner)
    monkeypatch.setattr("keeper.pages.frame.errors.render", lambda *_, **__: 1 / 0)
    answer = client.post("/register/contacts/new/", _SENT)
    assert answer.status_code == 500
    assert "Fenna" not in answer.content.decode()


def caused(error: Exception, cause: Exception) -> Exception:
    error.__cause__ = cause
    return error


class _State(Exception):
    def __init__(self, sqlstate: str) -> None:
        self.sqlstate = sqlstate


@pytest.mark.parametrize(
    ("error", "trouble"),
    [
        (_LOCKED, BUSY),
        (caused(OperationalError("canceling statement"), _State("55P03")), BUSY),
        (caused(OperationalError("no"), _State("53100")), FULL),
        (OperationalError("database or disk is full"), FULL),
        (OperationalError("attempt to write a readonly database"), READ_ONLY),
        (caused(RuntimeError("x"), OSError(errno.EDQUOT, "Quota")), FULL),
        (OSError(errno.EROFS, "Read-only file system"), READ_ONLY),
        (OperationalError("no such table: keeper_animal"), None),
        (OSError(errno.ENOENT, "No such file"), None),
        (ZeroDivisionError(), None),
        (None, None),
    ],
)
def test_a_fault_of_the_program_is_not_taken_for_trouble(
    error: Exception | None, trouble: object
) -> None:
    assert trouble_of(error) is trouble
