"""What the pages of figures print: tables, plots, words for a test."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.cache import cache

from keeper.domain.book import daybook
from keeper.domain.figures import looks, rates, record
from keeper.domain.figures.chances import Tested
from keeper.domain.figures.looks import LooksTested, SexesTested
from keeper.domain.figures.record import Band, OwnRecord
from keeper.domain.saying.figures import percent, percent_up
from keeper.domain.saying.spreadsheet import Cell
from keeper.models import Clutch, Foretold, Species
from keeper.pages.figures.drawing import Bars, Calibration, bars, calibration
from keeper.pages.frame.files import Table

# Tests shown together; a season at a time has the others.
MOST = 200
_KEPT = 24 * 3600
_UNUSUAL, _HARDLY = 0.05, 0.001


@dataclass(frozen=True)
class ShareWords:
    """A share in words: what it is, between what it lies, and of how many."""

    share: str
    between: str
    of: str


@dataclass(frozen=True)
class RateRow:
    """A group of clutches; `url` names the page of its dam or sire."""

    name: str
    pk: int | None
    clutches: int
    sizes: str
    fertile: ShareWords | None
    hatched: ShareWords | None


@dataclass(frozen=True)
class RatesPage:
    """Clutch sizes, fertility and hatch rates of a species."""

    species: Species | None
    every: tuple[Species, ...]
    by: str
    rows: tuple[RateRow, ...]
    whole: RateRow | None
    plot: Bars | None


@dataclass(frozen=True)
class Verdict:
    """What a test says: its p as it is and corrected, chi-squared where it holds, and in words."""

    p: str
    corrected: str
    squared: str
    words: str
    is_unusual: bool


@dataclass(frozen=True)
class LooksRow:
    """A clutch's looks with the verdict on them."""

    tested: LooksTested
    verdict: Verdict | None


@dataclass(frozen=True)
class SexesRow:
    """Sons of a group with the verdict on them."""

    tested: SexesTested
    between: str
    verdict: Verdict | None


@dataclass(frozen=True)
class LooksPage:
    """What hatched against what was expected."""

    rows: tuple[LooksRow, ...]
    sexes: tuple[SexesRow, ...]
    more: int
    untold: int
    shown: int

    @property
    def unusual(self) -> list[LooksRow]:
        """The clutches that chance alone would rarely give."""
        return [one for one in self.rows if one.verdict and one.verdict.is_unusual]

    @property
    def usual(self) -> list[LooksRow]:
        """The clutches that are as chance has it."""
        return [one for one in self.rows if one.verdict and not one.verdict.is_unusual]

    @property
    def not_tested(self) -> list[LooksRow]:
        """The clutches that no test can be made of, each with why."""
        return [one for one in self.rows if not one.verdict]


@dataclass(frozen=True)
class BandRow:
    """A band of chances: what was said in it and what came of it, in words."""

    band: Band
    name: str
    share: str
    between: str


@dataclass(frozen=True)
class RecordPage:
    """The book's own record."""

    record: OwnRecord
    rows: tuple[BandRow, ...]
    plot: Calibration | None
    untold: int


def rates_page(asked: str, by: str) -> RatesPage:
    """Return figures of a species, in groups; of the first where none is asked for."""
    every = tuple(rates.species_with_clutches())
    species = next((one for one in every if str(one.pk) == asked), every[0] if every else None)
    by = by if by in rates.BY else "season"
    if species is None:
        return RatesPage(None, every, by, (), None, None)
    clutches = rates.clutches_of(species)
    groups = rates.rates(clutches, by)
    plot = bars([(one.name, one.hatched) for one in groups])
    rows = tuple(map(_rate_row, groups))
    return RatesPage(species, every, by, rows, _rate_row(rates.whole(clutches)), plot)


def looks_page() -> LooksPage:
    """Return what hatched against what was said before; kept until anything is written."""
    name = f"figures-looks:{daybook.moment()}"
    found: LooksPage | None = cache.get(name)
    if found is None:
        found = _looks_page()
        cache.set(name, found, _KEPT)
    return found


def record_page() -> RecordPage:
    """Return the book's own record; kept in the same way."""
    name = f"figures-record:{daybook.moment()}"
    found: RecordPage | None = cache.get(name)
    if found is None:
        own = record.own_record(list(looks.foretold()))
        rows = tuple(_band_row(one) for one in own.bands if one.said)
        found = RecordPage(own, rows, calibration(own.bands), _untold())
        cache.set(name, found, _KEPT)
    return found


def _looks_page() -> LooksPage:
    told = list(looks.foretold()[: MOST + 1])
    tested = looks.looks_tested(told[:MOST])
    clutches = [one for species in rates.species_with_clutches() for one in _all(species)]
    sexes = looks.sexes_tested(clutches)
    return LooksPage(
        tuple(LooksRow(one, _verdict(one.result, one.p)) for one in tested),
        tuple(SexesRow(one, _between(one.interval), _verdict(one.result, one.p)) for one in sexes),
        max(0, looks.foretold().count() - MOST),
        _untold(),
        sum(one.result.p is not None for one in tested),
    )


def _all(species: Species) -> list[Clutch]:
    return rates.clutches_of(species)


def _untold() -> int:
    """How many clutches hatched of which nothing that was said before is kept."""
    hatched = Clutch.objects.live().filter(hatched_on__isnull=False)
    told = Foretold.objects.live().values("clutch")
    return hatched.exclude(pk__in=told).count()


def _rate_row(one: rates.Rates) -> RateRow:
    sizes = ""
    if one.sizes:
        low, high = one.sizes[0], one.sizes[-1]
        spread = f" ({low} to {high})" if low != high else ""
        sizes = f"{one.median:g}{spread}"
    return RateRow(one.name, one.pk, one.clutches, sizes, _share(one.fertile), _share(one.hatched))


def _share(one: rates.Share) -> ShareWords | None:
    if not one.whole:
        return None
    return ShareWords(
        percent(one.part / one.whole), _between(one.interval), f"{one.part} of {one.whole}"
    )


def _between(interval: tuple[float, float] | None) -> str:
    """An interval in words, its ends rounded outwards."""
    if interval is None:
        return ""
    return f"{percent(interval[0])} to {percent_up(interval[1])}"


def _verdict(result: Tested, corrected: float | None) -> Verdict | None:
    if result.p is None or corrected is None:
        return None
    squared = ""
    if result.chi_squared is not None:
        squared = f"{result.chi_squared:.3f}, {result.freedom} df"
    if corrected < _HARDLY:
        words = "hardly chance: look again at parents, sires and looks"
    elif corrected < _UNUSUAL:
        words = "unusual: worth a look at what was assumed"
    else:
        words = "as chance has it"
    how = "" if result.exact else ", by chi-squared"
    return Verdict(
        f"{p_words(result.p)}{how}", p_words(corrected), squared, words, corrected < _UNUSUAL
    )


def p_words(p: float) -> str:
    """Return a p-value to two figures: 0.26, 0.019, under 0.001.

    >>> p_words(0.0193), p_words(0.00004), p_words(1.0)
    ('0.019', 'under 0.001', '1')
    """
    if p < 0.001:
        return "under 0.001"
    return f"{p:.2g}"


def _band_row(band: Band) -> BandRow:
    name = f"{band.low} to {band.high} %" if band.low else "under 1 %"
    return BandRow(band, name, percent(band.share), _between(band.interval))


# --- as files --------------------------------------------------------------------------------


def rates_table(page: RatesPage) -> Table:
    """Return figures of groups as a table."""
    heads = [
        *("Group", "Clutches", "Eggs, median and range"),
        *("Fertile", "Fertile, of how many", "Fertile, 95 % interval"),
        *("Hatched", "Hatched, of how many", "Hatched, 95 % interval"),
    ]
    return heads, [
        (one.name, one.clutches, one.sizes, *_cells(one.fertile), *_cells(one.hatched))
        for one in page.rows
    ]


def _cells(one: ShareWords | None) -> tuple[str, str, str]:
    return (one.share, one.of, one.between) if one else ("", "", "")


def looks_table(page: LooksPage) -> Table:
    """Return looks and sexes with their tests as a table."""
    heads = [
        *("Of", "What", "Seen", "Expected", "Of how many"),
        *("p", "p corrected", "Chi-squared", "In words"),
    ]
    rows: list[Sequence[Cell]] = []
    for row in page.rows:
        words = _test_cells(row.verdict, row.tested.why)
        clutch = str(row.tested.clutch)
        rows += [
            (clutch, look.name, look.seen, f"{look.expected:.2f}", row.tested.told, *words)
            for look in row.tested.looks
        ]
    for one in page.sexes:
        of, half = one.tested, one.tested.sexed / 2
        words = _test_cells(one.verdict, "")
        rows.append((of.name, "sons", of.sons, f"{half:.1f}", of.sexed, *words))
    return heads, rows


def _test_cells(verdict: Verdict | None, why: str) -> tuple[str, str, str, str]:
    if verdict is None:
        return "", "", "", why
    return verdict.p, verdict.corrected, verdict.squared, verdict.words


def record_table(page: RecordPage) -> Table:
    """Return the book's own record as a table."""
    heads = ["Said", "Animals and traits", "Came true", "Expected", "Share", "95 % interval"]
    return heads, [
        (
            *(row.name, row.band.said, row.band.came, f"{row.band.expected:.1f}"),
            *(row.share, row.between),
        )
        for row in page.rows
    ]
