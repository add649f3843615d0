"""Rows for the journeys of clutches: two genes, a pair, their clutch."""

from dataclasses import dataclass

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.clutches.writes import Candidate, lay_clutch
from keeper.models import Account
from tests.factories import AnimalFactory, LineFactory, SpeciesFactory, TraitFactory


@dataclass(frozen=True)
class Room:
    """What stands in the animal room."""

    species: m.Species
    saltgrass: m.Trait
    quillwort: m.Trait
    dam: m.Animal
    sire: m.Animal
    clutch: m.Clutch


def furnish(owner: Account, *, eggs: int = 8) -> Room:
    """Write the rows: a possible het 66 % (of two hets, not visual), a visual that carries
    Quillwort, and their eggs."""
    species = SpeciesFactory.create(name="royal python", scientific_name="Python regius")
    saltgrass = TraitFactory.create(species=species, name="Saltgrass")
    quillwort = TraitFactory.create(
        **{"species": species, "name": "Quillwort", "harm": "Many wobble and cannot strike well."},
        **{"harm_source": "Marl Hollow notes, 2024", "shown": "dominant"},
    )
    harvesk = LineFactory.create(trait=saltgrass, code="HAR", name="Harvesk")
    pelnaw = LineFactory.create(trait=quillwort, code="PEL", name="Pelnaw")
    hets = [
        AnimalFactory.create(species=species, code=code, sex=sex)
        for code, sex in (("F-001", "female"), ("M-001", "male"))
    ]
    sire = AnimalFactory.create(species=species, code="M-003", sex="male")
    born = m.Clutch(species=species, code="21-03", dam=hets[0], hatched_on="2021-06-01")
    lay_clutch(clutch=born, candidates=[Candidate(hets[1])], by=owner)
    dam = m.Animal(species=species, code="F-014", name="Sedge", sex="female", clutch=born)
    with writing(by=owner, what="as bought") as book:
        for animal, line, claim in (
            *((one, harvesk, "carries") for one in hets),
            (sire, harvesk, "visual"),
            (sire, pelnaw, "carries"),
        ):
            book.keep(m.Statement(animal=animal, trait=line.trait, line=line, claim=claim))
        book.keep(dam)
        for trait in (saltgrass, quillwort):
            look = m.Observation(animal=dam, trait=trait, seen="no", by=owner)
            look.on = "2021-06-02"
            book.keep(look)
    clutch = m.Clutch(species=species, code="26-07", dam=dam, eggs=eggs, test_breeding=True)
    lay_clutch(clutch=clutch, candidates=[Candidate(sire)], by=owner)
    return Room(species, saltgrass, quillwort, dam, sire, clutch)
