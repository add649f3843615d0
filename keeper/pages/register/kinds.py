"""The kinds of traits that there are templates for, in a keeper's words."""

from dataclasses import dataclass

from keeper.models import SexDetermination, Species


@dataclass(frozen=True)
class Kind:
    """A kind of trait on the page that asks for it.

    Attributes:
        slug: in the address of its template.
        title, gives: what it is called, and what it looks like in the room.
        lacks: why it cannot be chosen here; empty: it can.
    """

    slug: str
    title: str
    gives: str
    lacks: str = ""


_KINDS = (
    Kind("recessive", "Recessive", "One copy cannot be seen; two copies show it."),
    Kind(
        "double-form",
        "Incomplete dominant, with a double form",
        "One copy shows it; two copies are another look, with a name of its own.",
    ),
    Kind("dominant", "Dominant", "One copy shows it; two copies look the same."),
    Kind(
        "complex",
        "Several lines of one gene",
        "An allelic complex: what two of them make together has a name of its own.",
    ),
    Kind(
        "harmful",
        "Lethal or harmful when doubled",
        "Two copies do not hatch, or hatch unwell.",
    ),
    Kind(
        "one-sex",
        "On the {one}",
        "It never leaves that chromosome: sons and daughters get it differently.",
    ),
    Kind(
        "both-sexes",
        "On both sex chromosomes",
        "On {both}: mostly young of one sex get it, but for rare crossovers.",
    ),
    Kind(
        "linked",
        "Close to another gene",
        "The two are passed on together more often than by chance.",
    ),
    Kind(
        "not-always",
        "Not always seen",
        "Incomplete penetrance: some that have the genes for it do not show it.",
    ),
    Kind("hiding", "Hides other traits", "On an animal that shows it others cannot be seen."),
)
_ON_SEX = {"one-sex", "both-sexes"}


def kinds(species: Species, *, has_neighbours: bool) -> tuple[Kind, ...]:
    """Return the kinds for a species; those that it has no place for say why."""
    return tuple(_of(kind, species, has_neighbours) for kind in _KINDS)


def kind(slug: str, species: Species) -> Kind:
    """Return the kind of that name, in the words of a species."""
    return next(_of(one, species, True) for one in _KINDS if one.slug == slug)


def _of(kind: Kind, species: Species, has_neighbours: bool) -> Kind:
    one, both = (
        ("Z", "Z and W") if species.sex_determination == SexDetermination.ZW else ("X", "X and Y")
    )
    lacks = ""
    if kind.slug in _ON_SEX and not species.has_sex_chromosomes:
        one, both = "X or Z", "both"
        lacks = f"{species} has no sex chromosomes in this book."
    elif kind.slug == "linked" and not has_neighbours:
        lacks = "Add the other gene first."
    title, gives = (text.format(one=one, both=both) for text in (kind.title, kind.gives))
    return Kind(kind.slug, title, gives, lacks)
