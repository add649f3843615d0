"""Broken and hostile files get a clear answer, and never an error of the program."""

import os
import random
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import Refused
from keeper.domain.imports.tables import files
from tests.keeper.books import Book
from tests.keeper.imports import hostile
from tests.keeper.imports.tables import begun, picked, tried

FUZZED = int(os.environ.get("KEPTLINES_EXAMPLES") or 50)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (lambda: b"", "This file is empty."),
        (lambda: b" \n\n ", "This file is empty."),
        (lambda: b",,,\n,,\n", "There is nothing in this sheet."),
        (lambda: b"a" * (files.LARGEST + 1), "This file is larger than 20 MB."),
        (lambda: b"<!DOCTYPE html><table><tr><td>A-1", "This file is no table."),
        (lambda: b"%PDF-1.7 \n", "This file is no table."),
        (lambda: b'{"animals": []}', "This file is no table."),
        (lambda: b"Code,Name\nA-1,\0\0\0", "This file is no table."),
        (lambda: bytes(range(128, 256)) * 20, "This file is no table."),
        (lambda: b"\xff\xfeC", "This file is no table."),
        (lambda: b"\n".join(b"A-%d" % n for n in range(20_002)), "and 20,000 are read at a time"),
        (lambda: b",".join(b"x" for _ in range(300)), "This table has 300 columns"),
        (lambda: hostile.sheet([["x"] * 300]), "This table has 300 columns"),
        (hostile.million, "This table has 1,000,000 rows"),
        (hostile.far_off, "a cell far outside the table makes it too large"),
        (hostile.bomb, "This workbook unpacks to more than can be read here."),
        (lambda: hostile.bomb(lying=True), "This workbook cannot be opened"),
        (hostile.repeated, "This workbook unpacks to more than can be read here."),
        (hostile.nested, "This workbook cannot be opened"),
        (hostile.locked, "This workbook is protected by a password."),
        (lambda: hostile.sheet([["Code"], ["A-1"]])[:600], "This workbook cannot be opened"),
        (lambda: b"PK\x03\x04" + b"\0" * 200, "This workbook cannot be opened"),
        (lambda: b"\xd0\xcf\x11\xe0" + b"\0" * 2000, "This workbook cannot be opened"),
    ],
)
def test_file_that_is_no_table_is_refused_clearly(data: Callable[[], bytes], said: str) -> None:
    with pytest.raises(Refused) as refused:
        files.read(data())
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("data", "rows"),
    [
        (b"Code;Name\nA-1;\xc9bb\n", [["Code", "Name"], ["A-1", "Ébb"]]),
        ("\ufeffCode,Name\nA-1,Ébb".encode(), [["Code", "Name"], ["A-1", "Ébb"]]),
        ("Code\tName\nA-1\tÉbb".encode("utf-16"), [["Code", "Name"], ["A-1", "Ébb"]]),
        (b'Code,Name\n"A-1\n', [["Code", "Name"], ["A-1", ""]]),
        ("A\u202e-1,\u200bEbb\x07".encode(), [["A-1", "Ebb"]]),
    ],
)
def test_letters_of_any_kind_are_read(data: bytes, rows: list[list[str]]) -> None:
    assert files.read(data).rows == rows


def test_keeper_is_told_where_letters_were_guessed_or_cut() -> None:
    (note,) = files.read(b"Code;Name\nA-1;\xc9bb\n").notes
    assert "not in Unicode" in note
    (note,) = files.read(b"Code\n" + b"x" * 3000).notes
    assert note == "1 cell longer than 2,000 letters: only so much was read."


def test_workbook_is_read_with_its_merged_cells_and_kinds_of_values() -> None:
    from datetime import date, datetime

    data = hostile.sheet(
        [["Code", "Dam", "Hatched", "Sex"], ["A-1", "F-1", date(2024, 5, 1), 1.0],
         ["A-2", None, datetime(2024, 5, 2), 0.1]],  # a sheet knows no zone
        merged=["B2:B3"],
    )  # fmt: skip
    found = files.read(data)
    assert found.rows == [
        ["Code", "Dam", "Hatched", "Sex"],
        ["A-1", "F-1", "2024-05-01", "1"],
        ["A-2", "F-1", "2024-05-02", "0.1"],
    ]
    assert found.notes == [
        "1 group of merged cells: each of their cells is taken as holding what the group says."
    ]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "problems"),
    [
        (b"Code,Sex,Hatched,Dam\n", 0),
        (b"Code,Code,Sex,Sex\nA-1,A-2,m,f\n", 0),
        ("Code,Sex\nA-1,🐍\nA-2,👨\n".encode(), 2),
        (b"Code,Hatched\nA-1,1900-01-01\nA-2,2100-01-01\nA-3,31.02.2024\nA-4,1800-01-01", 2),
        (b"Code,Dam,Sex\nA,B,f\nB,A,f\n", 2),
        (b'Code,Name\nA-1,"=cmd|x"\n=A1,Ebb\n', 3),
        (b"My herd,,\n,Parents,\nCode,Dam,Sire\nA-1,,\n", 0),
    ],
)
def test_odd_tables_have_a_dry_run(owner: m.Account, data: bytes, problems: int) -> None:
    Book(owner)
    one = picked(begun(owner, data))
    assert sum(len(row.problems) for row in tried(one).rows) == problems


@pytest.mark.django_db
def test_refused_file_is_said_on_the_page(owner: m.Account, owner_client: Client) -> None:
    Book(owner)
    answer = owner_client.post(
        reverse("animals-imports"), {"file": SimpleUploadedFile("herd.xlsx", b"<html>")}
    )
    assert answer.status_code == 200
    assert "This file is no table." in answer.content.decode()
    assert not m.Import.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(FUZZED))
def test_random_bytes_never_break_a_page(owner: m.Account, owner_client: Client, seed: int) -> None:
    Book(owner)
    draw = random.Random(seed)
    answer: Any = owner_client.post(
        reverse("animals-imports"), {"file": SimpleUploadedFile("herd", _random(draw))}
    )
    assert answer.status_code in {200, 302}
    for one in m.Import.objects.all():
        assert (
            owner_client.get(reverse("animals-imports-columns", args=[one.pk])).status_code == 200
        )
        picked(one, {n: draw.choice(_PICKS) for n in range(len(one.picks))})
        assert owner_client.get(reverse("animals-imports-one", args=[one.pk])).status_code == 200
        asked = reverse("animals-imports-questions", args=[one.pk])
        assert owner_client.get(asked).status_code == 200


_PICKS = [
    "code",
    "name",
    "sex",
    "hatched",
    "dam",
    "sire",
    "genes",
    "gene",
    "weight",
    "clutch",
    "note",
]
_PIECES = [
    *(",", ";", "\n", "\n", "\t", '"', "Code", "Sex", "1.0", "0.1", "het", "66%", "poss", "DH"),
    *("Saltgrass", "(HAR)", "(", "31.02.2024", "2024-01-01", "1/2/3", "A-1", "A-1", "B", "=1+1"),
    *("🐍", "\u202e", "'", "\\", "-", "0", "99999999999999999999", "é", "%", "super"),
]


def _random(draw: random.Random) -> bytes:
    """Bytes of any kind, a table of pieces, or a workbook with some bytes changed."""
    kind = draw.randrange(3)
    if kind == 0:
        head = draw.choice([b"", b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"\xff\xfe", b"\xef\xbb\xbf"])
        return head + draw.randbytes(draw.randrange(1, 2000))
    if kind == 1:
        return "".join(draw.choices(_PIECES, k=draw.randrange(1, 200))).encode()
    data = bytearray(hostile.sheet([["Code", "Sex"], ["A-1", "1.0"], ["A-2", "0.1"]]))
    for _ in range(draw.randrange(1, 6)):
        data[draw.randrange(len(data))] = draw.randrange(256)
    return bytes(data)
