"""A second line of a trait whose only line nobody had named.

From then on a word on the trait says which of the two, so it is asked of every earlier one.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from keeper.domain.book.writing import Refused, about, writing
from keeper.domain.register.placing import Place, settle
from keeper.domain.register.shares import share_of_another
from keeper.models import Account, DaybookEntry, LabTest, Line, ProspectWord, Statement, Trait

Earlier = Statement | ProspectWord | LabTest
# Each kind, whose it is, and by what those are listed.
_EARLIER: tuple[tuple[type[Earlier], str, str], ...] = (
    (Statement, "animal", "code"),
    (LabTest, "animal", "code"),
    (ProspectWord, "prospect", "name"),
)
# Of which line an earlier word is.
FIRST, SECOND, UNKNOWN = "first", "second", "unknown"


@dataclass(frozen=True)
class Key:
    """Which earlier word: its kind and its id."""

    kind: str
    pk: int

    def __str__(self) -> str:
        return f"{self.kind}-{self.pk}"


def key_of(word: Earlier) -> Key:
    """Return which word it is."""
    return Key(str(word._meta.model_name), word.pk)


def nameless(trait: Trait) -> Line | None:
    """Return the line of a trait that nobody has named."""
    found: Line | None = Line.objects.live().filter(trait=trait, name="").first()
    return found


def earlier_words(line: Line) -> list[Earlier]:
    """Return what was said and found of a line so far, of animals and of prospects."""
    found: list[Earlier] = []
    for model, whose, by in _EARLIER:
        rows = model.objects.live().filter(line=line, **{f"{whose}__withdrawn_at": None})
        found += rows.select_related(whose).order_by(f"{whose}__{by}", "pk")
    return found


def may_be_unknown(word: Earlier) -> bool:
    """Whether it may be said of no line: a laboratory finds a line or does not."""
    return not isinstance(word, LabTest)


def add_second_line(
    *,
    line: Line,
    place: Place,
    first: tuple[str, str],
    of: Mapping[Key, str],
    by: Account,
) -> DaybookEntry:
    """Name the line that a trait has, add another, and sort what was said so far between the two.

    Args:
        first: code and name of the line that is there.
        of: FIRST, SECOND or UNKNOWN for every earlier word.

    Raises:
        ValidationError: one of the lines is not in order, or a code is taken.
        Refused: the line was named meanwhile, or something was written of it.
    """
    with writing(by=by, what=f"Added the line {line}") as book:
        there = nameless(line.trait)
        if there is None:
            raise Refused(f"The line of {line.trait} was named meanwhile. Add this one again.")
        words = earlier_words(there)
        if {key_of(word) for word in words} != set(of):
            raise Refused(
                f"Something was written of {line.trait} meanwhile. Say of each animal again "
                "which line it is."
            )
        there.code, there.name = first
        book.keep(there)
        line.share = share_of_another(line.trait)
        settle(book, line=line, place=place)
        about(book.entry, line)
        for word in _to_move(words, of):
            word.line = line if of[key_of(word)] == SECOND else None
            book.keep(word)
    return book.entry


def _to_move(words: Iterable[Earlier], of: Mapping[Key, str]) -> list[Earlier]:
    return [word for word in words if of[key_of(word)] != FIRST]
