"""Standings for tests of the lists, written as inference would write them."""

from typing import Any

from keeper.models import Animal, DaybookEntry, Dispute, Line, Standing, Trait, Word


def standing(
    animal: Animal, gene: Trait | Line, chance: float, word: str = Word.POSSIBLE, **more: Any
) -> Standing:
    """Let an animal carry one copy of a trait or a line with this chance."""
    line = gene if isinstance(gene, Line) else None
    trait: Trait = gene.trait if isinstance(gene, Line) else gene
    entry, _ = DaybookEntry.objects.get_or_create(what="standings of a test")
    two = more.pop("two", 0.0)
    numbers = {"two": two, "one": chance - two, "none": 1 - chance}
    return Standing.objects.create(
        animal=animal,
        trait=trait,
        line=line,
        word=word,
        entry=entry,
        **(numbers | more),
    )


def dispute(animal: Animal, text: str = "Saltgrass seen on A; not carried by its dam") -> Dispute:
    """An open dispute about records of this animal's species."""
    entry = DaybookEntry.objects.create(what="what made it a dispute")
    return Dispute.objects.create(
        species=animal.species,
        conflict=[{"model": "observation", "pk": 1, "text": text}],
        fingerprint=text,
        opened=entry,
    )
