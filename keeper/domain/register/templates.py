"""A trait added by one of the templates: every row that it needs, in one entry."""

from dataclasses import dataclass, field
from fractions import Fraction

from keeper.domain.book.writing import Writing, about, writing
from keeper.domain.register.loci import Beside, settle_beside
from keeper.domain.register.placing import Place, settle
from keeper.models import Account, DaybookEntry, Line, Survival, Trait


@dataclass(frozen=True)
class NewTrait:
    """What a template asks for, as rows that are not kept yet.

    Attributes:
        trait, line: the trait and its first line.
        place: where the line sits.
        hides: what the trait hides.
        double: its double form, if two copies have a name of their own.
        double_hides: what the double form hides.
        beside: the locus that the line's own is linked to.
        two_hatch: how many eggs with two copies hatch, relative to the others; None: as many.
        two_source: who says so.
    """

    trait: Trait
    line: Line
    place: Place = field(default_factory=Place)
    hides: tuple[Trait, ...] = ()
    double: Trait | None = None
    double_hides: tuple[Trait, ...] = ()
    beside: Beside | None = None
    two_hatch: Fraction | None = None
    two_source: str = ""


def add_from_template(*, new: NewTrait, by: Account) -> DaybookEntry:
    """Add a trait with its line and everything else that a template has asked for.

    Raises:
        ValidationError: a row is not in order.
        Refused: the line cannot sit there.
    """
    what = f"Added the trait {new.trait}"
    if new.double is not None:
        what += f" and its double form {new.double}"
    with writing(by=by, what=what) as book:
        book.keep(new.trait, hides=new.hides)
        about(book.entry, new.trait)
        new.line.trait = new.trait
        settle(book, line=new.line, place=new.place)
        if new.double is not None:
            new.double.base = new.trait
            book.keep(new.double, hides=new.double_hides)
        if new.beside is not None:
            settle_beside(book, new.line.locus, new.beside)
        if new.two_hatch is not None:
            _keep_survival(book, new.line, new.two_hatch, new.two_source)
    return book.entry


def _keep_survival(book: Writing, line: Line, survival: Fraction, source: str) -> None:
    row = Survival(locus=line.locus, one=line, other=line, source=source)
    row.survival = survival
    book.keep(row)
