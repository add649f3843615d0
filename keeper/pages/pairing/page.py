"""The pairing look-up: what can be seen on the young of two animals, and what they carry."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils import timezone

from keeper.domain import inference
from keeper.domain.clutches.hatch_plan import look_name
from keeper.domain.inference import Copies, Look, Pairing
from keeper.domain.lines.mixing import Mixed, mixed_of
from keeper.domain.pairing.summary import Summary, against, summary
from keeper.domain.saying import wording
from keeper.domain.saying.figures import by_sex, is_close_kin, kinship, kinship_like, percent
from keeper.domain.saying.shows import names_of, with_parts
from keeper.domain.saying.strips import Strip, strip
from keeper.domain.travel.kin import kin_by_papers
from keeper.models import Animal, Line, NamedLook, Standing, Trait
from keeper.pages.frame.plot import Plot, letter, plot

# One hatchling alone has a column of its own.
EGGS = (4, 8, 16)
CURVES = 5
# No clutch of these animals is larger; further chances are a project's, over several seasons.
MOST_EGGS = 60


@dataclass(frozen=True)
class LookRow:
    """A look: its chance for one hatchling, and of at least one among several.

    `letter` names its curve in the plot, where it has one. `by_sex` is what part of sons and what
    of daughters looks so, in words, where these differ. `named`: the named
    looks that it is.
    """

    name: str
    letter: str
    chance: float
    at_least_one: tuple[float, ...]
    harmful: bool
    by_sex: str = ""
    named: str = ""


@dataclass(frozen=True)
class Harm:
    """A look with a known harm that the pair can give, of sons and of daughters if that differs."""

    trait: Trait
    chance: float
    by_sex: str = ""


@dataclass(frozen=True)
class Masked:
    """A look on which others cannot be seen."""

    trait: Trait
    hidden: tuple[Trait, ...]


@dataclass(frozen=True)
class Carries:
    """What one hatchling carries of a trait over all lines (line: None), or of one line of it.

    `single`: the trait has no other row. `mixes`: on the row over all lines, what mixes in it.
    """

    trait: Trait
    line: Line | None
    two: float
    one: float
    none: float
    strip: Strip
    single: bool
    mixes: tuple[Mixed, ...] = ()

    @property
    def is_part(self) -> bool:
        """Whether it is one line beside others of its trait."""
        return self.line is not None and not self.single

    @property
    def any(self) -> float:
        """The chance of at least one copy."""
        return self.two + self.one if self.none else 1.0


@dataclass(frozen=True)
class PairingPage:
    """What a pairing gives.

    Attributes:
        eggs: the numbers of hatchlings that the columns of at least one are for.
        looks: most likely first.
        harms, mixed, masked: what to know before the chances.
        lost: expected share of eggs that die of their genotype.
        kinship: of the pair, which is the F of their young.
        kinship_like: what such kinship is like; `close_kin` tells that it is much.
        summary: what it comes to.
        against: why the two cannot be put together now, in words.
        hatch_rate: of the species' eggs.
        nothing_shows: whether every hatchling looks normal.
        dam_carries, sire_carries: what the two stand for.
    """

    dam: Animal
    sire: Animal | None
    eggs: tuple[int, ...]
    looks: list[LookRow]
    harms: list[Harm]
    mixed: list[Mixed]
    masked: list[Masked]
    young: list[Carries]
    lost: float
    kinship: str
    kinship_like: str
    close_kin: bool
    summary: Summary
    against: list[str]
    hatch_rate: str
    nothing_shows: bool
    exact: bool
    error: float
    conflict: tuple[str, ...]
    plot: Plot | None
    dam_carries: list[wording.Carried]
    sire_carries: list[wording.Carried]


def pairing_page(dam: Animal, sire: Animal | None, *, eggs: int | None) -> PairingPage:
    """Ask what two animals of one species give."""
    columns = tuple(sorted({*EGGS, *([eggs] if eggs else [])}))
    along = max(columns)
    answer = inference.pairing(dam, sire, eggs=tuple(range(1, MOST_EGGS + 1)))
    traits = {one.pk: one for one in Trait.objects.filter(species=dam.species_id)}
    lines = {one.pk: one for one in Line.objects.filter(trait__in=traits).select_related("trait")}
    curves = _curves(answer.looks)
    mixed = mixed_of(answer.mixing, traits, lines)
    return PairingPage(
        dam=dam,
        sire=sire,
        eggs=columns,
        looks=_looks(answer, traits, columns, curves),
        harms=_harms(answer, traits),
        mixed=mixed,
        masked=[
            Masked(traits[one], tuple(traits[hidden] for hidden in others))
            for one, others in answer.masking.items()
            if others
        ],
        young=_young(answer.young, traits, lines, mixed),
        lost=answer.lost,
        kinship=kinship(answer.kinship),
        kinship_like=kinship_like(answer.kinship),
        close_kin=is_close_kin(answer.kinship),
        summary=summary(answer, traits, MOST_EGGS),
        against=list(
            filter(None, (*against((dam, sire), timezone.localdate()), kin_by_papers(dam, sire)))
        ),
        hatch_rate=percent(float(dam.species.hatch_rate)),
        nothing_shows=len(answer.looks) == 1 and not answer.looks[0].traits,
        exact=answer.exact,
        error=answer.error,
        conflict=answer.conflict,
        plot=_plot(curves, traits, along),
        dam_carries=_carried(dam),
        sire_carries=_carried(sire),
    )


def _harms(answer: Pairing, traits: dict[int, Trait]) -> list[Harm]:
    found = []
    for trait, chance in answer.harmful.items():
        looks = [look for look in answer.looks if trait in look.traits]
        words = ""
        if any(look.sons is not None for look in looks):
            sons = sum(look.chance if look.sons is None else look.sons for look in looks)
            daughters = sum(
                look.chance if look.daughters is None else look.daughters for look in looks
            )
            words = by_sex(sons, daughters, harmful=True)
        found.append(Harm(traits[trait], chance, words))
    return found


def _curves(looks: Iterable[Look]) -> list[list[Look]]:
    """Group what is something to wait for by equal chances: one curve each.

    Neither the normal look nor one that all have is.
    """
    found: list[list[Look]] = []
    for look in looks:
        if not look.traits or look.chance >= 1:
            continue
        same = (one for one in found if _same(one[0], look))
        if (curve := next(same, None)) is not None:
            curve.append(look)
        elif len(found) < CURVES:
            found.append([look])
    return found


def _same(one: Look, other: Look) -> bool:
    return all(abs(one.at_least_one[n] - p) < 1e-6 for n, p in other.at_least_one.items())


def _looks(
    answer: Pairing, traits: dict[int, Trait], columns: tuple[int, ...], curves: list[list[Look]]
) -> list[LookRow]:
    species = {one.species_id for one in traits.values()}
    named = list(with_parts(NamedLook.objects.live().filter(species__in=species)))
    letters = {look.traits: letter(n) for n, curve in enumerate(curves) for look in curve}
    found = []
    for look in answer.looks:
        harmful = any(one in answer.harmful for one in look.traits)
        found.append(
            LookRow(
                name=look_name(traits[one] for one in look.traits),
                letter=letters.get(look.traits, ""),
                chance=look.chance,
                at_least_one=tuple(look.at_least_one[number] for number in columns),
                harmful=harmful,
                by_sex=by_sex(look.sons, look.daughters, harmful=harmful),
                named=names_of(look.traits, named),
            )
        )
    return found


def _carried(animal: Animal | None) -> list[wording.Carried]:
    if animal is None:
        return []
    rows = animal.standings.select_related("trait", "line", "dispute").filter(none__lt=1)
    return wording.carried(rows)


def _young(
    young: Iterable[Copies],
    traits: dict[int, Trait],
    lines: dict[int, Line],
    mixed: Sequence[Mixed],
) -> list[Carries]:
    """Return a row a trait and one a line of it; of a trait with one line, the line's alone."""
    by_trait: dict[int, list[Copies]] = {}
    for one in young:
        if one.none < 1:
            by_trait.setdefault(one.trait, []).append(one)
    found = []
    for trait in sorted(by_trait, key=lambda one: traits[one].name):
        whole = [one for one in by_trait[trait] if one.line is None]
        parts = [one for one in by_trait[trait] if one.line is not None]
        rows = parts if len(parts) == 1 else [*whole, *parts]
        mixes = tuple(one for one in mixed if one.trait.pk == trait)
        found += [_carries(one, traits, lines, mixes=mixes, single=len(rows) == 1) for one in rows]
    return found


def _carries(
    copies: Copies,
    traits: dict[int, Trait],
    lines: dict[int, Line],
    *,
    mixes: tuple[Mixed, ...],
    single: bool,
) -> Carries:
    drawn = strip(Standing(two=copies.two, one=copies.one, none=copies.none))
    line = None if copies.line is None else lines[copies.line]
    return Carries(
        trait=traits[copies.trait],
        line=line,
        two=copies.two,
        one=copies.one,
        none=copies.none,
        strip=drawn,
        single=single,
        mixes=() if line else mixes,
    )


def _plot(curves: list[list[Look]], traits: dict[int, Trait], most: int) -> Plot | None:
    named = [
        (
            " or ".join(look_name(traits[one] for one in look.traits) for look in curve),
            {n: p for n, p in curve[0].at_least_one.items() if n <= most},
        )
        for curve in curves
    ]
    return plot(named, most) if named and most > 1 else None
