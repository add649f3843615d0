"""An import written: everything in one entry, checked again after the lock."""

from collections.abc import Callable, Iterable, Iterator
from itertools import islice

from keeper.domain.book.previewing import Preview, preview
from keeper.domain.book.writing import Refused, Writing, call, writing
from keeper.domain.imports.checking import check, checked
from keeper.domain.imports.choices import choices_of
from keeper.domain.imports.records import Records, in_order
from keeper.domain.imports.rows import Checked, Fate, Row
from keeper.domain.register.placing import Place, settle
from keeper.domain.register.shares import share_of_another
from keeper.domain.saying.counts import how_many
from keeper.models import Account, DaybookEntry, Import, Line, Record, Stage, Trait

# Rows that are kept together; between two of these the progress is told.
_TOGETHER = 500

# Of what is being done, and how far it is: done, of how many.
Tell = Callable[[str, int, int], None]

CHECKING = "The table is checked once more"
KEEPING = "Animals are written"
FIGURES = "Figures are worked out"


class MovedOn(Refused):
    """The book is not as it was at the dry run that was to be written."""


def bring_in(*, one: Import, by: Account, tell: Tell = lambda *_: None) -> DaybookEntry:
    """Write an import whole, if it still is what its dry run showed.

    Raises:
        MovedOn: it is not; nothing is written.
        ValidationError: a record is not in order; nothing is written.
    """
    with writing(by=by, what=f"Brought in {one}") as book:
        now = Import.objects.get(pk=one.pk)
        if now.is_over:
            raise Refused("This was brought in already: nothing is left to do.")
        tell(CHECKING, 0, 0)
        found = check(now)
        if not found.is_ready or found.digest != now.seen:
            raise MovedOn(
                "The book has changed since this was checked, and the table means something else "
                "now. Nothing was written. Look through the rows again."
            )
        counts = _write(book, now, found, by, tell)
        call(book.entry, f"{counts} brought in from {one}")
        tell(FIGURES, 0, 0)
        now.stage, now.entry, now.problem = Stage.DONE, book.entry, ""
        now.save()
    return book.entry


def _write(book: Writing, one: Import, found: Checked, by: Account, tell: Tell) -> str:
    traits, lines = _register(book, found)
    made = Records(found, choices_of(one), by, traits, lines)
    book.keep_many(made.contacts_of())
    new = in_order(found.of(Fate.NEW))
    done = 0
    for rows in _batches(new):
        tell(KEEPING, done, len(new))
        book.keep_many(_records(made, rows))
        done += len(rows)
    filled = [row for row in found.of(Fate.THERE) if row.fills]
    for row in filled:
        animal = book.now(row.there) if row.there is not None else None
        if animal is not None:
            for name, value in row.fills.items():
                setattr(animal, name, value)
            book.keep(animal)
    remarks = [f"{row}: {said}" for row in found.remarked for said in row.remarks]
    book.entry.insisted = "\n".join(remarks)
    book.entry.save(update_fields=["insisted"])
    animals = how_many(len(new), "animal")
    return f"{animals}, {len(filled)} filled in," if filled else animals


def _records(made: Records, rows: Iterable[Row]) -> list[Record]:
    return [record for row in rows for record in made.of(row)]


def _batches(rows: Iterable[Row]) -> Iterator[list[Row]]:
    left = iter(rows)
    while some := list(islice(left, _TOGETHER)):
        yield some


def _register(book: Writing, found: Checked) -> tuple[dict[int, Trait], dict[int, Line]]:
    """Add the traits and lines that the keeper has named; return all by what they are called by."""
    traits: dict[int, Trait] = Trait.objects.live().in_bulk()
    lines: dict[int, Line] = Line.objects.live().select_related("locus", "trait").in_bulk()
    for new in found.traits:
        trait = Trait(species_id=new.species, name=new.name, shown=new.shown)
        traits[new.key] = book.keep(trait)
        line = Line(trait=trait, code=new.code, name=new.line)
        settle(book, line=line, place=Place())
        lines[new.key] = line
    for more in found.lines:
        trait = traits[more.trait]
        line = Line(trait=trait, code=more.code, name=more.name)
        line.share = share_of_another(trait)
        settle(book, line=line, place=Place())
        lines[more.key] = line
    return traits, lines


# More new animals than these are not tried on before they are written: others would wait.
MOST_TRIED = 2000


def what_it_does(*, one: Import, by: Account) -> Preview:
    """Return what an import would move, and which disputes it would open; nothing is kept.

    Raises:
        Refused: it is not ready, or too large to be tried on.
    """
    new = checked(one).counts[Fate.NEW]
    if new > MOST_TRIED:
        raise Refused(
            f"{new:,} animals are too many to try on; {MOST_TRIED:,} are the most. Take the table "
            "in parts, or bring it in: what contradicts itself is listed then, and all of it can "
            "be taken back."
        )

    def write() -> DaybookEntry:
        Import.objects.filter(pk=one.pk).update(seen=checked(one).digest)
        return bring_in(one=one, by=by)

    return preview(write)
