"""What is said of a standing, in the words that pages and sheets share (honesty rules 1 to 5).

Everything here is a pure function of rows that are already in memory; a standing must come with
its trait (and its line), or each call costs a query.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from keeper.domain.saying.counts import how_many
from keeper.domain.saying.figures import (
    carrier_percent,
    carries_percent,
    even_chances,
    percent,
    percent_up,
)
from keeper.models import (
    Claim,
    Line,
    ProspectWord,
    Shown,
    Standing,
    StandingChange,
    Statement,
    Trait,
    Word,
)

LINE_NOT_KNOWN = "line not known"
# Where no standing is left: some record excludes it, or none speaks for it any more.
NOT_A_CARRIER = "not a carrier by the book"

# Figures of two standings are the same thing said twice if they differ by less than this.
_SAME = 1e-9


@dataclass(frozen=True)
class Said:
    """A standing in words.

    Attributes:
        words: the whole of it, its figure included: "possible het 66 %".
        figure: the chance of carrying alone: "66 %".
        beside: the customary figure where it differs: "66 % by its parents alone", of a founder
            "66 % by its source alone"; or empty.
        disputed: whether the figure rests on records that cannot all be true.
    """

    words: str
    figure: str
    beside: str
    disputed: bool


def said(
    standing: Standing,
    statement: Statement | None = None,
    *,
    founder: bool = False,
    telling: float | None = None,
    on_paper: bool = False,
) -> Said:
    """Return a standing in words; `statement` is what its word rests on, if it is `stated`.

    `founder` tells that no parents are recorded: its customary figure is its source's. `telling`
    is how telling its clean hatchlings are, in even chances passed, where that was asked.
    `on_paper` is said for a buyer, who is not told what a source is trusted with: of a bare word
    no figure, and of a founder no customary one.
    """
    if standing.word == Word.STATED and standing.none < 1:
        words = _stated(standing, statement, on_paper=on_paper)
    else:
        words = _claim(standing, telling)
    words += _sampled(standing)
    if standing.is_disputed:
        words = f"disputed; before that: {words}"
    beside = "" if on_paper and founder else _beside(standing, founder=founder)
    return Said(words, carrier_percent(standing), beside, standing.is_disputed)


def _claim(standing: Standing, telling: float | None) -> str:
    if standing.none == 1:
        return str(Word.ABSENT.label)
    match standing.word:
        case Word.VISUAL:
            return "visual" + _copies_seen(standing)
        case Word.CLEAN:
            counted = clean_said(standing, telling)
            return f"tested clean so far: {counted}, {carrier_percent(standing)} left"
        case Word.TESTED if standing.none:
            sure = f"{Word.TESTED.label}, {carrier_percent(standing)} sure"
            return sure + _twice(standing.two)
        case Word.LABORATORIES:
            return f"{Word.LABORATORIES.label}: {carrier_percent(standing)}"
        case Word.POSSIBLE:
            return _possible(standing.two, carrier_percent(standing))
        case Word.PROVEN:
            return f"{Word.PROVEN.label}{_rests_on(standing)}{_twice(standing.two)}"
        case _:
            return _certain(Word(standing.word), standing.two)


def _counted(standing: Standing) -> str:
    return how_many(standing.clean_young, "hatchling")


# What a clean hatchling is set against that a carrier passes with an even chance.
_EVEN = {
    Shown.RECESSIVE: "of a visual mate",
    Shown.EVERY: "of a visual mate",
    Shown.DOMINANT: "of a mate without it",
    Shown.SINGLE: "of a mate without it",
    Shown.RULES: "that each would show it with an even chance",
}


def telling_said(bits: float | None, shown: str) -> str:
    """Return how telling clean hatchlings are: "as telling as 3 of a visual mate"; or nothing.

    `bits` are the even chances passed, `shown` is how the trait shows.
    """
    if bits is None or bits < 0:
        return ""
    return f"as telling as {even_chances(bits)} {_EVEN[Shown(shown)]}"


def clean_said(standing: Standing, bits: float | None) -> str:
    """Return the clean hatchlings with how telling they are: "12 hatchlings, as telling as 3 …"."""
    return ", ".join(filter(None, (_counted(standing), telling_said(bits, standing.trait.shown))))


def rests_on_one_look(standing: Standing) -> bool:
    """Whether an animal is proven by a single hatchling that was looked at once."""
    return standing.word == Word.PROVEN and standing.proof_looks == 1


def _rests_on(standing: Standing) -> str:
    """What a proof rests on: " by 1 hatchling", " by 4 in 2 clutches"."""
    young, clutches = standing.proof_young, standing.proof_clutches
    if not young:
        return ""
    if young == 1:
        return " by 1 hatchling"
    return f" by {young} in {how_many(clutches, 'clutch', 'clutches')}"


def _possible(two: float, figure: str) -> str:
    """A possible het; one that may have two copies as well is no mere het."""
    if two > 0:
        return f"{figure} carries it{_twice(two)}"
    return f"possible het {figure}"


def _certain(word: Word, two: float) -> str:
    """A certain carrier, and its chance of two copies if it has any."""
    if two > 0 and word == Word.PARENTAGE:
        return "two copies by parentage" if two == 1 else f"carries it by parentage{_twice(two)}"
    return f"{word.label}{_twice(two)}"


def _twice(two: float) -> str:
    """The copies of a carrier: nothing if it has one, "two copies", or the chance of two."""
    if two <= 0:
        return ""
    return ", two copies" if two == 1 else f"; {percent(two)} has two copies"


def _two_for_certain(standing: Standing) -> bool:
    return standing.one == 0 and standing.none == 0


def _copies_seen(standing: Standing) -> str:
    """How many copies a visual has, where the look alone does not tell."""
    if _two_for_certain(standing):
        return "" if standing.trait.shown == Shown.RECESSIVE else ", two copies"
    if standing.none == 0 and standing.two == 0:
        return ", one copy"
    if standing.none:
        # Seen, yet not certain to have it: an eye can be mistaken, or the line be another.
        return f", {carrier_percent(standing)} {'of this line' if standing.line_id else 'sure'}"
    return _twice(standing.two)


def _stated(standing: Standing, statement: Statement | None, *, on_paper: bool) -> str:
    figure = carrier_percent(standing) if standing.none else ""
    if on_paper and not moved_since(standing):
        figure = ""
    if statement is None or (
        standing.line_id and statement.line_id not in (None, standing.line_id)
    ):
        return f"stated by the source, not tested here{f'; {figure}' if figure else ''}"
    if statement.signed_id is not None:
        return _by_papers(standing, statement, figure)
    said, source = claim_said(statement), statement.source
    words = f"stated {said} by {source or 'a source not named'}"
    if standing.line_id and statement.line_id is None:
        return _without_line(standing, words, figure)
    if figure and moved_since(standing):
        return f"{words}; {figure} by all that is known here"
    words = f"{words}, not tested here"
    if not figure or said.endswith(f" {figure}"):
        return words
    doubted = source is not None and source.reliability != 1
    return f"{words}; {figure} {'as far as their word is taken' if doubted else 'by the book'}"


def _by_papers(standing: Standing, statement: Statement, figure: str) -> str:
    """What signed papers say of a trait or of one of its lines, of which they have figures."""
    said = "" if standing.line_id else f" {_signed_said(statement)}"
    words = f"stated{said} by the papers of {statement.source}"
    if figure and moved_since(standing):
        return f"{words}; {figure} by all that is known here"
    words = f"{words}, not tested here"
    return words if not figure or said.endswith(f" {figure}") else f"{words}; {figure}"


def _without_line(standing: Standing, words: str, figure: str) -> str:
    """Say of one line what its source said of the look alone, and what part of it the line has."""
    words = f"{words}, who named no line"
    if not figure:
        return f"{words}, not tested here"
    if moved_since(standing):
        return f"{words}; {figure} of this line by all that is known here"
    return f"{words}; {figure} by this line's part, not tested here"


def moved_since(standing: Standing) -> bool:
    """Whether something else in the book moved what a source's word gave: young, a laboratory."""
    usual = standing.customary
    return usual is not None and abs(standing.carries - usual) > _SAME


def _sampled(standing: Standing) -> str:
    """The mark of a figure that is an estimate, with its error rounded up."""
    return f" (estimate, ± {percent_up(standing.error)})" if standing.error else ""


def _beside(standing: Standing, *, founder: bool) -> str:
    if standing.customary is None or standing.word in {Word.VISUAL, Word.PARENTAGE}:
        return ""
    figure = percent(standing.customary)
    whose = "source" if founder else "parents"
    same = {carrier_percent(standing), percent(standing.carries, certain=standing.none == 0)}
    return "" if figure in same else f"{figure} by its {whose} alone"


def claim_said(statement: Statement | ProspectWord) -> str:
    """Return what a source said, short: "100 % het", "possible het 66 %", "visual"."""
    if statement.claim == Claim.CARRIES:
        return "100 % het"
    if statement.claim == Claim.POSSIBLE and statement.chance is not None:
        return f"possible het {percent(float(statement.chance))}"
    if isinstance(statement, Statement) and statement.signed_id is not None:
        return _signed_said(statement)
    return str(statement.get_claim_display())


def _signed_said(statement: Statement) -> str:
    """What a signed paper says of a trait; of young elsewhere how far they settle it."""
    said = statement.told or {"of": [], "rows": []}
    told = [
        (Fraction(weight), sum(has.get(str(line), 0) for line in said["of"]))
        for weight, has in said["rows"]
    ]
    there = [copies for weight, copies in told if weight]
    if statement.claim == Claim.RESULTS:
        return (
            "a carrier by what it bred elsewhere"
            if there and min(there)
            else (str(statement.get_claim_display()))
        )
    if there and min(there):
        return {(1, 1): "one copy", (2, 2): "two copies"}.get((min(there), max(there)), "a carrier")
    whole = sum((weight for weight, _ in told), Fraction(0))
    carries = sum((weight for weight, copies in told if copies), Fraction(0))
    return f"a possible carrier {percent(float(carries / whole))}" if whole else "nothing"


# --- one trait with its lines ------------------------------------------------------------------


@dataclass(frozen=True)
class Carried:
    """One trait of an animal: the standing over all lines, those by line, and the lines' names.

    Attributes:
        trait: the trait.
        over_all: the standing without a line.
        by_line: the standings of its lines that are not certainly absent, likeliest first.
        lines: the lines that it has if it has the trait at all; empty: not known.
        animal_id: whose.
    """

    trait: Trait
    over_all: Standing
    by_line: tuple[Standing, ...]
    lines: tuple[Line, ...]
    animal_id: int

    @property
    def has_lines(self) -> bool:
        """Whether a line can be asked for: a double form takes those of its base."""
        return self.trait.shown != Shown.EVERY

    @property
    def parts(self) -> tuple[Standing, ...]:
        """The standings by line that say more than the one over all lines."""
        return () if len(self.by_line) == len(self.lines) == 1 else self.by_line

    @property
    def name(self) -> str:
        """The trait with its lines, in plain text: "Saltgrass HAR", "Saltgrass, line not known"."""
        if self.lines:
            return f"{self.trait.name} {' / '.join(line.label for line in self.lines)}"
        if not self.has_lines or self.over_all.word == Word.ABSENT:
            return self.trait.name
        return f"{self.trait.name}, {LINE_NOT_KNOWN}"


def carried(standings: Iterable[Standing]) -> list[Carried]:
    """Group standings (of one animal or several) by animal and trait, surest word first."""
    grouped: dict[tuple[int, int], list[Standing]] = {}
    for standing in standings:
        grouped.setdefault((standing.animal_id, standing.trait_id), []).append(standing)
    found = [_carried(rows) for rows in grouped.values()]
    return sorted(found, key=lambda one: (one.animal_id, *_rank(one.over_all), one.trait.name))


def _rank(standing: Standing) -> tuple[int, float]:
    order = list(Word)
    return order.index(Word(standing.word)), -standing.carries


def _carried(rows: list[Standing]) -> Carried:
    over_all = next((row for row in rows if row.line_id is None), rows[0])
    by_line = sorted(
        (row for row in rows if row.line_id is not None and row.none < 1),
        key=lambda row: (-row.carries, row.line.code if row.line else ""),
    )
    return Carried(
        trait=over_all.trait,
        over_all=over_all,
        by_line=tuple(by_line),
        lines=_lines(over_all, by_line),
        animal_id=over_all.animal_id,
    )


def _lines(over_all: Standing, by_line: list[Standing]) -> tuple[Line, ...]:
    if len(by_line) == 1 and abs(by_line[0].carries - over_all.carries) < _SAME:
        certain = by_line
    else:
        certain = [row for row in by_line if row.none == 0]
        # Two copies of which only one is told apart: the other's line is not known.
        if over_all.two == 1 and sum(row.two * 2 + row.one for row in certain) < 2 - _SAME:
            certain = []
    return tuple(row.line for row in certain if row.line is not None)


# --- what an entry moved -----------------------------------------------------------------------


def before(change: StandingChange) -> str:
    """Return what was said before a change: "possible het 66 %"; nothing was: "nothing known"."""
    if change.two_before is None or change.none_before is None:
        return "nothing known"
    return _moved(change.word_before, change.two_before, change.none_before, change.disputed_before)


def after(change: StandingChange) -> str:
    """Return what is said after a change."""
    return _moved(change.word, change.two, change.none, change.disputed)


def _moved(word: str, two: float, none: float, disputed: bool) -> str:
    figure = carries_percent(1 - none, word, certain=none == 0)
    if none == 1:
        words = NOT_A_CARRIER
    elif word == Word.POSSIBLE:
        words = _possible(two, figure)
    elif word == Word.CLEAN:
        words = f"tested clean so far, {figure} left"
    elif none:
        words = f"{Word(word).label}, {figure}"
    elif word == Word.VISUAL:
        words = str(Word.VISUAL.label)
    else:
        words = _certain(Word(word), two)
    return f"disputed; before that: {words}" if disputed else words
