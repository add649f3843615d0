"""What to know before a pair is put together, in words: the same as the pairing look-up says."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from keeper.domain.inference import Pairing
from keeper.domain.lines.mixing import mixed_of
from keeper.domain.pairing.summary import against
from keeper.domain.saying.figures import (
    is_close_kin,
    kinship,
    kinship_like,
    percent,
    percent_up,
)
from keeper.models import Animal, Line, Trait


class Grave(StrEnum):
    """How grave a warning is: harm or loss, something to think of first, or good to know."""

    HARM = "harm"
    FIRST = "first"
    KNOW = "know"


@dataclass(frozen=True)
class Warn:
    """One warning: its head, a sentence, and how grave it is."""

    head: str
    text: str
    grave: Grave


@dataclass(frozen=True)
class Register:
    """The looks and lines of a species by their ids."""

    traits: Mapping[int, Trait]
    lines: Mapping[int, Line]


def warnings(
    pairing: Pairing | None,
    register: Register,
    mate: Animal,
    today: date,
    *,
    disputed: bool,
) -> tuple[Warn, ...]:
    """Return what stands against a mate, the gravest first."""
    found = list(_of_pair(pairing, register)) if pairing else []
    if pairing is None:
        text = "what the two may be together is too much to be worked out exactly."
        found.append(Warn("Without its looks:", text, Grave.KNOW))
    if disputed:
        text = f"records behind {mate} contradict each other, and the newest of them is left out."
        found.append(Warn("In dispute:", text, Grave.FIRST))
    found += [Warn("Not now:", text, Grave.FIRST) for text in against([mate], today)]
    order = list(Grave)
    return tuple(sorted(found, key=lambda one: order.index(one.grave)))


def _of_pair(pairing: Pairing, register: Register) -> Iterator[Warn]:
    yield from _harms(pairing, register.traits)
    for one in mixed_of(pairing.mixing, dict(register.traits), dict(register.lines)):
        kind = "which may be one gene or two" if one.open else "two genes that look alike"
        yield Warn(
            "Lines would mix:",
            f"{percent(one.chance)} of the hatchlings would carry {one.trait} "
            f"{one.dam_line.label} and {one.sire_line.label}, {kind}.",
            Grave.FIRST,
        )
    if nothing_shows(pairing):
        yield Warn("Nothing can show:", "every hatchling would look normal.", Grave.FIRST)
    if is_close_kin(pairing.kinship):
        yield Warn("Close kin:", f"{kinship_said(pairing.kinship)}.", Grave.FIRST)
    for trait, hidden in pairing.masking.items():
        names = ", ".join(register.traits[one].name for one in hidden)
        yield Warn(
            "Masking:", f"on a {register.traits[trait]} these cannot be seen: {names}.", Grave.KNOW
        )
    if not pairing.exact:
        text = f"the looks are sampled, each within {percent_up(pairing.error)} of the true one."
        yield Warn("An estimate:", text, Grave.KNOW)


def _harms(pairing: Pairing, traits: Mapping[int, Trait]) -> Iterator[Warn]:
    for trait, chance in pairing.harmful.items():
        one = traits[trait]
        text = f"{percent_up(chance)} of the hatchlings would show {one}: {one.harm}"
        yield Warn("Harm:", f"{text} ({one.harm_source})" if one.harm_source else text, Grave.HARM)
    if pairing.lost > 0:
        text = f"{percent_up(pairing.lost)} of the eggs would die of their genes."
        yield Warn("Losses:", text, Grave.HARM)


def nothing_shows(pairing: Pairing) -> bool:
    """Whether every hatchling looks normal."""
    return len(pairing.looks) == 1 and not pairing.looks[0].traits


def kinship_said(coefficient: float) -> str:
    """Return the kinship of a pair and what it means: "0.25, as of full sibs …"."""
    return f"kinship {kinship(coefficient)}, {kinship_like(coefficient)}"


def plain(warned: Iterable[Warn], *, but_not: Sequence[str] = ()) -> list[str]:
    """Return warnings as plain sentences, some of them left out by their head."""
    return [f"{one.head} {one.text}" for one in warned if one.head not in but_not]
