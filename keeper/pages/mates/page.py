"""What an animal could be bred to: of one of the book, and of one that somebody typed in words."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from keeper.domain.animals import queries as animal_queries
from keeper.domain.inference import Guest, GuestWord
from keeper.domain.mates import genes_said, queries
from keeper.domain.mates.letter import Offer, letter
from keeper.domain.mates.warnings import plain
from keeper.domain.pairing.summary import against
from keeper.domain.saying.shorthand import Gene, Read, Unread, in_full
from keeper.domain.saying.shorthand_reading import read
from keeper.models import Animal, Project, Sex, Species
from keeper.pages.mates.rows import MateRow, Side, Subject, side

# So many mates stand in a letter.
_OFFERED = 3


@dataclass(frozen=True)
class MatesPage:
    """The mates of an animal of the book.

    Attributes:
        sides: one; both where its sex is not known.
        projects: the open ones of its species.
        against: why it cannot be bred itself now, in words.
        disputed: whether some of its figures rest on records that contradict each other.
        unsexed: how many animals here are left out since their sex is not known.
        everything: whether all mates are shown.
    """

    animal: Animal
    sides: tuple[Side, ...]
    projects: tuple[Project, ...]
    against: tuple[str, ...]
    disputed: bool
    unsexed: int
    everything: bool


def mates_page(animal: Animal, today: date, *, everything: bool) -> MatesPage:
    """Return the page of an animal that counts."""
    carried = animal_queries.carried_by([animal.pk]).get(animal.pk, [])
    having = genes_said.of_animal(carried, queries.statements_of([animal.pk]))
    projects = queries.projects_of(animal.species)
    subject = Subject(animal, animal.code, having)
    return MatesPage(
        animal=animal,
        sides=tuple(
            side(subject, sex, projects, today, everything=everything)
            for sex in _sexes(Sex(animal.sex))
        ),
        projects=tuple(project for project, _ in projects),
        against=tuple(against([animal], today)),
        disputed=any(genes_said.is_disputed(one) for one in carried),
        unsexed=queries.unsexed_here(animal.species) - (animal.sex == Sex.UNKNOWN),
        everything=everything,
    )


def _sexes(sex: Sex | None) -> tuple[Sex, ...]:
    return (Sex.FEMALE, Sex.MALE) if sex in {None, Sex.UNKNOWN} else (Sex(str(sex)),)


# --- somebody asks -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Mend:
    """What could not be read, and what it may have been: the name and the address with it."""

    unread: Unread
    offers: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class AskedPage:
    """The mates of an animal that somebody typed in words.

    Attributes:
        understood: what was read, in full words.
        query: what its address asks for.
        mends: what could not be read; as long as there is any, nothing is worked out.
        problem: why all of it cannot be true; or empty.
        sides: one; both where its sex was not told.
        text: the answer, ready to send.
    """

    species: Species
    understood: tuple[str, ...]
    query: str
    mends: tuple[Mend, ...]
    is_empty: bool
    problem: str = ""
    sides: tuple[Side, ...] = ()
    text: str = ""
    everything: bool = False


def asked_page(
    species: Species, text: str, sender: str, today: date, *, everything: bool
) -> AskedPage:
    """Read what was typed, and if all of it can be read, rank the mates here."""
    genes = queries.genes_of(species)
    found = read(text, genes)
    page = AskedPage(
        species=species,
        understood=tuple(in_full(found, genes)),
        query=_query(species, text),
        mends=tuple(_mend(one, found, species) for one in found.unread),
        is_empty=found.is_empty,
    )
    if page.mends or page.is_empty:
        return page
    if problem := queries.cannot_all_be(found.words):
        return replace(page, problem=problem)
    sides = _asked(found, species, genes, today, everything=everything)
    return replace(
        page,
        sides=sides,
        text=letter(page.understood, _offers(sides), sender),
        everything=everything,
    )


def _mend(one: Unread, found: Read, species: Species) -> Mend:
    page = reverse("animals-mates-asked")
    offers = [(name, _query(species, found.mended(one, name))) for name in one.near]
    return Mend(one, tuple((name, f"{page}?{query}") for name, query in offers))


def _query(species: Species, says: str) -> str:
    return urlencode({"species": species.pk, "says": says})


def _asked(
    found: Read, species: Species, genes: Sequence[Gene], today: date, *, everything: bool
) -> tuple[Side, ...]:
    words = tuple(GuestWord(one.trait, one.line, one.claim, one.chance) for one in found.words)
    having = genes_said.of_words(found.words, genes)
    projects = queries.projects_of(species)
    return tuple(
        side(
            Subject(Guest(species, sex, words), "the animal asked about", having),
            sex,
            projects,
            today,
            everything=everything,
        )
        for sex in _sexes(found.sex)
    )


def _offers(sides: Sequence[Side]) -> list[Offer]:
    several = len(sides) > 1
    return [
        _offer(row, f", if yours is a {one.sex.label}" if several else "")
        for one in sides
        for row in one.rows[:_OFFERED]
    ]


def _offer(row: MateRow, condition: str) -> Offer:
    animal = row.animal
    odds = [*filter(None, [row.looks]), *row.proves]
    return Offer(
        mate=f"{animal.code}, a {Sex(animal.sex).label}{condition}",
        genes=row.told,
        odds=odds,
        beware=plain(row.warned, but_not=("In dispute:", "Not now:")),
    )
