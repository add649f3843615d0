"""What sources say: papers, and statements about one trait on somebody's word."""

from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.core.files.base import ContentFile

from keeper.domain.animals.photos import as_jpeg
from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, Animal, Claim, DaybookEntry, Paper, Said, Shown, Statement

_LARGEST = 20 * 1024 * 1024
# Browsers send a file anew each time, so it alone has to be chosen again.
_KEPT = "Nothing else that you typed is lost."


def keep_paper(*, paper: Paper, by: Account, scan: Any = None, reason: str = "") -> DaybookEntry:
    """Save a paper that is new or was changed in memory, with a scan if there is one.

    Raises:
        Refused: the scan is neither a PDF nor a picture.
        ValidationError: the paper is not in order.
    """
    what = f"{'Changed' if paper.pk else 'Added'} the paper of {paper.source} on {paper.animal}"
    with writing(by=by, what=what, reason=reason, subject=paper.animal) as book:
        attach(paper, scan)
        book.keep(paper)
    return book.entry


def attach(paper: Paper, scan: Any) -> None:
    """Put a scan on a paper: a PDF as it is, a picture without what a camera added.

    Raises:
        Refused: it is neither.
    """
    if scan is None:
        return
    if scan.size is not None and scan.size > _LARGEST:
        raise Refused(f"This file is larger than 20 MB. Scan it at a lower resolution. {_KEPT}")
    head = scan.read(5)
    scan.seek(0)
    name = paper.animal.code if paper.animal_id else "paper"
    if head == b"%PDF-":
        paper.scan = ContentFile(scan.read(), name=f"{name}.pdf")
        return
    try:
        paper.scan = ContentFile(as_jpeg(scan), name=f"{name}.jpg")
    except Refused as refused:
        raise Refused(f"{refused} Or send a PDF. {_KEPT}") from refused


def keep_statement(*, statement: Statement, by: Account, reason: str = "") -> DaybookEntry:
    """Save a statement that is new or was changed in memory.

    Raises:
        ValidationError: the statement is not in order.
        Refused: with it there are more copies stated than fit at one locus.
    """
    what = f"{'Changed' if statement.pk else 'Added'} the statement: {statement}"
    animal = statement.animal
    with writing(by=by, what=what, reason=reason, subject=animal) as book:
        book.keep(statement)
        refuse_too_many_copies(animal)
    return book.entry


def refuse_too_many_copies(animal: Animal) -> None:
    """Refuse statements that need more than two copies at one locus: they cannot all be meant.

    Raises:
        Refused: naming the locus and the statements.
    """
    rows = Statement.objects.live().filter(animal=animal).select_related("trait", "line__locus")
    said = [(one, str(one)) for one in rows.prefetch_related("trait__lines__locus")]
    if problem := too_many_copies(said):
        raise Refused(problem)


def too_many_copies(words: Iterable[tuple[Said, str]]) -> str:
    """Return why some words, each with how it is called, cannot all be meant; empty if they can."""
    # Two sources that say the same of a trait say it of the same copies.
    most: dict[tuple[Any, int], int] = {}
    said: dict[Any, list[str]] = {}
    for word, name in words:
        loci = {line.locus for line in _lines(word)}
        if len(loci) == 1 and (certain := _certain_copies(word)):
            (locus,) = loci
            key = locus, word.trait_id
            most[key] = max(certain, most.get(key, 0))
            said.setdefault(locus, []).append(name)
    copies: Counter[Any] = Counter()
    for (locus, _), certain in most.items():
        copies[locus] += certain
    for locus, count in copies.items():
        if count > 2:
            return (
                f"These need {count} copies at one place ({locus}), and an animal has two: "
                f"{'; '.join(said[locus])}. Ask the source which is meant."
            )
    return ""


def _lines(statement: Said) -> list[Any]:
    if statement.line is not None:
        return [statement.line]
    return [line for line in statement.trait.lines.all() if not line.is_withdrawn]


def _certain_copies(statement: Said) -> int:
    if statement.claim == Claim.DOUBLE:
        return 2
    if statement.claim == Claim.VISUAL:
        return 2 if statement.trait.shown == Shown.RECESSIVE else 1
    return 1 if statement.claim == Claim.CARRIES else 0
