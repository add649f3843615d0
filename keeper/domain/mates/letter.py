"""The answer to somebody who asks what to breed an animal of theirs to, ready to send.

It names the mates by their codes and what can be said of their genes, and nothing else of them: no
place, no source, no project of the keeper's. What is in dispute is no claim and is left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Offer:
    """A mate in the words of the letter.

    Attributes:
        mate: its code and sex: "F-014, a female".
        genes: what it has, each with its word.
        odds: what may come of it, in sentences.
        beware: what stands against it, in sentences.
    """

    mate: str
    genes: Sequence[str]
    odds: Sequence[str]
    beware: Sequence[str]


def letter(understood: Sequence[str], offers: Sequence[Offer], sender: str) -> str:
    """Return the answer as plain text."""
    return "\n".join(
        [
            "Hello,",
            "",
            "you asked what your animal could be bred to. I took it to be:",
            *(f"- {one}" for one in understood),
            "All of this is your word as it stands: nobody here has checked it.",
            "",
            *_offered(offers),
            "Claims are rounded down, harm and losses up. All of it holds if your animal is what",
            "you say. Its parents are not in my book, so whether the two are kin I cannot tell.",
            "",
            sender,
        ]
    )


def _offered(offers: Sequence[Offer]) -> Iterable[str]:
    if not offers:
        yield from ("Of my animals none would bring anything out with it.", "")
        return
    yield from ("Of my animals these would suit it best:", "")
    for number, one in enumerate(offers, 1):
        yield f"{number}. {one.mate}: {'; '.join(one.genes) or 'nothing is known of its genes'}."
        yield from (f"   {text}" for text in one.odds)
        yield from (f"   {text}" for text in one.beware)
        yield ""
