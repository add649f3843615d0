"""What the search prints: groups of links."""

from dataclasses import dataclass

from keeper.domain.search.queries import found
from keeper.models import Line, Record, Sheet
from keeper.pages.frame.links import RecordLink, link_of

# Of each kind on the page, and in the margin while somebody types.
ON_PAGE, IN_MARGIN = 25, 4


@dataclass(frozen=True)
class Links:
    """What was found of a kind."""

    title: str
    links: tuple[RecordLink, ...]
    more: bool


def search_page(text: str, *, in_margin: bool) -> tuple[Links, ...]:
    """Return the links to what was found."""
    groups = found(text, most=IN_MARGIN if in_margin else ON_PAGE)
    return tuple(
        Links(
            group.title,
            tuple(RecordLink(_words(one), link_of(one)) for one in group.records),
            group.more,
        )
        for group in groups
    )


def _words(record: Record) -> str:
    if isinstance(record, Line):
        return f"{record.trait.name} {record.code} ({record.name})"
    if isinstance(record, Sheet):
        return f"{record.numbered} on {record.animal.code}"
    return str(record)
