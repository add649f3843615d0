"""What a hatch day's form offers: the looks the pairing can give, and what is counted already."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from keeper.domain import inference
from keeper.domain.clutches.queries import rows_of
from keeper.domain.saying.figures import by_sex, percent, percent_up
from keeper.domain.saying.shows import names_of, with_parts
from keeper.models import CandidateSire, Clutch, HatchRow, NamedLook, Sex, Standing, Trait

# Of a look: its chance for a hatchling, for a son and for a daughter.
_Chances = tuple[float | None, float | None, float | None]
_NO_CHANCE: _Chances = (None, None, None)

# In the order of the trade's 1.2.3.
SEXES = (Sex.MALE, Sex.FEMALE, Sex.UNKNOWN)


@dataclass(frozen=True)
class HatchLook:
    """A look to count.

    Attributes:
        key: what its fields are named by.
        seen: the traits seen on it, by name; none: it looks normal.
        unseen: ids of the traits looked for and not seen.
        unsure: the traits that could not be told.
        chance: of one hatchling to look so; None where the pairing should not give it.
        sons, daughters: the share of either that looks so; None where it is that of all.
        rows: what is logged of it, by sex.
        named: the named looks that it is.
    """

    key: str
    seen: tuple[Trait, ...]
    unseen: frozenset[int]
    unsure: tuple[Trait, ...] = ()
    chance: float | None = None
    rows: dict[Sex, HatchRow] = field(default_factory=dict)
    sons: float | None = None
    daughters: float | None = None
    named: str = ""

    @property
    def figure(self) -> str:
        """The chance in words, and that of sons and of daughters where these differ."""
        if self.chance is None:
            return ""
        harmful = any(trait.harm for trait in self.seen)
        said = percent_up(self.chance) if harmful else percent(self.chance)
        apart = by_sex(self.sons, self.daughters, harmful=harmful)
        return f"{said}: {apart}" if apart else said

    @property
    def name(self) -> str:
        """The look in words."""
        return look_name(self.seen)

    @property
    def seen_ids(self) -> frozenset[int]:
        """The ids of the traits seen."""
        return frozenset(trait.pk for trait in self.seen)


@dataclass(frozen=True)
class HatchPlan:
    """All that a hatch day's form is made from.

    Attributes:
        looks: the pairing's, most likely first, then what was logged beside them.
        scored: ids of the traits to look for on every hatchling.
        traits: every trait of the species.
        basis: what was logged when the form was made, to notice that somebody logged meanwhile.
        mixing: lines of one look that would mix in the young.
        conflict: records behind the parents that cannot all be true; the chances leave one out.
        has_chances: whether chances can be told: not where the dam is not recorded.
        rows: what is logged of the clutch.
    """

    looks: tuple[HatchLook, ...]
    scored: frozenset[int]
    traits: tuple[Trait, ...]
    basis: str
    conflict: tuple[str, ...] = ()
    has_chances: bool = True
    mixing: tuple[inference.Mixing, ...] = ()
    rows: tuple[HatchRow, ...] = ()

    @property
    def told_now(self) -> list[Trait]:
        """The traits that a whole look on hatch day speaks of."""
        return [one for one in self.traits if not one.told_from]

    @property
    def told_later(self) -> list[Trait]:
        """The traits that cannot be told yet."""
        return [one for one in self.traits if one.told_from]


def look_name(traits: Iterable[Trait]) -> str:
    """Return a look in words."""
    return " + ".join(trait.name for trait in traits) or "normal"


def look_key(traits: Iterable[int]) -> str:
    """Return the name of a look's fields: it holds the look, however the chances change."""
    return "look-" + ("-".join(map(str, sorted(traits))) or "normal")


def hatch_plan(clutch: Clutch, posted: Iterable[str] = ()) -> HatchPlan:
    """Return what to offer; `posted` are names of fields whose looks must be among it."""
    traits = {one.pk: one for one in Trait.objects.live().filter(species=clutch.species_id)}
    rows = rows_of(clutch)
    conflict: tuple[str, ...] = ()
    mixing: tuple[inference.Mixing, ...] = ()
    chances: dict[frozenset[int], _Chances] = {}
    if clutch.dam is not None:
        pairing = inference.clutch_looks(clutch)
        chances.update(
            {
                frozenset(look.traits): (look.chance, look.sons, look.daughters)
                for look in pairing.looks
            }
        )
        scored = frozenset(pairing.scored)
        conflict, mixing = pairing.conflict, pairing.mixing
    else:
        scored = _scored_without_chances(clutch, rows)
        chances[frozenset()] = _NO_CHANCE
        chances.update({frozenset({trait}): _NO_CHANCE for trait in sorted(scored)})
    for seen in _posted_looks(posted, traits):
        chances.setdefault(seen, _NO_CHANCE)
    looks = [
        HatchLook(
            key=look_key(seen),
            seen=_by_name(seen, traits),
            unseen=scored - seen,
            chance=chance,
            sons=sons,
            daughters=daughters,
        )
        for seen, (chance, sons, daughters) in chances.items()
    ]
    basis = ",".join(f"{row.pk}:{row.count}" for row in rows) or "nothing"
    return HatchPlan(
        looks=tuple(_with_names(_with_logged(looks, rows, scored, traits), clutch)),
        scored=scored,
        traits=tuple(traits.values()),
        basis=basis,
        conflict=conflict,
        has_chances=clutch.dam is not None,
        mixing=mixing,
        rows=tuple(rows),
    )


def _with_names(looks: Iterable[HatchLook], clutch: Clutch) -> Iterator[HatchLook]:
    """Add the names of looks of several genes."""
    named = list(with_parts(NamedLook.objects.live().filter(species=clutch.species_id)))
    for look in looks:
        yield replace(look, named=names_of(look.seen_ids, named))


def _by_name(ids: Iterable[int], traits: dict[int, Trait]) -> tuple[Trait, ...]:
    return tuple(sorted((traits[one] for one in ids if one in traits), key=lambda one: one.name))


def _posted_looks(names: Iterable[str], traits: dict[int, Trait]) -> list[frozenset[int]]:
    """Looks that a form offered when it was opened; the chances may have changed since."""
    found = []
    for name in names:
        match = re.fullmatch(
            r"look-(normal|\d{1,18}(?:-\d{1,18})*)-(?:male|female|unknown)-count", name
        )
        if match:
            ids = set() if match[1] == "normal" else {int(one) for one in match[1].split("-")}
            if ids <= traits.keys():
                found.append(frozenset(ids))
    return found


def _scored_without_chances(clutch: Clutch, rows: list[HatchRow]) -> frozenset[int]:
    """Without a dam: what the sires may carry, and what was looked for before."""
    sires = CandidateSire.objects.live().filter(clutch=clutch).exclude(sire=None)
    carried = Standing.objects.filter(animal__in=sires.values("sire"), none__lt=1)
    before = {one.trait_id for row in rows for one in row.sightings.all()}
    return frozenset(carried.values_list("trait_id", flat=True)) | before


def _not_seen(row: HatchRow, others: frozenset[int]) -> frozenset[int]:
    """The traits not seen on a row's hatchlings: those said so, or all others of a whole look."""
    sightings = row.sightings.all()
    if row.whole:
        return others - {one.trait_id for one in sightings if one.seen is None}
    return frozenset(one.trait_id for one in sightings if one.seen is False)


def _with_logged(
    looks: list[HatchLook],
    rows: list[HatchRow],
    scored: frozenset[int],
    traits: dict[int, Trait],
) -> list[HatchLook]:
    """Put what is logged into the looks, and what fits none behind them as looks of their own."""
    by_seen = {look.seen_ids: look for look in looks}
    others: dict[tuple[frozenset[int], frozenset[int]], HatchLook] = {}
    for row in rows:
        sightings = row.sightings.all()
        seen = frozenset(one.trait_id for one in sightings if one.seen)
        unseen = _not_seen(row, scored - seen)
        usual = by_seen.get(seen)
        look = usual if usual and scored - seen <= unseen else others.get((seen, unseen))
        if look is None or Sex(row.sex) in look.rows:
            look = HatchLook(
                key=f"row-{row.pk}",
                seen=_by_name(seen, traits | {one.trait_id: one.trait for one in sightings}),
                unseen=unseen,
                unsure=_by_name(scored - seen - unseen, traits),
            )
            others[seen, unseen] = look
            looks.append(look)
        look.rows[Sex(row.sex)] = row
    return looks
