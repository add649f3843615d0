"""The tables of a collection's genetic health to carry elsewhere, nothing rounded."""

from collections.abc import Iterator, Sequence

from keeper.domain.diversity.health import Health, means_here
from keeper.domain.saying.spreadsheet import Cell
from keeper.models import Animal

TABLES = ("animals", "founders", "lines", "years")

_HEADS: dict[str, Sequence[Cell]] = {
    "animals": ("Code", "Name", "Sex", "Mean kinship with all here", "Inbreeding"),
    "founders": ("Code", "Share of the genes here"),
    "lines": (
        *("Trait", "Line", "Certain to carry it", "May carry it", "Go back to no fewer than"),
        *("Go back to no more than", "Namely", "With those that may carry it, no more than"),
        "Mean kinship",
    ),
    "years": ("Year", "Clutches hatched", "Mean inbreeding", "Highest inbreeding"),
}


def heads(table: str) -> Sequence[Cell]:
    """Return the heads of one of TABLES."""
    return _HEADS[table]


def rows(table: str, found: Health) -> Iterator[list[Cell]]:
    """Yield the rows of one of TABLES; that of animals has the whole species."""
    match table:
        case "animals":
            yield from _animals(found)
        case "founders":
            yield from _founders(found)
        case "lines":
            for one in found.lines:
                rest = one.rest
                yield [
                    *(rest.line.trait.name, rest.line.label, rest.certain, rest.possible),
                    *(rest.least, rest.most, " ".join(str(animal) for animal in rest.earliest)),
                    *(rest.every, one.mean),
                ]
        case _:
            for year in found.years:
                yield [year.year, year.clutches, year.mean, year.highest]


def _animals(found: Health) -> Iterator[list[Cell]]:
    means = means_here(found.species)
    for one in Animal.objects.live().filter(species=found.species).order_by("code"):
        if one.pk in means.kinship:
            of = (means.kinship[one.pk], means.inbreeding[one.pk])
            yield [one.code, one.name, one.get_sex_display(), *of]


def _founders(found: Health) -> Iterator[list[Cell]]:
    for one in found.founders:
        yield [one.animal.code, one.value]
    named = sum(one.value for one in found.founders)
    if found.group is not None:
        yield ["others with a record", sum(found.group.shares.values()) - named]
        yield ["parents not recorded", sum(found.group.unrecorded)]
