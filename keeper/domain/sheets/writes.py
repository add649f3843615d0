"""Sale sheets: made from standings alone, numbered, frozen and signed as issued."""

import hashlib
import json
import secrets
from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db.models import Max
from django.utils import timezone
from django.utils.formats import date_format

from keeper.discretion import Reader, read_by
from keeper.domain import inference
from keeper.domain.backups import epoch
from keeper.domain.book.writing import Refused, writing
from keeper.domain.pedigree.ancestors import chart, older_ancestors
from keeper.domain.saying.cautions import GENERAL
from keeper.domain.saying.shows import joined
from keeper.domain.sheets import claims as sheet_claims
from keeper.domain.sheets import keys, signing
from keeper.domain.sheets.addresses import address_of, new_code
from keeper.domain.sheets.living import care, picture
from keeper.domain.sheets.queries import Evidence, evidence
from keeper.domain.sheets.reading import reading
from keeper.domain.sources.names import contact_names
from keeper.models import Account, Animal, Contact, DaybookEntry, Sex, Sheet, Word, grouped

# What a buyer types to check a sheet against the book.
_CODE_LENGTH = 8


def draft(
    animal: Animal, *, buyer: Contact | None = None, by: Account, on: date | None = None
) -> dict[str, Any]:
    """Return what a sheet issued now would say, as plain data without its number and code."""
    known = evidence(animal)
    claims = sheet_claims.claims(known)
    on = on or timezone.localdate()
    content = {
        "title": f"Sale sheet of {animal.code}",
        "number": None,
        "numbered": "Sale sheet, not issued",
        "code": "",
        "key": "",
        "address": "",
        "issued": [on.year, on.month, on.day],
        "issuer": by.name,
        "reach": by.reach,
        "buyer": buyer.name if buyer else "",
        "issue_line": _issue_line(on, by, buyer),
        "animal": described(animal),
        "parents": _parents(known),
        "ancestors": older_ancestors(animal),
        "pedigree": chart(animal),
        "origin": _origin(animal),
        "claims": claims,
        "shows": sheet_claims.shows(known),
        "no_claims": "Nothing in the book speaks for any gene on this animal.",
        "disputed": sheet_claims.disputed(known),
        "absent": sheet_claims.absent(known),
        "harm": _harm(known, claims),
        "cautions": _cautions(animal),
        "care": care(animal),
        "photo": picture(animal),
    }
    return content | {"reading": reading(content)}


def issue(
    *, animal: Animal, by: Account, buyer: Contact | None = None, read: str | None = None
) -> tuple[Sheet, DaybookEntry]:
    """Freeze what can be said of an animal now, under the next number.

    `read` is the fingerprint of the draft that was read before, if it was.

    Raises:
        Refused: the animal's record was withdrawn, or what was read is no longer so.
    """
    (sheet,), entry = issue_several(
        animals=[animal], by=by, buyer=buyer, read=None if read is None else [read]
    )
    return sheet, entry


def issue_several(
    *,
    animals: Sequence[Animal],
    by: Account,
    buyer: Contact | None = None,
    read: Sequence[str] | None = None,
) -> tuple[list[Sheet], DaybookEntry]:
    """Freeze what can be said of some animals now, each under a number, in one entry.

    `read` has the fingerprints of the drafts that were read before, if they were.

    Raises:
        Refused: a record was withdrawn, or what was read is no longer so; no sheet is issued then.
    """
    only = animals[0] if len(animals) == 1 else None
    what = f"Issued a sale sheet of {only.code}" if only else f"Issued {len(animals)} sale sheets"
    what += f" for {buyer}" if buyer else ""
    # Worked out ahead, so that nobody waits for it; under the lock only if the book moved on.
    before, told = _last_entry(), [inference.evidence(animal) for animal in animals]
    with writing(by=by, what=what, subject=only) as book:
        stands = _last_entry(before=book.entry) == before
        sheets = []
        for number, animal in enumerate(animals):
            if book.now(animal).is_withdrawn:
                raise Refused(f"The record of {animal} was withdrawn. Restore it first.")
            sheet = _numbered(animal, buyer, by, book.entry)
            if read is not None and fingerprint(sheet.content) != read[number]:
                of = "" if only else f" of {animal}"
                raise Refused(f"The book has changed since you read this{of}. Read it again.")
            sign(sheet, told[number] if stands else inference.evidence(animal))
            book.keep(sheet)
            sheets.append(sheet)
    return sheets, book.entry


def _numbered(animal: Animal, buyer: Contact | None, by: Account, entry: DaybookEntry) -> Sheet:
    # A book that was restored has forgotten numbers: those of its new life bear a mark of it.
    series = epoch.book().series
    sheet = Sheet(series=series, number=_next_number(), code=new_code(_CODE_LENGTH), animal=animal)
    sheet.buyer, sheet.by, sheet.issued_at = buyer, by, entry.at
    sheet.content = draft(animal, buyer=buyer, by=by)
    return sheet


def _last_entry(before: DaybookEntry | None = None) -> int | None:
    """The id of the last entry of the book, or of the one before another."""
    rows = DaybookEntry.objects.order_by("-pk")
    if before is not None:
        rows = rows.filter(pk__lt=before.pk)
    found: int | None = rows.values_list("pk", flat=True).first()
    return found


def sign(sheet: Sheet, evidence: dict[str, Any]) -> None:
    """Give a sheet with its number, day and content what is signed of it, and its signature.

    Called inside `writing`. What is signed says what the sheet says, but names no person beside
    who issued it; for the buyer and for the paper as a whole stand salted digests.

    Raises:
        Refused: the key is not at hand.
    """
    sheet.key, private = keys.for_signing(sheet.issued_at)
    sheet.page_code, sheet.salt = new_code(), secrets.token_hex(32)
    on = date(*sheet.content["issued"])
    head = _head(sheet)
    sheet.content |= head
    record = {
        "format": signing.SHEET,
        "version": signing.VERSION,
        "number": sheet.numbered,
        "code": sheet.page_code,
        "key": sheet.key.fingerprint,
        "issued": on.isoformat(),
        "buyer": signing.salted(sheet.salt, "buyer", sheet.buyer.name) if sheet.buyer else "",
        "paper": signing.salted(sheet.salt, "paper", sheet.content),
        "content": for_anybody(sheet.animal, by=sheet.by, on=on) | head,
        "evidence": evidence,
    }
    sheet.signed = signing.canonical(record)
    sheet.digest = signing.digest(sheet.signed)
    sheet.signature = private.sign(sheet.signed)


def _head(sheet: Sheet) -> dict[str, Any]:
    """What a content says only once it is issued."""
    return {
        "title": f"Sale sheet {sheet.numbered}: {sheet.animal.code}",
        "number": sheet.number,
        "numbered": f"Sale sheet no. {sheet.numbered}",
        "code": f"{sheet.code[:4]}-{sheet.code[4:]}",
        "key": grouped(sheet.key.fingerprint) if sheet.key else "",
        "address": address_of(sheet.page_code or ""),
    }


def for_anybody(animal: Animal, *, by: Account, on: date) -> dict[str, Any]:
    """What a sheet says, told to somebody who may know of no person, beside who issues it."""
    stranger = Reader(people=False, prices=False, names=contact_names)
    with read_by(stranger):
        content: dict[str, Any] = _nameless(draft(animal, by=by, on=on), stranger)
    told = {"issuer": by.name, "reach": by.reach, "issue_line": _issue_line(on, by, None)}
    return content | told


def _nameless(value: Any, reader: Reader) -> Any:
    """Return plain data with “a contact” in place of every name, however deep it lies."""
    if isinstance(value, str):
        return reader.without_names(value)
    if isinstance(value, dict):
        return {key: _nameless(one, reader) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_nameless(one, reader) for one in value]
    return value


def fingerprint(content: dict[str, Any]) -> str:
    """Return a mark of what a content says of the animal, whoever issues it and when."""
    parts = ("animal", "parents", "origin", "claims", "disputed", "absent", "harm", "cautions")
    told = {part: content[part] for part in parts}
    # Sheets issued before these were said have no such fields.
    told |= {part: content.get(part, []) for part in ("shows", "ancestors")}
    said = json.dumps(told, sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()


def withdraw(*, sheet: Sheet, reason: str, by: Account) -> DaybookEntry:
    """Take a sheet back; its number stays taken and what it said stays readable.

    Raises:
        Refused: it was withdrawn already.
    """
    what = f"Withdrew sale sheet {sheet.numbered} of {sheet.animal.code}"
    with writing(by=by, what=what, reason=reason, subject=sheet.animal) as book:
        book.withdraw(sheet, reason=reason)
    return book.entry


def _next_number() -> int:
    """Return the number after the last; whoever issues at the same moment waits for the end."""
    kind = ContentType.objects.get_for_model(Sheet)
    ContentType.objects.select_for_update(no_key=True).get(pk=kind.pk)
    last: int | None = Sheet.objects.aggregate(last=Max("number"))["last"]
    return (last or 0) + 1


def _issue_line(on: date, by: Account, buyer: Contact | None) -> str:
    to = f" for {buyer.name}" if buyer else ""
    return (
        f"Issued on {date_format(on, 'j F Y')} by {by.name}{to}. "
        "It says what the book said on that day and is not changed afterwards."
    )


def described(animal: Animal) -> dict[str, str]:
    """Return which animal it is, in words: code, name, sex, hatch, species."""
    told = animal.get_sex_told_display() if animal.sex_told else "how told not recorded"
    known = animal.sex != Sex.UNKNOWN
    return {
        "code": animal.code,
        "name": animal.name,
        "sex": animal.sex,
        "sex_words": f"{animal.get_sex_display()}, {told}" if known else "sex not known",
        "hatched": _hatched(animal),
        "species": animal.species.name,
        "scientific_name": animal.species.scientific_name,
    }


def _hatched(animal: Animal) -> str:
    if animal.hatched_on:
        return f"hatched {date_format(animal.hatched_on, 'j F Y')}"
    if animal.hatched_year:
        return f"hatched in {animal.hatched_year}, day not known"
    return "hatch date not known"


def _parents(known: Evidence) -> list[dict[str, str]]:
    rows = []
    for parent in known.parents:
        if parent.animal is None:
            rows.append({"role": parent.role, "code": parent.missing, "was": ""})
        else:
            was = sheet_claims.what_it_was(known, parent.animal.pk)
            rows.append({"role": parent.role, "code": parent.animal.code, "was": was})
    return rows


def _origin(animal: Animal) -> str:
    if animal.clutch is not None:
        return f"Hatched here, clutch {animal.clutch.code}."
    came = f" on {date_format(animal.acquired_on, 'j F Y')}" if animal.acquired_on else ""
    source = f"Came from {animal.source}{came}." if animal.source else ""
    if animal.is_founder:
        source = f"Parents not recorded. {source}".strip()
    return source


def _harm(known: Evidence, claims: list[dict[str, Any]]) -> list[dict[str, str]]:
    """What is known to be wrong with what it shows, and with what its young may show."""
    carries = {row["trait_id"] for row in claims}
    shows = {row["trait_id"] for row in claims if row["word"] == Word.VISUAL}
    doubted = sheet_claims.disputed_ids(known)
    looks = {one.look.pk: one for one in known.shows if not one.is_named}
    rows = []
    for trait in known.harms:
        look, combined = looks.get(trait.pk), known.combined.get(trait.pk, ())
        if trait.pk in shows or (look is not None and look.is_certain):
            applies = "This animal shows it."
        elif trait.pk in carries:
            applies = "It may carry it; it concerns animals that show it."
        elif trait.pk in doubted or (look is not None and look.disputed):
            applies = "Whether this animal has it is disputed."
        elif look is not None:
            applies = f"This animal may show it: {look.figure}."
        elif trait.base_id in carries | doubted:
            applies = f"It concerns young with two copies of {trait.base}."
        elif any(one.pk in carries | doubted for one in combined):
            genes = joined([str(one) for one in combined])
            applies = f"It concerns young that show it, by copies of {genes}."
        else:
            continue
        row = {"trait": trait.name, "text": trait.harm, "source": trait.harm_source}
        rows.append(row | {"applies": applies})
    return rows + _losses(known, carries | doubted)


def _losses(known: Evidence, carries: set[int]) -> list[dict[str, str]]:
    return [
        {
            "trait": str(one),
            "text": "Such eggs do not hatch." if one.survival == 0 else "Fewer such eggs hatch.",
            "source": one.source or "not named",
            "applies": "It concerns this animal's young.",
        }
        for one in known.survivals
        if one.one.trait_id in carries
    ]


def _cautions(animal: Animal) -> list[dict[str, str]]:
    rows = [{"text": one.text, "source": one.source} for one in GENERAL]
    own = " ".join(animal.species.cautions.split())
    return [{"text": own, "source": ""}, *rows] if own else rows
