"""The grounds of one standing: the evidence, the working, and how the figure moved."""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from keeper.contexts.links import link_of
from keeper.contexts.mathml import safe_mathml
from keeper.domain import inference
from keeper.domain.figures import percent
from keeper.domain.queries import animals as queries
from keeper.domain.wording import Carried, carried
from keeper.models import Animal, Line, Standing, StandingChange, Trait

_MOVES = 20


@dataclass(frozen=True)
class Piece:
    """One piece of evidence: what it says, where it is read, what would be without it."""

    text: str
    url: str
    without: str
    counts: bool


@dataclass(frozen=True)
class Step:
    """One step of the working."""

    text: str
    plain: str
    mathml: SafeString


@dataclass(frozen=True)
class GroundsPage:
    """The grounds of one standing.

    Attributes:
        standing: the standing, or None where the book says nothing of it.
        carried: the trait with its lines.
        pieces: the weightiest first.
        refusal: why there are none, if they cannot be told.
        conflict: records that cannot all be true, in words; the newest is left out.
        working: exact steps where the situation is simple enough.
        moves: how the figure moved, the newest first.
    """

    animal: Animal
    trait: Trait
    line: Line | None
    standing: Standing | None
    carried: Carried | None
    pieces: tuple[Piece, ...]
    working: tuple[Step, ...]
    exact: bool
    refusal: str
    conflict: tuple[str, ...]
    moves: tuple[StandingChange, ...]

    @property
    def now(self) -> str:
        """The figure as it stands."""
        if self.standing is None:
            return "0 %"
        return percent(self.standing.two + self.standing.one, certain=self.standing.none == 0)


def grounds_page(animal: Animal, trait: Trait, line: Line | None) -> GroundsPage:
    """Return the page's data; what the engine cannot answer is said, not raised."""
    rows = [one for one in queries.standings_of([animal.pk]) if one.trait_id == trait.pk]
    wanted = line.pk if line else None
    refusal = ""
    answer = inference.Grounds((), ())
    try:
        answer = inference.grounds(animal, trait, line)
    except inference.Unanswerable as error:
        refusal = str(error)
    return GroundsPage(
        animal=animal,
        trait=trait,
        line=line,
        standing=next((one for one in rows if one.line_id == wanted), None),
        carried=carried(rows)[0] if rows else None,
        pieces=tuple(_piece(one) for one in answer.grounds),
        working=tuple(Step(one.text, one.plain, safe_mathml(one.mathml)) for one in answer.working),
        exact=answer.exact,
        refusal=refusal,
        conflict=answer.conflict,
        moves=tuple(queries.moves_of(animal, trait, wanted)[:_MOVES]),
    )


def _piece(ground: inference.Ground) -> Piece:
    without = "" if ground.without is None else percent(ground.without)
    counts = ground.without is None or abs(ground.without - ground.now) > 1e-9
    return Piece(ground.text, link_of(ground.record), without, counts)
