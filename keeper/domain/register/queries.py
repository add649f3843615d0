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


def showings_of(trait: Trait, *, withdrawn: bool = False) -> QuerySet[Showing]:
    """Return the combinations that show a trait, or did, with their parts and lines."""
    parts = Condition.objects.order_by("pk").prefetch_related(
        Prefetch("lines", Line.objects.select_related("trait"))
    )
    # A combination that was changed has parts that were given up before it was withdrawn.
    last = Q(withdrawn_reason=F("showing__withdrawn_reason")) if withdrawn else Q(withdrawn_at=None)
    found = Showing.objects.withdrawn() if withdrawn else Showing.objects.live()
    return (
        found.filter(trait=trait)
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


def lines_in_rules(traits: Iterable[Trait]) -> dict[int, set[int]]:
    """Return by trait id the lines of which some copy belongs to a combination that shows it."""
    found: dict[int, set[int]] = {}
    named = [trait.pk for trait in traits if trait.shown == Shown.RULES]
    if named:
        conditions = Condition.objects.live().filter(
            showing__trait__in=named, showing__withdrawn_at=None
        )
        present = conditions.exclude(dose=Dose.ABSENT)
        for trait, line in present.values_list("showing__trait", "lines"):
            found.setdefault(trait, set()).add(line)
    return found


def first_combinations(traits: Iterable[Trait]) -> dict[int, list[Line]]:
    """Return by trait id a line for each part of the first combination that shows it."""
    found: dict[int, list[Line]] = {}
    named = [trait.pk for trait in traits if trait.shown == Shown.RULES]
    for showing in Showing.objects.live().filter(trait__in=named).order_by("-pk"):
        present = showing.conditions.live().exclude(dose=Dose.ABSENT).order_by("pk")
        # The earlier ones come last.
        found[showing.trait_id] = [
            line for one in present for line in one.lines.live().order_by("code")[:1]
        ]
    return found
