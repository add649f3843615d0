"""Reading the register: species, traits with their lines, loci, contacts."""

from collections.abc import Iterable

from django.db.models import Count, F, Prefetch, Q, QuerySet

from keeper.models import (
    Animal,
    Condition,
    Contact,
    Dose,
    HatchRow,
    Interval,
    Line,
    Look,
    OpenPair,
    Sheet,
    Showing,
    Shown,
    Species,
    Survival,
    Trait,
)


def with_traits(species: QuerySet[Species]) -> QuerySet[Species]:
    """Fetch the traits that count along, each with its lines; by name."""
    traits = with_lines(Trait.objects.live().order_by("name"))
    return species.order_by("name").prefetch_related(Prefetch("traits", traits))


def with_lines(traits: QuerySet[Trait]) -> QuerySet[Trait]:
    """Fetch the lines that count along, their loci, what each trait hides and its base."""
    return traits.select_related("base").prefetch_related(
        Prefetch("lines", Line.objects.live().select_related("locus").order_by("code")),
        Prefetch("hides", Trait.objects.live().order_by("name")),
    )


def lines_of(species: Species) -> QuerySet[Line]:
    """Return the lines of a species that count, with trait and locus."""
    lines = Line.objects.live().filter(trait__species=species)
    return lines.select_related("trait", "locus").order_by("trait__name", "code")


def open_pairs(lines: QuerySet[Line] | list[Line]) -> list[OpenPair]:
    """Return the open pairs of which a line is in, with both lines and their traits."""
    pairs = OpenPair.objects.live().filter(Q(one__in=lines) | Q(other__in=lines))
    return list(pairs.select_related("one__trait", "one__locus", "other__trait", "other__locus"))


def showings_of(*traits: Trait, withdrawn: bool = False) -> QuerySet[Showing]:
    """Return the combinations that show some traits, or did, with their parts and lines."""
    parts = Condition.objects.order_by("pk").prefetch_related(
        Prefetch("lines", Line.objects.select_related("trait"))
    )
    # A combination that was changed has parts that were given up before it was withdrawn.
    last = Q(withdrawn_reason=F("showing__withdrawn_reason")) if withdrawn else Q(withdrawn_at=None)
    found = Showing.objects.withdrawn() if withdrawn else Showing.objects.live()
    return (
        found.filter(trait__in=traits)
        .order_by("pk")
        .prefetch_related(Prefetch("conditions", parts.filter(last)))
    )


def traits_at(locus_id: int) -> QuerySet[Trait]:
    """Return the traits that a locus decides: of its lines, their double forms, combinations."""
    lines = Line.objects.live().filter(locus=locus_id)
    parts = Condition.objects.live().filter(lines__in=lines, showing__withdrawn_at=None)
    found = Trait.objects.live().filter(
        Q(pk__in=lines.order_by().values("trait"))
        | Q(base__in=lines.order_by().values("trait"))
        | Q(pk__in=parts.values("showing__trait"))
    )
    return found.select_related("base").order_by("name")


def survivals_at(locus_id: int) -> QuerySet[Survival]:
    """Return what is recorded of the survival of genotypes at a locus."""
    found = Survival.objects.live().filter(locus=locus_id).order_by("pk")
    return found.select_related("one__trait", "other__trait")


def intervals_in(species: Species) -> QuerySet[Interval]:
    """Return the links between loci of a species."""
    found = Interval.objects.live().filter(left__species=species).order_by("left__name")
    return found.select_related("left", "right")


def has_whole_looks(species: Species) -> bool:
    """Whether anybody looked at animals of a species for the whole register."""
    return (
        Look.objects.live().filter(animal__species=species).exists()
        or HatchRow.objects.live().filter(whole=True, clutch__species=species).exists()
    )


def counted_contacts(contacts: QuerySet[Contact]) -> QuerySet[Contact]:
    """Add how many animals came from each contact and how many statements it made."""
    live = Q(animals__withdrawn_at=None)
    said = Q(statements__withdrawn_at=None)
    return contacts.annotate(
        animals_from=Count("animals", filter=live, distinct=True),
        statements_made=Count("statements", filter=said, distinct=True),
    )


def animals_from(contact: Contact) -> QuerySet[Animal]:
    """Return the animals that came from a contact."""
    return Animal.objects.live().filter(source=contact).select_related("species")


def sheets_to(contact: Contact) -> QuerySet[Sheet]:
    """Return the sheets that a contact was given."""
    return Sheet.objects.live().filter(buyer=contact).select_related("animal")


# By trait the combinations that show it, each a list of parts, a part the lines of which one of
# any serves.
Combinations = dict[int, list[list[list[Line]]]]


def combinations(traits: Iterable[Trait]) -> Combinations:
    """Return what of some traits is shown by which copies; what must be absent is left out."""
    found: Combinations = {}
    for one in showings_of(*(trait for trait in traits if trait.shown == Shown.RULES)):
        present = [
            [line for line in part.lines.all() if not line.is_withdrawn]
            for part in one.conditions.all()
            if part.dose != Dose.ABSENT
        ]
        if all(present):  # else what it takes is not in the register any more
            found.setdefault(one.trait_id, []).append(present)
    return found


def lines_combined(found: Combinations) -> dict[int, list[Line]]:
    """Return by trait every line that is in one of its combinations, by name."""
    return {
        trait: sorted(
            {line for parts in several for among in parts for line in among},
            key=lambda line: (line.trait.name, line.code),
        )
        for trait, several in found.items()
    }
