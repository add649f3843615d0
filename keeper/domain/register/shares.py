"""Of animals sold as one look, line not known: which part each of its lines has."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import cast

from django.core.exceptions import ValidationError

from keeper.domain.book.writing import writing
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Account, DaybookEntry, Line, Trait


def shares_of(lines: Iterable[Line]) -> dict[Line, Fraction]:
    """Return the parts of lines of one trait as they count: together they make 1.

    Where every part is 0, as between lines of which nobody said more: equal parts.
    """
    listed = list(lines)
    sizes = {line: Fraction(cast("Fraction", line.share)) for line in listed}
    whole = sum(sizes.values(), Fraction(0))
    if not whole:
        return {line: Fraction(1, len(listed)) for line in listed}
    return {line: size / whole for line, size in sizes.items()}


def keep_shares(
    *, trait: Trait, shares: Mapping[Line, Fraction], by: Account, reason: str = ""
) -> DaybookEntry:
    """Set the parts of all lines of a trait.

    Raises:
        ValidationError: a line of the trait is left out, or the parts do not make 100 %.
    """
    whole = sum(shares.values(), Fraction(0))
    if whole != 1:
        raise ValidationError(f"Together they make {as_typed(whole)}; make them 100 %.")
    what = f"Set the parts of the lines of {trait}"
    with writing(by=by, what=what, reason=reason, subject=trait) as book:
        if set(Line.objects.live().filter(trait=trait)) != set(shares):
            raise ValidationError(
                f"The lines of {trait} have changed meanwhile. Look at them again."
            )
        for line, share in shares.items():
            line.share = share
            book.keep(line)
    return book.entry


def share_of_another(trait: Trait) -> Fraction:
    """Return the part of a line that comes to a trait: as large as the mean of the others."""
    sizes = [
        Fraction(cast("Fraction", line.share)) for line in Line.objects.live().filter(trait=trait)
    ]
    return sum(sizes, Fraction(0)) / len(sizes) if any(sizes) else Fraction(1)
