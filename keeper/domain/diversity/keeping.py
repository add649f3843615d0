"""What a page of genetic health shows: the book as it stands, or as it stood a little while ago.

What is worked out is kept with the entry after which it was read. In a book so large that one would
wait for it, the page shows what is kept, as of when, while the new is worked out beside it.
"""

from collections import OrderedDict
from dataclasses import dataclass
from datetime import date, datetime
from secrets import token_hex
from threading import Lock
from time import monotonic

from django.conf import settings
from django.core.cache import cache
from django.utils import timezone

from keeper.domain.book.snapshots import snapshot
from keeper.domain.diversity import beside
from keeper.domain.diversity.health import Health, health, species_here
from keeper.domain.erasure.taking_out import erased_since
from keeper.models import Animal, Book, DaybookEntry, Project, Species

# Nobody waits longer than so many seconds where there is something to show meanwhile.
WAITED = 0.1
# Where nobody knows yet how long it takes, and nothing is kept: of so many animals a page waits.
WAITED_FOR_ANIMALS = 3000
# For so many seconds, and of so many pages, those worked out last.
_KEPT, _PAGES = 24 * 3600, 50


@dataclass(frozen=True)
class Figures:
    """All figures of a page, read from the book at one moment.

    Attributes:
        found: of the species or the project that the page is about.
        whole: of the species, with its projects.
        by_species: of every species of which an animal is here, the most numerous first.
    """

    found: Health
    whole: Health
    by_species: tuple[Health, ...]


@dataclass(frozen=True)
class Kept:
    """Figures, and of which book they are.

    Attributes:
        entry, written_at: the last entry of the daybook then.
        epoch: that of the book, which is another after it was set back to a copy.
        today: what was taken for today.
        at: when they were read.
        seconds: how long it took.
    """

    figures: Figures
    entry: int
    written_at: datetime
    epoch: str
    today: date
    at: datetime
    seconds: float


@dataclass(frozen=True)
class Shown:
    """What a page can show now.

    Attributes:
        figures: None: nothing is kept, and it would take long.
        entry: the last entry of the daybook; what is wanted is the book after that.
        at: when they were read, if not of the book as it stands.
        since: how many entries were written since.
        coming: newer ones are worked out, or will be, and may be asked for.
        failed: they could not be worked out a moment ago.
    """

    figures: Figures | None
    entry: int
    at: datetime | None = None
    since: int = 0
    coming: bool = False
    failed: bool = False


@dataclass(frozen=True)
class Asked:
    """Of which species or project the figures are asked for, and on which day."""

    species: Species
    project: Project | None
    today: date

    @property
    def name(self) -> str:
        """What they are kept under."""
        return f"genetic-health:{self.species.pk}:{self.project.pk if self.project else ''}"

    def work_out(self) -> Kept | None:
        """Work the figures out of the book as it stands and keep them.

        None: the species or the project is not there any more, or in the book is no entry yet.
        """
        begun, at = monotonic(), timezone.now()
        with snapshot():
            last = DaybookEntry.objects.order_by("-pk").first()
            species = Species.objects.live().filter(pk=self.species.pk).first()
            project = self.project
            if project is not None:
                live = Project.objects.live().select_related("species")
                project = live.filter(pk=project.pk, species=species).first()
            if last is None or species is None or (self.project and project is None):
                return None
            figures, epoch = _figures(species, project, self.today), _epoch()
        kept = Kept(figures, last.pk, last.at, epoch, self.today, at, seconds=monotonic() - begun)
        _keep(self.name, kept)
        cache.set(_how_long(species), kept.seconds, _KEPT)
        return kept

    def kept(self) -> Kept | None:
        """Return what was worked out last."""
        with _lock:
            mark, found = _here.get(self.name, ("", None))
        # Whoever clears the cache clears this too.
        return found if found is not None and cache.get(self.name) == mark else None


# What is kept, under a mark that stands in the cache: the figures of a large book are many, and to
# have them copied by the cache takes longer than all else on the page. Nobody changes them.
_here: OrderedDict[str, tuple[str, Kept]] = OrderedDict()
_lock = Lock()


def _keep(name: str, kept: Kept) -> None:
    mark = token_hex(8)
    cache.set(name, mark, _KEPT)
    with _lock:
        _here[name] = (mark, kept)
        _here.move_to_end(name)
        while len(_here) > _PAGES:
            _here.popitem(last=False)


def shown(asked: Asked, wanted: int | None = None) -> Shown:
    """Return what a page shows; of a small book that is always the book as it stands.

    `wanted` by a page that waits: the entry after which they are to be read, or a later one.
    """
    with snapshot():
        last = DaybookEntry.objects.order_by("-pk").first()
        if last is None:
            # A book without an entry is one that nobody wrote as books are written.
            return Shown(_figures(asked.species, asked.project, asked.today), 0)
        kept, epoch = asked.kept(), _epoch()
        if kept is not None and kept.epoch != epoch:
            kept = None
        if kept is not None and _is_of(kept, last, asked.today):
            return Shown(kept.figures, last.pk)
        if not _takes_long(asked, kept):
            found = asked.work_out()
            if found is not None:
                return Shown(found.figures, last.pk)
        if kept is not None and not _was_this_book(kept):
            kept = None
        return _meanwhile(asked, kept, last.pk, last.pk if wanted is None else wanted)


def _meanwhile(asked: Asked, kept: Kept | None, last: int, wanted: int) -> Shown:
    """What is shown while newer figures are worked out, if the kept ones are not new enough."""
    failed = beside.has_failed(asked.name)
    coming = kept is None or kept.entry < wanted or kept.today != asked.today
    if coming and not failed:
        beside.begin(asked.name, asked.work_out, urgent=kept is None)
    if kept is None:
        return Shown(None, last, coming=not failed, failed=failed)
    since = DaybookEntry.objects.filter(pk__gt=kept.entry, pk__lte=last).count()
    return Shown(kept.figures, last, kept.at, since, coming and not failed, failed)


def _figures(species: Species, project: Project | None, today: date) -> Figures:
    found = health(species, project, today)
    whole = found if project is None else health(species, None, today)
    others = [whole if one.pk == species.pk else health(one, None, today) for one in species_here()]
    return Figures(found, whole, tuple(others))


def _is_of(kept: Kept, last: DaybookEntry, today: date) -> bool:
    return (kept.entry, kept.written_at, kept.today) == (last.pk, last.at, today)


def _was_this_book(kept: Kept) -> bool:
    """Whether this book was as the figures say, and nobody is to be forgotten since."""
    there = DaybookEntry.objects.filter(pk=kept.entry, at=kept.written_at).exists()
    return there and not erased_since(kept.entry)


def _epoch() -> str:
    return Book.objects.values_list("epoch", flat=True).first() or ""


def _takes_long(asked: Asked, kept: Kept | None) -> bool:
    if not settings.WORK_IN_BACKGROUND:
        return False
    seconds = kept.seconds if kept is not None else cache.get(_how_long(asked.species))
    if seconds is not None:
        return bool(seconds > WAITED)
    return Animal.objects.live().filter(species=asked.species).count() > WAITED_FOR_ANIMALS


def _how_long(species: Species) -> str:
    return f"genetic-health-takes:{species.pk}"
