"""Reports of crosses pass between books, and say together what one book would that had them all."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from jsonschema import Draft202012Validator

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import Refused, writing
from keeper.domain.lines import reports, writes
from tests.keeper.lines.rows import InDoubt
from tests.keeper.sheets.test_signing import altered
from tests.keeper.travel.books import shelf

pytestmark = pytest.mark.django_db

Opened = Callable[[str], AbstractContextManager[InDoubt]]


@pytest.fixture
def another(settings: Any, tmp_path: Path) -> Opened:
    return shelf(settings, tmp_path, InDoubt)


def first_crosses(book: InDoubt) -> m.Clutch:
    """Two visuals, one of them only possibly what it is said to be; nothing shows."""
    dam = book.founder("A1", "female", "possible", "2/3", line=book.har)
    sire = book.visual("A2", "male", book.que)
    return book.clutch("AC", dam, sire, normal=3)


def other_crosses(book: InDoubt) -> m.Clutch:
    dam = book.visual("B1", "female", book.har)
    sire = book.founder("B2", "male", "possible", "1/2", line=book.que)
    return book.clutch("BC", dam, sire, normal=2)


def chance(book: InDoubt) -> float:
    found = inference.line_pairs(book.trait)
    return found.pairs[0].now


def written(book: InDoubt) -> bytes:
    one, other = book.reread()
    return reports.write(one=one, other=other, by=book.by)[0]


def brought(book: InDoubt, data: bytes, **choices: Any) -> m.PairWord:
    one, other = book.reread()
    given: dict[str, Any] = {"source": None, "name": "Osk", "key_compared": True} | choices
    reports.bring_in(report=reports.opened(data), one=one, other=other, by=book.by, **given)
    found: m.PairWord = m.PairWord.objects.live().latest("pk")
    return found


def test_two_books_say_together_what_one_would(another: Opened) -> None:
    with another("everything") as book:
        first_crosses(book)
        other_crosses(book)
        book.weigh("3/10")
        whole = chance(book)
    with another("first") as book:
        first_crosses(book)
        # Neither its view of the two nor anybody's word is in a report.
        book.weigh("9/10")
        book.word(one_gene=True, weight="1/2")
        file = written(book)
    with another("other") as book:
        other_crosses(book)
        book.weigh("3/10")
        alone = chance(book)
        brought(book, file)
        assert chance(book) == pytest.approx(whole, abs=1e-9)
        assert alone - whole > 0.01
        assert inference.differences() == []
    with another("other") as book:
        other_crosses(book)
        second = written(book)
    with another("third, without crosses of its own") as book:
        book.weigh("3/10")
        brought(book, file)
        brought(book, second, name="Wren")
        assert chance(book) == pytest.approx(whole, abs=1e-9)


def test_a_cross_that_two_reports_tell_of_counts_once(another: Opened) -> None:
    same = UUID("6f2b8f4e-2d0a-4a53-9f0e-1b6a1f3c9d21")
    files = []
    for name in ("first", "later"):
        with another(name) as book:
            clutch = first_crosses(book)
            m.Clutch.objects.filter(pk=clutch.pk).update(identity=same)
            files.append(written(book))
    with another("reader") as book:
        once = brought(book, files[0])
        after = chance(book)
        twice = brought(book, files[1], name="Wren")
        assert (twice.weight, (twice.report or {})["left_out"]) == (0, [[0, 3]])
        assert chance(book) == after < 0.5
        assert (once.report or {})["left_out"] == []


def test_a_shared_cross_counts_by_the_later_report_while_the_earlier_is_gone(
    another: Opened,
) -> None:
    same = UUID("6f2b8f4e-2d0a-4a53-9f0e-1b6a1f3c9d21")
    files = []
    for name in ("first", "later"):
        with another(name) as book:
            m.Clutch.objects.filter(pk=first_crosses(book).pk).update(identity=same)
            files.append(written(book))
    with another("reader") as book:
        once = brought(book, files[0])
        twice = brought(book, files[1], name="Wren")
        both = chance(book)
        writes.withdraw_word(word=once, reason="he signed for somebody else", by=book.by)
        now = m.PairWord.objects.get(pk=twice.pk)
        assert (now.report or {})["left_out"] == [] and now.weight > 0
        assert chance(book) == pytest.approx(both, abs=1e-12)
        writes.restore_word(word=m.PairWord.objects.get(pk=once.pk), by=book.by)
        now = m.PairWord.objects.get(pk=twice.pk)
        assert (now.weight, (now.report or {})["left_out"]) == (0, [[0, 3]])
        assert chance(book) == both


def test_a_cross_of_its_own_is_not_counted_again(another: Opened) -> None:
    same = UUID("6f2b8f4e-2d0a-4a53-9f0e-1b6a1f3c9d21")
    with another("first") as book:
        m.Clutch.objects.filter(pk=first_crosses(book).pk).update(identity=same)
        file = written(book)
    with another("which bred it too") as book:
        m.Clutch.objects.filter(pk=first_crosses(book).pk).update(identity=same)
        before = chance(book)
        brought(book, file)
        assert chance(book) == before


def test_it_counts_as_far_as_its_signer_is_trusted(another: Opened) -> None:
    with another("first") as book:
        first_crosses(book)
        file = written(book)
    with another("reader") as book:
        word = brought(book, file, trust="1/2")
        weight = m.PairWord.objects.get().weight
        assert word.taken == weight / 2
        # Odds of (1 - w) to (1 + w) against one gene.
        assert chance(book) == pytest.approx(float((1 - weight / 2) / 2), abs=1e-12)
        source = word.source
        assert source is not None
        source.reliability = "0"
        with writing(by=book.by, what="Trusts them no more") as entry:
            entry.keep(source)
        assert chance(book) == 0.5
        assert inference.differences() == []


def test_a_report_names_nobody_and_fits_its_schema(another: Opened) -> None:
    with another("first") as book:
        first_crosses(book)
        m.Contact.objects.create(name="canary")
        m.Animal.objects.update(notes="canary", place="canary")
        report = reports.opened(written(book))
    assert [one.message for one in Draft202012Validator(_schema()).iter_errors(report.record)] == []
    for private in ("canary", "A2", "AC"):
        assert f'"{private}' not in report.signed.decode().replace('"A2":', "").replace(
            '"id":"A2"', ""
        ).replace('"sire":"A2"', "").replace('"dam":"A2"', "")
    assert report.told["crosses"] == [{"clutch": "C1", "showed": 0, "looked": 3}]


def _schema() -> Any:
    import json

    from django.conf import settings

    return json.loads(Path(settings.ROOT, "fixtures/papers/crosses.schema.json").read_text())


def test_no_alteration_passes(another: Opened) -> None:
    import random

    with another("first") as book:
        first_crosses(book)
        file = written(book)
    draw, passed = random.Random(3), []
    for _ in range(200):
        other = altered(draw, file)
        try:
            reports.opened(other)
        except Refused:
            continue
        if other != file:
            passed.append(other)
    assert passed == []


def test_what_cannot_be_told_or_taken_says_why(another: Opened) -> None:
    with another("first") as book:
        with pytest.raises(Refused, match="Open the pair, or breed the two"):
            written(book)
        first_crosses(book)
        file = written(book)
        with pytest.raises(Refused, match="here it is known"):
            brought(book, file)
    with another("reader") as book:
        with pytest.raises(Refused, match="Compare its fingerprint"):
            brought(book, file, key_compared=False)
        brought(book, file)
        with pytest.raises(Refused, match="in the book already"):
            brought(book, file)


def test_the_pages_show_told_imported_and_own_apart(
    another: Opened, owner_client: Client, owner: m.Account, settings: Any, tmp_path: Path
) -> None:
    with another("first") as book:
        first_crosses(book)
        file = written(book)
    settings.DATA = tmp_path / "here"
    book = InDoubt(owner)
    m.Line.objects.filter(pk=book.har.pk).update(name="Harvesk")
    other_crosses(book)
    two = [book.har.pk, book.que.pk]
    new = reverse("register-lines-report-new", args=two)
    read = owner_client.post(new, {"file": SimpleUploadedFile("crosses.json", file)})
    said = " ".join(read.content.decode().split())
    assert "0 of 3 hatchlings showed Saltgrass" in said
    assert "The signature holds" in said
    data = {
        "paper": read.context["data"], "look": "1", "same": "on", "name": "Osk",
        "trust": "100 %", "compared": "on",
    }  # fmt: skip
    looked = owner_client.post(new, data)
    assert not m.PairWord.objects.exists()
    owner_client.post(new, data | {"seen": looked.context["preview"].digest})
    assert m.PairWord.objects.count() == 1
    table = owner_client.get(reverse("register-lines", args=[book.trait.pk])).content.decode()
    assert "told 50 %" in table
    assert "with others’ reports" in table
    assert "with own crosses" in table
    pair = owner_client.get(reverse("register-lines-pair", args=two)).content.decode()
    assert "by a signed report of crosses of" in pair
    assert "with reports of others’ crosses" in pair
    word = m.PairWord.objects.get()
    refused = owner_client.get(reverse("register-lines-word", args=[word.pk]), follow=True)
    assert "stands as it was signed" in refused.content.decode()
    given = owner_client.post(reverse("register-lines-report", args=two))
    assert reports.opened(given.content).told["crosses"] == [
        {"clutch": "C1", "showed": 0, "looked": 2}
    ]
