"""Looks at animals as tests log them."""

from datetime import date

from keeper.domain.animals.looks import Looked, log_look
from keeper.models import Account, Animal, DaybookEntry, Seen, Trait


def observe(
    *, animal: Animal, trait: Trait, seen: str, on: date, by: Account, note: str = ""
) -> DaybookEntry:
    """Log a look at an animal for one trait alone."""
    told: dict[str, list[Trait]] = {one: [] for one in Seen}
    told[seen].append(trait)
    looked = Looked(on, told[Seen.YES], told[Seen.NO], told[Seen.UNSURE], note=note)
    return log_look(animal=animal, looked=looked, by=by)


def look_whole(
    animal: Animal, *seen: Trait, on: date, by: Account, unsure: tuple[Trait, ...] = ()
) -> DaybookEntry:
    """Log a whole look at an animal."""
    return log_look(animal=animal, looked=Looked(on, seen, (), unsure, whole=True), by=by)
