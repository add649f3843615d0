"""A signed paper brought in: the animal with its papers, or what one of ours bred elsewhere.

Everything is one entry, checked inside the writer's lock against the book as it is then, and taken
back whole.
"""

import base64
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from keeper.domain import inference
from keeper.domain.book.writing import Refused, Writing, call, writing
from keeper.domain.register.placing import Place, settle
from keeper.domain.register.shares import share_of_another
from keeper.domain.travel.files import PaperFile
from keeper.domain.travel.plans import (
    LEAVE,
    NEW,
    Arrival,
    LineAsked,
    TraitAsked,
    arrival,
    known_digests,
)
from keeper.domain.travel.signers import signer
from keeper.models import (
    Account,
    Animal,
    Brings,
    Claim,
    Contact,
    DaybookEntry,
    Line,
    Locus,
    Paper,
    Record,
    Sex,
    SignedPaper,
    Species,
    Statement,
    Trait,
)

# What is chosen for a trait or a line: a row of this book, `NEW` or `LEAVE`.
Choice = Record | str


@dataclass
class Choices:
    """What the keeper says of a paper.

    Attributes:
        source: whose it is; `name` and `trust` are of a contact that is new.
        key_compared: that the fingerprint is the one on the printed paper.
        traits, lines: what each is in this book; lines by trait and code.
    """

    on: date
    code: str = ""
    source: Contact | None = None
    name: str = ""
    trust: Fraction = Fraction(1)
    key_compared: bool = False
    species: Species | None = None
    traits: Mapping[str, Choice] = field(default_factory=dict)
    lines: Mapping[tuple[str, str], Choice] = field(default_factory=dict)


def bring_in(*, paper: PaperFile, choices: Choices, by: Account) -> DaybookEntry:
    """Bring a paper in.

    Raises:
        Refused: it is in the book already, its key was not compared, or what it says does not fit.
        ValidationError: a record is not in order.
    """
    code = paper.content["animal"]["code"]
    with writing(by=by, what=f"Brought in the signed paper of {code}") as book:
        found = arrival(paper, species=choices.species)
        source = signer(
            book, of="paper", printed="the one on the printed paper", known=found.signers,
            source=choices.source, name=choices.name, reach=paper.content["reach"],
            trust=choices.trust, key_compared=choices.key_compared,
        )  # fmt: skip
        if found.there is None or found.is_new:
            animal = _animal(book, found, source, choices)
            call(book.entry, f"Brought in {animal} with its signed papers")
        else:
            animal = book.now(found.there)
            what = "newer papers" if found.brings == Brings.ANIMAL else "what it bred elsewhere"
            call(book.entry, f"Brought in {what} of {animal}, signed")
        _withdraw_earlier(book, found)
        signed = book.keep(_signed(found, source, animal, choices.on))
        lines = _lines(book, found, choices)
        told = _told(found, lines, animal)
        for one in _statements(told, lines.values(), signed):
            book.keep(one)
        book.keep(_in_words(found, signed))
    return book.entry


def _animal(book: Writing, found: Arrival, source: Contact, choices: Choices) -> Animal:
    told = found.paper.content["animal"]
    if found.there is not None:  # its arrival was taken back
        animal = book.now(found.there)
        book.restore(animal)
    else:
        animal = Animal(identity=found.paper.evidence["identity"], species=found.species)
        animal.name, animal.sex = str(told["name"])[:60], Sex(found.paper.evidence["sex"])
    animal.code = choices.code.strip() or str(told["code"])
    animal.source, animal.acquired_on = source, choices.on
    if animal.sex != Sex.UNKNOWN:
        animal.sex_told = "stated"
    animal.hatched_on = _day(found.paper.evidence["hatched_on"])
    animal.hatched_year = found.paper.evidence["hatched_year"] or None
    return book.keep(animal)


def _day(told: str) -> date | None:
    try:
        return date.fromisoformat(told) if told else None
    except ValueError as error:
        raise Refused(
            f"Its hatch day, {told}, is none. Nothing was brought in. Ask its signer."
        ) from error


def _withdraw_earlier(book: Writing, found: Arrival) -> None:
    earlier = found.newer_than
    if earlier is None:
        return
    if found.paper.record["issued"] < _issued(earlier):
        raise Refused(
            f"This paper is older than the one that {earlier.animal} has from its signer. Nothing "
            "was brought in. Take the newer one back first if this one shall count."
        )
    for one in Statement.objects.live().filter(signed=earlier):
        book.withdraw(one, reason="newer papers came")
    book.withdraw(earlier, reason="newer papers came")


def _issued(paper: SignedPaper) -> str:
    from keeper.domain.sheets.signing import Unreadable, read

    try:
        return str(read(paper.signed_bytes)["issued"])
    except Unreadable:  # whoever signed it was erased
        return ""


def _signed(found: Arrival, source: Contact, animal: Animal, on: date) -> SignedPaper:
    paper = found.paper
    return SignedPaper(
        source=source,
        animal=animal,
        brings=found.brings,
        signed=base64.b64encode(paper.signed).decode("ascii"),
        signature=base64.b64encode(paper.signature).decode("ascii"),
        public=base64.b64encode(paper.public).decode("ascii"),
        fingerprint=paper.fingerprint,
        digest=paper.digest,
        on=on,
    )


# --- traits and lines ----------------------------------------------------------------------------


def _lines(book: Writing, found: Arrival, choices: Choices) -> dict[inference.Allele, Line]:
    """Which line each allele of the paper is; those that are new here are added."""
    lines: dict[inference.Allele, Line] = {}
    added: dict[tuple[int, str], Locus] = {}
    for asked in found.traits:
        trait = choices.traits.get(asked.name, asked.match or LEAVE)
        if trait == LEAVE:
            continue
        of = _new_trait(book, asked, found.species) if trait == NEW else trait
        if not isinstance(of, Trait) or of.species_id != found.species.pk:
            raise Refused(f"Say what {asked.name} is in this book: a trait of {found.species}.")
        for one in asked.lines:
            line = choices.lines.get(one.key, one.match or LEAVE)
            if line == LEAVE:
                continue
            if line == NEW:
                line = _new_line(book, of, one, added)
            if not isinstance(line, Line) or line.trait_id != of.pk:
                raise Refused(f"Say what {one.said} is in this book: a line of {of}.")
            if line in lines.values():
                raise Refused(f"Two lines of the paper were said to be {line}. Keep them apart.")
            lines |= dict.fromkeys(one.alleles, line)
    return lines


def _new_trait(book: Writing, asked: TraitAsked, species: Species) -> Trait:
    if asked.shown in ("every", "rules"):
        raise Refused(
            f"{asked.name} shows by combinations, which a paper does not hold. Add it to the "
            "register first, or leave it out."
        )
    return book.keep(Trait(species=species, name=asked.name, shown=asked.shown))


def _new_line(
    book: Writing, trait: Trait, asked: LineAsked, added: dict[tuple[int, str], Locus]
) -> Line:
    """Add a line; at the locus of another that is new too where the paper holds them for one."""
    line = Line(trait=trait, code=asked.key[1], name=asked.name)
    if not asked.name and Line.objects.live().filter(trait=trait).exists():
        line.name = asked.key[1]
    line.share = share_of_another(trait)
    places = {(number, locus) for number, locus, _ in asked.alleles}
    locus = next((added[one] for one in places if one in added), None)
    settle(book, line=line, place=Place(locus=locus))
    added |= dict.fromkeys(places, line.locus)
    return line


# --- what it tells -------------------------------------------------------------------------------


def _told(
    found: Arrival, lines: Mapping[inference.Allele, Line], animal: Animal
) -> list[inference.PartTold]:
    try:
        return inference.told_by(
            found.paper.evidence,
            lines,
            found.species,
            bred=found.brings == Brings.RESULTS,
            known=known_digests(animal),
        )
    except inference.Unusable as fault:
        raise Refused(
            f"This does not fit the book: {fault}. Nothing was brought in. Leave those lines out, "
            "or change where they sit in the register."
        ) from fault


def _statements(
    told: Iterable[inference.PartTold], lines: Iterable[Line], signed: SignedPaper
) -> Iterable[Statement]:
    """One statement for each trait of which something is told."""
    by_pk = {line.pk: line for line in lines}
    claim = Claim.PAPERS if signed.brings == Brings.ANIMAL else Claim.RESULTS
    for part in told:
        rows = [[repr(weight), {str(pk): n for pk, n in copies}] for weight, copies in part.rows]
        carried = {pk for weight, copies in part.rows if weight for pk, n in copies if n}
        if claim == Claim.RESULTS:
            carried = set(part.lines)
        for trait in sorted({by_pk[pk].trait_id for pk in carried}):
            of = [pk for pk in part.lines if by_pk[pk].trait_id == trait]
            one = Statement(animal=signed.animal, trait_id=trait, claim=claim, source=signed.source)
            one.signed, one.on, one.told = signed, signed.on, {"of": of, "rows": rows}
            yield one


def _in_words(found: Arrival, signed: SignedPaper) -> Paper:
    """What the sheet says in words, as a document of its source: nothing of it is lost."""
    content: dict[str, Any] = found.paper.content
    said = [f"{content['numbered']}, signed with the key {signed.fingerprint}."]
    for row in content["claims"]:
        lines = " / ".join(row.get("lines", ())) or row.get("line_note", "")
        said.append(f"{row['trait']}{f', {lines}' if lines else ''}: {row['words']}.")
    said += [f"Disputed, nothing claimed: {name}." for name in content.get("disputed", ())]
    issued = date.fromisoformat(found.paper.record["issued"])
    return Paper(animal=signed.animal, source=signed.source, dated=issued, says="\n".join(said))
