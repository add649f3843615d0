"""A pairing in a sentence, and what stands against putting the two together now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from keeper.domain.clutches.hatch_plan import look_name
from keeper.domain.inference import Look, Pairing
from keeper.domain.saying.figures import percent, percent_up
from keeper.models import Animal, Status, Trait

# Enough to count on: common practice, no source.
SURE = 0.95


@dataclass(frozen=True)
class Summary:
    """What a pairing comes to.

    Attributes:
        best: the look that shows most of what the pair can give, or empty.
        chance: of it, for one hatchling.
        wait: how many hatchlings it takes to be sure of one, in words.
        harm: how many would look harmed, in words, or empty.
    """

    best: str
    chance: str
    wait: str
    harm: str


def summary(answer: Pairing, traits: Mapping[int, Trait], most: int) -> Summary:
    """Sum a pairing up, from chances of at least one among 1 to `most` hatchlings."""
    harmed = _harmed(answer)
    harm = sum(one.chance for one in answer.looks if not harmed.isdisjoint(one.traits))
    words = f"{percent_up(harm)} would show a look with a known harm" if harm else ""
    best = best_look(answer)
    if best is None:
        return Summary("", "", "", words)
    name = look_name(traits[one] for one in best.traits)
    return Summary(name, percent(best.chance), _wait(best, most), words)


def best_look(answer: Pairing) -> Look | None:
    """Return the look that shows most of what a pair can give; one with a known harm is none."""
    harmed = _harmed(answer)
    healthy = [one for one in answer.looks if one.traits and harmed.isdisjoint(one.traits)]
    return max(healthy, key=lambda one: (len(one.traits), one.chance), default=None)


def _harmed(answer: Pairing) -> set[int]:
    return {trait for trait, chance in answer.harmful.items() if chance}


def _wait(look: Look, most: int) -> str:
    if look.chance >= 1:
        return "every hatchling is one"
    enough = [n for n in range(1, most + 1) if look.at_least_one[n] >= SURE]
    if enough:
        return f"{enough[0]} hatchlings for 95 %"
    return f"{most} hatchlings show one with {percent(look.at_least_one[most])}"


def against(animals: Sequence[Animal | None], today: date) -> list[str]:
    """Return in words why some animals cannot be paired on a day, or should be looked at first."""
    found = []
    for one in animals:
        if one is None:
            continue
        if one.status in _GONE:
            found.append(f"{one} is {_GONE[Status(one.status)]}.")
        ready = one.breeds_from
        if ready is not None and ready > today:
            found.append(f"{one} is too young until {ready:%B %Y}: weight and health decide too.")
    return found


_GONE = {
    Status.DIED: "dead",
    Status.SOLD: "sold",
    Status.LENT: "on loan",
    Status.HELD: "on hold for a buyer",
}
