"""Pages of explanations: what may be behind a dispute, how likely, and what adopting it changes."""

from dataclasses import dataclass
from fractions import Fraction

from django.core.exceptions import ValidationError
from django.urls import reverse

from keeper.domain import explaining
from keeper.domain.book.previewing import Preview
from keeper.domain.book.writing import Refused
from keeper.domain.explaining import DisputeCluster, Kind, Rate, Weighed
from keeper.domain.inference import Unanswerable
from keeper.domain.saying.figures import one_in, percent
from keeper.models import Account, Dispute

# Likelier than this it stands in the list; what is rarer is folded away below it.
_LISTED = 0.01

# What adopting an explanation does to the book, by its kind.
_DOES = {
    Kind.LOOK: "The look is withdrawn: it stays readable and says nothing any more.",
    Kind.RESULT: "The laboratory’s result is withdrawn: it stays readable and says nothing any "
    "more.",
    Kind.WORD: "The statement is withdrawn: it stays readable, with whose word it was.",
    Kind.UNDECLARED: "The founder becomes a possible carrier. What was said against that is "
    "withdrawn.",
    Kind.STORED: "The clutch gets this sire in the place of the one recorded.",
    Kind.OTHER_SIRE: "The clutch gets this sire in the place of the one recorded. For a male not "
    "recorded an animal is entered that stands for him.",
    Kind.SECOND_SIRE: "The clutch gets one more possible sire, and each egg its own. For a male "
    "not recorded an animal is entered that stands for him.",
    Kind.ALONE: "The clutch is of its dam alone from then on: whoever is recorded as its sire is "
    "none.",
    Kind.WRONG_DAM: "The clutch gets this dam in the place of the one recorded. For a female not "
    "recorded an animal is entered that stands for her.",
    Kind.MIXED_UP: "The animal leaves its clutch: its parents are not known any more, and one "
    "hatchling less is counted there.",
    Kind.PEDIGREE: "The parents stated for the animal are taken out: they are not known any more.",
    Kind.ONE_GENE: "In the register the two lines share a locus from then on.",
    Kind.TWO_GENES: "In the register the line gets a locus of its own.",
    Kind.CROSSOVER: "In the register the gene changes over between the sex chromosomes from then "
    "on, once in a hundred.",
    Kind.BEGINNING: "What says that the gene began there is withdrawn: it is followed to the "
    "parents again.",
    Kind.MUTATION: "The gene begins with this animal: there it is not followed to its parents.",
}


@dataclass(frozen=True)
class Row:
    """One explanation as it is listed.

    Attributes:
        key, id: in addresses; in the page.
        text: what happened, as a sentence.
        odds: its part of all that are listed: "59 %".
        rate: the base rate and its ground.
        here: how often it happens in this case, where that is not the base rate itself.
        does: what adopting it does to the book.
        url: where it is looked at and adopted.
    """

    key: str
    id: str
    text: str
    odds: str
    rate: str
    here: str
    does: str
    url: str


@dataclass(frozen=True)
class ExplanationsPage:
    """All explanations of a cluster, those of less than 1 % apart; or why there are none."""

    cluster: DisputeCluster
    dispute: Dispute
    listed: tuple[Row, ...]
    rare: tuple[Row, ...]
    refusal: str = ""

    @property
    def only(self) -> bool:
        """Whether there is nothing to compare with."""
        return len(self.listed) == 1 and not self.rare


@dataclass(frozen=True)
class ExplanationPage:
    """One explanation with what adopting it would change.

    Attributes:
        row, preview: None where it is none any more.
        refusal: why it cannot be adopted.
        seen: stands for what the preview shows.
    """

    dispute: Dispute
    key: str
    row: Row | None
    preview: Preview | None
    refusal: str = ""

    @property
    def seen(self) -> str:
        """Stands for what the preview shows, so that nothing else is adopted."""
        return self.preview.digest if self.preview is not None else ""


def explanations_page(cluster: DisputeCluster, dispute: Dispute) -> ExplanationsPage:
    """Weigh all explanations; what cannot be weighed is said, not raised."""
    try:
        weighed = explaining.explained(cluster)
    except Unanswerable as refusal:
        return ExplanationsPage(cluster, dispute, (), (), str(refusal))
    rows = [(one, _row(one, dispute)) for one in weighed]
    return ExplanationsPage(
        cluster,
        dispute,
        tuple(row for one, row in rows if one.share >= _LISTED),
        tuple(row for one, row in rows if one.share < _LISTED),
    )


def explanation_page(
    cluster: DisputeCluster, dispute: Dispute, key: str, by: Account
) -> ExplanationPage:
    """Try one explanation on; what stands against it is said, not raised."""
    try:
        weighed = {one.key: one for one in explaining.explained(cluster)}
        row = _row(weighed[key], dispute) if key in weighed else None
        preview = explaining.look_ahead(cluster=cluster, key=key, by=by)
    except (Refused, Unanswerable) as refusal:
        return ExplanationPage(dispute, key, None, None, str(refusal))
    except ValidationError as error:
        return ExplanationPage(dispute, key, None, None, " ".join(error.messages))
    return ExplanationPage(dispute, key, row, preview)


def _said(rate: Rate) -> str:
    return f"{rate.name}: {one_in(float(rate.chance))}, for each {rate.per}; {rate.ground}"


def _row(one: Weighed, dispute: Dispute) -> Row:
    chance, alone = one.chance, next(iter(one.rates.values()))
    of_its_own = chance not in (Fraction(1), alone.chance)
    return Row(
        key=one.key,
        id=one.key.replace("+", "_").replace(".", "_"),
        text=f"{one.text[0].upper()}{one.text[1:]}.",
        # However small, none of them is impossible; however likely, none is certain.
        odds=percent(max(one.share, 1e-9), certain=False),
        rate="; and ".join(_said(rate) for rate in one.rates.values()),
        here=f"here {one_in(float(chance))}" if of_its_own else "",
        does=" ".join(_DOES[kind] for kind in one.rates),
        url=reverse("home-disputes-explanation", args=[dispute.pk, one.key]),
    )
