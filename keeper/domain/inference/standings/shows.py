"""Writing how likely animals show looks that combinations make: only what differs."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping

from keeper import models as m
from keeper.domain.inference.reading.rows import named
from keeper.domain.inference.reading.shown_looks import LookKey, ShownLook, group_name
from keeper.domain.inference.results import Difference
from keeper.domain.inference.standings.computing import Recomputed
from keeper.domain.inference.standings.pieces import Piece, whole
from keeper.domain.inference.standings.values import SAME
from keeper.domain.saying.figures import percent
from keeper.models import DaybookEntry, Shows, ShowsChange

# An animal, and a look of it.
_Whose = tuple[int, LookKey]
_Pieces = dict[frozenset[int], Piece]

# The chance of what an animal cannot show, and that it is not under dispute.
_NOT_AT_ALL = (0.0, False)

# Databases limit what one query may name.
_MOST_NAMED = 5000


def store_shows(part: Recomputed, entry: DaybookEntry) -> None:
    """Bring what animals show in line with what was computed of a part of the book."""
    looks = {look.key: look for look in part.looks}
    if not looks:
        return
    stored = _stored(_replaced(part))
    fresh: list[Shows] = []
    changed: list[Shows] = []
    gone: list[Shows] = []
    moved: list[ShowsChange] = []
    for whose, known in _computed(part, stored).items():
        old = stored.get(whose)
        if known and (old is None or not _agrees(old, looks[whose[1]], known)):
            row = old or Shows(animal_id=whose[0], trait_id=whose[1][0], look_id=whose[1][1])
            before = (row.chance, row.disputed) if old is not None else _NOT_AT_ALL
            _say(row, looks[whose[1]], known)
            row.entry = entry
            moved.append(_change(row, before))
            (changed if old else fresh).append(row)
        elif old is not None and not known:
            gone.append(old)
            moved.append(_gone(old, entry))
    ShowsChange.objects.bulk_create(filter(_is_seen_to_move, moved), batch_size=500)
    Shows.objects.bulk_create(fresh, batch_size=500)
    Shows.objects.bulk_update(
        changed, ["chance", "error", "disputed", "pieces", "entry"], batch_size=200
    )
    gone_pks = [row.pk for row in gone]
    for start in range(0, len(gone_pks), _MOST_NAMED):
        Shows.objects.filter(pk__in=gone_pks[start : start + _MOST_NAMED]).delete()


def _change(row: Shows, before: tuple[float, bool]) -> ShowsChange:
    """How a row moved; what it was before is given, as chance and whether it was disputed."""
    return ShowsChange(
        entry=row.entry, animal_id=row.animal_id, trait_id=row.trait_id, look_id=row.look_id,
        chance_before=before[0], disputed_before=before[1],
        chance=row.chance, disputed=row.disputed,
    )  # fmt: skip


def _gone(row: Shows, entry: DaybookEntry) -> ShowsChange:
    change = _change(row, (row.chance, row.disputed))
    change.entry, (change.chance, change.disputed) = entry, _NOT_AT_ALL
    return change


def _is_seen_to_move(one: ShowsChange) -> bool:
    """Whether a reader would see the difference."""
    before = percent(one.chance_before), one.disputed_before
    return before != (percent(one.chance), one.disputed)


def clear_unshown(species: m.Species, looks: Iterable[ShownLook]) -> None:
    """Take away what is said of looks that are no longer in the register."""
    there = {look.key for look in looks}
    rows = Shows.objects.filter(animal__species=species).order_by()
    for trait, look in set(rows.values_list("trait_id", "look_id")) - there:
        rows.filter(trait=trait, look=look).delete()


def shown_otherwise(part: Recomputed, species: m.Species) -> list[Difference]:
    """Compare what a whole species shows by a recompute with what is stored."""
    looks = {look.key: look for look in part.looks}
    names = _names(species)
    stored = {_whose(row): row for row in Shows.objects.filter(animal__species=species)}
    computed = {whose: known for whose, known in _computed(part, {}).items() if known}
    found = []
    for whose in sorted(stored.keys() | computed.keys(), key=str):
        row, known = stored.get(whose), computed.get(whose, {})
        if row is not None and known and _agrees(row, looks[whose[1]], known):
            continue
        now = repr(whole(looks[whose[1]], known).chance) if known else "nothing"
        was = "nothing" if row is None else repr(row.chance)
        animal = m.Animal._base_manager.get(pk=whose[0])
        found.append(Difference(str(animal), names[whose[1]], None, was, now))
    return found


def _replaced(part: Recomputed) -> dict[int, set[int]]:
    """Group, by its name → animals whose pieces there are worked out anew."""
    if part.looked is not None:
        return {group_name(group): animals for group, animals in part.looked.items()}
    return {group_name(group): part.replaced(group) for group in part.scope}


def _computed(part: Recomputed, stored: Mapping[_Whose, Shows]) -> dict[_Whose, _Pieces]:
    """What is known of each animal and look by now: pieces that were kept, and new ones."""
    anew = _replaced(part)
    looks = {look.key: look for look in part.looks}
    found: dict[_Whose, _Pieces] = defaultdict(dict)
    for (animal, key), row in stored.items():
        if key in looks:
            there = set(map(group_name, looks[key].parts))
            for groups, piece in _pieces(row, looks[key]):
                # What is of a group that the look no longer has is worked out nowhere: it goes.
                if groups <= there and not any(animal in anew.get(one, ()) for one in groups):
                    found[animal, key][groups] = piece
            found.setdefault((animal, key), {})
    for (animal, name), piece in part.seen.items():
        found[animal, name.key][name.groups] = piece
    return dict(found)


def _stored(replaced: Mapping[int, Collection[int]]) -> dict[_Whose, Shows]:
    animals = set().union(*replaced.values())
    return {_whose(row): row for row in _of(animals)}


def _of(animals: set[int]) -> Iterator[Shows]:
    for row in named(Shows.objects.all(), "animal", animals):
        if row.animal_id in animals:
            yield row


def _whose(row: Shows) -> _Whose:
    return row.animal_id, (row.trait_id, row.look_id)


def _pieces(row: Shows, look: ShownLook) -> Iterator[tuple[frozenset[int], Piece]]:
    """The pieces of a stored row; a look of one group has no others than the whole."""
    if not row.pieces:
        groups = frozenset(map(group_name, look.parts))
        yield groups, Piece(row.chance, row.error, row.disputed)
    for text, said in row.pieces.items():
        yield frozenset(map(int, text.split(","))), Piece(*said)


def _written(look: ShownLook, known: _Pieces) -> dict[str, list[float | bool]]:
    if len(look.parts) == 1:
        return {}
    return {
        ",".join(map(str, sorted(groups))): list(piece)
        for groups, piece in sorted(known.items(), key=lambda one: sorted(one[0]))
    }


def _say(row: Shows, look: ShownLook, known: _Pieces) -> None:
    row.chance, row.error, row.disputed = whole(look, known)
    row.pieces = _written(look, known)


def _agrees(row: Shows, look: ShownLook, known: _Pieces) -> bool:
    if not _like(Piece(row.chance, row.error, row.disputed), whole(look, known)):
        return False
    old = dict(_pieces(row, look))
    return old.keys() == known.keys() and all(_like(old[one], known[one]) for one in known)


def _like(one: Piece, other: Piece) -> bool:
    """Whether two say the same, up to rounding; certainty must be the same exactly."""
    return (
        one.disputed == other.disputed
        and (one.chance == 1) == (other.chance == 1)
        and (one.chance == 0) == (other.chance == 0)
        and abs(one.chance - other.chance) <= SAME
        and abs(one.error - other.error) <= SAME
    )


def _names(species: m.Species) -> dict[LookKey, str]:
    traits = m.Trait._base_manager.filter(species=species)
    looks = m.NamedLook._base_manager.filter(species=species)
    found: dict[LookKey, str] = {(one.pk, None): str(one) for one in traits}
    return found | {(None, one.pk): str(one) for one in looks}
