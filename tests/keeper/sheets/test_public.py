"""Public pages: what anybody reads of a sheet, in the book and as files, and what nobody does."""

import base64
import json
import re
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from keeper.domain.sheets import keys, signing
from keeper.domain.sheets.writes import issue, withdraw
from keeper.models import Account, Animal, Contact, Paper, Prospect, Sheet, Statement
from keeper.pages.sheets.folder import NotMade, write
from keeper.paper.typesetting import typeset
from tests.factories import AnimalFactory, ContactFactory, LineFactory, TraitFactory
from tests.keeper.sheets.rows import stand, text_of_pdf

DAY = date(2026, 11, 30)
# None of these may be on any public page, file or record.
CANARIES = {
    "buyer": "Zyrwick Buyer", "source": "Zyrwick Source", "reach": "zyrwick@example.org",
    "notes": "canary notes", "paper": "canary paper", "why": "canary reason",
    "price": "98765", "place": "canary rack", "animal notes": "canary animal",
    "former name": "Zyrwick Formerly", "trust": "83 %",
}  # fmt: skip


@pytest.fixture
def source(db: None) -> Contact:
    made: Contact = ContactFactory.create(
        name=CANARIES["former name"], reach=CANARIES["reach"], notes=CANARIES["notes"],
        reliability="83/100",
    )  # fmt: skip
    made.name = CANARIES["source"]
    made.save()
    return made


@pytest.fixture
def animal(owner: Account, source: Contact) -> Animal:
    """A founder about whom the book knows a secret of every kind, and its name tells one."""
    made: Animal = AnimalFactory.create(
        code="K-1", name=f"Nettle of {CANARIES['former name']}", species__name="royal python",
        source=source, acquired_on=date(2026, 5, 1), place=CANARIES["place"],
        notes=CANARIES["animal notes"],
    )  # fmt: skip
    trait = TraitFactory.create(species=made.species, name="Saltgrass")
    line = LineFactory.create(trait=trait, code="HAR")
    stand(made, line, owner, one=0.37)
    paper = Paper.objects.create(animal=made, source=source, says=CANARIES["paper"])
    Statement.objects.create(
        animal=made, trait=trait, line=line, claim="possible", chance="2/3", source=source,
        paper=paper,
    )  # fmt: skip
    Prospect.objects.create(
        species=made.species, name="K-1", source=source, asked=CANARIES["price"], bought=made
    )
    return made


@pytest.fixture
def sheet(animal: Animal, owner: Account) -> Sheet:
    buyer = ContactFactory.create(name=CANARIES["buyer"])
    made, _ = issue(animal=animal, by=owner, buyer=buyer)
    return made


def page_of(sheet: Sheet) -> str:
    answer = Client().get(f"/papers/{sheet.page_code}/")
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def files_in(folder: Path) -> dict[str, bytes]:
    found = folder.rglob("*")
    return {str(one.relative_to(folder)): one.read_bytes() for one in found if one.is_file()}


def test_anybody_with_the_address_reads_it_as_issued(sheet: Sheet, owner: Account) -> None:
    page = page_of(sheet)
    assert "The signature holds." in page
    assert "Saltgrass" in page
    assert "possible het 37 %" in page
    assert f"by {owner.name}" in page
    assert sheet.key is not None
    assert str(sheet.key) in page
    assert "Withdrawn" not in page


def test_an_address_that_is_none_is_answered_like_any_other(sheet: Sheet) -> None:
    stranger = Client()
    for code in ("A" * 26, str(sheet.pk), sheet.code, (sheet.page_code or "").lower()):
        assert stranger.get(f"/papers/{code}/").status_code == 404
        assert stranger.get(f"/papers/{code}/sheet.json").status_code == 404
    assert stranger.post(f"/papers/{sheet.page_code}/").status_code == 405


def test_pages_are_kept_from_lists_of_the_web(sheet: Sheet) -> None:
    answer = Client().get(f"/papers/{sheet.page_code}/")
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer["Cache-Control"] == "private, no-store"


def test_a_withdrawn_sheet_says_so_without_the_reason(sheet: Sheet, owner: Account) -> None:
    withdraw(sheet=sheet, reason=CANARIES["why"], by=owner)
    page = page_of(sheet)
    assert "<strong>Withdrawn</strong> on" in page
    assert "The signature holds." in page
    assert "possible het 37 %" in page


def test_a_record_that_was_altered_says_that_it_does_not_hold(sheet: Sheet) -> None:
    other = bytes(sheet.signed or b"").replace(b"possible het 37 %", b"possible het 99 %")
    Sheet.objects.filter(pk=sheet.pk).update(signed=other)
    page = page_of(sheet)
    assert "The signature does not hold." in page
    assert "The signature holds." not in page


def test_one_that_cannot_be_read_says_so(sheet: Sheet) -> None:
    Sheet.objects.filter(pk=sheet.pk).update(signed=b"\xff not JSON")
    page = page_of(sheet)
    assert "What was signed cannot be read." in page
    assert "The signature does not hold." in page


@pytest.mark.parametrize(
    ("taken", "said"), [(False, "Its key was lost on"), (True, "Others may have its key")]
)
def test_a_key_that_is_lost_is_told(
    sheet: Sheet, owner: Account, taken: bool, said: str, settings: Any, tmp_path: Path
) -> None:
    keys.give_up(by=owner, why=CANARIES["why"], in_other_hands=taken)
    page = page_of(sheet)
    assert said in page
    assert "The signature holds." in page


def test_what_is_handed_out_can_be_checked_with_nothing_of_ours(sheet: Sheet) -> None:
    answer = Client().get(f"/papers/{sheet.page_code}/sheet.json")
    told = json.loads(answer.content)
    key, signature = base64.b64decode(told["key"]), base64.b64decode(told["signature"])
    assert signing.is_signed_by(key, signature, told["signed"].encode())
    assert told["signed"].encode() == bytes(sheet.signed or b"")


def test_nothing_private_is_on_any_page_or_file(
    sheet: Sheet, owner: Account, tmp_path: Path
) -> None:
    withdraw(sheet=sheet, reason=CANARIES["why"], by=owner)
    keys.give_up(by=owner, why=CANARIES["why"], in_other_hands=True)
    folder = tmp_path / "pages"
    write(folder, on=DAY, days=30)
    proof = Client().get(f"/papers/{sheet.page_code}/sheet.json").content
    told = [page_of(sheet).encode(), proof, bytes(sheet.signed or b""), *files_in(folder).values()]
    # What the browser checks stands in the page in Base64.
    for page in list(told):
        told += [base64.b64decode(one) for one in re.findall(rb'data-s[a-z-]+="([^"]*)"', page)]
    for name, canary in CANARIES.items():
        assert [one[:80] for one in told if canary.encode() in one] == [], name
    assert [one[:80] for one in told if sheet.salt.encode() in one] == []
    # The paper in the buyer's hands does tell them whose word it is, and never how far it is taken.
    assert CANARIES["source"] in json.dumps(sheet.content)
    assert "a contact" in page_of(sheet)


def test_the_folder_holds_a_page_for_each_sheet_and_lists_none(
    sheet: Sheet, tmp_path: Path
) -> None:
    folder = tmp_path / "pages"
    made = write(folder, on=DAY, days=30)
    assert (made.pages, made.broken) == (1, ())
    found = files_in(folder)
    assert f"papers/{sheet.page_code}/index.html" in found
    assert (sheet.page_code or "").encode() not in found["index.html"] + found["papers/index.html"]
    page = found[f"papers/{sheet.page_code}/index.html"].decode()
    assert "It could not be checked." in page
    assert "The signature holds" not in page
    assert "As of 30 November 2026; stale after 30 December 2026" in page
    linked = re.findall(r'(?:href|src)="(\.\./[^"]+|sheet\.json)"', page)
    assert len(linked) > 5
    for one in linked:
        assert (folder / "papers" / str(sheet.page_code) / one).resolve().is_file()
    assert found[f"papers/{sheet.page_code}/sheet.json"] == (
        Client().get(f"/papers/{sheet.page_code}/sheet.json").content
    )


def state_in(folder: Path, sheet: Sheet) -> dict[str, Any]:
    """What came after, as the page has it, once its signature was checked."""
    page = (folder / "papers" / str(sheet.page_code) / "index.html").read_text()
    data = {
        name: base64.b64decode(value) for name, value in re.findall(r'data-([a-z-]+)="(.*?)"', page)
    }
    assert signing.is_signed_by(data["state-key"], data["state-signature"], data["state"])
    return signing.read(data["state"], form=signing.STATE)


def test_what_came_after_is_signed_with_its_day(
    sheet: Sheet, owner: Account, tmp_path: Path
) -> None:
    folder = tmp_path / "pages"
    write(folder, on=DAY, days=10)
    state = state_in(folder, sheet)
    assert (state["as_of"], state["stale_after"]) == ("2026-11-30", "2026-12-10")
    assert (state["number"], state["withdrawn"]) == ("1", "")
    withdraw(sheet=sheet, reason="a slip", by=owner)
    keys.change(by=owner, why="")
    write(folder, on=DAY + timedelta(days=1), days=10)
    sheet.refresh_from_db()
    assert sheet.withdrawn_at is not None
    state = state_in(folder, sheet)
    assert state["withdrawn"] == sheet.withdrawn_at.date().isoformat()
    current = keys.current()
    assert current is not None
    assert state["key"] == current.fingerprint


def test_the_folder_is_replaced_whole_and_nothing_else_is(sheet: Sheet, tmp_path: Path) -> None:
    folder = tmp_path / "pages"
    write(folder, on=DAY, days=30)
    (folder / "papers" / "stale.html").touch()
    write(folder, on=DAY, days=30)
    assert "papers/stale.html" not in files_in(folder)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["pages"]
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "letter.txt").write_text("keep me")
    with pytest.raises(NotMade, match="holds something else"):
        write(mine, on=DAY, days=30)
    assert files_in(mine) == {"letter.txt": b"keep me"}


def test_without_the_key_no_folder_is_made_and_the_old_one_stays(
    sheet: Sheet, tmp_path: Path, settings: Any
) -> None:
    folder = tmp_path / "pages"
    write(folder, on=DAY, days=30)
    before = files_in(folder)
    settings.DATA = tmp_path / "elsewhere"
    with pytest.raises(NotMade, match="key that signs is not at hand"):
        write(folder, on=DAY + timedelta(days=5), days=30)
    assert files_in(folder) == before


def test_the_command_says_what_it_wrote(
    sheet: Sheet, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "pages"
    Sheet.objects.filter(pk=sheet.pk).update(signature=bytes(64))
    call_command("public_pages", str(folder), "--days", "7")
    said = capsys.readouterr().out
    assert "1 pages, good for 7 days" in said
    assert "The signature of sheet 1 does not hold" in said
    for days in ("0", "99999"):
        with pytest.raises(CommandError, match="--days takes"):
            call_command("public_pages", str(folder), "--days", days)
    (tmp_path / "file").touch()
    with pytest.raises(CommandError, match="holds something else"):
        call_command("public_pages", str(tmp_path / "file"))


def test_a_book_without_sheets_makes_a_folder_without_pages(db: None, tmp_path: Path) -> None:
    made = write(tmp_path / "pages", on=DAY, days=30)
    assert made.pages == 0
    assert (tmp_path / "pages" / "index.html").is_file()


@pytest.mark.parametrize("size", ["a4", "a5"])
def test_a_paper_has_a_qr_code_only_where_there_is_a_public_address(
    animal: Animal, owner: Account, settings: Any, size: str
) -> None:
    plain, _ = issue(animal=animal, by=owner)
    settings.PUBLIC_ADDRESS = "https://papers.example.org/snakes"
    coded, _ = issue(animal=animal, by=owner)
    address = f"https://papers.example.org/snakes/papers/{coded.page_code}/"
    assert (plain.content["address"], coded.content["address"]) == ("", address)
    without, made = (typeset(one.content, source="sheet", size=size) for one in (plain, coded))
    assert address in text_of_pdf(made)[1].replace(" ", "")
    assert "https" not in text_of_pdf(without)[1]
    assert plain.content["key"] in text_of_pdf(without)[1]
    assert (links_in(without), links_in(made)) == (set(), {address})
    assert dots_in(made) - dots_in(without) > 300


def links_in(pdf: bytes) -> set[str]:
    with pikepdf.open(BytesIO(pdf)) as document:
        notes: Any = document.pages[0].get("/Annots", [])
        return {str(one.A.URI) for one in notes}


def dots_in(pdf: bytes) -> int:
    """How many areas a page fills."""
    with pikepdf.open(BytesIO(pdf)) as document:
        steps = pikepdf.parse_content_stream(document.pages[0])
        return sum(str(one.operator) in ("f", "f*") for one in steps)
