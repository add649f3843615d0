"""The collection: which animals are asked for, in which order, and how many of each sex."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import (
    Count,
    Exists,
    F,
    FloatField,
    Func,
    IntegerField,
    OrderBy,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce, Lower, NullIf

from keeper.domain.book.letters import begins_with, has_letters
from keeper.domain.book.ordering import empty_first
from keeper.domain.saying.shows import shown_rows
from keeper.models import Animal, CandidateSire, Sex, Shows, Standing, Status, Word

HERE = (Status.KEPT, Status.OFFERED, Status.HELD, Status.LENT)

# How the sexes are written in the trade: males.females.unknown.
SEX_MARKS = {"1.0": Sex.MALE, "0.1": Sex.FEMALE, "0.0.1": Sex.UNKNOWN}

# What may be asked of mixed lines: possible is what is not certain.
MIXED = {
    "certain": Q(mixed__gte=1),
    "possible": Q(mixed__gt=0, mixed__lt=1),
    "any": Q(mixed__gt=0),
    "not": Q(mixed=0),
}

# A sum of floats may lie a hair below the figure it means; what a page shows as 50 % counts.
_HAIR = 1e-9


@dataclass(frozen=True)
class Carrying:
    """One condition on what an animal carries; without a trait any will do.

    Attributes:
        how: `carries`, `two` (copies), `shows`, or one of the words of `Word`.
        look: a named look, which is asked for in place of a trait.
        least: percent of the chance of carrying (of two copies for `two`, of showing it for a
            look); 100 asks for certainty: nothing else is possible.
    """

    trait: int | None = None
    line: int | None = None
    how: str = "carries"
    least: Decimal | None = None
    look: int | None = None


@dataclass(frozen=True)
class Filters:
    """What is asked of the collection.

    Attributes:
        status: `here` (kept, for sale, on loan), `all`, `withdrawn`, or one of `Status`.
        years: first and last year of hatching.
        mixed: a key of `MIXED`: animals with copies of two genes of one look, of the traits that
            `carrying` names if it names any.
        sort: a key of `SORTS`, with a minus in front for the other direction.
    """

    text: str = ""
    species: int | None = None
    sex: str = ""
    status: str = "here"
    place: str = ""
    years: tuple[int, int] | None = None
    carrying: tuple[Carrying, ...] = ()
    mixed: str = ""
    disputed: bool = False
    sort: str = "code"


@dataclass(frozen=True)
class Counts:
    """How many males, females and animals of unknown sex."""

    males: int
    females: int
    unknown: int

    def __str__(self) -> str:
        return f"{self.males}.{self.females}.{self.unknown}"

    @property
    def total(self) -> int:
        """All of them."""
        return self.males + self.females + self.unknown


def collection(filters: Filters) -> QuerySet[Animal]:
    """Return the animals asked for, in the order asked for."""
    animals = _plain(filters)
    for condition in filters.carrying:
        animals = animals.filter(_meeting(condition, claimed=not filters.disputed))
    if filters.mixed:
        animals = animals.filter(_mixed(filters))
    if filters.disputed:
        animals = animals.filter(pk__in=_disputed(filters).values("animal"))
    return _sorted(animals, filters)


def left_out_as_disputed(filters: Filters) -> int:
    """Count the animals that would be among those asked for, were their figures not disputed.

    A disputed figure is no claim, so nothing that asks for a figure finds it by that.
    """
    asks_mixed = filters.mixed not in {"", "not"}
    if not (filters.carrying or asks_mixed) or filters.disputed:
        return 0
    doubtful: set[int] = set()
    for condition in filters.carrying:
        disputed = standings_asked(condition).exclude(dispute=None)
        doubtful.update(disputed.values_list("animal", flat=True))
        doubtful.update(
            shows_asked(condition).filter(disputed=True).values_list("animal", flat=True)
        )
    if asks_mixed:
        mixed = Standing.objects.filter(MIXED[filters.mixed], line=None).exclude(dispute=None)
        doubtful.update(mixed.values_list("animal", flat=True))
    if not doubtful:
        return 0
    with_them, without = _plain(filters).filter(pk__in=doubtful), Q()
    for condition in filters.carrying:
        with_them = with_them.filter(_meeting(condition, claimed=False))
        without |= ~Q(_meeting(condition, claimed=True))
    if filters.mixed:
        with_them = with_them.filter(_mixed(filters, claimed=False))
        without |= ~_mixed(filters)
    return with_them.filter(without).count()


def _mixed(filters: Filters, *, claimed: bool = True) -> Q:
    """What is asked of mixed lines; a disputed figure is no claim that it is, or is not."""
    standings = Standing.objects.filter(line=None)
    named = [one.trait for one in filters.carrying if one.trait is not None]
    if named:
        standings = standings.filter(trait__in=named)
    if filters.mixed == "not":
        return ~Q(pk__in=standings.filter(mixed__gt=0).values("animal"))
    if claimed and not filters.disputed:
        standings = standings.filter(dispute=None)
    return Q(pk__in=standings.filter(MIXED[filters.mixed]).values("animal"))


def _meeting(condition: Carrying, *, claimed: bool) -> Q | Exists:
    """The animals that meet a condition; what is under dispute is no claim."""
    standings, shows = standings_asked(condition), shows_asked(condition)
    if claimed:
        standings, shows = standings.filter(dispute=None), shows.filter(disputed=False)
    if condition.look is not None:
        return Q(pk__in=shows.values("animal"))
    if condition.how == "shows" and condition.trait is not None and condition.line is None:
        return Q(pk__in=standings.values("animal")) | Q(pk__in=shows.values("animal"))
    return _having(standings, condition)


def shows_asked(condition: Carrying) -> QuerySet[Shows]:
    """Return what is known of looks by combinations that meets a condition; else nothing."""
    asks = condition.look is not None or condition.how == "shows"
    if not asks or (condition.look is None and condition.trait is None):
        return Shows.objects.none()
    rows = Shows.objects.filter(look=condition.look, trait=condition.trait)
    if condition.least is None or condition.least >= 100:
        return rows.filter(chance=1)
    return rows.filter(chance__gt=0, chance__gte=float(condition.least) / 100 - _HAIR)


def _having(standings: QuerySet[Standing], condition: Carrying) -> Q | Exists:
    """Of one gene the index lists the carriers; of any gene each animal is asked for its first."""
    if condition.trait is None:
        return Exists(standings.filter(animal=OuterRef("pk")))
    return Q(pk__in=standings.values("animal"))


def standings_asked(condition: Carrying) -> QuerySet[Standing]:
    """Return the standings that meet a condition, the disputed ones among them."""
    if condition.look is not None:
        return Standing.objects.none()
    standings = Standing.objects.all()
    if condition.trait is not None:
        standings = standings.filter(trait=condition.trait, line=condition.line)
    if condition.how == "two":
        return standings.filter(_at_least_two(condition.least))
    if condition.how == "shows":
        standings = standings.filter(word=Word.VISUAL)
    elif condition.how != "carries":
        standings = standings.filter(word=condition.how)
    if condition.how == Word.ABSENT:
        return standings
    return standings.filter(_at_least_one(condition.least))


def _at_least_one(least: Decimal | None) -> Q:
    if not least:
        return Q(none__lt=1)
    if least >= 100:
        return Q(none=0)
    return Q(none__lte=1 - float(least) / 100 + _HAIR)


def _at_least_two(least: Decimal | None) -> Q:
    if not least:
        return Q(two__gt=0)
    if least >= 100:
        return Q(one=0, none=0)
    return Q(two__gte=float(least) / 100 - _HAIR)


def count_sexes(animals: QuerySet[Animal]) -> Counts:
    """Count what is asked for by sex."""
    found = animals.order_by().aggregate(
        **{sex.value: Count("pk", filter=Q(sex=sex)) for sex in Sex}
    )
    return Counts(found[Sex.MALE], found[Sex.FEMALE], found[Sex.UNKNOWN])


def with_rows(animals: QuerySet[Animal], *, absent: bool = False) -> QuerySet[Animal]:
    """Fetch all that a list prints of each animal: what it carries and its parents.

    `absent` asks for the standings that exclude a trait as well.
    """
    carried = Standing.objects.select_related("trait", "line").order_by(
        "trait__name", empty_first("line__code")
    )
    if not absent:
        carried = carried.exclude(word=Word.ABSENT)
    candidates = CandidateSire.objects.live().select_related("sire").order_by("pk")
    return animals.select_related(
        "species", "dam", "sire", "clutch", "clutch__dam"
    ).prefetch_related(
        Prefetch("standings", queryset=carried),
        Prefetch("shows", queryset=shown_rows()),
        Prefetch("clutch__candidates", queryset=candidates),
    )


def sires_in_words(animal: Animal) -> str:
    """Return the possible sires by their codes; one may be not recorded, or none.

    Costs no query after `with_rows`.
    """
    if animal.clutch is None:
        return str(animal.sire or "")
    candidates = animal.clutch.candidates.all()
    return " or ".join(str(one) for one in candidates if not one.is_withdrawn)


def parents_of(animal: Animal) -> tuple[Animal | None, tuple[Animal | None, ...]]:
    """Return the dam and the possible sires; a sire of None is a male not recorded, or none.

    Costs no query after `with_rows`.
    """
    if animal.clutch is not None:
        candidates = animal.clutch.candidates.all()
        return animal.clutch.dam, tuple(one.sire for one in candidates if not one.is_withdrawn)
    return animal.dam, (animal.sire,) if animal.sire else ()


def _plain(filters: Filters) -> QuerySet[Animal]:
    """Everything but what they carry."""
    wanted: QuerySet[Animal] = (
        Animal.objects.withdrawn() if filters.status == "withdrawn" else Animal.objects.live()
    )
    if filters.status == "here":
        wanted = wanted.filter(status__in=HERE)
    elif filters.status in Status.values:
        wanted = wanted.filter(status=filters.status)
    if filters.species is not None:
        wanted = wanted.filter(species=filters.species)
    if filters.sex:
        wanted = wanted.filter(sex=filters.sex)
    if filters.years:
        wanted = wanted.filter(hatched_year__range=filters.years)
    if filters.place:
        wanted = wanted.filter(begins_with("place", filters.place))
    for word in filters.text.split():
        if word in SEX_MARKS:
            wanted = wanted.filter(sex=SEX_MARKS[word])
        else:
            named = has_letters("name", word, often_empty=True)
            wanted = wanted.filter(has_letters("code", word) | named)
    return wanted


def _disputed(filters: Filters) -> QuerySet[Standing]:
    disputed = Standing.objects.exclude(dispute=None)
    named = [condition for condition in filters.carrying if condition.trait is not None]
    if named:
        disputed = disputed.filter(trait__in=[condition.trait for condition in named])
    return disputed


def _sorted(animals: QuerySet[Animal], filters: Filters) -> QuerySet[Animal]:
    downwards = filters.sort.startswith("-")
    key = filters.sort.removeprefix("-")
    if key == "carries":
        animals = animals.annotate(carries=_how_much(filters))
    return animals.order_by(
        OrderBy(SORTS[key], descending=downwards, nulls_last=True),
        Lower("code"),
        "pk",
    )


def _how_much(filters: Filters) -> Coalesce:
    """The chance of carrying what is asked for first; if nothing is, the number of traits."""
    of_this = Standing.objects.filter(animal=OuterRef("pk")).order_by()
    named = next((one for one in filters.carrying if one.trait or one.look), None)
    if named is not None and named.look is not None:
        shown = Shows.objects.filter(animal=OuterRef("pk"), look=named.look).values("chance")
        return Coalesce(Subquery(shown[:1]), Value(0.0), output_field=FloatField())
    if named is not None:
        chance = of_this.filter(trait=named.trait, line=named.line).values(
            "two" if named.how == "two" else "none"
        )
        one: FloatField[float, float] = FloatField()
        if named.how == "two":
            return Coalesce(Subquery(chance[:1]), Value(0.0), output_field=one)
        return Coalesce(Value(1.0) - Subquery(chance[:1]), Value(0.0), output_field=one)
    carried = (
        of_this.filter(line=None)
        .exclude(word__in=[Word.ABSENT, Word.CLEAN])
        .values("animal")
        .annotate(number=Count("pk"))
        .values("number")
    )
    return Coalesce(Subquery(carried), Value(0), output_field=IntegerField())


SORTS: dict[str, F | Func] = {
    "code": Lower("code"),
    "sex": F("sex"),
    "year": F("hatched_year"),
    "carries": F("carries"),
    "parents": Lower(Coalesce("clutch__dam__code", "dam__code")),
    "place": NullIf(Lower("place"), Value("")),
    "status": F("status"),
}
