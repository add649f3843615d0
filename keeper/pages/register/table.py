"""The traits of species as a table."""

from collections.abc import Iterable

from keeper.domain.saying.spreadsheet import Cell
from keeper.pages.frame.files import Table
from keeper.pages.register.page import Chapter, Gene, TraitEntry

_HEADS = ("Species", "Trait", "Shown", "Lines, gene by gene", "Hides", "Harm", "Says who")


def traits_table(chapters: Iterable[Chapter]) -> Table:
    """Return the traits as a species' page lists them."""
    return _HEADS, (_row(chapter, entry) for chapter in chapters for entry in chapter.traits)


def _row(chapter: Chapter, entry: TraitEntry) -> list[Cell]:
    trait = entry.trait
    hidden = ", ".join(map(str, trait.hides.all()))
    return [
        *(chapter.species.name, trait.name, entry.shown),
        "; ".join(map(_gene, entry.genes)),
        "every other trait" if trait.hides_all else hidden,
        *(trait.harm, trait.harm_source),
    ]


def _gene(gene: Gene) -> str:
    lines = " and ".join(line.title for line in gene.lines)
    elsewhere = " and ".join(map(str, gene.elsewhere))
    doubts = [f"may be one gene with {one.other.code} ({one.prior})" for one in gene.doubts]
    notes = [f"one gene with {elsewhere}" if elsewhere else "", gene.where, *doubts]
    said = ", ".join(filter(None, notes))
    return f"{lines} ({said})" if said else lines
