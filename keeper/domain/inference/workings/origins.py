"""What an animal is by its parents alone: the first part of a working."""

from collections.abc import Callable, Iterator
from functools import partial

import genetics
from keeper.domain.inference.reading.rows import ALONE
from keeper.domain.inference.workings.relatives import Relatives
from keeper.models import Chromosome, Shown, Standing, Trait


class NoWorking(Exception):
    """There is no short working; the message says why, or is empty where nothing special does."""


class Parentage:
    """An animal whose parents are in the book, and one trait of which it has a standing.

    `kin` knows them by the lines in question, `whole` by all lines of the look.
    """

    def __init__(self, kin: Relatives, whole: Relatives, trait: Trait, stored: Standing) -> None:
        self.kin, self.whole, self.trait, self.stored = kin, whole, trait, stored
        self.animal, self.rows, self.inheritance = kin.animal, kin.rows, kin.inheritance

    def workings(self) -> Iterator[tuple[str, "genetics.Working"]]:
        """One or two workings, the second resting on the first, each with what it is about.

        Raises:
            NoWorking: it is no simple case; the message says why, or is empty.
        """
        dam, sire = self._pair()
        seen = self.rows.observations.get(self.animal.pk, {}).get(self.trait.pk)
        label = self._of(dam, sire)
        if self.kin.chromosome == Chromosome.ONE:
            yield label, self._linked(dam, sire, looked=seen is not None)
            return
        if self.kin.chromosome != Chromosome.AUTOSOME:
            raise NoWorking(
                "The gene changes over between the sex chromosomes: see what each record weighs."
            )
        shows = seen is not None and seen.seen
        if shows and self.stored.none > 0:
            yield label, self._either(dam, sire)
            return
        pair = self.known(dam), self.known(sire)
        alone = [one for one in pair if one.carrier or one.shows]
        make: Callable[..., genetics.Working] = genetics.carrying_child
        if shows:
            make = genetics.two_copies_shown
        elif self.stored.none == 0:
            make = partial(genetics.parents_cross, copies=2)
        elif seen is not None and len(alone) == 2 and self.trait.shown == Shown.RECESSIVE:
            make = genetics.normal_child
        whole = make(*pair)
        yield label, whole
        if seen is not None and not seen.seen and self.trait.shown == Shown.DOMINANT:
            told = genetics.unseen_look(whole, self.trait.penetrance, self.trait.mistaken)
            yield f"{self.trait} was not seen on it; not every carrier shows it.", told

    def _either(self, dam: int | None, sire: int | None) -> "genetics.Working":
        """Of a look that two places show: what it has at one of them."""
        others = [one for one in self.whole.question.places if one != self.kin.locus]
        others = [one for one in others if any(one in self.whole.places_of(p) for p in (dam, sire))]
        if len(others) != 1 or self.trait.shown != Shown.RECESSIVE:
            raise NoWorking(
                "It shows the look, and all that it may have it from is weighed together: see what "
                "each record weighs."
            )
        there = (self.known(dam, others[0]), self.known(sire, others[0]))
        elsewhere = genetics.parents_cross(*there, copies=2).result
        return genetics.shown_by_either_place(self.known(dam), self.known(sire), elsewhere)

    def _of(self, *parents: int | None) -> str:
        """The parents, and which of them plainly has nothing to give."""
        names = " and ".join(self.kin.name(one) for one in parents)
        without = [one for one in parents if not any(self.kin.copies(one) or (1,))]
        lacking = "" if len(without) != 1 else f" {self.kin.name(without[0])} does not have it."
        return f"Of {names}, by what else is known of them.{lacking}"

    def _pair(self) -> tuple[int | None, int | None]:
        if self.animal.clutch is None:
            return self.animal.dam, self.animal.sire
        clutch = self.rows.clutches[self.animal.clutch]
        if clutch.sires[0][0] == ALONE:
            raise NoWorking("It hatched of its dam alone: see what each record weighs.")
        if len(clutch.sires) > 1:
            raise NoWorking("More than one male may be its sire: see what each record weighs.")
        return clutch.dam, clutch.sires[0][0]

    def _linked(self, dam: int | None, sire: int | None, *, looked: bool) -> "genetics.Working":
        single = self.inheritance.heterogametic
        double, other = (dam, sire) if single == "male" else (sire, dam)
        if self.animal.sex == single:
            return genetics.single_linked_child(self.known(double))
        if self.animal.sex == "unknown" or not looked:
            raise NoWorking("On a sex chromosome it needs its sex and a look: see the weights.")
        return genetics.normal_linked_child(self.known(double), self.known(other).carrier)

    def known(self, pk: int | None, elsewhere: str | None = None) -> "genetics.Parent":
        """What is known of a parent or mate without this animal's own evidence.

        At the place in question, or at another one of the look.
        """
        found = self.whole.copies(pk, elsewhere) if elsewhere else self.kin.copies(pk)
        if found is None:
            raise NoWorking(
                f"What {self.kin.name(pk)} carries is itself no simple fraction: see what each "
                "record weighs."
            )
        return genetics.Parent(carrier=found[0], shows=found[1])
