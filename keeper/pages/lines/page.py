"""Lines of one look compared: the table of all, and the evidence on two of them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from types import MappingProxyType
from typing import cast

from keeper.domain import inference
from keeper.domain.inference import BookCross, LinePair, PairEvidence, Unanswerable
from keeper.domain.lines import queries as read
from keeper.domain.saying.figures import percent
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Clutch, DaybookEntry, Line, OpenPair, PairWord, Trait
from keeper.pages.lines.bearers import Bearer, bearers
from keeper.pages.lines.settling import BestCrosses, best_crosses

ONE, TWO, OPEN = "one", "two", "open"
_STATES = {ONE: "one gene", TWO: "two genes", OPEN: "open"}
# From here on a keeper may call it settled.
_SURE = 0.95
_SAME = 1e-9
# Length of the rule on which the chance of one gene is drawn.
_RULE = 300


@dataclass(frozen=True)
class Step:
    """One step from what the keeper held to what the book says now."""

    words: str
    figure: str


@dataclass(frozen=True)
class Cell:
    """Two lines in the table.

    Attributes:
        one, other: the two, the earlier first, as their page's address has them.
        beside: the line of the column.
        state, words: one gene, two genes or open.
        figure: the chance that an open pair is one gene; empty where it could not be worked out.
        ripe: whether what hatched has all but settled an open pair.
        parts: an open pair's chance by what was told, with reports of others, with own crosses.
    """

    one: Line
    other: Line
    beside: Line
    state: str
    words: str
    figure: str = ""
    ripe: bool = False
    parts: tuple[Step, ...] = ()


@dataclass(frozen=True)
class Row:
    """A line with how it stands to each other line; None is itself."""

    line: Line
    cells: tuple[Cell | None, ...]


@dataclass(frozen=True)
class LinesPage:
    """The lines of a look by the lines of a look.

    Attributes:
        trouble: why the chances of open pairs are missing, if they are.
        open: how many pairs are open.
    """

    trait: Trait
    lines: tuple[Line, ...]
    rows: tuple[Row, ...]
    open: int
    exact: bool = True
    conflict: tuple[str, ...] = ()
    trouble: str = ""


def lines_page(trait: Trait) -> LinesPage:
    """Return the table of a trait's lines."""
    lines = tuple(read.lines_compared(trait))
    try:
        found = inference.line_pairs(trait)
    except Unanswerable as why:
        cells = _by_loci(lines)
        return _table(trait, lines, cells, trouble=str(why))
    pairs = {(pair.one, pair.other): pair for pair in found.pairs}
    return _table(
        trait, lines, pairs,
        exact=found.exact, conflict=found.conflict, parts=_parts(trait, pairs),
    )  # fmt: skip


def _parts(
    trait: Trait, pairs: dict[tuple[int, int], LinePair]
) -> dict[tuple[int, int], tuple[Step, ...]]:
    """What each open pair's chance is made of, told and imported and own evidence apart."""
    words = read.words_of(trait)
    found: dict[tuple[int, int], tuple[Step, ...]] = {}
    for pair in read.open_pairs_of(trait):
        key = (pair.one_id, pair.other_id)
        said = [word for word in words if (word.one_id, word.other_id) == key]
        told = float(inference.prior_of(pair, [word for word in said if not word.is_report]))
        reported = float(inference.prior_of(pair, said))
        found[key] = (
            Step("told", percent(told)),
            Step("with others’ reports", percent(reported)),
            Step("with own crosses", percent(pairs[key].now)),
        )
    return found


def _by_loci(lines: tuple[Line, ...]) -> dict[tuple[int, int], LinePair | None]:
    """What is known without any chance: None where it is open."""
    doubts = read.open_ids(lines)
    found: dict[tuple[int, int], LinePair | None] = {}
    for a in lines:
        for b in lines:
            if a.pk < b.pk:
                one = 1.0 if a.locus_id == b.locus_id else 0.0
                settled = LinePair(a.pk, b.pk, False, one, one)
                found[a.pk, b.pk] = None if (a.pk, b.pk) in doubts else settled
    return found


def _table(
    trait: Trait,
    lines: tuple[Line, ...],
    pairs: "dict[tuple[int, int], LinePair] | dict[tuple[int, int], LinePair | None]",
    *,
    exact: bool = True,
    conflict: tuple[str, ...] = (),
    trouble: str = "",
    parts: Mapping[tuple[int, int], tuple[Step, ...]] = MappingProxyType({}),
) -> LinesPage:
    def cell(a: Line, b: Line) -> Cell | None:
        if a.pk == b.pk:
            return None
        key = min(a.pk, b.pk), max(a.pk, b.pk)
        return replace(_cell(a, b, pairs[key]), parts=parts.get(key, ()))

    rows = tuple(Row(line, tuple(cell(line, other) for other in lines)) for line in lines)
    states = [one.state for row in rows for one in row.cells if one is not None]
    return LinesPage(trait, lines, rows, states.count(OPEN) // 2, exact, conflict, trouble)


def _cell(a: Line, b: Line, pair: LinePair | None) -> Cell:
    one, other = (a, b) if a.pk < b.pk else (b, a)
    if pair is None:
        return Cell(one, other, b, OPEN, _STATES[OPEN])
    state = state_of(pair)
    figure = percent(pair.now) if state == OPEN else ""
    return Cell(one, other, b, state, _STATES[state], figure, state == OPEN and is_ripe(pair.now))


def state_of(pair: LinePair) -> str:
    """Return one, two or open."""
    return OPEN if pair.open else ONE if pair.now == 1 else TWO


def is_ripe(now: float) -> bool:
    """Whether a chance is so near to one answer that a keeper may decide."""
    return max(now, 1 - now) >= _SURE


# --- two lines ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Said:
    """A source's word on two lines and what it does to an open pair."""

    word: PairWord
    weight: str
    does: str
    crosses: tuple[tuple[int, int], ...] = ()
    left_out: int = 0
    trusted: str = ""


@dataclass(frozen=True)
class Bred:
    """A cross of the book: what it gave, and the chance of one gene without and with it."""

    clutch: Clutch
    dam: Bearer | None
    sires: tuple[Bearer, ...]
    showed: int
    looked: int
    without: str
    verdict: str


@dataclass(frozen=True)
class PairPage:
    """All that bears on two lines.

    Attributes:
        open_pair: the row, where the keeper said that nobody is sure.
        state, words: one gene, two genes or open.
        now, before: chances of one gene for an open pair, to draw; figure: `now` in words.
        steps: how the figure came about.
        best: the crosses that would settle it; None where nothing is open.
        trouble: why the figures are missing, if they are.
    """

    one: Line
    other: Line
    open_pair: OpenPair | None
    state: str
    words: str
    now: float
    before: float
    figure: str
    ripe: bool
    certain: bool
    steps: tuple[Step, ...]
    said: tuple[Said, ...]
    bred: tuple[Bred, ...]
    best: BestCrosses | None
    decisions: tuple[DaybookEntry, ...]
    conflict: tuple[str, ...]
    exact: bool
    trouble: str = ""

    @property
    def now_at(self) -> int:
        """Where `now` lies on the rule from two genes to one."""
        return round(_RULE * self.now)

    @property
    def before_at(self) -> int:
        """Where `before` lies on it."""
        return round(_RULE * self.before)


def pair_page(one: Line, other: Line, *, today: date, first: int | None) -> PairPage:
    """Return the page of two lines, the earlier first; `first`: a clutch to weigh at any rate."""
    open_pair = read.open_pair(one, other)
    words = read.words_on(one, other)
    trouble, best = "", None
    try:
        book = inference.lines_solved(one.trait) if read.may_be_open(one, other) else None
        evidence = inference.pair_evidence(one, other, first=first, book=book)
        if book is not None and evidence.pair.open:
            best = best_crosses(one, other, today=today, book=book)
    except Unanswerable as why:
        trouble = str(why)
        same = 1.0 if one.locus_id == other.locus_id else 0.0
        evidence = PairEvidence(
            LinePair(one.pk, other.pk, open_pair is not None, same, same), crosses=()
        )
    pair = evidence.pair
    state = state_of(pair)
    counted = [word for word in words if not word.is_withdrawn]
    return PairPage(
        one=one,
        other=other,
        open_pair=open_pair,
        state=state,
        words=_STATES[state],
        now=pair.now,
        before=pair.before,
        figure=percent(pair.now) if state == OPEN and not trouble else "",
        ripe=state == OPEN and not trouble and is_ripe(pair.now),
        certain=pair.now in (0.0, 1.0),
        steps=_steps(open_pair, counted, pair) if state == OPEN and not trouble else (),
        said=tuple(_said(word) for word in words),
        bred=_bred(evidence.crosses, pair, one, other),
        best=best,
        decisions=tuple(read.decisions_on(one, other)),
        conflict=evidence.conflict,
        exact=evidence.exact,
        trouble=trouble,
    )


def _steps(open_pair: OpenPair | None, words: list[PairWord], pair: LinePair) -> tuple[Step, ...]:
    if open_pair is None:
        held = Step("before any cross, by way of the other open pairs", percent(pair.before))
        return held, Step("now, with all that hatched", percent(pair.now))
    found = [Step("you held, before any cross", as_typed(cast("Fraction", open_pair.prior)))]
    told = [word for word in words if not word.is_report]
    said = inference.prior_of(open_pair, told)
    if told:
        found.append(Step("with what sources say", percent(float(said))))
    if len(told) < len(words):
        said = inference.prior_of(open_pair, words)
        found.append(Step("with reports of others’ crosses", percent(float(said))))
    if abs(pair.before - float(said)) > _SAME:
        found.append(Step("with the other open pairs of this look", percent(pair.before)))
    return (*found, Step("now, with all that hatched", percent(pair.now)))


def _said(word: PairWord) -> Said:
    weight = word.taken
    if weight == 0:
        does = "counts for nothing"
    elif weight == 1:
        does = "settles it alone"
    else:
        odds = (1 + weight) / (1 - weight)
        times = str(odds) if odds.denominator == 1 else f"{float(odds):.1f}"
        does = f"multiplies the odds of {'one gene' if word.one_gene else 'two genes'} by {times}"
    if not word.is_report:
        return Said(word, as_typed(weight), does)
    report = word.report or {}
    trust = "" if word.source is None else as_typed(Fraction(str(word.source.reliability)))
    crosses = tuple((showed, looked) for showed, looked in report.get("crosses", ()))
    left_out = len(report.get("left_out", ()))
    return Said(word, percent(float(weight)), does, crosses, left_out, trust)


def _bred(crosses: Iterable[BookCross], pair: LinePair, one: Line, other: Line) -> tuple[Bred, ...]:
    crosses = list(crosses)
    those = Clutch.objects.filter(pk__in=[cross.clutch for cross in crosses])
    clutches = {clutch.pk: clutch for clutch in read.with_parents(those)}
    sires = {
        pk: [row.sire for row in clutch.candidates.all() if row.sire is not None]
        for pk, clutch in clutches.items()
    }
    dams = [clutch.dam for clutch in clutches.values() if clutch.dam is not None]
    parents = bearers([*dams, *(sire for some in sires.values() for sire in some)], one, other)
    return tuple(
        Bred(
            clutch=clutches[cross.clutch],
            dam=parents.get(clutches[cross.clutch].dam_id or 0),
            sires=tuple(parents[sire.pk] for sire in sires[cross.clutch]),
            showed=cross.showed,
            looked=cross.looked,
            without="" if cross.without is None else percent(cross.without),
            verdict=_verdict(cross, pair),
        )
        for cross in crosses
    )


def _verdict(cross: BookCross, pair: LinePair) -> str:
    if not pair.open:
        return ""
    if cross.without is None:
        return ""
    if abs(cross.without - pair.now) <= _SAME:
        return "nothing that the rest does not say"
    if pair.now == 0:
        return "rules out one gene"
    if pair.now == 1:
        return "rules out two genes"
    return "for one gene" if pair.now > cross.without else "for two genes"
