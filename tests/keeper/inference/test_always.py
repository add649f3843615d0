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

    def __init__(self, by: m.Account, seed: int) -> None:
        self.draw = random.Random(seed)
        self.book = Book(by)
        other = LineFactory.create(trait=self.book.trait, locus=self.book.line.locus, code="PEL")
        gale = TraitFactory.create(species=self.book.species, name="Gale", shown="dominant")
        locus = LocusFactory.create(
            species=self.book.species, chromosome="both", recombination="1/20"
        )
        linked = LineFactory.create(trait=gale, locus=locus, code="DUN")
        self.lines = [self.book.line, other, linked]
        self.number = 0

    def code(self, letter: str) -> str:
        self.number += 1
        return f"{letter}{self.number}"

    def founder(self) -> None:
        sex = self.draw.choice(["female", "male"])
        claim = self.draw.choice(["", "", "visual", "carries", "possible", "clear"])
        chance = "2/3" if claim == "possible" else None
        self.book.founder(self.code(sex[0]), sex, claim, chance, self.draw.choice(self.lines))

    def clutch(self) -> None:
        dam, *sires = self.some("female", 1) + self.some("male", self.draw.choice([1, 1, 2]))
        rows = {look: self.draw.randint(1, 4) for look in self.draw.choice(
            [["normal"], ["normal", "visual"], []])}  # fmt: skip
        self.book.clutch(self.code("C"), dam, *sires, **rows)

    def hatchling(self) -> None:
        clutch = self.one(m.Clutch)
        seen = self.draw.choice([None, False, False, True])
        sex = self.draw.choice(["female", "male", "unknown"])
        self.book.young(self.code("K"), clutch, seen=seen, sex=sex)

    def look(self) -> None:
        animal = self.one(m.Animal)
        trait = self.draw.choice([self.lines[0].trait, self.lines[2].trait])
        seen = self.draw.choice(["yes", "no", "no", "unsure"])
        with writing(by=self.book.by, what="Looked") as entry:
            entry.keep(
                m.Observation(
                    animal=animal, trait=trait, seen=seen, on=date(2026, 6, 1), by=self.book.by
                )
            )

    def result(self) -> None:
        rate = self.draw.choice(["0", "1/50"])
        with writing(by=self.book.by, what="Tested") as entry:
            laboratory, _ = m.Laboratory.objects.get_or_create(
                name=f"wrong {rate}", misses=rate, mistakes=rate
            )
            entry.keep(
                m.LabTest(
                    animal=self.one(m.Animal),
                    line=self.draw.choice(self.lines),
                    found=self.draw.choice(["none", "none", "carries", "one", "two"]),
                    laboratory=laboratory,
                    on=date(2026, 6, 1),
                )
            )

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
            [m.Observation, m.Statement, m.RowSighting, m.HatchRow, m.LabTest, m.Arising]
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
        deeds: list[Callable[[], None]] = [
            self.founder, self.clutch, self.clutch, self.hatchling, self.hatchling, self.look,
            self.withdraw, self.other_parent, self.undo, self.result, self.beginning, self.share,
            self.bought_with_result,
        ]  # fmt: skip
        for _ in range(3):
            self.founder()
        for _ in range(steps):
            try:
                with transaction.atomic():
                    self.draw.choice(deeds)()
            except (ValidationError, Refused, IndexError, ValueError):
                continue  # a day on which that could not be done


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
