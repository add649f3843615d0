"""Laboratories with their rates of error, and the results they report on animals."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, cast

from django.core.exceptions import ValidationError
from django.db.models import Q

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.register.writes import keep_one
from keeper.domain.sources.writes import attach
from keeper.models import Account, Contact, DaybookEntry, Laboratory, LabTest, Paper


@dataclass
class Report:
    """The scan of a laboratory's report, as it was sent.

    Attributes:
        scan: the file.
        given_by: who handed it over; None: the laboratory itself.
    """

    scan: Any
    given_by: Contact | None = None


def keep_laboratory(*, laboratory: Laboratory, by: Account, reason: str = "") -> DaybookEntry:
    """Add a laboratory or change it; its rates of error move what its results say.

    Raises:
        ValidationError: its name is taken, or it is wrong so often that a result tells nothing.
    """
    _refuse_what_tells_nothing(laboratory)
    named = f"the laboratory {laboratory}"
    return keep_one(record=laboratory, named=named, by=by, reason=reason)


def _refuse_what_tells_nothing(laboratory: Laboratory) -> None:
    if Fraction(str(laboratory.misses)) + Fraction(str(laboratory.mistakes)) >= 1:
        raise ValidationError(
            {
                "misses": (
                    "With the mistakes it makes 100 % or more: a result would tell nothing. "
                    "Lower one."
                )
            }
        )


def withdraw_laboratory(*, laboratory: Laboratory, by: Account, reason: str) -> DaybookEntry:
    """Take a laboratory out of the book's account.

    Raises:
        Refused: results that count are of it.
    """
    what = f"Withdrew the laboratory {laboratory}"
    with writing(by=by, what=what, reason=reason, subject=laboratory) as book:
        _refuse_used(laboratory)
        book.withdraw(laboratory, reason=reason)
    return book.entry


def _refuse_used(laboratory: Laboratory) -> None:
    results: int = LabTest.objects.live().filter(laboratory=laboratory).count()
    if results:
        counted = "a result that counts is" if results == 1 else f"{results} results that count are"
        raise Refused(f"{laboratory} is in use: {counted} of it. Withdraw what is wrong first.")


def restore_laboratory(*, laboratory: Laboratory, by: Account) -> DaybookEntry:
    """Let a laboratory be chosen again.

    Raises:
        ValidationError: its name is taken by now.
    """
    what = f"Restored the laboratory {laboratory}"
    with writing(by=by, what=what, subject=laboratory) as book:
        book.restore(laboratory)
    return book.entry


def keep_test(
    *,
    test: LabTest,
    by: Account,
    laboratory: Laboratory | None = None,
    report: Report | None = None,
    reason: str = "",
) -> DaybookEntry:
    """Save a result that is new or was changed in memory; what cannot be true with it is kept too.

    `laboratory` is one new to the book, `report` a scan of its report to keep among the papers.

    Raises:
        ValidationError: the result, the laboratory or the paper is not in order.
        Refused: the scan is neither a PDF nor a picture.
    """
    if laboratory is not None:
        _refuse_what_tells_nothing(laboratory)
        test.laboratory = laboratory
    verb = "Changed" if test.pk else "Added"
    what = f"{verb} the result: {test}"
    with writing(by=by, what=what, reason=reason, subject=test.animal) as book:
        if laboratory is not None:
            test.laboratory = book.keep(laboratory)
        if report is not None:
            test.paper = _paper(book, test, report)
        is_new = test.number != test.as_read.get("number")
        book.keep(test)
        book.ask(_known_number(test) if is_new else ())
    return book.entry


def _known_number(test: LabTest) -> Iterator[str]:
    """Yield if the book has the number already: of another animal, or of this line on this one.

    One report may tell of several lines of one animal.
    """
    if not test.number:
        return
    same = LabTest.objects.live().filter(
        laboratory=test.laboratory, number__iexact=test.number.strip()
    )
    same = same.exclude(pk=test.pk).exclude(~Q(line=test.line), animal=test.animal)
    for one in same.select_related("animal", "line__trait").order_by("pk")[:1]:
        yield (
            f"The book has {test.number} of {test.laboratory} already: "
            f"{one.get_found_display()} of {one.line} in {one.animal}."
        )


def _paper(book: Writing, test: LabTest, report: Report) -> Paper:
    """Keep the scan as a paper, of whoever handed it over or of the laboratory itself."""
    paper = Paper(animal=test.animal, dated=test.on, says=f"Report of {test.laboratory}")
    attach(paper, report.scan)
    paper.source = report.given_by or _as_contact(book, test.laboratory)
    return book.keep(paper)


def _as_contact(book: Writing, laboratory: Laboratory) -> Contact:
    """The contact of a laboratory's name, made when its first report is kept."""
    known = Contact.objects.live().filter(name=laboratory.name).order_by("pk").first()
    if known is not None:
        return cast("Contact", known)
    return book.keep(Contact(name=laboratory.name, notes="A laboratory."))
