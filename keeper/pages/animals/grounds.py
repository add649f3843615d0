"""The grounds of one standing: the evidence, the working, and how the figure moved."""

from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils.safestring import SafeString

from keeper.domain import inference
from keeper.domain.animals import queries
from keeper.domain.animals.moves import moves_of
from keeper.domain.proving.queries import is_open
from keeper.domain.saying.figures import carrier_percent, percent, percent_up
from keeper.domain.saying.wording import Carried, carried, rests_on_one_look, telling_said
from keeper.models import Animal, Line, Standing, Trait, Word
from keeper.pages.animals.mathml import safe_mathml
from keeper.pages.animals.moving import Moving, moving
from keeper.pages.frame.links import link_of

_MOVES = 12
_SAME = 1e-9
# A figure within one percent of what is left after clean tests must not read less than it.
_WHOLE = 0.01


@dataclass(frozen=True)
class Piece:
    """One piece of evidence: what it says, where it is read, what would be without it."""

    text: str
    url: str
    without: str


@dataclass(frozen=True)
class Step:
    """One step of the working; without figures it is a heading of those that follow."""

    text: str
    plain: str
    mathml: SafeString


@dataclass(frozen=True)
class GroundsPage:
    """The grounds of one standing.

    Attributes:
        standing: the standing, or None where the book says nothing of it.
        carried: the trait with its lines.
        pieces: the weightiest first; without them alone the figure is another.
        unchanged: the others.
        disputed: the records of the dispute that it rests on, with the figure without each.
        refusal: why there are none, if they cannot be told.
        conflict: records that cannot all be true, in words; the newest is left out.
        working: exact steps where the situation is simple enough, or `no_working`, why not.
        moving: how the figure moved, if it ever did.
        days: address of how the number came about, day by day.
        one_look: the figure if the one look that a proof rests on can be misread; or empty.
        telling: how telling the clean hatchlings are that the standing counts; or empty.
        proving: address of whom to test it with; empty where nothing is open.
    """

    animal: Animal
    trait: Trait
    line: Line | None
    standing: Standing | None
    carried: Carried | None
    pieces: tuple[Piece, ...]
    unchanged: tuple[Piece, ...]
    disputed: tuple[Piece, ...]
    working: tuple[Step, ...]
    no_working: str
    exact: bool
    refusal: str
    conflict: tuple[str, ...]
    moving: Moving | None
    days: str
    one_look: str
    telling: str
    proving: str

    @property
    def now(self) -> str:
        """The figure as it stands."""
        if self.standing is None:
            return "0 %"
        return carrier_percent(self.standing)

    @property
    def rounded(self) -> str:
        """How the working's result is rounded: what is left after clean tests is not told less."""
        return "up" if self.standing is not None and self.standing.word == Word.CLEAN else "down"

    @property
    def worked(self) -> str:
        """What the working works out: of a certain carrier the chance of two copies."""
        if self.standing is None or self.standing.none > 0:
            return self.now
        return f"{percent(self.standing.two)} has two copies"


def grounds_page(animal: Animal, trait: Trait, line: Line | None) -> GroundsPage:
    """Return the page's data; what the engine cannot answer is said, not raised."""
    rows = [one for one in queries.standings_of([animal.pk]) if one.trait_id == trait.pk]
    wanted = line.pk if line else None
    standing = next((one for one in rows if one.line_id == wanted), None)
    refusal, one_look = "", ""
    answer = inference.Grounds((), ())
    try:
        answer = inference.grounds(animal, trait, line)
        if standing is not None and rests_on_one_look(standing):
            chance = inference.if_misread(animal, trait, line)
            one_look = "" if chance is None else percent(chance)
    except inference.Unanswerable as error:
        refusal = str(error)
    return GroundsPage(
        animal=animal,
        trait=trait,
        line=line,
        standing=standing,
        carried=carried(rows)[0] if rows else None,
        pieces=tuple(_piece(one, standing) for one in answer.grounds if _counts(one)),
        unchanged=tuple(_piece(one, standing) for one in answer.grounds if not _counts(one)),
        disputed=tuple(_piece(one, standing) for one in answer.disputed),
        working=tuple(Step(one.text, one.plain, safe_mathml(one.mathml)) for one in answer.working),
        no_working=answer.no_working,
        exact=answer.exact,
        refusal=refusal,
        conflict=answer.conflict,
        moving=moving(list(moves_of(animal, trait, line)), most=_MOVES),
        days=_address("animals-grounds", animal, trait, line, {"by": "days"}),
        one_look=one_look,
        telling="" if standing is None else _telling(animal, standing),
        proving=_address("projects-proving-one", animal, trait, line, {})
        if standing is not None and is_open(standing)
        else "",
    )


def how_telling(animal: Animal, trait: Trait, line: Line | None) -> str:
    """Say how telling the clean hatchlings of a standing are: "as telling as 3 …"; or nothing."""
    wanted = (trait.pk, line.pk if line else None)
    rows = queries.standings_of([animal.pk])
    found = next((one for one in rows if (one.trait_id, one.line_id) == wanted), None)
    return "" if found is None else _telling(animal, found)


def _telling(animal: Animal, standing: Standing) -> str:
    if standing.word != Word.CLEAN or standing.is_disputed:
        return ""
    bits = inference.how_telling(animal, standing.trait, standing.line)
    return telling_said(bits, standing.trait.shown)


def _address(
    name: str, animal: Animal, trait: Trait, line: Line | None, query: dict[str, str]
) -> str:
    of_line = {"line": str(line.pk)} if line else {}
    return reverse(name, args=[animal.pk, trait.pk], query=of_line | query)


def _counts(ground: inference.Ground) -> bool:
    """Whether the figure without it alone is another, or could not be."""
    return ground.without is None or abs(ground.without - ground.now) > _SAME


def _figure(chance: float | None, standing: Standing | None) -> str:
    """A figure of the standing as some of the records have it.

    What it was before clean tests is a claim; what they left is rounded up as the standing is.
    """
    if chance is None:
        return ""
    if standing is not None and standing.word == Word.CLEAN:
        return percent_up(chance) if chance <= standing.carries + _WHOLE else percent(chance)
    return percent(chance)


def _piece(ground: inference.Ground, standing: Standing | None) -> Piece:
    without = _figure(ground.without, standing)
    return Piece(ground.text, link_of(ground.record) if ground.record else "", without)


# --- day by day ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Came:
    """What came in on one day, and the figure then (empty while it could not be)."""

    on: date | None
    told: tuple[tuple[str, str], ...]
    after: str


@dataclass(frozen=True)
class DaysPage:
    """How a number came about.

    Attributes:
        start: the figure by the pedigree alone.
        further: how many records too far off to be told singly are in it.
        days: the first one first.
        grounds: address of the grounds.
    """

    animal: Animal
    trait: Trait
    line: Line | None
    start: str
    further: int
    days: tuple[Came, ...]
    exact: bool
    refusal: str
    grounds: str


def days_page(animal: Animal, trait: Trait, line: Line | None) -> DaysPage:
    """Return the page's data; what the engine cannot answer is said, not raised."""
    refusal, wanted = "", line.pk if line else None
    rows = queries.standings_of([animal.pk])
    own = (one for one in rows if (one.trait_id, one.line_id) == (trait.pk, wanted))
    standing = next(own, None)
    course = inference.Course(None, 0, ())
    try:
        course = inference.course(animal, trait, line)
    except inference.Unanswerable as error:
        refusal = str(error)
    return DaysPage(
        animal=animal,
        trait=trait,
        line=line,
        start=_figure(course.start, standing),
        further=course.further,
        days=tuple(
            Came(
                day.on,
                tuple((one.text, link_of(one.record)) for one in day.told),
                _figure(day.after, standing),
            )
            for day in course.days
        ),
        exact=course.exact,
        refusal=refusal,
        grounds=_address("animals-grounds", animal, trait, line, {}),
    )
