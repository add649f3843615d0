"""Traits of the engine that are no look of the register: questions, and looks told twice."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace

import genetics

# What laboratories looked for, whether a word is true, and what signed papers tell are traits of
# their own; no name in the book has a line break in it.
LABORATORY = "\nlaboratory: "
WORD = "\nword: "
PAPERS = "\npapers: "


def only_asked(name: str) -> bool:
    """Whether an engine's trait stands for a question, and is no look of the register."""
    return "\n" in name


def again(name: str) -> str:
    """The engine's name of a trait for looks that contradict others; no trait is named so."""
    return f"{name}\nagain"


def twice_told(
    traits: Iterable[genetics.Trait], names: Collection[str]
) -> Iterator[genetics.Trait]:
    """Traits, and of those named a second one that is hidden by the same."""
    for trait in traits:
        hidden = tuple(again(name) for name in trait.hides if name in names)
        yield replace(trait, hides=(*trait.hides, *hidden))
        if trait.id in names:
            yield replace(trait, id=again(trait.id), hides=())
