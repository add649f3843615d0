"""What the register's pages show: traits with their lines grouped by gene, contacts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import cast

from keeper.domain.register import queries as read
from keeper.domain.register.shares import shares_of
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import (
    Chromosome,
    Condition,
    Contact,
    Dose,
    Interval,
    Line,
    Locus,
    NamedLook,
    OpenPair,
    Record,
    SexDetermination,
    Showing,
    Shown,
    Species,
    Survival,
    Trait,
)

_SHOWN = {
    Shown.RECESSIVE: "recessive",
    Shown.DOMINANT: "dominant",
    Shown.SINGLE: "incomplete dominant",
    Shown.RULES: "by combinations",
}
_SHOWN_LONG = {
    Shown.RECESSIVE: "Recessive: two copies at one locus show it.",
    Shown.DOMINANT: "Dominant: one copy or two show it, and look the same.",
    Shown.SINGLE: "Incomplete dominant: one copy shows it, two make the double form.",
    Shown.RULES: "Shown by any one of the combinations below.",
}
_DOSES = {
    Dose.SINGLE: "exactly one copy of",
    Dose.EVERY: "both copies of",
    Dose.ANY: "one copy or two of",
    Dose.ABSENT: "no copy of",
}


@dataclass(frozen=True)
class Doubt:
    """An open pair as seen from one of its lines."""

    pair: OpenPair
    other: Line
    prior: str


@dataclass(frozen=True)
class Gene:
    """Lines of one trait that share a locus; `elsewhere`, those of other traits at it.

    `doubts`: the open pairs that one of the lines is in.
    """

    locus: Locus
    lines: tuple[Line, ...]
    elsewhere: tuple[Line, ...]
    doubts: tuple[Doubt, ...]
    where: str


@dataclass(frozen=True)
class TraitEntry:
    """A trait in the register."""

    trait: Trait
    shown: str
    genes: tuple[Gene, ...]


@dataclass(frozen=True)
class Chapter:
    """A species in the register."""

    species: Species
    traits: tuple[TraitEntry, ...]


@dataclass(frozen=True)
class Withdrawn:
    """Something of the register that does not count any more."""

    record: Record
    kind: str

    @property
    def route(self) -> str:
        """Name of the address of its page."""
        return f"register-{self.kind}"


@dataclass(frozen=True)
class Register:
    """The start page: species with their traits, the first contacts, what is withdrawn."""

    chapters: tuple[Chapter, ...]
    contacts: tuple[Contact, ...]
    all_contacts: int
    withdrawn: tuple[Withdrawn, ...]


_FIRST_CONTACTS = 24


def register() -> Register:
    """Return the whole register, as it counts now."""
    species = list(read.with_traits(Species.objects.live()))
    pairs = read.open_pairs(Line.objects.live())
    contacts = Contact.objects.live()
    kinds: list[tuple[type[Record], str]] = [
        (Species, "species"),
        (Trait, "trait"),
        (NamedLook, "look"),
        (Contact, "contact"),
    ]
    return Register(
        tuple(chapter(one, pairs) for one in species),
        tuple(read.counted_contacts(contacts)[:_FIRST_CONTACTS]),
        contacts.count(),
        tuple(
            Withdrawn(record, kind)
            for model, kind in kinds
            for record in model._default_manager.exclude(withdrawn_at=None)
        ),
    )


def chapter(species: Species, pairs: Sequence[OpenPair]) -> Chapter:
    """Return a species whose traits were fetched along."""
    traits = list(species.traits.all())
    lines = [line for trait in traits for line in trait.lines.all()]
    return Chapter(species, tuple(entry(trait, species, lines, pairs) for trait in traits))


def entry(
    trait: Trait, species: Species, lines: Sequence[Line], pairs: Sequence[OpenPair]
) -> TraitEntry:
    """Return a trait; `lines` are all of its species, with their traits and loci."""
    by_locus: dict[int, list[Line]] = {}
    for line in lines:
        by_locus.setdefault(line.locus_id, []).append(line)
    genes = []
    for there in by_locus.values():
        mine = tuple(line for line in there if line.trait_id == trait.pk)
        if mine:
            open_here = tuple(doubt for line in mine for doubt in doubts(line, pairs))
            others = tuple(line for line in there if line not in mine)
            locus = mine[0].locus
            genes.append(Gene(locus, mine, others, open_here, where(locus, species)))
    return TraitEntry(trait, shown_in_short(trait), tuple(genes))


def doubts(line: Line, pairs: Iterable[OpenPair]) -> list[Doubt]:
    """Return the open pairs of a line, from its side."""
    return [
        Doubt(pair, pair.other if pair.one_id == line.pk else pair.one, chance(pair.prior))
        for pair in pairs
        if line.pk in {pair.one_id, pair.other_id}
    ]


def chance(value: object) -> str:
    """Return what stands in a chance field, whatever type the stubs believe it has."""
    return as_typed(cast("Fraction", value))


def shown_in_short(trait: Trait) -> str:
    """Return how a trait is shown in two or three words."""
    if trait.shown == Shown.EVERY:
        return f"double form of {trait.base}"
    return _SHOWN[Shown(trait.shown)]


def where(locus: Locus, species: Species) -> str:
    """Return where a locus sits, in the words of its species; empty for an ordinary chromosome."""
    alone = "Z" if species.sex_determination == SexDetermination.ZW else "X"
    match locus.chromosome:
        case Chromosome.ONE:
            return f"on the {alone} alone"
        case Chromosome.BOTH:
            both = "Z and W" if alone == "Z" else "X and Y"
            who = "females" if alone == "Z" else "males"
            return f"on {both}, {chance(locus.recombination)} crossovers in {who}"
    return ""


@dataclass(frozen=True)
class Combination:
    """A combination that shows a trait, its parts in words."""

    showing: Showing
    parts: tuple[str, ...]


@dataclass(frozen=True)
class TraitPage:
    """A trait's page."""

    entry: TraitEntry
    shown: str
    combinations: tuple[Combination, ...]
    given_up: tuple[Combination, ...]
    hidden_by: tuple[Trait, ...]
    double_forms: tuple[Trait, ...]
    missed: str
    mistaken: str
    overlooked: str
    shares: tuple[tuple[Line, str], ...]
    uses_rules: bool
    withdrawn: tuple[Line, ...]


def trait_page(trait: Trait) -> TraitPage:
    """Return the page of a trait fetched with its lines."""
    rules = trait.shown == Shown.RULES
    pairs = read.open_pairs(list(trait.lines.all()))
    shown = (
        f"Double form: two copies of {trait.base} show it."
        if trait.shown == Shown.EVERY
        else _SHOWN_LONG[Shown(trait.shown)]
    )
    penetrance = cast("Fraction", trait.penetrance)
    return TraitPage(
        entry=entry(trait, trait.species, list(read.lines_of(trait.species)), pairs),
        shown=shown,
        combinations=combinations(read.showings_of(trait)) if rules else (),
        given_up=combinations(read.showings_of(trait, withdrawn=True)) if rules else (),
        hidden_by=tuple(trait.hidden_by.filter(withdrawn_at=None).order_by("name")),
        double_forms=tuple(Trait.objects.live().filter(base=trait)),
        missed=as_typed(1 - penetrance) if penetrance < 1 else "",
        mistaken=chance(trait.mistaken) if trait.mistaken else "",
        overlooked=chance(trait.overlooked) if trait.overlooked else "",
        shares=shares(trait.lines.all()),
        uses_rules=rules,
        withdrawn=tuple(Line.objects.withdrawn().filter(trait=trait).select_related("trait")),
    )


def shares(lines: Iterable[Line]) -> tuple[tuple[Line, str], ...]:
    """Return the part of each line where the line is not known; nothing for one line alone."""
    found = shares_of(lines)
    return tuple((line, as_typed(part)) for line, part in found.items()) if len(found) > 1 else ()


def combinations(showings: Iterable[Showing]) -> tuple[Combination, ...]:
    """Return combinations fetched with their parts, in words."""
    return tuple(
        Combination(showing, tuple(part_in_words(one) for one in showing.conditions.all()))
        for showing in showings
    )


def part_in_words(condition: Condition) -> str:
    """Return one part of a combination: "exactly one copy of Saltgrass HAR or Saltgrass PEL"."""
    lines = " or ".join(str(line) for line in condition.lines.all())
    return f"{_DOSES[Dose(condition.dose)]} {lines}"


@dataclass(frozen=True)
class LinePage:
    """A line's page: with whom it shares its gene, and what it is in doubt toward."""

    line: Line
    where: str
    same: tuple[Line, ...]
    apart: tuple[Line, ...]
    doubts: tuple[Doubt, ...]
    background: str
    locus: "LocusPart"


@dataclass(frozen=True)
class LocusPart:
    """A locus: what is known of survival and of its neighbours."""

    locus: Locus
    lines: tuple[Line, ...]
    where: str
    survivals: tuple[tuple[Survival, str], ...]
    intervals: tuple[tuple[Interval, str, str], ...]


def shown_at(locus: Locus) -> list[tuple[Trait, str]]:
    """Return the traits that a locus decides, each with how it is shown."""
    return [(trait, shown_in_short(trait)) for trait in read.traits_at(locus.pk)]


def locus_part(locus: Locus, lines: Iterable[Line]) -> LocusPart:
    """Return a locus with what is recorded of it; `lines` are all of its species."""
    return LocusPart(
        locus,
        tuple(line for line in lines if line.locus_id == locus.pk),
        where(locus, locus.species),
        tuple((one, chance(one.survival)) for one in read.survivals_at(locus.pk)),
        tuple(
            one
            for one in intervals(read.intervals_in(locus.species))
            if locus.pk in {one[0].left_id, one[0].right_id}
        ),
    )


def intervals(found: Iterable[Interval]) -> list[tuple[Interval, str, str]]:
    """Return links between loci with their figures for mothers and fathers."""
    return [(one, chance(one.female), chance(one.male)) for one in found]


def line_page(line: Line) -> LinePage:
    """Return the page of a line."""
    lines = list(read.lines_of(line.trait.species))
    open_here = doubts(line, read.open_pairs([line]))
    in_doubt = {doubt.other.pk for doubt in open_here}
    others = [one for one in lines if one.pk != line.pk]
    return LinePage(
        line,
        where(line.locus, line.trait.species),
        tuple(one for one in others if one.locus_id == line.locus_id),
        tuple(
            one
            for one in others
            if one.trait_id == line.trait_id
            and one.locus_id != line.locus_id
            and one.pk not in in_doubt
        ),
        tuple(open_here),
        chance(line.background) if line.background else "",
        locus_part(line.locus, lines),
    )
