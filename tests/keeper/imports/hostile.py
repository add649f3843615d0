"""Files that somebody may send by mistake or on purpose."""

import io
import struct
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-'
    'types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relation'
    'ships+xml"/><Default Extension="xml" ContentType="application/vnd.openxmlformats-officedocume'
    'nt.spreadsheetml.sheet.main+xml"/></Types>'
)
_RELS = (
    '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/rel'
    'ationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/20'
    '06/relationships/{kind}" Target="{target}"/></Relationships>'
)
_BOOK = (
    '<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/ma'
    'in" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>'
    '<sheet name="Herd" sheetId="1" r:id="rId1"/></sheets></workbook>'
)
_SHEET = (
    '<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/m'
    'ain"><sheetData>{rows}</sheetData></worksheet>'
)


def workbook(rows: str) -> bytes:
    """A workbook of one sheet with these rows, as XML."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", _TYPES)
        archive.writestr(
            "_rels/.rels", _RELS.format(kind="officeDocument", target="xl/workbook.xml")
        )
        archive.writestr("xl/workbook.xml", _BOOK)
        archive.writestr(
            "xl/_rels/workbook.xml.rels",
            _RELS.format(kind="worksheet", target="worksheets/sheet1.xml"),
        )
        archive.writestr("xl/worksheets/sheet1.xml", _SHEET.format(rows=rows))
    return out.getvalue()


def sheet(rows: Iterable[Sequence[Any]], merged: Sequence[str] = ()) -> bytes:
    """A workbook as a spreadsheet program writes it."""
    from openpyxl import Workbook

    book = Workbook()
    for row in rows:
        book.active.append(list(row))
    for cells in merged:
        book.active.merge_cells(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def million() -> bytes:
    """A workbook of a million rows."""
    return workbook(
        "".join(f'<row r="{n}"><c r="A{n}"><v>1</v></c></row>' for n in range(1, 10**6 + 1))
    )


def far_off() -> bytes:
    """A workbook of two cells, one of them as far away as can be."""
    return workbook(
        '<row r="1"><c r="A1"><v>1</v></c></row>'
        '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    )


def repeated() -> bytes:
    """A workbook of 20,000 cells with a long text each, written small."""
    text = "x" * 3000
    return workbook(
        "".join(
            f'<row r="{n}"><c r="A{n}" t="inlineStr"><is><t>{text}</t></is></c></row>'
            for n in range(1, 20_001)
        )
    )


def bomb(*, lying: bool = False) -> bytes:
    """A workbook with a part that unpacks to 300 MB; `lying`: it says a hundred bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", _TYPES)
        with archive.open("xl/worksheets/sheet1.xml", "w") as part:
            for _ in range(300):
                part.write(b" " * 1024**2)
    data = bytearray(out.getvalue())
    if lying:
        # The length stands in the part's own head and in the list at the archive's end.
        for mark, place in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
            at = data.rfind(mark)
            struct.pack_into("<I", data, at + place, 100)
    return bytes(data)


def nested() -> bytes:
    """An archive of archives of rubbish."""
    data = b"rubbish"
    for _ in range(5):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            archive.writestr("[Content_Types].xml", data)
        data = out.getvalue()
    return data


def locked() -> bytes:
    """What a workbook with a password begins with: a compound file with an encrypted package."""
    return (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 1016
        + "EncryptedPackage".encode("utf-16-le") + b"\0" * 512
    )  # fmt: skip
