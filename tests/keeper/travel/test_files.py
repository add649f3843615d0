"""No paper that was altered is taken, wherever it was altered."""

import base64
import json
import random
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from keeper import models as m
from keeper.domain.book.writing import Refused
from keeper.domain.sheets.signing import canonical, public_of
from keeper.domain.travel.files import opened, written
from tests.keeper.books import Book
from tests.keeper.sheets.test_signing import altered
from tests.keeper.travel.books import family, file_of, issued

pytestmark = pytest.mark.django_db

ALTERATIONS = 300


@pytest.fixture
def file(owner: m.Account) -> bytes:
    book = Book(owner)
    return file_of(family(book), owner)


def signed_anew(record: dict[str, Any]) -> bytes:
    """A record signed by somebody who may say what they like, with their own key."""
    private = Ed25519PrivateKey.generate()
    signed = canonical(record)
    return written(signed, private.sign(signed), public_of(private))


def test_no_alteration_passes(file: bytes) -> None:
    draw = random.Random(8)
    record = opened(file).record
    passed = []
    for _ in range(ALTERATIONS):
        other = altered(draw, file)
        try:
            found = opened(other)
        except Refused:
            continue
        if other != file:
            passed.append(found.record == record)
    assert passed == []


def test_each_part_of_another_paper_is_refused(file: bytes, owner: m.Account) -> None:
    other = json.loads(file_of(m.Animal.objects.get(code="26-11-a"), owner))
    told = json.loads(file)
    for name in ("signed", "signature"):
        mixed = json.dumps(told | {name: other[name]}, ensure_ascii=False, indent=1)
        with pytest.raises(Refused, match="The signature does not hold"):
            opened(mixed.encode())
    with pytest.raises(Refused, match="no signed paper"):
        opened(json.dumps(told | {"more": 1}, indent=1).encode())


def test_spelling_it_another_way_is_refused(file: bytes) -> None:
    told = json.loads(file)
    for other in (json.dumps(told).encode(), file + b"\n", file.replace(b'"key"', b'"key" ')):
        with pytest.raises(Refused, match="changed after it was written"):
            opened(other)


def test_a_name_twice_is_refused(file: bytes) -> None:
    twice = file.replace(b"{\n", b'{\n "key": "AA==",\n', 1)
    with pytest.raises(Refused, match="no signed paper"):
        opened(twice)


def test_a_record_of_another_key_is_refused(file: bytes) -> None:
    with pytest.raises(Refused, match="signed by another key than it names"):
        opened(signed_anew(opened(file).record))


@pytest.mark.parametrize(
    "change",
    [
        {"evidence": {}},
        {"content": {}},
        {"content": {"animal": {"code": 7}}},
        {"version": 3},
        {"format": "keptlines-sheet-state"},
        {"issued": 7},
        {"more": 1},
    ],
)
def test_somebody_who_signs_nonsense_is_refused(file: bytes, change: dict[str, Any]) -> None:
    private = Ed25519PrivateKey.generate()
    record = opened(file).record | change
    from keeper.domain.sheets.signing import fingerprint

    record["key"] = fingerprint(public_of(private))
    signed = canonical(record)
    with pytest.raises(Refused, match="Nothing was brought in"):
        opened(written(signed, private.sign(signed), public_of(private)))


def test_a_sheet_from_before_says_what_to_do(file: bytes) -> None:
    private = Ed25519PrivateKey.generate()
    from keeper.domain.sheets.signing import fingerprint

    record = {k: v for k, v in opened(file).record.items() if k != "evidence"}
    record |= {"version": 1, "key": fingerprint(public_of(private))}
    signed = canonical(record)
    with pytest.raises(Refused, match="Ask for a new sheet"):
        opened(written(signed, private.sign(signed), public_of(private)))


def test_what_is_no_paper_at_all_is_refused() -> None:
    odd = b'{"signed":1,"signature":2,"key":3}'
    for data in (b"", b"{}", b"[]", b"\xff\xfe", b"[" * 100_000, odd):
        with pytest.raises(Refused, match="no signed paper"):
            opened(data)


def test_the_public_page_gives_the_same_file(owner_client: Any, owner: m.Account) -> None:
    from django.urls import reverse

    sheet = issued(family(Book(owner)), owner)
    given = owner_client.get(reverse("papers-proof", args=[sheet.page_code])).content
    key = sheet.key
    assert key is not None
    signed, signature = bytes(sheet.signed or b""), bytes(sheet.signature or b"")
    assert given == written(signed, signature, bytes(key.public))
    assert base64.b64decode(json.loads(given)["key"]) == bytes(key.public)
