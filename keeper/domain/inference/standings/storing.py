"""Writing computed standings: only what differs, and with the change that it is."""

import hashlib
import json
from collections.abc import Collection, Iterator, Mapping, Sequence

from django.db.models import Q

from keeper import models as m
from keeper.domain.inference.reading.counted import counting, traits_of
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.reading.rows import named
from keeper.domain.inference.results import Difference
from keeper.domain.inference.standings import values
from keeper.domain.inference.standings.computing import Computed, Recomputed
from keeper.domain.inference.standings.copies import Whose
from keeper.domain.inference.standings.disputes import Conflict
from keeper.domain.inference.standings.sources import row_of
from keeper.domain.inference.standings.values import Values, same, seems_moved
from keeper.models import DaybookEntry, Dispute, Standing

# Databases limit what one query may name.
_MOST_NAMED = 5000


def store(part: Recomputed, species: m.Species, entry: DaybookEntry) -> None:
    """Bring the stored standings of a part of the book in line with what was computed."""
    disputes = _disputes(part, species, entry)
    stored = dict(_stored(part))
    fresh: list[tuple[Whose, Values]] = []
    changed: list[tuple[int, Values]] = []
    changes: list[tuple[Whose, Values | None, Values | None]] = []
    for whose, computed in part.standings.items():
        pk, old = stored.pop(whose, (0, None))
        new = said(computed, disputes[computed.conflict].pk if computed.conflict else None)
        if old is None:
            if computed.figure.none == 1.0 and new.dispute is None:
                continue
            fresh.append((whose, new))
        elif same(old, new):
            continue
        else:
            changed.append((pk, new))
        if seems_moved(old, new):
            changes.append((whose, old, new))
    changes += [(whose, old, None) for whose, (_, old) in stored.items()]
    _delete([pk for pk, _ in stored.values()])
    values.insert(fresh, entry.pk)
    values.update(changed, entry.pk)
    values.note(changes, entry.pk)
    _close(part, species, entry, {one.pk for one in disputes.values()})


def _delete(pks: Sequence[int]) -> None:
    for start in range(0, len(pks), _MOST_NAMED):
        Standing.objects.filter(pk__in=pks[start : start + _MOST_NAMED]).delete()


def _stored(part: Recomputed) -> Iterator[tuple[Whose, tuple[int, Values]]]:
    """The standings that a part replaces: of its animals, and of those who left."""
    mine: dict[int, set[int]] = {}
    for group in part.scope:
        mine |= dict.fromkeys(group.traits, part.replaced(group))
    everyone = set().union(*mine.values())
    for whose, pk, one in values.stored_of(everyone, mine):
        if whose[0] in mine.get(whose[1], ()):
            yield whose, (pk, one)


def said(one: Computed, dispute: int | None) -> Values:
    """A computed standing as it is stored."""
    figure = one.figure
    return Values(
        figure.two, figure.one, figure.none, figure.mixed, figure.error,
        one.customary, one.called.word.value, one.called.clean, *one.called.proof, dispute,
        one.apart,
    )  # fmt: skip


def _disputes(
    part: Recomputed, species: m.Species, entry: DaybookEntry
) -> dict[Conflict | None, Dispute]:
    """The open dispute of each conflict, opened if it is new."""
    found: dict[Conflict | None, Dispute] = {}
    for conflict in part.conflicts:
        print_ = _fingerprint(conflict)
        found[conflict], _ = Dispute.objects.get_or_create(
            fingerprint=print_,
            closed=None,
            defaults={
                "species": species,
                "conflict": [_record(source) for source in conflict.sources],
                "opened": entry,
            },
        )
    return found


def _fingerprint(conflict: Conflict) -> str:
    return hashlib.sha256(json.dumps(conflict.sources).encode()).hexdigest()


def _record(source: Source) -> dict[str, object]:
    kind, pk = source
    return {"model": kind, "pk": pk, "text": str(row_of(source))}


def _close(part: Recomputed, species: m.Species, entry: DaybookEntry, still: set[int]) -> None:
    """Close the disputes that lay within this part, or lost a record, and were not found again."""
    others = list(Dispute.objects.filter(species=species, closed=None).exclude(pk__in=still))
    named = {one.pk: {(str(r["model"]), int(r["pk"])) for r in one.conflict} for one in others}
    count = counting(source for records in named.values() for source in records)
    # Parents that were taken out count for nothing, though their animal or clutch is there.
    evidence = {
        pk: {one for one in records & count if one[0] not in {"animal", "clutch"}}
        for pk, records in named.items()
    }
    traits = traits_of(set().union(*evidence.values()))
    here = {pk for book in part.books for group in book.groups for pk in group.traits}
    closing = []
    for pk, records in named.items():
        # The row of a hatch is looked at for many traits, each in a part of the book of its own.
        spoken = all(traits[one] & here for one in evidence[pk] if traits[one])
        within = records & count <= part.sources or (evidence[pk] and evidence[pk] <= part.sources)
        # Without any one of them the others can be true: that is what makes the set a smallest one.
        gone = records & count < records
        if gone or (within and spoken) or _is_silent(part, evidence[pk], traits):
            closing.append(pk)
    if closing:
        Dispute.objects.filter(pk__in=closing).update(closed=entry)


def _is_silent(
    part: Recomputed, evidence: Collection[Source], traits: Mapping[Source, set[int]]
) -> bool:
    """Whether some of the evidence denies what nobody there can carry: it fits whatever is so.

    Then there is no family to be solved that could have it.
    """
    # New records alone never make anybody carry less.
    return part.before is None and any(
        _denies(row := row_of(one)) and _of_nobody(part, row, traits[one]) for one in evidence
    )


def _denies(row: m.Record) -> bool:
    """Whether a record may say no more than that something was not seen or not found."""
    if isinstance(row, m.Observation):
        return row.seen == m.Seen.NO
    if isinstance(row, m.LabTest):
        return row.found == m.Found.NONE
    return isinstance(row, m.Look | m.HatchRow)


def _of_nobody(part: Recomputed, row: m.Record, traits: Collection[int]) -> bool:
    standings = Standing.objects.all()
    if isinstance(row, m.HatchRow):
        own = part.rows.clutches.get(row.clutch_id)
        seen = part.rows.all_hatched_looks.get(row.clutch_id, set())
        if own is None or (seen if row.whole else seen & set(traits)):
            return False
        whose = own.parents | set(part.rows.hatched.get(own.pk, ()))
        if not row.whole:
            standings = standings.filter(trait__in=traits)
    else:
        whose = frozenset({vars(row)["animal_id"]})
    return not standings.filter(animal__in=whose).exists()


def clear_orphans(inheritance: Inheritance, entry: DaybookEntry) -> None:
    """Take away the standings of traits and lines that are no longer in the register."""
    gone = list(
        values.stored(
            Standing.objects.filter(trait__species=inheritance.species).exclude(
                Q(line=None) | Q(line__in=list(inheritance.lines)),
                trait__in=[one.pk for one in inheritance.shown_traits],
            )
        )
    )
    values.note([(whose, old, None) for whose, _, old in gone], entry.pk)
    _delete([pk for _, pk, _ in gone])


def stored_otherwise(part: Recomputed, species: m.Species) -> list[Difference]:
    """Compare what a whole species computes with what is stored."""
    computed = part.standings
    prints = dict(Dispute.objects.filter(species=species).values_list("pk", "fingerprint"))
    found: dict[Whose, tuple[Values | None, Computed | None]] = {}
    there = set()
    for whose, _, old in values.stored(Standing.objects.filter(animal__species=species)):
        there.add(whose)
        new = computed.get(whose)
        if new is None or not _agrees(old, new, prints):
            found[whose] = (old, new)
    for whose, new in computed.items():
        if whose not in there and (new.figure.none != 1.0 or new.conflict is not None):
            found[whose] = (None, new)
    place = {whose: i for i, whose in enumerate(computed)}
    # As computed, then what should not be there.
    order = sorted(found, key=lambda whose: (place.get(whose, len(place)), whose[:2]))
    names = _Names(species, {pk for pk, _, _ in found})
    return [_difference(names, whose, *found[whose]) for whose in order]


def _agrees(old: Values, computed: Computed, prints: Mapping[int, str]) -> bool:
    # What is disputed is compared by its records: a dispute that is new has no number yet.
    print_ = _fingerprint(computed.conflict) if computed.conflict else None
    kept = None if old.dispute is None else prints[old.dispute]
    return print_ == kept and same(old, said(computed, old.dispute))


class _Names:
    """What animals, traits and lines are called, read at once: many may differ."""

    def __init__(self, species: m.Species, animals: Collection[int]) -> None:
        rows = named(m.Animal._base_manager.filter(species=species), "pk", animals)
        self.animals = {one.pk: str(one) for one in rows if one.pk in animals}
        traits = m.Trait._base_manager.filter(species=species)
        lines = m.Line._base_manager.filter(trait__species=species).select_related("trait")
        self.traits = {one.pk: str(one) for one in traits}
        self.lines = {one.pk: str(one) for one in lines}


def _difference(
    names: _Names, whose: Whose, old: Values | None, computed: Computed | None
) -> Difference:
    animal, trait, line = whose
    stored = f"{old.word} {old.two!r} {old.one!r} {old.none!r}" if old else "nothing"
    now = "nothing"
    if computed is not None:
        one = computed.figure
        now = f"{computed.called.word} {one.two!r} {one.one!r} {one.none!r}"
    line_name = None if line is None else names.lines[line]
    return Difference(names.animals[animal], names.traits[trait], line_name, stored, now)
