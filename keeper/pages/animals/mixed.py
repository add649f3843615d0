"""Mixed lines on an animal's page, and the mating that would tell of which gene a visual is."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.urls import reverse

from keeper.domain import inference
from keeper.domain.inference import TellingMate, WhichGene
from keeper.domain.saying import mixed
from keeper.domain.saying.wording import Carried
from keeper.models import Animal, Line, OpenPair, Sex, Standing, Trait


@dataclass(frozen=True)
class MixedRow:
    """A look of which an animal has, or may have, two different genes.

    Attributes:
        genes: the lines that it may have, those of one locus together, in words.
        is_open: whether nobody is sure that they are two genes.
        either: whether it shows the look and its copies may lie at more than one locus.
        chances: of such a visual: line (of a locus with one) and its chance of two copies.
        telling: address of the mating that would tell; empty where there is none to ask for.
    """

    carried: Carried
    genes: tuple[str, ...]
    is_open: bool
    either: bool
    chances: tuple[tuple[Line, float], ...]
    telling: str

    @property
    def standing(self) -> Standing:
        """The standing over all lines, which the mark is of."""
        return self.carried.over_all

    @property
    def certain(self) -> bool:
        """Whether it is mixed for certain."""
        return self.standing.mixed >= 1


def mixed_rows(own: Iterable[Carried]) -> tuple[MixedRow, ...]:
    """Return the rows of what one animal carries."""
    listed = [one for one in own if one.over_all.mixed > 0 or mixed.could_be_either(one)]
    if not listed:
        return ()
    traits = [one.trait.pk for one in listed]
    pairs = OpenPair.objects.live().filter(one__trait__in=traits)
    open_pairs = set(pairs.values_list("one_id", "other_id"))
    return tuple(_row(one, open_pairs) for one in listed)


def _row(one: Carried, open_pairs: set[tuple[int, int]]) -> MixedRow:
    genes = mixed.genes_of(one)
    lines = {line.pk for lines in genes for line in lines}
    either = mixed.could_be_either(one) and not one.over_all.is_disputed
    single = {lines[0].pk for lines in genes if len(lines) == 1}
    return MixedRow(
        carried=one,
        genes=tuple(mixed.codes_in_words(lines) for lines in genes),
        is_open=any({a, b} <= lines for a, b in open_pairs),
        either=either,
        chances=tuple(
            (row.line, row.two)
            for row in one.by_line
            if row.line is not None and row.line.pk in single and row.two > 0
        ),
        telling=reverse("animals-telling", args=[one.animal_id, one.trait.pk]) if either else "",
    )


# --- the mating that would tell ------------------------------------------------------------------


@dataclass(frozen=True)
class ReadingRow:
    """One way in which the copies may lie."""

    words: str
    chance: float


@dataclass(frozen=True)
class Mate:
    """A mate, and the address of the pair's look-up."""

    animal: Animal
    pairing: str


@dataclass(frozen=True)
class MateRow:
    """Mates that would tell the same, and what their hatchlings say.

    Attributes:
        has: what each certainly carries: "two copies of HAR".
        by_reading: chance that a hatchling shows the look, under each reading.
        verdict: what so many hatchlings say, in words.
    """

    mates: tuple[Mate, ...]
    has: str
    by_reading: tuple[tuple[float, ReadingRow], ...]
    hatchlings: int | None
    verdict: str


@dataclass(frozen=True)
class TellingPage:
    """Of which gene a visual is, and who would tell.

    Attributes:
        refusal: why there is no answer, if there is none.
        sexless: whether no mate can be named because the animal's sex is not known.
    """

    animal: Animal
    trait: Trait
    readings: tuple[ReadingRow, ...]
    mates: tuple[MateRow, ...]
    conflict: tuple[str, ...]
    refusal: str
    sexless: bool

    @property
    def settled(self) -> bool:
        """Whether there is one reading alone."""
        return len(self.readings) == 1


def telling_page(animal: Animal, trait: Trait) -> TellingPage:
    """Return the page's data; what cannot be answered is said, not raised."""
    sexless = animal.sex == Sex.UNKNOWN
    try:
        answer = inference.which_gene(animal, trait)
    except inference.Unanswerable as error:
        return TellingPage(animal, trait, (), (), (), str(error), sexless)
    lines = {one.pk: one for one in Line.objects.filter(trait=trait)}
    codes = {
        locus: mixed.codes_in_words(lines[pk] for pk in pks) for locus, pks in answer.lines.items()
    }
    open_pairs = OpenPair.objects.live().filter(one__in=lines, other__in=lines)
    readings = _readings(answer, codes, is_open=open_pairs.exists())
    return TellingPage(
        animal=animal,
        trait=trait,
        readings=readings,
        mates=tuple(_mates(animal, trait, answer, codes, readings)),
        conflict=answer.conflict,
        refusal="",
        sexless=sexless,
    )


def _readings(answer: WhichGene, codes: dict[int, str], *, is_open: bool) -> tuple[ReadingRow, ...]:
    # Two copies at no locus: a copy of each line, if they are one gene; or the eye was mistaken.
    neither = "one copy of each, the two being one gene" if is_open else "two copies of neither"
    return tuple(
        ReadingRow(_reading(one.loci, codes) or neither, one.chance) for one in answer.readings
    )


def _reading(loci: Sequence[int], codes: dict[int, str]) -> str:
    return " and ".join(f"two copies of {codes[locus]}" for locus in loci)


def _mates(
    animal: Animal,
    trait: Trait,
    answer: WhichGene,
    codes: dict[int, str],
    readings: Sequence[ReadingRow],
) -> Iterator[MateRow]:
    animals = Animal.objects.in_bulk([one.mate for one in answer.mates])
    same: dict[object, list[TellingMate]] = {}
    for one in answer.mates:
        shows = tuple(round(chance, 9) for chance in one.shows)
        same.setdefault((one.locus, one.copies, one.hatchlings, one.at_least, shows), []).append(
            one
        )
    for told in same.values():
        first = told[0]
        code = codes.get(first.locus, "")
        yield MateRow(
            mates=tuple(_mate(animal, animals[one.mate]) for one in told),
            has=f"{'two copies of' if first.copies == 2 else 'carries'} {code}",
            by_reading=tuple(zip(first.shows, readings, strict=True)),
            hatchlings=first.hatchlings,
            verdict=_verdict(trait, first, code),
        )


def _mate(animal: Animal, mate: Animal) -> Mate:
    dam, sire = (animal, mate) if animal.sex == Sex.FEMALE else (mate, animal)
    return Mate(mate, f"{reverse('clutches-pairing')}?dam={dam.pk}&sire={sire.pk}")


def _verdict(trait: Trait, told: TellingMate, code: str) -> str:
    n, least = told.hatchlings, told.at_least
    if n is None or least is None:
        return "No number of hatchlings up to 60 tells it."
    if n == 1:
        return f"If it shows {trait}: two copies of {code}. If not: one at most."
    if least == n:
        return f"If all {n} show {trait}: two copies of {code}. If not all: one at most."
    if least == 1:
        return f"If any of {n} shows {trait}: two copies of {code}. If none: one at most."
    return f"If {least} or more of {n} show {trait}: two copies of {code}. If not: one at most."


# --- before it happens ---------------------------------------------------------------------------
