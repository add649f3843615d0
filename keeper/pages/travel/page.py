"""What the pages of signed papers show."""

import base64
from dataclasses import dataclass
from typing import Any

from keeper.domain import inference
from keeper.domain.saying.figures import percent
from keeper.domain.sheets.signing import Unreadable, is_signed_by, read
from keeper.domain.travel.files import written
from keeper.models import SignedPaper, Standing, grouped


@dataclass(frozen=True)
class FigureRow:
    """A figure as it is stated, as it comes out here from the paper alone, and as it stands now."""

    name: str
    stated: str
    found: str
    now: str
    agrees: bool


@dataclass(frozen=True)
class PaperPage:
    """A signed paper of this book.

    Attributes:
        holds: whether its signature holds; None: its signer was erased, and the text with them.
        engine: the version of the engine that worked its figures out.
    """

    paper: SignedPaper
    holds: bool | None
    key: str
    engine: str
    issued: str
    numbered: str
    figures: list[FigureRow]
    left_out: list[dict[str, str]]


def figure_rows(
    figures: "tuple[inference.Reproduced, ...] | list[inference.Reproduced]",
    now: dict[tuple[str, str], str] | None = None,
) -> list[FigureRow]:
    """The figures of a paper as rows; two copies are told where it tells of them."""
    return [
        FigureRow(
            f"{one.trait} {one.line}".strip() + (", two copies" if one.copies == "two" else ""),
            _percent(one.stated),
            "cannot be worked out" if one.found is None else _percent(one.found),
            (now or {}).get((one.trait, one.line), "") if one.copies == "carries" else "",
            one.agrees,
        )
        for one in figures
    ]


def paper_page(paper: SignedPaper) -> PaperPage:
    """Return what the page of a signed paper shows, checked anew."""
    signed = paper.signed_bytes
    key = grouped(paper.fingerprint)
    try:
        record = read(signed)
    except Unreadable:
        holds = False if signed else None
        return PaperPage(paper, holds, key, "", "", "", [], [])
    signature, public = base64.b64decode(paper.signature), base64.b64decode(paper.public)
    evidence: dict[str, Any] = record["evidence"]
    return PaperPage(
        paper,
        is_signed_by(public, signature, signed),
        key,
        evidence["engine"],
        record["issued"],
        record["content"].get("numbered", ""),
        figure_rows(inference.reproduced(evidence), _now(paper)),
        evidence["left_out"],
    )


def file_of(paper: SignedPaper) -> bytes:
    """The file as it came."""
    signature, public = base64.b64decode(paper.signature), base64.b64decode(paper.public)
    return written(paper.signed_bytes, signature, public)


def _now(paper: SignedPaper) -> dict[tuple[str, str], str]:
    """What the book says today, by the names that the paper and the book share."""
    rows = Standing.objects.filter(animal=paper.animal).select_related("trait", "line")
    return {
        (one.trait.name, one.line.code if one.line else ""): _percent(
            one.two + one.one if one.none else 1.0
        )
        for one in rows
    }


def _percent(chance: float) -> str:
    return percent(chance, certain=chance == 1)
