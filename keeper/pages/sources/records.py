"""A source's record as its page prints it: counts, the interval, the proposal, each statement."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from keeper.domain import inference
from keeper.domain.saying.figures import percent
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Claim, Contact, Statement

_WORDS = {
    Claim.VISUAL: "visual",
    Claim.DOUBLE: "two copies",
    Claim.CARRIES: "100 % het",
    Claim.CLEAR: "does not carry it",
}


@dataclass(frozen=True)
class Counted:
    """A kind of claim with its counts, and the interval in words if any was tested."""

    words: str
    stated: int
    tested: int
    held: int
    range: str


@dataclass(frozen=True)
class Odds:
    """Possible hets of one figure with their counts; `expected` as a person writes it."""

    figure: str
    stated: int
    proved: int
    excluded: int
    clean: int
    expected: str

    @property
    def open(self) -> int:
        """How many are not settled."""
        return self.stated - self.proved - self.excluded


@dataclass(frozen=True)
class Row:
    """A statement and what came of it; `outcome` names it for the style sheet."""

    statement: Statement
    outcome: str
    words: str
    why: str


@dataclass(frozen=True)
class RecordPage:
    """A source's record in words.

    Attributes:
        held: "2 of the 3 tested".
        range: the interval in words; empty where nothing was tested.
        proposal: the percentage the record alone would suggest, rounded down; likewise.
        if_clean_failed: what the share would be if all that were bred clean did not hold.
    """

    stated: int
    tested: int
    held: int
    clean: int
    disputed: int
    range: str
    proposal: str
    if_clean_failed: str
    reliability: str
    claims: tuple[Counted, ...]
    odds: tuple[Odds, ...]
    rows: tuple[Row, ...]
    exact: bool

    @property
    def odds_clean(self) -> int:
        """How many possible hets that are not settled were bred clean so far."""
        return sum(one.clean for one in self.odds)


def record_page(contact: Contact) -> RecordPage:
    """Return what the contact's page shows of its record."""
    record = inference.source_record(contact)
    failed = record.tested + record.clean
    return RecordPage(
        stated=record.stated,
        tested=record.tested,
        held=record.held,
        clean=record.clean,
        disputed=record.disputed,
        range=_range(record.interval),
        proposal="" if record.proposal is None else percent(float(record.proposal)),
        if_clean_failed=f"{record.held} of {failed}" if record.clean and record.tested else "",
        reliability=as_typed(contact.reliability),
        claims=tuple(
            Counted(
                _WORDS[one.claim], one.stated, one.tested, one.held, _range(one.interval)
            )
            for one in record.by_claim
        ),
        odds=tuple(
            Odds(
                percent(float(one.chance)), one.stated, one.proved, one.excluded, one.clean,
                _plain(one.expected),
            )
            for one in record.possible
        ),
        rows=tuple(_row(one) for one in record.tried),
        exact=record.exact,
    )  # fmt: skip


def _row(one: inference.Tried) -> Row:
    words = str(one.outcome)
    if one.is_possible:
        words = {"held": "carries it", "did not hold": "does not carry it"}.get(words, words)
    return Row(one.statement, one.outcome.name.lower().replace("_", "-"), words, one.why)


def _range(interval: tuple[float, float] | None) -> str:
    """The interval, widened to whole percents: nothing is promised that it does not hold."""
    if interval is None:
        return ""
    low, high = floor(interval[0] * 100), ceil(interval[1] * 100)
    if low <= 0:
        return f"{high} % or less"
    return f"{low} % or more" if high >= 100 else f"{low} % to {high} %"


def _plain(number: Fraction) -> str:
    """A count that need not be whole, rounded down to one decimal: "4", "2.6"."""
    return f"{floor(number * 10) / 10:.1f}".removesuffix(".0")
