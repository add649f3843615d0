"""What hatched in a clutch, trait by trait, as everything that counts hatchlings counts it."""

from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.showed import alike, showed
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Clutch


def hatch_counts(clutch: Clutch) -> dict[int, tuple[int, int]]:
    """Trait → how many hatchlings showed it, of those that could have and of whom it was told."""
    inheritance = Inheritance.load(clutch.species)
    rows = ReachedRows(clutch.species_id)
    rows.attend(rows.hatched.get(clutch.pk, ()), {clutch.pk})
    hatched = list(alike(inheritance, rows, clutch.pk))
    counts = {trait: showed(hatched, trait) for trait in inheritance.traits}
    return {trait: count for trait, count in counts.items() if count[1]}
