"""Base rates as they are shown: each with its ground, the keeper's own marked as such."""

from dataclasses import dataclass

from keeper.domain.book.history import Revision, history_of
from keeper.domain.disputes.rates import own_rates_ever
from keeper.domain.explaining import COMMON, Kind, Rate, rates
from keeper.domain.saying.figures import one_in


@dataclass(frozen=True)
class RateRow:
    """One kind of thing with how often it happens: here, and by common practice."""

    kind: Kind
    rate: Rate
    common: Rate

    @property
    def often(self) -> str:
        """How often it is held to happen: "1 in 200"."""
        return one_in(float(self.rate.chance))

    @property
    def commonly(self) -> str:
        """How often by the common figure."""
        return one_in(float(self.common.chance))


@dataclass(frozen=True)
class RatesPage:
    """All base rates; how many of them are the keeper's own."""

    rows: tuple[RateRow, ...]

    @property
    def own(self) -> int:
        """How many are the keeper's own."""
        return sum(row.rate.own for row in self.rows)


@dataclass(frozen=True)
class RatePage:
    """One base rate with what it was before."""

    row: RateRow
    revisions: tuple[Revision, ...]


def rates_page() -> RatesPage:
    """Return all rates; one query."""
    return RatesPage(tuple(RateRow(kind, rate, COMMON[kind]) for kind, rate in rates().items()))


def rate_page(kind: Kind) -> RatePage:
    """Return one rate and its history."""
    row = RateRow(kind, rates()[kind], COMMON[kind])
    return RatePage(row, tuple(history_of(own_rates_ever(kind))))
