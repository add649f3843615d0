"""Two phones without a connection: what each keeps, and how it arrives, in any order and twice.

`arrive` is run by a short test and, long, by `python -m tests.load.phones`.
"""

import random
import secrets
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.test import Client

from keeper import models as m
from keeper.domain.offline import readers
from tests.factories import AnimalFactory, SpeciesFactory

MONDAY = date(2025, 3, 3)
KINDS = ("weight", "shed", "health", "cleaning")
# What counts as one note, whoever wrote it and when it arrived.
Note = tuple[str, str, str, str]


@dataclass
class Phone:
    """A phone of one person: forms in the order in which they were kept, each with its token."""

    who: m.Account
    waits: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    refused: int = 0

    def __post_init__(self) -> None:
        self.client = Client(headers={"Keptlines-Waited": readers.mark(self.who)})
        self.client.force_login(self.who, backend="django.contrib.auth.backends.ModelBackend")

    def send(self, at: int) -> dict[str, Any]:
        """Send one of its forms; return what became of it."""
        address, form = self.waits[at]
        said: dict[str, Any] = self.client.post(address, form).json()
        return said


def filled_phones(phones: tuple[Phone, Phone], each: int, draw: random.Random) -> None:
    """Let each phone keep so many forms: of one animal and one day no two are of one kind."""
    species = SpeciesFactory.create()
    animals = [
        AnimalFactory.create(species=species, code=f"A-{one}") for one in range(each // 20 + 2)
    ]
    days = [MONDAY + timedelta(days=one) for one in range(30)]
    every = [(animal, kind, day) for animal in animals for kind in KINDS for day in days]
    for number, (animal, kind, day) in enumerate(draw.sample(every, 2 * each)):
        form = {"on": day.isoformat(), "once": secrets.token_hex(16)}
        form |= {
            "weight": {"grams": str(400 + day.day)},
            "shed": {"came": draw.choice(["whole", "pieces", "stuck"])},
            "health": {"text": f"Looked at on {day}"},
            "cleaning": {"what": "spot"},
        }[kind]
        phones[number % 2].waits.append((f"/animals/{animal.pk}/husbandry/{kind}/", form))


def arrive(phones: tuple[Phone, Phone], draw: random.Random) -> None:
    """Send all of both, each in its order and both mixed at random; every fourth answer is lost.

    Whatever is sent again is answered by the entry that it made.
    """
    turns = [0] * len(phones[0].waits) + [1] * len(phones[1].waits)
    draw.shuffle(turns)
    at = [0, 0]
    for turn in turns:
        phone = phones[turn]
        said = phone.send(at[turn])
        assert said["outcome"] == "written", said
        if draw.random() < 0.25:
            # The answer was lost, and it is sent again: at once, or with an earlier one besides.
            for again in {at[turn], draw.randint(0, at[turn])}:
                second = phone.send(again)
                assert second["outcome"] == "written"
            assert phone.send(at[turn])["entry"] == said["entry"]
        at[turn] += 1


def noted() -> Counter[Note]:
    """Return what the book says was noted, each as often as it stands there."""
    found: Counter[Note] = Counter()
    for model in (m.Weight, m.Shed, m.HealthNote, m.Cleaning):
        for one in model.objects.live().select_related("animal"):
            found[model.__name__, one.animal.code, str(one.on), str(one)] += 1
    return found
