"""Mixed lines: copies of two different genes of one look, in the words of pages and sheets.

Everything here is a pure function of rows that are in memory; a line's standing must come with
its line.
"""

from collections import defaultdict
from collections.abc import Iterable

from keeper.domain.saying.figures import percent
from keeper.domain.saying.wording import Carried
from keeper.models import Line, Shown, Standing, Word

# Sums of the chances of a certain genotype may differ from a whole number by less than this.
_SAME = 1e-9


def mixed_words(standing: Standing | None) -> str:
    """Return "mixed lines", "possibly mixed lines 44 %", or nothing where it cannot be mixed."""
    if standing is None or standing.line_id is not None or standing.mixed <= 0:
        return ""
    words = "mixed lines"
    if standing.mixed < 1:
        words = f"possibly mixed lines {percent(standing.mixed)}"
    return f"disputed; before that: {words}" if standing.is_disputed else words


def sheet_words(standing: Standing) -> str:
    """Return what a buyer is told of mixed lines; nothing where they cannot be."""
    if standing.mixed <= 0 or standing.is_disputed:
        return ""
    if standing.mixed >= 1:
        return "mixes two genes of one look: young that show it will not tell the line"
    return (
        f"may mix two genes of one look ({percent(standing.mixed)}): "
        "young that show it may not tell the line"
    )


def genes_of(one: Carried) -> list[list[Line]]:
    """Return the lines that an animal may have of a look, those of one locus together.

    The locus of which the line is likeliest comes first.
    """
    by_locus: dict[int, list[Line]] = defaultdict(list)
    for standing in one.by_line:
        if standing.line is not None:
            by_locus[standing.line.locus_id].append(standing.line)
    return list(by_locus.values())


def could_be_either(one: Carried) -> bool:
    """Whether an animal shows a look without its being certain at which locus its copies lie.

    Of a recessive look there are two copies at one of several loci; it is certain of one locus
    where the copies expected there are two. Nothing is open either where the copies of every line
    are certain, as in a visual of two lines that are one gene after all.
    """
    if one.over_all.word != Word.VISUAL or one.trait.shown != Shown.RECESSIVE:
        return False
    if all({row.two, row.one, row.none} <= {0.0, 1.0} for row in one.by_line):
        return False
    expected: dict[int, float] = defaultdict(float)
    for standing in one.by_line:
        if standing.line is not None:
            expected[standing.line.locus_id] += 2 * standing.two + standing.one
    return len(expected) > 1 and max(expected.values()) < 2 - _SAME


def codes_in_words(lines: Iterable[Line]) -> str:
    """Return the codes of lines of one locus: "HAR or PEL"."""
    return " or ".join(line.label for line in lines)
