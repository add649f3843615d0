"""Animals that could be bought for a project: one that carries all of it, or a prospect."""

from collections.abc import Iterable
from dataclasses import dataclass

from keeper.domain.inference import Guest, GuestWord
from keeper.domain.projects.queries import goal_of
from keeper.domain.prospects.queries import said_of, with_words
from keeper.domain.register.queries import Combinations, combinations
from keeper.models import Claim, GoalPart, Project, Prospect, Sex

_SEXES = (Sex.FEMALE, Sex.MALE)


@dataclass(frozen=True)
class Offer:
    """An animal that is not here.

    Attributes:
        key: its name in an address.
        words: what it is.
    """

    key: str
    words: str
    guest: Guest


def offers(project: Project) -> list[Offer]:
    """Return an imagined carrier of either sex, and the prospects of known sex, as they are said.

    A prospect's words are taken as they stand, which its page questions.
    """
    return [*_carriers(project), *_prospects(project)]


def offer(project: Project, key: str) -> Guest | None:
    """Return the animal of that name; nothing if there is none."""
    return next((one.guest for one in offers(project) if one.key == key), None)


def _carriers(project: Project) -> Iterable[Offer]:
    parts = goal_of(project)
    combined = combinations(part.trait for part in parts)
    words = tuple(
        GuestWord(trait, line, Claim.CARRIES)
        for part in parts
        for trait, line in _genes(part, combined)
    )
    for sex in _SEXES:
        said = f"a grown {sex} bought that carries one copy of everything the goal takes"
        yield Offer(sex, said, Guest(project.species, sex, words))


def _genes(part: GoalPart, combined: Combinations) -> Iterable[tuple[int, int | None]]:
    """Trait and line of what one copy each makes a part; of combinations the first."""
    if part.line is None and (several := combined.get(part.trait_id)):
        return [(one.trait_id, one.pk) for one, *_ in several[0]]
    return [(part.line.trait_id if part.line else part.trait_id, part.line_id)]


def _prospects(project: Project) -> Iterable[Offer]:
    rows = Prospect.objects.live().filter(species=project.species, bought=None, sex__in=_SEXES)
    for one in with_words(rows):
        words = tuple(
            GuestWord(word.trait_id, word.line_id, word.claim, word.chance) for word in said_of(one)
        )
        said = f"the prospect “{one.name}” bought, if it is what is said"
        yield Offer(f"prospect-{one.pk}", said, Guest(project.species, one.sex, words))
