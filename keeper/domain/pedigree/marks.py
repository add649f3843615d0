"""What a pedigree on a page is made of: symbols, lines, a list, and what the legend has to say.

The published standard's marks (Bennett et al. 1995, 2008, 2022; in our words): square male, circle
female, diamond not known; a diagonal line through the dead; filled for who shows the gene, half
filled for who carries it; a number in a symbol for so many of one kind; a double line between
relatives; a broken line of descent where it may not be so. A chance is written, not drawn.
"""

from dataclasses import dataclass

from keeper.domain.pedigree.genes import Gene
from keeper.domain.saying.strips import Strip
from keeper.models import Animal, Clutch

SYMBOL = 28.0
# Height of a line of words, and of a strip with the room below it; length of a strip.
LINE, STRIP, STRIP_LENGTH = 17.0, 16.0, 60.0


@dataclass(frozen=True)
class Mark:
    """One symbol with what stands under it.

    Attributes:
        x, y: its middle.
        fill: `whole`, `half` or nothing.
        number: how many it stands for, where it is more than one animal or has no record.
        animal, clutch: whose page it leads to.
        focus, alone: whether the pedigree is of it; of nobody else.
        title: all of it in words.
        above: whether it has parents in the book that are not drawn.
    """

    x: float
    y: float
    sex: str
    code: str
    lines: tuple[str, ...]
    title: str
    strip: Strip | None = None
    codes: str = ""
    fill: str = ""
    number: int | None = None
    animal: Animal | None = None
    clutch: Clutch | None = None
    dead: bool = False
    focus: bool = False
    alone: bool = False
    above: bool = False
    unrecorded: bool = False

    @property
    def code_y(self) -> float:
        """Where its code stands."""
        return round(self.y + SYMBOL / 2 + 15, 1)

    @property
    def strip_y(self) -> float:
        """Where its strip begins."""
        return round(self.code_y + 6, 1)

    @property
    def words(self) -> list[tuple[float, str]]:
        """The lines of words under it, each with its height."""
        top = self.code_y + (STRIP if self.strip else 0) + LINE
        return [(round(top + LINE * at, 1), text) for at, text in enumerate(self.lines)]

    @property
    def codes_y(self) -> float:
        """Where the codes of its lines stand: under the words."""
        lines = len(self.lines) + 1
        return round(self.code_y + (STRIP if self.strip else 0) + LINE * lines, 1)

    @property
    def left(self) -> float:
        """Where its strip begins, and what can be tapped."""
        return round(self.x - STRIP_LENGTH / 2, 1)

    @property
    def top(self) -> float:
        """The upper edge of what can be tapped."""
        return round(self.y - SYMBOL / 2, 1)

    @property
    def tall(self) -> float:
        """How high what can be tapped is."""
        return round(self.codes_y - self.top, 1)


@dataclass(frozen=True)
class Path:
    """A line of the drawing as an SVG path."""

    d: str
    kind: str
    related: bool
    doubtful: bool


@dataclass(frozen=True)
class Listed:
    """A symbol in the list: what it is, whose young, and what is said of it."""

    mark: Mark
    animals: tuple[Animal, ...]
    parents: str


@dataclass(frozen=True)
class Picture:
    """A pedigree to show.

    Attributes:
        rows: the same as a list, a row of it for each generation, the oldest first.
        more: whether there were too many to draw.
    """

    name: str
    gene: Gene | None
    genes: tuple[Gene, ...]
    marks: tuple[Mark, ...]
    paths: tuple[Path, ...]
    width: float
    height: float
    rows: tuple[tuple[Listed, ...], ...]
    more: bool = False

    @property
    def is_empty(self) -> bool:
        """Whether nobody in it is anybody's parent or young."""
        return not self.paths

    def has(self, what: str) -> bool:
        """Whether something needs its word in the legend."""
        return any(bool(getattr(mark, what)) for mark in self.marks)

    @property
    def filled(self) -> bool:
        """Whether a symbol is filled."""
        return any(mark.fill == "whole" for mark in self.marks)

    @property
    def half_filled(self) -> bool:
        """Whether a symbol is half filled."""
        return any(mark.fill == "half" for mark in self.marks)

    @property
    def dead(self) -> bool:
        """Whether one has died."""
        return self.has("dead")

    @property
    def numbered(self) -> bool:
        """Whether one symbol stands for several."""
        return self.has("number")

    @property
    def hidden_above(self) -> bool:
        """Whether one has parents that are not drawn."""
        return self.has("above")

    @property
    def unrecorded(self) -> bool:
        """Whether a parent is not recorded."""
        return self.has("unrecorded")

    @property
    def focused(self) -> bool:
        """Whether some are drawn thicker."""
        return self.has("focus")

    @property
    def disputed(self) -> bool:
        """Whether a strip is broken."""
        return any(mark.strip is not None and mark.strip.disputed for mark in self.marks)

    @property
    def related(self) -> bool:
        """Whether mates are relatives."""
        return any(path.related for path in self.paths)

    @property
    def doubtful(self) -> bool:
        """Whether a line of descent is broken."""
        return any(path.doubtful for path in self.paths)
