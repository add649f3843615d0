"""What inference answers, as plain data: ids of rows and probabilities."""

from dataclasses import dataclass
from datetime import date

from keeper.models import Record


@dataclass(frozen=True)
class Copies:
    """Probabilities of two, one and no copies of a trait's lines, or of one line (not None)."""

    trait: int
    line: int | None
    two: float
    one: float
    none: float


@dataclass(frozen=True)
class Look:
    """A look that a pairing can give: ids of the traits that are visible together.

    Attributes:
        traits: in the order of their names; empty for a normal look.
        chance: for one hatchling.
        at_least_one: number of hatchlings → chance that one of them at least looks so, averaged
            over what the parents may be.
        sons, daughters: the share of either that looks so; None where it is that of all.
    """

    traits: tuple[int, ...]
    chance: float
    at_least_one: dict[int, float]
    sons: float | None = None
    daughters: float | None = None


@dataclass(frozen=True)
class Mixing:
    """Two lines of one look, one from each parent, that do not share a locus for certain.

    Attributes:
        trait: the look they share.
        dam_line, sire_line: line ids.
        open: whether they may be one gene (an open pair); otherwise they are two.
        chance: chance that one hatchling carries both.
    """

    trait: int
    dam_line: int
    sire_line: int
    open: bool
    chance: float


@dataclass(frozen=True)
class Pairing:
    """What a pair gives.

    Attributes:
        looks: most likely first.
        scored: ids of all traits that some look has: what a keeper looks for on hatch day.
        young: what one hatchling carries, for every trait and line with any chance.
        mixing: lines that would mix.
        lost: expected share of eggs that die of their genotype, 0 if no survival is recorded.
        harmful: trait id → chance that a hatchling shows a trait with a recorded harm.
        masking: trait id → ids of the pairing's other looks that cannot be seen on it.
        kinship: Wright's coefficient of the parents, which is the F of their young.
        exact: whether every figure is exact; `error` is the half width of its interval if not.
        conflict: what the figures leave out, in words: the newest of records behind the pair that
            cannot all be true. Empty as a rule.
        sons: chance that a hatchling is a son; where no gene decides, it says nothing.
    """

    looks: tuple[Look, ...]
    scored: tuple[int, ...]
    young: tuple[Copies, ...]
    mixing: tuple[Mixing, ...]
    lost: float
    harmful: dict[int, float]
    masking: dict[int, tuple[int, ...]]
    kinship: float
    exact: bool = True
    error: float = 0.0
    conflict: tuple[str, ...] = ()
    sons: float = 0.5


@dataclass(frozen=True)
class GoalChance:
    """How likely a pair's hatchling meets a project's goal.

    Attributes:
        each: for one hatchling (its sex counted where the goal names one).
        at_least_one: number of hatchlings → chance of at least one.
        for_95: hatchlings needed for 95 %, or None if no number is enough.
        sons, daughters: the share of either that meets it; None where it is that of all, and where
            the goal asks for a sex.
    """

    each: float
    at_least_one: dict[int, float]
    for_95: int | None
    sons: float | None = None
    daughters: float | None = None


@dataclass(frozen=True)
class Ground:
    """One item of evidence and what it does to one number.

    Attributes:
        record: the row it comes from; None for several that are weighed together.
        text: what it says, in words.
        without: the chance of carrying without this record alone; None if that cannot be.
        now: the chance as it stands.
    """

    record: Record | None
    text: str
    without: float | None
    now: float


@dataclass(frozen=True)
class WorkingStep:
    """One step of a working: what is derived, in plain figures and as MathML (both may be "")."""

    text: str
    plain: str
    mathml: str


@dataclass(frozen=True)
class Grounds:
    """Why a standing is what it is.

    Attributes:
        grounds: the weightiest first.
        working: the exact working where the situation is simple enough, else empty.
        exact: whether the figures are exact.
        conflict: records that cannot all be true, in words; the newest of them is left out here.
        no_working: why there is no working, in a sentence; empty if there is one.
        disputed: the records of the dispute that the number rests on, with it without each.
    """

    grounds: tuple[Ground, ...]
    working: tuple[WorkingStep, ...]
    exact: bool = True
    conflict: tuple[str, ...] = ()
    no_working: str = ""
    disputed: tuple[Ground, ...] = ()


@dataclass(frozen=True)
class DatedRecord:
    """A row and what it says."""

    record: Record
    text: str


@dataclass(frozen=True)
class Day:
    """What came in on one day, and the number then.

    Attributes:
        on: the day, or None for what has none.
        told: the rows of that day.
        after: the chance of carrying by all that was told so far; None while that cannot all be
            true, as where young were seen before what is said of their parents is dated.
    """

    on: date | None
    told: tuple[DatedRecord, ...]
    after: float | None


@dataclass(frozen=True)
class Course:
    """How a number came about, in the order of the days of what it rests on.

    Attributes:
        start: the chance by the pedigree alone, and by what is too far off to be told singly.
        further: how many records are told in `start`.
        days: the first one first.
        exact: whether the figures are exact.
    """

    start: float | None
    further: int
    days: tuple[Day, ...]
    exact: bool = True


@dataclass(frozen=True)
class Difference:
    """A stored standing that is not what the book says when computed anew."""

    animal: str
    trait: str
    line: str | None
    stored: str
    computed: str
