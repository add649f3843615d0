"""Whatever is logged, corrected, withdrawn or undone: the standings are those of a recompute.

New records are worked out from what is near them, corrections from whole families, a recompute
from everything; the three must agree.
"""

import random
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.inference.questions import asking, pairs
from tests.factories import LineFactory, LocusFactory, TraitFactory
from tests.keeper.books import Book


class Day:
    """Random things that a keeper does; each is one entry of the daybook."""

    def __init__(self, by: m.Account, seed: int, *, background: str = "0") -> None:
        self.draw = random.Random(seed)
        self.book = Book(by)
        other = LineFactory.create(trait=self.book.trait, locus=self.book.line.locus, code="PEL")
        gale = TraitFactory.create(species=self.book.species, name="Gale", shown="dominant")
        locus = LocusFactory.create(
            species=self.book.species, chromosome="both", recombination="1/20"
        )
        linked = LineFactory.create(trait=gale, locus=locus, code="DUN")
        blaze = TraitFactory.create(species=self.book.species, name="Blaze", shown="single")
        self.double = TraitFactory.create(
            species=self.book.species, name="Superblaze", shown="every", base=blaze
        )
        single = LineFactory.create(trait=blaze, code="ULV", background=background)
        self.lines = [self.book.line, other, linked, single]
        self.traits = [self.book.trait, gale, blaze, self.double]
        self.number = 0
        self.named("Neapsedge", self.book.trait, blaze)
        self.named("Ebbsallow", self.double, gale, self.book.trait)

    def code(self, letter: str) -> str:
        self.number += 1
        return f"{letter}{self.number}"

    def named(self, name: str, *traits: m.Trait) -> None:
        """A look of several genes gets a name; of Saltgrass by one line alone."""
        with writing(by=self.book.by, what=f"Named {name}") as entry:
            look = entry.keep(m.NamedLook(species=self.book.species, name=name))
            for trait in traits:
                lines = [self.book.line] if trait == self.book.trait and len(traits) > 2 else []
                entry.keep(m.LookPart(look=look, trait=trait), lines=lines)

    def look_of_some(self) -> None:
        self.named(self.code("Neap "), *self.draw.sample(self.traits, 2))

    def founder(self) -> None:
        sex = self.draw.choice(["female", "male"])
        claim = self.draw.choice(["", "", "visual", "carries", "possible", "clear"])
        chance = "2/3" if claim == "possible" else None
        self.book.founder(self.code(sex[0]), sex, claim, chance, self.draw.choice(self.lines))

    def bought(self) -> None:
        """Animals from a source that is doubted, two perhaps of one day, with its words on them."""
        source, _ = m.Contact.objects.get_or_create(
            name="trusted 4/5", defaults={"reliability": "4/5"}
        )
        with writing(by=self.book.by, what="Bought some") as entry:
            for _ in range(self.draw.choice([1, 1, 2])):
                sex = self.draw.choice(["female", "male"])
                animal = m.Animal(species=self.book.species, code=self.code(sex[0]), sex=sex)
                animal.source, animal.acquired_on = source, date(2026, 1, self.draw.randint(1, 2))
                entry.keep(animal)
                words = [self.said(animal) for _ in range(self.draw.choice([1, 2, 3]))]
                for word in {one.trait_id: one for one in words}.values():
                    word.source = self.draw.choice([source, source, source, word.source])
                    entry.keep(word)

    def other_day(self) -> None:
        """It came on another day, or from somebody else, than was written down."""
        animal = self.one(m.Animal)
        animal.acquired_on = self.draw.choice([None, date(2026, 1, 1), date(2026, 1, 2)])
        animal.source = self.draw.choice([animal.source, self.one(m.Contact)])
        with writing(by=self.book.by, what="Came on") as entry:
            entry.keep(animal)

    def other_trust(self) -> None:
        """A source is taken at its word more, or less."""
        source = self.one(m.Contact)
        source.reliability = self.draw.choice(["1", "4/5", "1/2", "0"])
        with writing(by=self.book.by, what="Trust") as entry:
            entry.keep(source)

    def clutch(self) -> None:
        dam, *sires = self.some("female", 1) + self.some("male", self.draw.choice([1, 1, 2]))
        rows = {look: self.draw.randint(1, 4) for look in self.draw.choice(
            [["normal"], ["normal", "visual"], []])}  # fmt: skip
        self.book.clutch(self.code("C"), dam, *sires, **rows)

    def alone(self) -> None:
        """It may be that no male was with a dam."""
        clutch = self.one(m.Clutch)
        with writing(by=self.book.by, what="Hers alone, perhaps") as entry:
            if self.draw.random() < 0.5:
                for one in clutch.candidates.live():
                    entry.withdraw(one, reason="no male")
            entry.keep(m.CandidateSire(clutch=clutch, alone=True))

    def hatchling(self) -> None:
        clutch = self.one(m.Clutch)
        seen = self.draw.choice([None, False, False, True])
        sex = self.draw.choice(["female", "male", "unknown"])
        self.book.young(self.code("K"), clutch, seen=seen, sex=sex)

    def stated_young(self) -> None:
        dam, sire = *self.some("female", 1), *self.some("male", 1)
        sex = self.draw.choice(["female", "male", "unknown"])
        with writing(by=self.book.by, what="From elsewhere") as entry:
            entry.keep(
                m.Animal(
                    species=self.book.species, code=self.code(sex[0]), sex=sex,
                    dam=self.draw.choice([dam, dam, None]), sire=sire,
                )
            )  # fmt: skip

    def seen(self, animal: m.Animal) -> m.Observation:
        return m.Observation(
            animal=animal,
            trait=self.draw.choice(self.traits),
            seen=self.draw.choice(["yes", "no", "no", "no", "unsure"]),
            on=date(2026, 6, self.draw.randint(1, 3)),
            by=self.book.by,
        )

    def found(self, animal: m.Animal) -> m.LabTest:
        rate = self.draw.choice(["0", "1/50"])
        laboratory, _ = m.Laboratory.objects.get_or_create(
            name=f"wrong {rate}", misses=rate, mistakes=rate
        )
        return m.LabTest(
            animal=animal,
            line=self.draw.choice(self.lines),
            found=self.draw.choice(["none", "none", "carries", "one", "two"]),
            laboratory=laboratory,
            on=date(2026, 6, 1),
        )

    def said(self, animal: m.Animal) -> m.Statement:
        line = self.draw.choice(self.lines)
        claim = self.draw.choice(["visual", "carries", "possible", "clear"])
        trust = self.draw.choice(["1", "4/5", "4/5", "0"])
        source, _ = m.Contact.objects.get_or_create(
            name=f"trusted {trust}", defaults={"reliability": trust}
        )
        return m.Statement(
            animal=animal, trait=line.trait, line=self.draw.choice([line, line, None]),
            claim=claim, chance="1/2" if claim == "possible" else None, source=source,
        )  # fmt: skip

    def whole_look(self) -> None:
        """A whole look, some of it named, at an animal of some age."""
        with writing(by=self.book.by, what="Looked at all of it") as entry:
            animal, on = self.one(m.Animal), date(2026, 6, self.draw.randint(1, 3))
            look = entry.keep(m.Look(animal=animal, on=on, by=self.book.by))
            for trait in self.draw.sample(self.traits, self.draw.choice([0, 0, 0, 1, 2])):
                seen = self.draw.choice(["yes", "unsure", "unsure"])
                entry.keep(
                    m.Observation(
                        animal=animal, look=look, trait=trait, seen=seen, on=on, by=self.book.by
                    )
                )

    def age(self) -> None:
        """When an animal hatched comes to light."""
        animal = self.one(m.Animal)
        animal.hatched_on = date(2026, self.draw.randint(4, 5), 1)
        with writing(by=self.book.by, what="Hatched on") as entry:
            entry.keep(animal)

    def eye(self) -> None:
        """It is learnt how surely, from when on and at what age a trait is told."""
        trait = self.draw.choice(self.traits)
        trait.refresh_from_db()
        match self.draw.choice(["mistaken", "overlooked", "from", "until", "since", "back"]):
            case "mistaken":
                trait.mistaken = "1/50"
            case "overlooked":
                trait.overlooked = "1/20"
            case "from":
                trait.told_from = self.draw.choice([20, 40])
            case "until":
                trait.told_until = self.draw.choice([50, 80])
            case "since":
                trait.looked_for_since = date(2026, 6, 2)
            case _:
                trait.mistaken = trait.overlooked = "0"
                trait.told_from = trait.told_until = trait.looked_for_since = None
        with writing(by=self.book.by, what="The eye") as entry:
            entry.keep(trait)

    def look(self) -> None:
        with writing(by=self.book.by, what="Looked") as entry:
            entry.keep(self.seen(self.one(m.Animal)))

    def result(self) -> None:
        with writing(by=self.book.by, what="Tested") as entry:
            entry.keep(self.found(self.one(m.Animal)))

    def paper(self) -> None:
        with writing(by=self.book.by, what="Papers came") as entry:
            entry.keep(self.said(self.one(m.Animal)))

    def round_of_looks(self) -> None:
        """Several records of several older animals at once, and a new animal perhaps."""
        with writing(by=self.book.by, what="Went round") as entry:
            animals = [self.one(m.Animal) for _ in range(self.draw.randint(1, 3))]
            if self.draw.random() < 0.3:
                clutch = self.one(m.Clutch)
                new = m.Animal(species=self.book.species, code=self.code("K"), clutch=clutch)
                animals.append(entry.keep(new))
            for _ in range(self.draw.randint(2, 5)):
                kind = self.draw.choice([self.seen, self.seen, self.seen, self.found, self.said])
                entry.keep(kind(self.draw.choice(animals)))

    def hatched_later(self) -> None:
        """More hatchlings of a clutch, counted beside a look at an older animal."""
        with writing(by=self.book.by, what="Hatched later") as entry:
            whole = self.draw.random() < 0.4
            count = self.draw.randint(1, 3)
            row = entry.keep(m.HatchRow(clutch=self.one(m.Clutch), count=count, whole=whole))
            seen = self.draw.choice([True, False, False, None])
            entry.keep(m.RowSighting(row=row, trait=self.draw.choice(self.traits), seen=seen))
            if self.draw.random() < 0.5:
                entry.keep(self.seen(self.one(m.Animal)))

    def bought_with_result(self) -> None:
        sex = self.draw.choice(["female", "male"])
        with writing(by=self.book.by, what="Bought") as entry:
            animal = m.Animal(species=self.book.species, code=self.code(sex[0]), sex=sex)
            laboratory, _ = m.Laboratory.objects.get_or_create(
                name="wrong 1/50", misses="1/50", mistakes="1/50"
            )
            entry.keep(
                m.LabTest(
                    animal=entry.keep(animal),
                    line=self.draw.choice(self.lines),
                    found=self.draw.choice(["none", "carries", "two"]),
                    laboratory=laboratory,
                    on=date(2026, 6, 1),
                )
            )

    def beginning(self) -> None:
        with writing(by=self.book.by, what="New here") as entry:
            line = self.draw.choice(self.lines)
            entry.keep(m.Arising(animal=self.one(m.Animal), line=line))

    def share(self) -> None:
        line = self.draw.choice(self.lines[:2])
        line.refresh_from_db()
        line.share = self.draw.choice(["0", "1/4", "1"])
        with writing(by=self.book.by, what="Shares") as entry:
            entry.keep(line)

    def withdraw(self) -> None:
        model = self.draw.choice(
            [
                *(m.Observation, m.Look, m.Statement, m.RowSighting, m.HatchRow, m.LabTest),
                *(m.Arising, m.LookPart),
            ]
        )
        with writing(by=self.book.by, what="Withdrew") as entry:
            entry.withdraw(self.one(model), reason="wrong")

    def other_parent(self) -> None:
        clutch = self.one(m.Clutch)
        clutch.dam = self.some("female", 1)[0]
        with writing(by=self.book.by, what="Another dam") as entry:
            entry.keep(clutch)

    def undo(self) -> None:
        entry = self.draw.choice(list(m.DaybookEntry.objects.order_by("-pk")[:3]))
        undo(entry=entry, by=self.book.by)

    def one(self, model: Any) -> Any:
        return self.draw.choice(list(model.objects.live().order_by("pk")))

    def some(self, sex: str, count: int) -> list[m.Animal]:
        found = list(m.Animal.objects.live().filter(sex=sex).order_by("pk"))
        return self.draw.sample(found, min(count, len(found)))

    def live(self, steps: int) -> None:
        for _ in range(3):
            self.founder()
        for _ in range(steps):
            self.day()

    def day(self) -> None:
        deeds: list[Callable[[], None]] = [
            self.founder, self.clutch, self.clutch, self.hatchling, self.hatchling, self.withdraw,
            self.other_parent, self.undo, self.beginning, self.share, self.bought_with_result,
            self.stated_young, self.look, self.look, self.look, self.result, self.result,
            self.paper, self.paper, self.round_of_looks, self.round_of_looks, self.hatched_later,
            self.alone, self.whole_look, self.whole_look, self.whole_look, self.age, self.eye,
            self.look_of_some, self.bought, self.bought, self.bought, self.other_day,
            self.other_trust,
        ]  # fmt: skip
        try:
            with transaction.atomic():
                self.draw.choice(deeds)()
        except (ValidationError, Refused, IndexError, ValueError):
            return  # a day on which that could not be done


def looks(dam: m.Animal, sire: m.Animal) -> dict[tuple[int, ...], tuple[float, ...]]:
    given = inference.pairing(dam, sire)
    return {
        one.traits: (round(one.chance, 9), *(round(p, 9) for p in one.at_least_one.values()))
        for one in given.looks
    }


def by_families(species: m.Species, animals: Iterable[m.Animal]) -> asking.Asked:
    return asking.families_of(species, {one.pk for one in animals})


@pytest.mark.django_db
@settings(
    max_examples=24,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(0, 10**6))
def test_what_is_near_says_the_same_as_whole_families(owner: m.Account, seed: int) -> None:
    with transaction.atomic():
        day = Day(owner, seed)
        day.live(16)
        assert inference.differences() == []
        for dam, sire in zip(day.some("female", 2), day.some("male", 2), strict=False):
            near = looks(dam, sire)
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(pairs, "around", by_families)
                assert looks(dam, sire) == near
        transaction.set_rollback(True)
