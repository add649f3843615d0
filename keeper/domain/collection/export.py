"""What the collection shows, as plain tables to carry elsewhere: all pages, nothing rounded up."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import QuerySet

from keeper.domain.book.ordering import empty_first
from keeper.domain.collection.queries import parents_of, sires_in_words, with_rows
from keeper.domain.saying.figures import carrier_percent
from keeper.domain.saying.mixed import mixed_words
from keeper.domain.saying.shows import in_order
from keeper.domain.saying.spreadsheet import Cell
from keeper.domain.saying.wording import said
from keeper.models import Animal, Standing

# Animals fetched at a time, so that a whole book does not stand in memory.
_AT_A_TIME = 500

ANIMAL_HEADS = (
    *("Code", "Name", "Species", "Sex", "Hatched on", "Year", "Dam", "Sire", "Clutch"),
    *("Place", "Status", "Acquired on", "Mixed lines", "Shows"),
)
STANDING_HEADS = (
    *("Code", "Trait", "Line", "In words", "Figure", "Chance of carrying, not rounded"),
    *("Two copies", "One copy", "No copy", "Half width of the 95 % interval"),
    *("By the parents alone", "Hatchlings that did not show it", "Disputed"),
    "Mixed lines: chance, not rounded",
)


@dataclass(frozen=True)
class Gene:
    """A trait, or one line of it, as a pair of columns."""

    trait: int
    line: int | None
    name: str


def genes_of(animals: QuerySet[Animal]) -> list[Gene]:
    """Return every trait and line of which these animals have a standing, by name."""
    found = (
        Standing.objects.filter(animal__in=animals.order_by().values("pk"))
        .order_by("trait__name", "trait", empty_first("line__code"))
        .values_list("trait", "line", "trait__name", "line__code", "trait__species__name")
        .distinct()
    )
    rows = list(found)
    names: dict[str, set[int]] = {}
    for trait, _, name, _, _ in rows:
        names.setdefault(name, set()).add(trait)
    return [
        Gene(
            trait,
            line,
            " ".join(filter(None, (name, code)))
            # Two species may have a trait of one name.
            + (f" ({species})" if len(names[name]) > 1 else ""),
        )
        for trait, line, name, code, species in rows
    ]


def animal_heads(genes: list[Gene]) -> list[Cell]:
    """Return the heads of the table of animals."""
    of_genes = [head for gene in genes for head in (gene.name, f"{gene.name}: chance, not rounded")]
    return [*ANIMAL_HEADS, *of_genes]


def animal_rows(animals: QuerySet[Animal], genes: list[Gene]) -> Iterator[list[Cell]]:
    """Yield a row an animal: itself, then words and unrounded chance of every gene."""
    for animal in with_rows(animals, absent=True).iterator(chunk_size=_AT_A_TIME):
        by_gene = {(one.trait_id, one.line_id): one for one in animal.standings.all()}
        cells = [by_gene.get((gene.trait, gene.line)) for gene in genes]
        yield [
            *_animal_cells(animal),
            *(cell for standing in cells for cell in _gene_cells(standing)),
        ]


def standing_rows(animals: QuerySet[Animal]) -> Iterator[list[Cell]]:
    """Yield a row a standing: the words and every number behind them."""
    for animal in with_rows(animals, absent=True).iterator(chunk_size=_AT_A_TIME):
        for standing in animal.standings.all():
            yield [
                animal.code,
                standing.trait.name,
                standing.line.label if standing.line else "",
                said(standing).words,
                carrier_percent(standing),
                standing.carries,
                *(standing.two, standing.one, standing.none, standing.error),
                *(standing.customary, standing.clean_young),
                "disputed" if standing.is_disputed else "",
                None if standing.line_id else standing.mixed,
            ]


def _animal_cells(animal: Animal) -> list[Cell]:
    dam, _ = parents_of(animal)
    return [
        *(animal.code, animal.name, animal.species.name, animal.get_sex_display()),
        animal.hatched_on.isoformat() if animal.hatched_on else "",
        animal.hatched_year,
        dam.code if dam else "",
        sires_in_words(animal),
        animal.clutch.code if animal.clutch else "",
        *(animal.place, animal.get_status_display()),
        animal.acquired_on.isoformat() if animal.acquired_on else "",
        "; ".join(
            f"{one.trait.name}: {words}"
            for one in animal.standings.all()
            if (words := mixed_words(one))
        ),
        "; ".join(map(str, in_order(animal.shows.all()))),
    ]


def _gene_cells(standing: Standing | None) -> tuple[Cell, Cell]:
    if standing is None:
        return ("", None)
    return (said(standing).words, standing.carries)
