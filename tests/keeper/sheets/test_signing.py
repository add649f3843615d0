"""A sheet is signed as issued: what holds, and that nothing altered does."""

import copy
import json
import random
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from keeper.domain.sheets import keys, signing
from keeper.domain.sheets.signing import Verdict, check
from keeper.domain.sheets.writes import issue, withdraw
from keeper.models import Account, Animal, Sheet
from tests.factories import AnimalFactory, ContactFactory, LineFactory, TraitFactory
from tests.keeper.sheets.rows import stand

ALTERATIONS = 6000


@pytest.fixture
def animal(db: None, owner: Account) -> Animal:
    made: Animal = AnimalFactory.create(code="K-1", name="Nettle", species__name="royal python")
    trait = TraitFactory.create(species=made.species, name="Saltgrass")
    stand(made, LineFactory.create(trait=trait, code="HAR"), owner, one=0.66)
    return made


@pytest.fixture
def sheet(animal: Animal, owner: Account) -> Sheet:
    made, _ = issue(animal=animal, by=owner, buyer=ContactFactory.create(name="Buyer Osk"))
    return reread(made)


def reread(sheet: Sheet) -> Sheet:
    found: Sheet = Sheet.objects.select_related("key").get(pk=sheet.pk)
    return found


def test_a_sheet_holds_as_issued_and_after_it_was_withdrawn(sheet: Sheet, owner: Account) -> None:
    assert check(sheet) == Verdict.HOLDS
    assert signing.paper_is_as_signed(sheet)
    withdraw(sheet=sheet, reason="a slip", by=owner)
    assert check(reread(sheet)) == Verdict.HOLDS


def test_what_is_signed_says_what_the_paper_says_without_the_buyer(sheet: Sheet) -> None:
    record = signing.read(bytes(sheet.signed or b""))
    assert sheet.key is not None
    assert {name: record[name] for name in ("format", "version", "number", "code", "key")} == {
        "format": "keptlines-sheet",
        "version": 2,
        "number": "1",
        "code": sheet.page_code,
        "key": sheet.key.fingerprint,
    }
    paper = copy.deepcopy(sheet.content)
    paper["buyer"], paper["issue_line"] = "", record["content"]["issue_line"]
    assert record["content"] == paper
    assert "Buyer Osk" in sheet.content["issue_line"]
    assert b"Osk" not in bytes(sheet.signed or b"")
    assert record["buyer"] == signing.salted(sheet.salt, "buyer", "Buyer Osk")
    assert sheet.salt.encode() not in bytes(sheet.signed or b"")


def test_the_paper_prints_the_fingerprint_of_the_key(sheet: Sheet) -> None:
    assert sheet.key is not None
    assert sheet.content["key"].replace(" ", "") == sheet.key.fingerprint
    assert len(sheet.content["key"].split()) == 8


def test_no_two_sheets_have_the_same_salt_or_page(animal: Animal, owner: Account) -> None:
    made = [issue(animal=animal, by=owner)[0] for _ in range(4)]
    assert len({one.salt for one in made}) == len({one.page_code for one in made}) == 4
    assert {len(one.page_code or "") for one in made} == {26}


def test_the_signature_outlives_an_erasure(sheet: Sheet) -> None:
    sheet.content = sheet.content | {"buyer": "person 7"}
    sheet.salt = ""
    assert check(sheet) == Verdict.HOLDS
    assert not signing.paper_is_as_signed(sheet)


def test_a_paper_that_was_changed_is_told_from_what_was_signed(sheet: Sheet) -> None:
    sheet.content["claims"][0]["words"] = "visual"
    assert check(sheet) == Verdict.HOLDS
    assert not signing.paper_is_as_signed(sheet)


def test_a_sheet_from_before_is_unsigned_and_one_without_its_signature_broken(
    sheet: Sheet,
) -> None:
    sheet.signature = None
    assert check(sheet) == Verdict.BROKEN
    sheet.signed = sheet.key = sheet.page_code = None
    assert check(sheet) == Verdict.UNSIGNED


def altered(draw: random.Random, some: bytes) -> bytes:
    """Bytes with one of them changed, left out, put in or said twice, or cut off."""
    at = draw.randrange(len(some))
    ways: list[Callable[[], bytes]] = [
        lambda: some[:at] + bytes([some[at] ^ (1 << draw.randrange(8))]) + some[at + 1 :],
        lambda: some[:at] + some[at + 1 :],
        lambda: some[:at] + bytes([draw.randrange(256)]) + some[at:],
        lambda: some[: at + 1] + some[at:],
        lambda: some[:at],
        lambda: some + bytes([draw.randrange(256)]),
        lambda: some[at:] + some[:at] if at > 0 else some + some,
    ]
    return draw.choice(ways)()


@pytest.mark.parametrize("part", ["signed", "signature", "key"])
def test_no_alteration_passes(sheet: Sheet, part: str) -> None:
    draw = random.Random(15)
    assert sheet.key is not None
    told = {
        "signed": bytes(sheet.signed or b""),
        "signature": bytes(sheet.signature or b""),
        "key": bytes(sheet.key.public),
    }
    passed = []
    for _ in range(ALTERATIONS // 3):
        other = altered(draw, told[part])
        if other == told[part]:
            continue
        now = told | {part: other}
        sheet.signed, sheet.signature = now["signed"], now["signature"]
        # Whoever alters the record also makes its digest anew, and the key's name with the key.
        sheet.digest = signing.digest(now["signed"])
        sheet.key.public, sheet.key.fingerprint = now["key"], signing.fingerprint(now["key"])
        if check(sheet) != Verdict.BROKEN:
            passed.append(other)
    assert passed == []


def test_a_record_signed_by_another_key_is_refused(sheet: Sheet) -> None:
    other = Ed25519PrivateKey.generate()
    assert sheet.key is not None
    sheet.signature = other.sign(bytes(sheet.signed or b""))
    assert check(sheet) == Verdict.BROKEN
    # With its own public key in the row, what was signed still names the one that it is not.
    sheet.key.public = signing.public_of(other)
    sheet.key.fingerprint = signing.fingerprint(sheet.key.public)
    assert check(sheet) == Verdict.BROKEN


def test_a_record_of_another_sheet_is_refused(sheet: Sheet, animal: Animal, owner: Account) -> None:
    other, _ = issue(animal=animal, by=owner)
    sheet.signed, sheet.signature, sheet.digest = other.signed, other.signature, other.digest
    assert check(sheet) == Verdict.BROKEN


@pytest.mark.parametrize(
    "text",
    [
        '{"format":"keptlines-sheet","version":1,"number":"1","number":"2"}',
        '{"format":"keptlines-sheet","version":1,"content":{"a":1,"a":1}}',
        '{"format":"keptlines-sheet","version":3}',
        '{"format":"keptlines-sheet","version":true}',
        '{"format":"keptlines-sheet-state","version":1}',
        '{"format":"keptlines-sheet","version":1,"x":NaN}',
        '["keptlines-sheet",1]',
        "[" * 100_000,
        "",
    ],
)
def test_what_is_no_record_is_refused(text: str) -> None:
    with pytest.raises(signing.Unreadable):
        signing.read(text.encode())


def test_bytes_of_no_text_are_refused() -> None:
    with pytest.raises(signing.Unreadable):
        signing.read(b'{"format":"keptlines-sheet","version":1,"x":"\xff"}')


def test_one_record_has_one_spelling() -> None:
    record: dict[str, Any] = {"b": "é", "a": [1, 0.5, None, {"d": 1, "c": ""}]}
    spelled = '{"a":[1,0.5,null,{"c":"","d":1}],"b":"é"}'.encode()
    assert signing.canonical(record) == spelled
    assert signing.canonical(json.loads(spelled)) == spelled


def test_the_day_is_that_of_the_sheet(sheet: Sheet) -> None:
    record = signing.read(bytes(sheet.signed or b""))
    assert date.fromisoformat(record["issued"]) == date(*sheet.content["issued"])


def test_the_key_is_made_by_the_first_sheet(animal: Animal, owner: Account) -> None:
    assert keys.current() is None
    first, _ = issue(animal=animal, by=owner)
    second, _ = issue(animal=animal, by=owner)
    assert first.key is not None
    assert first.key == second.key == keys.current()
