"""Prospects read, and what of the collection bears on them."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Prefetch, Q, QuerySet

from keeper.domain.book.ordering import newest
from keeper.domain.collection.queries import HERE
from keeper.domain.projects.queries import goal_of, open_projects, with_goal
from keeper.domain.prospects.fits import Held
from keeper.models import (
    Animal,
    Contact,
    GoalPart,
    Line,
    PairWord,
    Project,
    Prospect,
    ProspectWord,
    Sex,
    Species,
    Standing,
    Statement,
)

STATES = ("open", "bought", "gone")


def listed(state: str) -> QuerySet[Prospect]:
    """Return the prospects of one of `STATES`, with all that a list says of them."""
    rows = with_words(Prospect.objects.filter(_state(state)))
    return rows.order_by(newest("seen_on"), "-pk")


def counts() -> dict[str, int]:
    """Return how many prospects there are in each state."""
    counted = {f"{state}_ones": Count("pk", filter=_state(state)) for state in STATES}
    found = Prospect.objects.aggregate(**counted)
    return {state: found[f"{state}_ones"] for state in STATES}


def _state(state: str) -> Q:
    match state:
        case "bought":
            return Q(bought__isnull=False)
        case "gone":
            return Q(bought=None, withdrawn_at__isnull=False)
        case _:
            return Q(bought=None, withdrawn_at=None)


def with_words(prospects: QuerySet[Prospect]) -> QuerySet[Prospect]:
    """Add species, source and the animal it was bought as; what is said of it as `said`."""
    words = ProspectWord.objects.live().select_related("trait", "line__trait", "line__locus")
    return prospects.select_related("species", "source", "bought").prefetch_related(
        Prefetch("words", words.order_by("trait__name", "pk"), to_attr="said")
    )


def said_of(prospect: Any) -> list[ProspectWord]:
    """Return what is said of a prospect that came `with_words`."""
    return list(prospect.said)


def of_source(contact: Contact) -> QuerySet[Prospect]:
    """Return what one may buy from a contact."""
    return Prospect.objects.live().filter(source=contact, bought=None)


def projects_for(species: Species) -> list[tuple[Project, list[GoalPart]]]:
    """Return the open projects of a species, each with its goal."""
    return [(one, goal_of(one)) for one in with_goal(open_projects(species))]


def lines_of(species: Species) -> list[Line]:
    """Return the lines of a species that count, with their traits and loci."""
    rows = Line.objects.live().filter(trait__species=species, trait__withdrawn_at=None)
    return list(rows.select_related("trait", "locus").order_by("trait__name", "code"))


def held(species: Species, traits: Iterable[int]) -> dict[tuple[int, int | None], Held]:
    """Return by trait and line (None: whatever the line) how many animals here carry it."""
    rows = Standing.objects.filter(
        animal__in=animals_here(species), trait__in=list(traits), none__lt=1
    )
    settled = Q(dispute=None)
    counted = rows.order_by().values_list("trait", "line").annotate(
        certain=Count("pk", filter=settled & Q(none=0)),
        possible=Count("pk", filter=settled & Q(none__gt=0)),
        disputed=Count("pk", filter=~settled),
    )  # fmt: skip
    return {(trait, line): Held(*numbers) for trait, line, *numbers in counted}


def animals_here(species: Species) -> QuerySet[Animal]:
    """Return the animals of a species that are kept here, for sale or on loan."""
    rows: QuerySet[Animal] = Animal.objects.live().filter(species=species, status__in=HERE)
    return rows


def mates(prospect: Prospect) -> QuerySet[Animal]:
    """Return the animals here of the other sex; of both where the prospect's is not known."""
    found = animals_here(prospect.species).select_related("species").order_by("code")
    match prospect.sex:
        case Sex.FEMALE:
            return found.filter(sex=Sex.MALE)
        case Sex.MALE:
            return found.filter(sex=Sex.FEMALE)
        case _:
            return found.exclude(sex=Sex.UNKNOWN)


def misses_in_goals(
    animals: QuerySet[Animal], traits: Iterable[int]
) -> dict[tuple[int, int | None], dict[int, float]]:
    """Return by trait and line each animal's chance of no copy; disputed ones are left out."""
    found: dict[tuple[int, int | None], dict[int, float]] = {}
    rows = Standing.objects.filter(
        animal__in=animals.order_by(), trait__in=list(traits), none__lt=1, dispute=None
    )
    for animal, trait, line, none in rows.values_list("animal", "trait", "line", "none"):
        found.setdefault((trait, line), {})[animal] = none
    return found


def pair_words_of(contact: Contact | None) -> set[frozenset[int]]:
    """Return the pairs of lines of which a source has told whether they are one gene."""
    if contact is None:
        return set()
    rows = PairWord.objects.live().filter(source=contact)
    return {frozenset(pair) for pair in rows.values_list("one", "other")}


def statements_counted(contact: Contact | None) -> tuple[int, int]:
    """Return how many statements of a source are in the book, and of how many animals."""
    if contact is None:
        return 0, 0
    rows = Statement.objects.live().filter(source=contact, animal__withdrawn_at=None)
    counted = rows.aggregate(said=Count("pk"), animals=Count("animal", distinct=True))
    return counted["said"], counted["animals"]
