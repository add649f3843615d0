"""Reports of crosses: written of this book's own, and brought in from others.

A report that was brought in is a word on two lines like any other, and weighs what its crosses say
times the trust in whoever signed it. Crosses that count already, in this book or by another
report, are taken out of it before it is weighed.
"""

import base64
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from keeper.domain import inference
from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.lines.queries import in_order
from keeper.domain.sheets import keys, signing
from keeper.domain.travel import files
from keeper.domain.travel.signers import signer
from keeper.models import Account, Animal, Clutch, Contact, DaybookEntry, Line, PairWord, SigningKey

CROSSES = "keptlines-crosses"
_NONE = "Nothing was brought in"
# So fine that no figure can tell it from the float; chances are kept as text of some length.
_FINEST = 10**15


class Report(files.SignedFile):
    """A signed report of crosses."""

    @property
    def told(self) -> dict[str, Any]:
        """What it tells."""
        found: dict[str, Any] = self.record["told"]
        return found

    @property
    def lines(self) -> tuple[str, str]:
        """Its two lines, by trait, code and name."""
        first, second = (
            f"{one['trait']} {one['allele']} {one['name']}".strip() for one in self.told["lines"]
        )
        return first, second


@dataclass(frozen=True)
class Weighed:
    """What a report says here.

    Attributes:
        stated: the chance of one gene that it states, from even.
        here: the same without crosses that count already.
        left_out: these, as (showed, looked) of each.
        kin: how many animals it shares with this book or with other reports.
    """

    stated: float
    here: float
    left_out: tuple[tuple[int, int], ...]
    kin: int


def write(*, one: Line, other: Line, by: Account) -> tuple[bytes, DaybookEntry]:
    """Write a report of this book's crosses between two lines, signed.

    Raises:
        Refused: the pair is not open, nothing was bred of both, or the key is not at hand.
    """
    try:
        told = inference.cross_report(one, other)
    except inference.Unanswerable as why:
        raise Refused(str(why)) from why
    species = one.trait.species
    what = f"Wrote a signed report of crosses between {one} and {other.code}"
    with writing(by=by, what=what, subject=other, of_records=False) as book:
        key, private = keys.for_signing(book.entry.at)
        record = {
            "format": CROSSES,
            "version": 1,
            "key": key.fingerprint,
            "issued": timezone.localdate().isoformat(),
            "issuer": by.name,
            "reach": by.reach,
            "species": {"name": species.name, "scientific_name": species.scientific_name},
            "look": one.trait.name,
            "told": told,
        }
        signed = signing.canonical(record)
        data = files.written(signed, private.sign(signed), bytes(key.public))
    return data, book.entry


def opened(data: bytes) -> Report:
    """Return the report that a file holds, if its signature holds.

    Raises:
        Refused: it is none, or was altered.
    """
    signed, signature, public = files.checked(data)
    try:
        record = signing.read(signed, form=CROSSES)
    except signing.Unreadable as error:
        raise Refused(
            f"This is no report of crosses: {error}. {_NONE}. Ask for it again."
        ) from error
    if record.get("key") != signing.fingerprint(public):
        raise Refused(f"It was signed by another key than it names. {_NONE}. Ask for it again.")
    if any(_validator().iter_errors(record)):
        raise Refused(f"What was signed is not as a report has it. {_NONE}. Ask for it again.")
    files.day_of(record)
    return Report(signed, signature, public, record)


def refuse_known(report: Report) -> None:
    """Refuse a report of this book, and one that is in it.

    Raises:
        Refused: it is one of these.
    """
    known = PairWord.objects.filter(digest=report.digest).first()
    if known is not None:
        raise Refused(
            "This report is in the book already. Look at the page of its lines, and restore it "
            "there if it was withdrawn."
        )
    if SigningKey.objects.filter(fingerprint=report.fingerprint).exists():
        raise Refused("This book signed the report itself. Send it to others: here it is known.")


def weighed(report: Report, one: Line, other: Line, *, before: int | None = None) -> Weighed:
    """Return what a report says of two lines of this book, crosses that count already taken out.

    They count by the book itself, and by every other report; `before`: by those that came before
    this word.

    Raises:
        Refused: nothing can be made of it here.
    """
    counted = _counted(report, one, other, before)
    told = report.told
    try:
        found = inference.read_report(told, counted=counted)
    except inference.Unusable as fault:
        raise Refused(
            f"This report cannot be used here: {fault}. {_NONE}. Ask for it again."
        ) from fault
    crosses = {row["clutch"]: (row["showed"], row["looked"]) for row in told["crosses"]}
    return Weighed(
        told["for_one"],
        found.for_one,
        tuple(crosses[label] for label in found.left_out),
        len(counted),
    )


def signers(report: Report) -> Iterable[Contact]:
    """Contacts whose reports were signed with the same key."""
    those = PairWord.objects.live().filter(fingerprint=report.fingerprint)
    return Contact.objects.live().filter(pk__in=those.values("source")).order_by("name")


def bring_in(
    *,
    report: Report,
    one: Line,
    other: Line,
    source: Contact | None,
    name: str = "",
    trust: Fraction = Fraction(1),
    key_compared: bool = False,
    by: Account,
) -> DaybookEntry:
    """Bring a report in as a word on two lines.

    Raises:
        Refused: it is known, its key was not compared, or nothing can be made of it here.
    """
    one, other = in_order(one, other)
    what = f"Brought in a signed report of crosses between {one} and {other.code}"
    with writing(by=by, what=what, subject=other) as book:
        refuse_known(report)
        source = signer(
            book, of="report", printed="the one that they print on their sheets",
            known=list(signers(report)), source=source, name=name,
            reach=str(report.record["reach"]), trust=trust, key_compared=key_compared,
        )  # fmt: skip
        found = weighed(report, one, other)
        one_gene, weight = _leaning(found)
        book.keep(
            PairWord(
                one=one,
                other=other,
                one_gene=one_gene,
                source=source,
                weight=weight,
                on=date.fromisoformat(report.record["issued"]),
                signed=base64.b64encode(report.signed).decode("ascii"),
                signature=base64.b64encode(report.signature).decode("ascii"),
                public=base64.b64encode(report.public).decode("ascii"),
                fingerprint=report.fingerprint,
                digest=report.digest,
                report={
                    "engine": report.told["engine"],
                    "stated": found.stated,
                    "here": found.here,
                    "crosses": [[row["showed"], row["looked"]] for row in report.told["crosses"]],
                    "left_out": [list(row) for row in found.left_out],
                    "identities": sorted(report.told["identities"].values()),
                },
            )
        )
    return book.entry


def _leaning(found: Weighed) -> tuple[bool, str]:
    """Whether a report speaks for one gene, and how far."""
    lean = Fraction(2 * found.here - 1).limit_denominator(_FINEST)
    return lean >= 0, str(abs(lean))


def recount(book: Writing, word: PairWord) -> None:
    """Weigh the reports anew that came after one that was withdrawn or counts again.

    What it shares with a later one counts there while it is gone. One whose signer was erased
    stays as it was weighed.

    Raises:
        Refused: nothing can be made of one of them here.
    """
    if not word.is_report:
        return
    later = PairWord.objects.live().filter(one=word.one_id, other=word.other_id, pk__gt=word.pk)
    for one in later.exclude(digest="").exclude(signed="").order_by("pk"):
        signed, signature, public = map(base64.b64decode, (one.signed, one.signature, one.public))
        report = Report(signed, signature, public, signing.read(signed, form=CROSSES))
        found = weighed(report, one.one, one.other, before=one.pk)
        left_out = [list(row) for row in found.left_out]
        if left_out != (one.report or {}).get("left_out"):
            one.one_gene, one.weight = _leaning(found)
            one.report = {**(one.report or {}), "here": found.here, "left_out": left_out}
            book.keep(one)


def _counted(report: Report, one: Line, other: Line, before: int | None) -> set[str]:
    """Who of a report is in this book too, or in another report on the two lines."""
    told = set(report.told["identities"].values())
    found: set[str] = set()
    for model in (Clutch, Animal):
        own = model.objects.live().filter(identity__in=told).values_list("identity", flat=True)
        found |= {str(identity) for identity in own}
    reports = PairWord.objects.live().filter(one=one, other=other).exclude(digest="")
    if before is not None:
        reports = reports.filter(pk__lt=before)
    for others in reports.values_list("report", flat=True):
        found |= told & set(others["identities"])
    return found


@cache
def _validator() -> Any:
    from jsonschema import Draft202012Validator

    schema = Path(settings.ROOT) / "fixtures" / "papers" / "crosses.schema.json"
    return Draft202012Validator(json.loads(schema.read_text(encoding="utf-8")))
