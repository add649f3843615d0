"""Pages of disputes: the records that cannot all be true, whose numbers, and how it was settled."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.urls import NoReverseMatch, reverse

from keeper.domain.disputes import queries as reads
from keeper.domain.explaining import DisputeCluster
from keeper.domain.inference import in_words
from keeper.domain.saying.disputed import told
from keeper.models import (
    Animal,
    Clutch,
    DaybookEntry,
    Dispute,
    HatchRow,
    LabTest,
    Look,
    Observation,
    Record,
    RowSighting,
    Statement,
)
from keeper.pages.frame.links import RecordLink, link_of, links_of
from keeper.pages.frame.notices import SurpriseRow, surprise_rows

# So many of each are shown; of the rest it is said how many.
_SETTLED, _LOOKED_AT, _AFFECTED = 10, 5, 40

# Where a record is put right by hand: the address, and the word in that of its withdrawing.
_CORRECTED: dict[type[Record], tuple[str, str]] = {
    Look: ("animals-look", "look"),
    Observation: ("animals-observation", "observation"),
    Statement: ("animals-statement", "statement"),
    LabTest: ("animals-lab-test", "lab-test"),
    Clutch: ("clutches-edit", ""),
    HatchRow: ("clutches-hatch", ""),
    Animal: ("animals-edit", ""),
}


@dataclass(frozen=True)
class RecordLine:
    """A record in words, where it is read, and where it is corrected or withdrawn (or nowhere)."""

    text: str
    on: date | None
    url: str
    correct: str
    withdraw: str


@dataclass(frozen=True)
class ConflictPart:
    """One set of records of which at least one must be wrong."""

    dispute: Dispute
    records: tuple[RecordLine, ...]


@dataclass(frozen=True)
class Summary:
    """An open cluster in the list: its records, and the codes of the animals in doubt."""

    cluster: DisputeCluster
    parts: tuple[ConflictPart, ...]
    in_doubt: tuple[Animal, ...]

    @property
    def first(self) -> Dispute:
        """The dispute whose address the cluster has."""
        return self.cluster.disputes[0]


@dataclass(frozen=True)
class Closed:
    """A dispute that was settled: its records, by which entry, and whether that can be undone."""

    dispute: Dispute
    records: tuple[RecordLink, ...]
    entry: DaybookEntry
    may_undo: bool


@dataclass(frozen=True)
class DisputesPage:
    """What is open, what was unlikely, and what was settled lately."""

    open: tuple[Summary, ...]
    surprises: tuple[SurpriseRow, ...]
    looked_at: tuple[SurpriseRow, ...]
    settled: tuple[Closed, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing waits."""
        return not (self.open or self.surprises)


@dataclass(frozen=True)
class ClusterPage:
    """Open disputes that share records.

    Attributes:
        dispute: the one whose address was opened.
        parts: each smallest set of records of which at least one is wrong.
        affected, more: whose standings are in dispute; how many more there are.
        past: every time that the records of `dispute` were in dispute.
    """

    cluster: DisputeCluster
    dispute: Dispute
    parts: tuple[ConflictPart, ...]
    affected: tuple[reads.Affected, ...]
    more: int
    past: tuple[Dispute, ...]


@dataclass(frozen=True)
class ClosedPage:
    """A settled dispute: how, what began by it, and every time its records were in dispute."""

    closed: Closed
    opened_too: tuple[Dispute, ...]
    past: tuple[Dispute, ...]


def disputes_page() -> DisputesPage:
    """Return the list; its queries do not grow with what is in it."""
    clusters = reads.open_clusters()
    disputes = [one for cluster in clusters for one in cluster.disputes]
    lines = _Lines(disputes)
    in_doubt: dict[int, dict[int, Animal]] = {}
    for dispute, animal in reads.in_doubt(disputes):
        in_doubt.setdefault(dispute, {})[animal.pk] = animal
    return DisputesPage(
        open=tuple(
            Summary(
                one,
                lines.parts(one.disputes),
                tuple({
                    pk: animal for dispute in one.disputes
                    for pk, animal in in_doubt.get(dispute.pk, {}).items()
                }.values()),
            )
            for one in clusters
        ),
        surprises=surprise_rows(reads.surprises_waiting()),
        looked_at=surprise_rows(reads.surprises_looked_at(_LOOKED_AT)),
        settled=_closed(reads.settled(_SETTLED)),
    )  # fmt: skip


def cluster_page(cluster: DisputeCluster, dispute: Dispute) -> ClusterPage:
    """Return what is in dispute, apart from its explanations."""
    affected = reads.affected_by(cluster.disputes)
    return ClusterPage(
        cluster=cluster,
        dispute=dispute,
        parts=_Lines(cluster.disputes).parts(cluster.disputes),
        affected=tuple(affected[:_AFFECTED]),
        more=max(0, len(affected) - _AFFECTED),
        past=tuple(reads.past_of(dispute)),
    )


def closed_page(dispute: Dispute) -> ClosedPage:
    """Return how a dispute was settled."""
    (closed,) = _closed([dispute])
    return ClosedPage(closed, tuple(reads.opened_by(closed.entry)), tuple(reads.past_of(dispute)))


def _closed(disputes: Sequence[Dispute]) -> tuple[Closed, ...]:
    named = [
        (record["model"], record["pk"], told(record)) for one in disputes for record in one.conflict
    ]
    links = iter(links_of(named))
    entries = [one.closed for one in disputes if one.closed is not None]
    undoable = reads.undoable(entries)
    return tuple(
        Closed(one, tuple(next(links) for _ in one.conflict), entry, entry.pk in undoable)
        for one, entry in zip(disputes, entries, strict=True)
    )


class _Lines:
    """The records of disputes in words, read at once."""

    def __init__(self, disputes: Iterable[Dispute]) -> None:
        self.rows = reads.records_of(disputes)
        self.looks = reads.looks_of(self.rows.values())

    def parts(self, disputes: Iterable[Dispute]) -> tuple[ConflictPart, ...]:
        """Each dispute with its records: evidence first, parents last."""
        return tuple(ConflictPart(one, self._of(one)) for one in disputes)

    def _of(self, dispute: Dispute) -> tuple[RecordLine, ...]:
        rows = [self.rows[one["model"], one["pk"]] for one in dispute.conflict]
        rows.sort(key=lambda one: isinstance(one, Animal | Clutch))
        return tuple(self._line(row) for row in rows)

    def _line(self, row: Record) -> RecordLine:
        corrected, kind = _CORRECTED.get(type(row), ("", ""))
        pk = row.clutch_id if isinstance(row, HatchRow) else row.pk
        withdraw = reverse("animals-record-withdraw", args=[kind, pk]) if kind else ""
        return RecordLine(self._words(row), _day(row), link_of(row), _page(corrected, pk), withdraw)

    def _words(self, row: Record) -> str:
        if isinstance(row, HatchRow):
            others = ", nothing else seen" if row.whole else ""
            return f"{row}: {_looks(self.looks.get(row.pk, ()))}{others}"
        if isinstance(row, Look):
            return f"{row}: nothing seen but what it names"
        return in_words(row)


def _looks(sightings: Sequence[RowSighting]) -> str:
    return ", ".join(str(one) for one in sightings) or "counted"


def _day(row: Record) -> date | None:
    if isinstance(row, Look | Observation | LabTest | Statement):
        return row.on
    if isinstance(row, Clutch):
        return row.laid_on
    return row.clutch.hatched_on if isinstance(row, HatchRow) else None


def _page(name: str, pk: int) -> str:
    try:
        return reverse(name, args=[pk])
    except NoReverseMatch:
        return ""
