"""Telling the holder of a sheet what the book says since, and keeping that they were told."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date

from django.utils.formats import date_format

from keeper.domain.book.writing import Refused, writing
from keeper.domain.sheets.notices import Kind, Notice, notice_of
from keeper.domain.sheets.otherwise import Otherwise, compared
from keeper.models import Account, Contact, DaybookEntry, How, Sheet, Told

_MEANS = {
    Kind.PROVEN: "it is proven by now",
    Kind.RULED_OUT: "it does not carry it",
    Kind.LOWER: "the chance is lower than the sheet says",
    Kind.HIGHER: "the chance is higher than the sheet says",
    Kind.LINE: "the line is another than the sheet says",
    Kind.DISPUTED: "our records contradict each other by now, so nothing is claimed of it",
    Kind.SETTLED: "the records that contradicted each other were put right",
}


@dataclass(frozen=True)
class Said:
    """What a holder is told of a gene: how it differs, what the sheet says, and what is so now."""

    name: str
    kind: Kind
    then: str
    now: str


def holder(sheet: Sheet) -> Contact | None:
    """Return who holds the animal of a sheet, as far as the book knows."""
    return sheet.buyer


def message(notice: Notice, differs: Sequence[Said]) -> str:
    """Return what to send to whoever holds the animal; it says no more than a sheet would."""
    sheet = notice.sheet
    who = holder(sheet)
    issued = date_format(date(*sheet.content["issued"]), "j F Y")
    lines = [
        f"Hello {who}," if who else "Hello,",
        "",
        f"on {issued} I issued sale sheet no. {sheet.numbered} of {sheet.animal.code}. "
        "Later evidence changes what it says:",
        "",
        *(f"- {_sentence(one)}" for one in differs),
        "",
        "The sheet itself stays as it was issued. I am glad to issue a new one.",
    ]
    address = sheet.content.get("address", "")
    if address:
        lines += ["", f"The page of the sheet: {address}"]
    return "\n".join([*lines, "", sheet.by.name])


def differs(notice: Notice, *, by: Account) -> list[Said]:
    """Return what a notice is about in the words of paper, a gene each."""
    papers = {one.name: one for one in compared(notice.sheet, by=by)}
    kinds: dict[str, Kind] = {}
    for one in notice.differences:
        kinds.setdefault(one.trait, one.kind)
    found = []
    for trait, kind in kinds.items():
        paper = papers.get(trait) or Otherwise(trait, "nothing said", "nothing said")
        found.append(Said(trait, kind, paper.then, paper.now))
    return found


def _sentence(one: Said) -> str:
    if one.then == one.now:
        return f"{one.name}: it is again as the sheet says, {one.now}."
    return f"{one.name}: {_MEANS[one.kind]}. The sheet says: {one.then}. Today: {one.now}."


def tell(
    *, sheet: Sheet, how: How, on: date, message: str, note: str, upto: int, by: Account
) -> DaybookEntry:
    """Keep that the holder of a sheet was told; or that they cannot be.

    `upto` is the last entry of the notice that was read.

    Raises:
        Refused: nothing is left to tell, or more has moved since that was read.
    """
    told = Told(sheet=sheet, how=how, on=on, message=message, note=note)
    what = f"Told what differs from {sheet}" if how != How.NOT else f"Gave up telling of {sheet}"
    with writing(by=by, what=what, subject=sheet.animal) as book:
        notice = notice_of(book.now(sheet))
        if notice is None:
            raise Refused(
                "Nothing is left to tell of this sheet: it was told, withdrawn, or moved back "
                "meanwhile. Look at the sheet."
            )
        if notice.upto != upto:
            raise Refused("More has moved since you opened this. Read what differs now, then send.")
        told.upto_id = notice.upto
        told.said = [asdict(one) for one in differs(notice, by=by)]
        book.keep(told)
    return book.entry
