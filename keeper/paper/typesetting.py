"""Content in, PDF out: the same bytes for the same content, on every machine.

The source runs on plain copies in a folder of its own, with our fonts alone and no way to anything
else; what the keeper typed enters as the values of one JSON string.
"""

import json
import re
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from shutil import copyfile
from typing import Any

_HERE = Path(__file__).resolve().parent
_FONTS = _HERE.parents[1] / "static" / "fonts"
_FACES = ("Regular", "It", "Semibold", "Bold")

# Longer runs without a space could not be broken and would run off the page.
_LONG_RUN = re.compile(r"\S{25,}")
_BREAK_AFTER = 8


_TAGGED: dict[str, Any] = {"format": "pdf", "pdf_standards": "ua-1"}


class CannotPrint(Exception):
    """A content that no page can show as it is; the message says why and what to do."""


SIZES = {"a4": "a4", "a5": "a5", "letter": "us-letter"}


def typeset(content: dict[str, Any], *, source: str, size: str, picture: bytes = b"") -> bytes:
    """Return the PDF (tagged, PDF/UA-1) of a content by a source of this folder.

    Args:
        content: plain data; `issued` is its day as [year, month, day].
        source: name of the source, `sheet`; the content is its input of that name.
        size: "a4", "a5" or "letter".
        picture: JPEG, PNG or WebP, drawn if the content tells of a photo; empty: without it.

    Raises:
        CannotPrint: it does not fit on one page at a size that reads well, or has a character that
            the font does not have.
    """
    told = _breakable(content) | _drawn_address(content.get("address", ""))
    inputs = {source: json.dumps(told), "size": size, "paper": SIZES[size]}
    if picture:
        inputs["picture"] = _format(picture)
    return _set(source, inputs, content["issued"], f"one page of {size.title()}", picture)


def typeset_labels(content: dict[str, Any]) -> bytes:
    """Return the PDF of labels (`labels.typ`): pages of the sheet's measures, each with its codes.

    Args:
        content: plain data; each of its `labels` has `link`, the address that its code holds.

    Raises:
        CannotPrint: a name has a character that the font does not have.
    """
    drawn = [_breakable(one) | {"svg": _code(one["link"])} for one in content["labels"]]
    told = {name: one for name, one in content.items() if name != "labels"} | {"labels": drawn}
    return _set("labels", {"labels": json.dumps(told)}, content["issued"], "one page")


def typeset_card(content: dict[str, Any], *, picture: bytes = b"") -> bytes:
    """Return the PNG of what is said of an animal to offer it (`card.typ`), 1080 dots wide.

    Args:
        content: `heading`, `below`, `foot`; `lines`, each a name and what is said of it; `issued`.
        picture: JPEG, PNG or WebP, above it; empty: without one.

    Raises:
        CannotPrint: it does not fit in type that reads well, or has a character that the font does
            not have.
    """
    inputs = {"card": json.dumps(_breakable(content))}
    if picture:
        inputs["picture"] = _format(picture)
    # Dots say nothing of a letter that the font lacks: as a page it is refused.
    _set("card", inputs, content["issued"], "one picture", picture)
    return _set("card", inputs, content["issued"], "one picture", picture, drawn=True)


def _set(
    source: str,
    inputs: dict[str, str],
    issued: Sequence[int],
    room: str,
    picture: bytes = b"",
    *,
    drawn: bool = False,
) -> bytes:
    """Return what a source makes of its inputs, dated by the day of its content; or as dots."""
    import typst  # loads some megabytes that most requests never need

    year, month, day = issued
    with tempfile.TemporaryDirectory(prefix="keptlines-paper-") as folder:
        root = Path(folder)
        copyfile(_HERE / f"{source}.typ", root / "page.typ")
        for face in _FACES:
            copyfile(_FONTS / f"SourceSans3-{face}.ttf", root / f"{face}.ttf")
        if picture:
            root.joinpath("picture").write_bytes(picture)
        try:
            made = typst.compile(
                root / "page.typ",
                root=root,
                font_paths=[root],
                ignore_system_fonts=True,
                sys_inputs=inputs,
                **({"format": "png", "ppi": 144} if drawn else _TAGGED),
                timestamp=datetime(year, month, day, tzinfo=UTC),
                package_path=root,
                package_cache_path=root,
            )
        except typst.TypstError as error:
            raise _reason(error, room) from error
    return bytes(made)


def _format(picture: bytes) -> str:
    """Return what kind of picture it is, by how it begins."""
    if picture.startswith(b"\x89PNG"):
        return "png"
    return "webp" if picture[8:12] == b"WEBP" else "jpg"


def _code(address: str) -> str:
    """Return the QR code of an address as an SVG, with the quiet zone that its standard asks for.

    Level M mends 15 % of it: a label is scratched and wet.
    """
    import segno

    drawn = BytesIO()
    segno.make(address, error="m", micro=False).save(drawn, kind="svg", border=4, light="white")
    return drawn.getvalue().decode()


def _drawn_address(address: str) -> dict[str, Any]:
    """Return an address as it is followed, and as the rows of a QR code; nothing for none."""
    if not address:
        return {}
    import segno

    rows = segno.make(address, error="m", micro=False).matrix
    return {"link": address, "qr": ["".join("01"[bool(dot)] for dot in row) for row in rows]}


def _reason(error: Exception, room: str) -> Exception:
    text = str(error)
    if "too-long" in text:
        return CannotPrint(f"This is too much for {room} in type that can be read.")
    if "could not be displayed" in text:
        return CannotPrint(
            "A name or note has a character that the printed font does not have "
            "(a picture, or letters that are not Latin, Greek or Cyrillic). Write it otherwise."
        )
    return error


def _breakable(value: Any) -> Any:
    """Let long runs without a space be broken at the end of a line."""
    if isinstance(value, str):
        return _LONG_RUN.sub(_with_breaks, value)
    if isinstance(value, dict):
        return {name: _breakable(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_breakable(one) for one in value]
    return value


def _with_breaks(run: re.Match[str]) -> str:
    text = run[0]
    parts = [text[at : at + _BREAK_AFTER] for at in range(0, len(text), _BREAK_AFTER)]
    return "\u200b".join(parts)
