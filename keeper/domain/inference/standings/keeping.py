"""Standings kept as the book is written: what an entry moves, and all of them anew."""

import genetics
from keeper.domain.book.snapshots import snapshot
from keeper.domain.book.touched import Touched
from keeper.domain.inference.reading.carriers import bearing
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.results import Difference
from keeper.domain.inference.standings import quick, surprises
from keeper.domain.inference.standings.computing import SpeciesBook
from keeper.domain.inference.standings.shows import clear_unshown, shown_otherwise, store_shows
from keeper.domain.inference.standings.solving import Solver
from keeper.domain.inference.standings.storing import clear_orphans, store, stored_otherwise
from keeper.domain.inference.standings.whole import SolvedAhead, Told
from keeper.domain.inference.walking.families import changed_rows
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Animal, DaybookEntry, Species


def refresh(touched: Touched, *, entry: DaybookEntry) -> None:
    """Bring the standings up to date that a change can move; part of the entry's transaction."""
    pks = set(touched.species) | set(
        Animal.objects.filter(pk__in={pk for pk, _ in touched.animals})
        .values_list("species_id", flat=True)
        .distinct()
    )
    for species in Species.objects.filter(pk__in=pks):
        book = SpeciesBook(species)
        part = quick.compute(book.inheritance, ReachedRows(species.pk), touched)
        if part is None:
            if species.pk not in touched.species:
                book.rows = _changed(book, touched) or book.rows
            part = book.compute(touched)
        store(part, species, entry)
        store_shows(part, entry)
        surprises.note(book.inheritance, part, touched, entry)
        if species.pk in touched.species:
            clear_orphans(book.inheritance, entry)
            clear_unshown(species, part.looks)


def _changed(book: SpeciesBook, touched: Touched) -> Rows | None:
    animals = {pk for pk, _ in touched.animals}
    groups = bearing(book.inheritance, touched)
    return changed_rows(book.inheritance, groups, animals, touched.clutches)


def warm_up() -> None:
    """Make a server ready: load the compiled loops (the first time compiles them) and libraries.

    What is loaded by then stays loaded, so the collector of garbage is told to leave it alone: it
    took a third of the time of a page that reads a large book. A save makes some 100,000 values and
    keeps them all to its end, so it looks for garbage seldom too.
    """
    import gc

    import scipy.stats  # noqa: F401  # so that the first save is not slow
    import sympy  # noqa: F401  # nor the first working

    genetics.warm_up()
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 10, 10)


def solved_ahead(solver: Solver | None = None, told: Told | None = None) -> SolvedAhead:
    """Solve the whole book while others go on writing; `told` hears how far it has come."""
    return SolvedAhead(solver, *(() if told is None else (told,)))


def recompute(*, entry: DaybookEntry, ahead: SolvedAhead | None = None) -> None:
    """Compute every standing of the book anew; part of the entry's transaction.

    What was solved `ahead` is used as far as it holds; the entry may have written nothing then.
    """
    ahead = ahead or SolvedAhead(entry=entry)
    for species, part in ahead.parts(entry):
        book = ahead.book(species)
        store(part, species, entry)
        store_shows(part, entry)
        surprises.note(book.inheritance, part, Touched(species={species.pk}), entry)
        clear_orphans(book.inheritance, entry)
        clear_unshown(species, part.looks)


def differences(ahead: SolvedAhead | None = None) -> list[Difference]:
    """Every stored standing that a whole recompute would not give; the book is left as it is."""
    ahead = ahead or SolvedAhead()
    with snapshot():
        return [
            difference
            for species, part in ahead.parts()
            for difference in (*stored_otherwise(part, species), *shown_otherwise(part, species))
        ]
