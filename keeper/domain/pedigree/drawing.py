"""Pedigrees to show: of an animal, a clutch, a project, and where a line is."""

from collections.abc import Collection
from dataclasses import dataclass

from keeper.domain.pedigree.genes import Gene, genes_of, told_of
from keeper.domain.pedigree.kin import Kin
from keeper.domain.pedigree.marks import Picture
from keeper.domain.pedigree.picture import picture
from keeper.models import Animal, Clutch, Line, Member, Project, Standing

UP, DOWN = 3, 1


@dataclass(frozen=True)
class Asked:
    """What is to be drawn: a gene by its key (empty: of which most is known), how far up and down.

    Attributes:
        up, down: generations of ancestors and of young.
    """

    gene: str = ""
    up: int = UP
    down: int = DOWN


def of_animal(animal: Animal, asked: Asked) -> Picture:
    """Return an animal's pedigree: its ancestors, and its young with their other parents."""
    kin = Kin()
    kin.take([animal.pk])
    kin.climb([animal.pk], asked.up)
    kin.descend([animal.pk], asked.down)
    kin.close()
    return _drawn(kin, f"Pedigree of {animal.code}", asked.gene, [animal.pk])


def of_clutch(clutch: Clutch, asked: Asked) -> Picture:
    """Return the two families of a clutch, and what hatched of it."""
    kin = Kin()
    sires = [one.sire_id for one in clutch.candidates.live() if one.sire_id is not None]
    parents = [pk for pk in (clutch.dam_id, *sires) if pk is not None]
    young = list(Animal.objects.live().filter(clutch=clutch).values_list("pk", flat=True))
    kin.take([*parents, *young])
    kin.climb(parents, asked.up - 1)
    kin.tally([clutch])
    kin.close()
    return _drawn(kin, f"Pedigree of clutch {clutch.code}", asked.gene, young)


def of_project(project: Project, asked: Asked) -> Picture:
    """Return the members of a project that are in it now, and their ancestors."""
    kin = Kin()
    members = Member.objects.live().filter(project=project, released_on=None)
    inside = list(members.values_list("animal_id", flat=True))
    kin.take(inside)
    kin.climb(inside, asked.up)
    kin.close()
    return _drawn(kin, f"Pedigree of {project.name}", asked.gene, inside)


def of_line(line: Line) -> Picture:
    """Return where a line is: all who may carry it, from those it came in by, and their mates."""
    kin = Kin()
    carry = Standing.objects.filter(line=line, none__lt=1, animal__withdrawn_at=None)
    # The oldest first: where there are too many to draw, the drawing begins where the line does.
    ids = list(carry.order_by("animal__hatched_year", "animal_id").values_list("animal", flat=True))
    kin.take(ids)
    kin.close()
    name = f"Where {line} is"
    gene = Gene(line.trait, line)
    told = told_of(gene, kin.animals)
    return picture(kin, name=name, gene=gene, genes=(), told=told)


def _drawn(kin: Kin, name: str, key: str, focus: Collection[int]) -> Picture:
    genes = genes_of(kin.animals.keys(), focus)
    gene = next((one for one in genes if one.key == key), genes[0] if genes else None)
    told = told_of(gene, kin.animals) if gene else {}
    return picture(kin, name=name, gene=gene, genes=genes, told=told, focus=focus)
