"""Species, contacts, traits and the combinations that show them: entered and changed."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import TypeVar

from django.core.exceptions import ValidationError

from keeper.domain.book.writing import Refused, about, writing
from keeper.domain.register.placing import Place, settle
from keeper.models import (
    Account,
    Chromosome,
    Condition,
    Contact,
    DaybookEntry,
    Dose,
    Line,
    Locus,
    Record,
    Showing,
    Shown,
    Species,
    Trait,
)

Kept = TypeVar("Kept", bound=Record)


def keep_species(*, species: Species, by: Account, reason: str = "") -> DaybookEntry:
    """Add a species or change it.

    Raises:
        ValidationError: it is not in order, or takes the sex chromosomes from loci that need them.
    """
    named = f"the species {species}"
    return keep_one(record=species, named=named, by=by, reason=reason, check=_check_sexes)


def _check_sexes(species: Species) -> None:
    if not species.pk or species.has_sex_chromosomes:
        return
    loci = Locus.objects.live().filter(species=species)
    on_sex = loci.exclude(chromosome=Chromosome.AUTOSOME).first()
    if on_sex is not None:
        raise ValidationError(
            {
                "sex_determination": (
                    f"The locus {on_sex} sits on a sex chromosome here. Move it first."
                )
            }
        )


def keep_contact(*, contact: Contact, by: Account, reason: str = "") -> DaybookEntry:
    """Add a contact or change it; how far its word is taken moves what it said."""
    return keep_one(record=contact, named=f"the contact {contact}", by=by, reason=reason)


def keep_one(
    *,
    record: Kept,
    named: str,
    by: Account,
    reason: str = "",
    check: Callable[[Kept], None] | None = None,
) -> DaybookEntry:
    """Write one record in an entry of its own: "Added …" or "Changed …".

    Raises:
        ValidationError: it is not in order, or `check` says so.
    """
    verb = "Changed" if record.pk else "Added"
    with writing(by=by, what=f"{verb} {named}", reason=reason) as book:
        if check is not None:
            check(record)
        book.keep(record)
        about(book.entry, record)
    return book.entry


def add_trait(
    *,
    trait: Trait,
    hides: Iterable[Trait] = (),
    line: Line | None = None,
    place: Place | None = None,
    by: Account,
) -> DaybookEntry:
    """Add a trait together with its first line.

    Raises:
        ValidationError: trait or line is not in order, or a trait that needs a line has none.
    """
    needs_line = trait.shown not in {Shown.EVERY, Shown.RULES}
    if needs_line and line is None:
        raise ValidationError({"code": "Name its first line: every such gene in the book has one."})
    with writing(by=by, what=f"Added the trait {trait}") as book:
        book.keep(trait, hides=hides)
        about(book.entry, trait)
        if line is not None:
            line.trait = trait
            settle(book, line=line, place=place or Place())
    return book.entry


def change_trait(
    *, trait: Trait, hides: Iterable[Trait], by: Account, reason: str = ""
) -> DaybookEntry:
    """Change a trait. Combinations that no longer count are withdrawn.

    Raises:
        ValidationError: it is not in order, or others rest on what it was.
    """
    hidden = list(hides)
    if trait in hidden:
        raise ValidationError({"hides": "A trait does not hide itself. Take it out."})
    with writing(by=by, what=f"Changed the trait {trait}", reason=reason, subject=trait) as book:
        _check_kind(trait)
        if trait.shown != Shown.RULES:
            for showing in Showing.objects.live().filter(trait=trait):
                for part in (*Condition.objects.live().filter(showing=showing), showing):
                    book.withdraw(part, reason="shown in another way now")
        before = set(trait.hides.all())
        if before == set(hidden):
            book.keep(trait)
        else:
            # In two steps: taking back looks at what stood before the first of them, and one
            # change of a list leaves several rows in the history.
            book.keep(trait, hides=before)
            book.keep(trait, hides=hidden)
    return book.entry


def _check_kind(trait: Trait) -> None:
    double = Trait.objects.live().filter(base=trait).first()
    if double is not None and trait.shown != Shown.SINGLE:
        raise ValidationError({"shown": f"{double} is its double form: change that one first."})
    has_lines = Line.objects.live().filter(trait=trait).exists()
    if has_lines and trait.shown == Shown.EVERY:
        raise ValidationError(
            {"shown": "A double form takes the lines of its base: withdraw its own first."}
        )
    if not has_lines and trait.shown not in {Shown.EVERY, Shown.RULES}:
        raise ValidationError({"shown": "It has no line yet: add one first."})


@dataclass(frozen=True)
class Part:
    """One part of a combination: so many copies of these lines, which share a locus."""

    dose: str
    lines: tuple[Line, ...]


def keep_showing(
    *, showing: Showing, parts: Sequence[Part], by: Account, reason: str = ""
) -> DaybookEntry:
    """Add a combination that shows a trait, or change it.

    Raises:
        Refused: the trait is not shown by combinations.
        ValidationError: a part names no line or lines of several loci, or no animal can meet all.
    """
    trait = showing.trait
    verb = "Changed" if showing.pk else "Added"
    what = f"{verb} a combination that shows {trait}"
    with writing(by=by, what=what, reason=reason, subject=trait) as book:
        if book.now(trait).shown != Shown.RULES:
            raise Refused(f"{trait} is not shown by combinations. Change how it is shown first.")
        _check_parts(trait, parts)
        if showing.pk:
            book.refuse_overtaken(showing)
        book.keep(showing)
        for condition in Condition.objects.live().filter(showing=showing):
            book.withdraw(condition, reason="the combination was changed")
        for part in parts:
            book.keep(Condition(showing=showing, dose=part.dose), lines=part.lines)
    return book.entry


def _check_parts(trait: Trait, parts: Sequence[Part]) -> None:
    by_locus: dict[int, list[Part]] = {}
    for number, part in enumerate(parts, 1):
        loci = {line.locus_id for line in part.lines}
        if len(loci) != 1:
            said = "names no line." if not loci else "names lines of several loci: one part each."
            raise ValidationError(f"Part {number} {said}")
        if {line.locus.species_id for line in part.lines} != {trait.species_id}:
            raise ValidationError(
                f"Part {number} names a line of another species. Choose one of this species."
            )
        by_locus.setdefault(loci.pop(), []).append(part)
    if all(part.dose == Dose.ABSENT for part in parts):
        raise ValidationError("Name at least one copy of a line that must be there.")
    for locus, there in by_locus.items():
        if not _possible(locus, there):
            names = " and ".join(str(line) for part in there for line in part.lines)
            raise ValidationError(
                f"No animal can meet these parts at once: {names}. Change one of them."
            )


def _possible(locus: int, parts: Sequence[Part]) -> bool:
    """Whether some pair of alleles meets all parts that are about their locus."""
    alleles = [0, *Line.objects.live().filter(locus=locus).values_list("pk", flat=True)]
    return any(
        all(_meets(pair, part) for part in parts)
        for pair in combinations_with_replacement(alleles, 2)
    )


def _meets(pair: tuple[int, int], part: Part) -> bool:
    named = {line.pk for line in part.lines}
    copies = sum(allele in named for allele in pair)
    accepted = {Dose.SINGLE: {1}, Dose.EVERY: {2}, Dose.ANY: {1, 2}, Dose.ABSENT: {0}}
    return copies in accepted[Dose(part.dose)]
