"""Disputes and surprises as several pages point them out, each record a link."""

from collections.abc import Iterable
from dataclasses import dataclass

from keeper.domain.saying.disputed import told
from keeper.domain.saying.figures import once_in
from keeper.models import Dispute, Surprise
from keeper.pages.frame.links import RecordLink, link_of, links_of


@dataclass(frozen=True)
class DisputeNotice:
    """Records that cannot all be true, each a link."""

    dispute: Dispute
    records: tuple[RecordLink, ...]


def notice(dispute: Dispute) -> DisputeNotice:
    """Return what is printed of a dispute."""
    named = ((one["model"], one["pk"], told(one)) for one in dispute.conflict)
    return DisputeNotice(dispute, tuple(links_of(named)))


@dataclass(frozen=True)
class SurpriseRow:
    """Something unlikely and possible: how unlikely, and where it is read."""

    surprise: Surprise
    chance: str
    url: str


def surprise_rows(surprises: Iterable[Surprise]) -> tuple[SurpriseRow, ...]:
    """Return what is printed of each."""
    return tuple(SurpriseRow(one, once_in(one.chance), _read_at(one)) for one in surprises)


def _read_at(surprise: Surprise) -> str:
    record = surprise.clutch or surprise.animal
    return link_of(record) if record is not None else ""
