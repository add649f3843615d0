"""What an animal gives with each of several mates: the book is read once, and each part solved once
for all pairs."""

from collections.abc import Sequence
from dataclasses import dataclass

from keeper.domain.inference.mating.proofs import Proof, proofs
from keeper.domain.inference.questions.asking import Asked, Party, Unanswerable, around
from keeper.domain.inference.questions.family import kinships
from keeper.domain.inference.questions.goals import goals_of
from keeper.domain.inference.questions.guests import Guest
from keeper.domain.inference.questions.pairs import give_each, put_together
from keeper.domain.inference.results import GoalChance, Pairing
from keeper.models import Animal, Project, Sex


@dataclass(frozen=True)
class Mates:
    """An animal, of the book or not, and possible mates of the other sex.

    Attributes:
        who: the animal.
        mates: those it is asked about with.
        pairs: the same as dams and sires.
    """

    who: Party
    mates: tuple[Animal, ...]
    pairs: tuple[tuple[Party, Party], ...]
    asked: Asked

    def goals(self, project: Project, eggs: Sequence[int]) -> list[GoalChance | None]:
        """How likely a hatchling of each pair meets a goal; None: it is too large to work out."""
        try:
            return list(goals_of(self.asked, project, self.pairs, eggs, by_sex=False))
        except Unanswerable:
            return [None] * len(self.pairs)

    def proofs(self, hatchlings: int) -> list[tuple[Proof, ...]]:
        """What a clutch of each pair would tell of what the animal may carry."""
        return proofs(self.asked, self.pairs, self.who, hatchlings)

    def pairings(self, places: Sequence[int], eggs: Sequence[int]) -> list[Pairing | None]:
        """What the pairs at some places give, without what their young carry.

        None: it is too large to work out.
        """
        chosen = [self.pairs[place] for place in places]
        given = [
            give_each(one, [(one.code(dam), one.code(sire)) for dam, sire in chosen])
            for one in self.asked.subproblems
        ]
        related = self.kinships(places)
        found: list[Pairing | None] = []
        for place in range(len(chosen)):
            parts = [one for each in given if (one := each[place]) is not None]
            if len(parts) < len(given):
                found.append(None)
                continue
            try:
                found.append(put_together(self.asked, parts, related[place], eggs))
            except Unanswerable:
                found.append(None)
        return found

    def kinships(self, places: Sequence[int]) -> list[float]:
        """The kinship of some pairs; an animal that is not in the book has no kin in it."""
        if isinstance(self.who, Guest):
            return [0.0] * len(places)
        who = self.who
        return kinships([(who, self.mates[place]) for place in places])


def mates_of(who: Party, mates: Sequence[Animal], *, sex: str = "") -> Mates:
    """Gather what bears on an animal and its mates; `sex`: what it is taken to be, if not known.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
        ValueError: the sex is neither recorded nor given.
    """
    sex = sex or who.sex
    if sex not in {Sex.FEMALE, Sex.MALE}:
        raise ValueError("a mate is asked for an animal whose sex is not known")
    if isinstance(who, Guest):
        asked = around(who.species, mates, guest=who)
    else:
        asked = around(who.species, [who, *mates], sexed={} if who.sex == sex else {who.pk: sex})
    pairs = tuple((who, one) if sex == Sex.FEMALE else (one, who) for one in mates)
    return Mates(who, tuple(mates), pairs, asked)
