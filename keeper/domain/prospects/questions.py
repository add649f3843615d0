"""What to ask the seller of a prospect: what is missing or in doubt, and why it is asked."""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from keeper.domain.prospects.fits import Held, Lines, Relation
from keeper.domain.saying.figures import percent
from keeper.models import (
    Chromosome,
    Claim,
    Contact,
    Line,
    Prospect,
    ProspectWord,
    Sex,
    SexDetermination,
)


@dataclass(frozen=True)
class Question:
    """One question to a seller.

    Attributes:
        text: the question, in words that need no knowledge of this book.
        why: why the keeper asks it.
    """

    text: str
    why: str


@dataclass(frozen=True)
class Known:
    """What the questions rest on beside the prospect.

    Attributes:
        lines: the lines of its species.
        held: by trait and line, how many animals here carry it.
        told: pairs of lines of which this source has told already whether they are one gene.
    """

    lines: Lines
    held: Mapping[tuple[int, int | None], Held]
    told: Collection[frozenset[int]] = frozenset()


def questions(
    prospect: Prospect, words: Sequence[ProspectWord], known: Known
) -> tuple[Question, ...]:
    """Return what to ask, what decides most first."""
    if not words:
        nothing = "Nothing is said of any gene of it yet."
        asked = [Question("What does it carry, from which line, and how sure is that?", nothing)]
    else:
        asked = [one for word in words for one in _about(prospect, word, known)]
    return (*asked, *_about_the_animal(prospect, words))


def _about(prospect: Prospect, word: ProspectWord, known: Known) -> Iterator[Question]:
    if word.claim != Claim.CLEAR:
        yield from _line(word, known)
        yield from _same_gene(word, known)
    yield from _proof(word)
    yield from _chromosome(prospect, word, known)
    if word.trait.harm:
        yield Question(
            f"Is there any sign of what {word.trait} is known for on it or its parents?",
            f"The register notes of {word.trait}: {word.trait.harm}",
        )


def _line(word: ProspectWord, known: Known) -> Iterator[Question]:
    if word.line is not None:
        return
    mine = _mine(word, known)
    loci = {line.locus_id for line in known.lines.of(word.trait_id)}
    why = "Its line is not known here, so its figures are spread over all lines of the look."
    if mine and len(loci) > 1:
        why += f" Here there is {_codes(mine)}, and not all lines of the look are one gene."
    yield Question(
        f"Which line is its {word.trait} from, and from whom did you have that line?", why
    )


def _same_gene(word: ProspectWord, known: Known) -> Iterator[Question]:
    """Ask whether its line is compatible with those that are here."""
    here = _mine(word, known)
    if word.line is None:
        if here and len({line.locus_id for line in known.lines.of(word.trait_id)}) > 1:
            names = " or the ".join(line.name or line.label for line in here)
            yield Question(
                f"Was it, or a relative with the same {word.trait}, ever bred to {word.trait} "
                f"of the {names} line? What hatched?",
                f"Visuals from both would make them one gene. Here there is {_codes(here)}.",
            )
        return
    for mine in here:
        pair = frozenset({word.line.pk, mine.pk})
        if known.lines.relation(word.line, mine) != Relation.OPEN or pair in known.told:
            continue
        yield Question(
            f"Are {spoken(word.line)} and {spoken(mine)} one gene, as far as you know? "
            "Who bred the two together, and what hatched?",
            f"Whether {word.line.label} and {mine.label} are one gene is open in this book.",
        )


def _proof(word: ProspectWord) -> Iterator[Question]:
    name = word.trait if word.line is None else spoken(word.line)
    match word.claim:
        case Claim.VISUAL:
            return
        case Claim.CLEAR:
            text = f"How is it known that it does not carry {word.trait}: by its parents or a test?"
            why = "That nothing showed so far leaves a chance, and it matters how large."
        case Claim.DOUBLE:
            text = f"How is it known that it has two copies of {name}: by young, or by a test?"
            why = "One copy can look the same."
        case Claim.CARRIES:
            text = f"What makes it certain that it carries {name}: which parent showed it, or what "
            text += "did it produce?"
            why = "A visual parent makes a certain carrier; so does a visual hatchling of its own."
        case _:
            figure = percent(float(word.chance or 0))
            text = f"What is the {figure} for {name} based on: what were its parents in that?"
            why = "The figure follows from the parents, so it is as sure as they are."
    yield Question(text, why)


def _chromosome(prospect: Prospect, word: ProspectWord, known: Known) -> Iterator[Question]:
    """Ask from which parent a gene on the sex chromosomes came, where that tells which one."""
    lines = [word.line] if word.line else known.lines.of(word.trait_id)
    on_both = any(line.locus.chromosome == Chromosome.BOTH for line in lines)
    zw = prospect.species.sex_determination == SexDetermination.ZW
    two_kinds = prospect.sex in {Sex.UNKNOWN, Sex.FEMALE if zw else Sex.MALE}
    if on_both and two_kinds and word.claim != Claim.CLEAR:
        yield Question(
            f"From which parent did it get {word.trait}: from the sire or from the dam?",
            "That tells on which sex chromosome the gene sits, and so what sons and daughters get.",
        )


def _about_the_animal(prospect: Prospect, words: Sequence[ProspectWord]) -> Iterator[Question]:
    yield Question(
        "Who are its parents, and what is each of them known to carry?",
        "What nobody mentions may be in it as well, and parents are its best grounds.",
    )
    if any(word.claim != Claim.VISUAL for word in words):
        yield Question(
            "Were it or its parents tested, by a laboratory or by breeding, and with what result?",
            "A test of a parent bears on it; so do the clutches in which nothing showed.",
        )
    if prospect.sex == Sex.UNKNOWN:
        why = "To whom it can be bred depends on it."
        yield Question("Which sex is it, and how was that told?", why)
    else:
        why = "A sex that was only guessed turns a project over."
        yield Question(f"How was it told that it is {prospect.get_sex_display()}?", why)
    if prospect.hatched_year is None:
        yield Question("When did it hatch?", "It says when it can be bred.")
    yield from _about_its_health()
    yield Question(
        "Is there a sheet or a note that says all this, with your name and the day?",
        "It is kept with the animal, and whoever buys its young will ask.",
    )
    yield Question(
        "Which papers go with it by law where you are, and where it is going?",
        "Selling and moving it may need permits: check what holds in both places.",
    )


def _about_its_health() -> Iterator[Question]:
    yield Question(
        "What does it feed on, how often, and when did it last eat?",
        "It settles in sooner with the prey and the rhythm that it knows.",
    )
    yield Question(
        "Was it, or any animal kept with it, ever ill, and of what?",
        "What shows nothing now can be passed on to those that are here.",
    )
    yield Question(
        "What was it treated with, against what, and when?",
        "A reptile veterinarian will ask, and a treatment can bear on breeding.",
    )
    yield Question(
        "Was it in quarantine with you, for how long, and what was it tested for?",
        "It decides how long it stays apart here before it meets the others.",
    )


def _mine(word: ProspectWord, known: Known) -> list[Line]:
    """The lines of its look that animals here carry or may carry, and that it is not said to be."""
    return [
        line
        for line in known.lines.of(word.trait_id)
        if known.held.get((line.trait_id, line.pk)) and line.pk != word.line_id
    ]


def _codes(lines: Sequence[Line]) -> str:
    return " and ".join(line.label for line in lines)


def spoken(line: Line) -> str:
    """Return a line as one says it to somebody who does not know this book's codes."""
    return f"{line.trait} of the {line.name} line" if line.name else str(line.trait)


# --- the message -------------------------------------------------------------------------------


def message(prospect: Prospect, asked: Sequence[Question], sender: str) -> str:
    """Return the questions as a message, ready to send."""
    to = f"Hello {prospect.source}" if prospect.source else "Hello"
    where = f" ({prospect.where})" if prospect.where else ""
    lines = [f"{number}. {one.text}" for number, one in enumerate(asked, 1)]
    return "\n".join(
        [
            f"{to},",
            "",
            f"I am thinking of buying this animal of yours: {prospect.name}{where}.",
            "Before I decide I would like to know:",
            "",
            *lines,
            "",
            "If you do not know one of these, tell me so: that helps as well.",
            "",
            "Thank you",
            sender,
        ]
    )


@dataclass(frozen=True)
class Way:
    """A way to send a message: the address of a link, and what the link does."""

    url: str
    label: str


_NUMBER = re.compile(r"\+?[\d ()/.-]{6,25}")


def way_to(contact: Contact | None, subject: str, body: str) -> Way | None:
    """Return a link that opens the message, if how to reach the contact is a mail or a number."""
    reach = contact.reach.strip() if contact else ""
    if _NUMBER.fullmatch(reach):
        # With the country's number in front, the zero in brackets is not dialled.
        local = reach.replace("(0)", "") if reach.startswith("+") else reach
        number = re.sub(r"[^\d+]", "", local)
        return Way(f"sms:{number}?{urlencode({'body': body}, quote_via=quote)}", "Send as a text")
    try:
        validate_email(reach)
    except ValidationError:
        return None
    fields = {"subject": subject, "body": body.replace("\n", "\r\n")}
    return Way(
        f"mailto:{quote(reach, safe='@')}?{urlencode(fields, quote_via=quote)}", "Send by mail"
    )
